import { expect, test } from "vitest";
import { instant, MINUTE, parseDay } from "./calendar";
import { daylight, heightAt } from "./daylight";
import { vectors } from "./testing/vectors";

/** The published tables; civil twilight is not reckoned on the phone. */
const TABLES = vectors("sun.").filter((one) => one.inputs["utc_offset"] !== undefined && Number(one.inputs["sun_altitude_deg"]) > -1);

test.each(TABLES.map((one) => [one.id, one] as const))("%s: sunrise and sunset as printed", (_id, vector) => {
  const offset = String(vector.inputs["utc_offset"]).replace("UTC", "") || "+00:00";
  const day = String(vector.inputs["local_date"]);
  const zone = `Etc/GMT${-Number.parseInt(offset, 10) >= 0 ? "+" : ""}${-Number.parseInt(offset, 10)}`;
  const found = daylight(Number(vector.inputs["lat"]), Number(vector.inputs["lon"]), parseDay(day), zone);
  const printed = vector.expected as { first: string; second: string };
  const allowed = Number.parseInt(String(vector.tolerance), 10) * 1000;
  expect(Math.abs((found.sunrise ?? 0) - instant(`${day}T${printed.first}${offset}`, "UTC"))).toBeLessThanOrEqual(allowed);
  expect(Math.abs((found.sunset ?? 0) - instant(`${day}T${printed.second}${offset}`, "UTC"))).toBeLessThanOrEqual(allowed);
});

test("seven tables were held", () => {
  expect(TABLES.length).toBe(7);
});

test("the sun does not set at 69.65 N on midsummer day, and does not rise there at midwinter", () => {
  // Vector sun.polar: computed, skyfield's flags agree.
  expect(daylight(69.65, 18.96, parseDay("2019-06-21"), "Europe/Oslo")).toEqual({ sunrise: null, sunset: null, state: "never sets" });
  expect(daylight(69.65, 18.96, parseDay("2019-12-21"), "Europe/Oslo").state).toBe("never rises");
});

test("the events are those of the place's own day: a western evening comes after its morning", () => {
  // Vector sun.trap.astral_utc: taken by the UTC day, sunset comes before sunrise.
  const found = daylight(39.742476, -105.1786, parseDay("2003-10-17"), "America/Denver");
  expect(found.sunset ?? 0).toBeGreaterThan(found.sunrise ?? 0);
});

test("at sunrise the sun's centre stands 50 minutes of arc below the horizon, refraction left out", () => {
  const { sunrise } = daylight(-35, 150, parseDay("2027-03-20"), "Australia/Sydney");
  expect(heightAt(-35, 150, sunrise ?? 0)).toBeCloseTo(-50 / 60, 1);
  expect(heightAt(-35, 150, (sunrise ?? 0) + 10 * MINUTE)).toBeGreaterThan(0);
});
