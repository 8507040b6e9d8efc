/** Trips and hauls as the phone writes them: nothing carried over that was not meant to be, no time made up. */
import { describe, expect, test } from "vitest";
import { begunTrip, endedHaul, isOpen, leftInTheWater, openedHaul, soakOf, timeText, withFix } from "./trip_records";

const AT = Date.parse("2028-07-14T02:30:15.987Z");
const FIX = { lat: -42.3, lon: 153.6, radius_m: 8 };

test("a moment is written in UTC and whole seconds, never later than it was", () => {
  expect(timeText(AT)).toBe("2028-07-14T02:30:15Z");
  expect(timeText(-1)).toBe("1969-12-31T23:59:59Z");
});

test("a planned trip begins under its own id, with what was planned and what was found", () => {
  const planned = { id: "plan", status: "planned", note: "hand nets", depart: "2028-07-14T12:30" };
  const crew = [{ person: "ines", role: "deputy" }];
  const begun = begunTrip({ id: "plan", at: AT, zone: "Australia/Hobart", leader: "ines", authority: "p", crew, papers: ["notice"], arrived: null, planned });
  expect(begun).toEqual({ id: "plan", status: "open", note: "hand nets", depart: "2028-07-14T02:30:15Z", zone: "Australia/Hobart", leader: "ines", authority: "p", crew, papers: ["notice"] });
});

test("where the crew stands is kept once it is known", () => {
  const told = { id: "t", at: AT, zone: "UTC", leader: "ines", authority: "p", crew: [], papers: [] };
  expect(begunTrip({ ...told, arrived: FIX })["arrived"]).toEqual(FIX);
  expect("arrived" in begunTrip({ ...told, arrived: null })).toBe(false);
});

describe("a haul", () => {
  const before = { id: "h1", kind: "haul", start: "2028-07-14T01:00:00Z", end: "2028-07-14T01:20:00Z", gear: { gear: "seine", number: 1 }, site: "jetty", waterbody: "inlet", authority: "p", also_under: ["q"], fixes: [FIX], readings: [{ quantity: "pH" }], note: "mud", person: "ben" };

  test("takes over gear, site, water and permit, and nothing that was only true of the one before", () => {
    const opened = openedHaul({ id: "h2", at: AT, kind: "haul", person: "ines", before });
    expect(opened).toEqual({ id: "h2", kind: "haul", start: "2028-07-14T02:30:15Z", person: "ines", gear: before.gear, site: "jetty", waterbody: "inlet", authority: "p", also_under: ["q"] });
  });

  test("the first has nothing to take over, and a set has the gear that was set", () => {
    expect(Object.keys(openedHaul({ id: "h", at: AT, kind: "haul", person: "ines", before: null })).sort()).toEqual(["id", "kind", "person", "start"]);
    const gear = { gear: "trap", number: 2 };
    expect(openedHaul({ id: "s", at: AT, kind: "set", person: "ines", before, gear })["gear"]).toBe(gear);
  });

  test("positions are added in their order, and a missing one changes nothing", () => {
    const first = withFix({ id: "h" }, FIX);
    expect(withFix(first, null)).toBe(first);
    expect(endedHaul(first, AT, { ...FIX, radius_m: 5 })).toEqual({ id: "h", end: "2028-07-14T02:30:15Z", fixes: [FIX, { ...FIX, radius_m: 5 }] });
  });

  test.each([[{ id: "h" }, true], [{ end: "2028-07-14T02:30:15Z" }, false], [{ lost: true }, false], [{ lost: false }, true]])("%o is open: %s", (haul, open) => {
    expect(isOpen(haul)).toBe(open);
  });
});

describe("a set in the water", () => {
  const HOUR = 3_600_000;
  const set = { start: "2028-07-14T00:00:00Z" };
  const after = (hours: number, most: number | null): ReturnType<typeof soakOf> => soakOf(set, Date.parse(set.start) + hours * HOUR, most);

  test.each([
    [22.9, false, false],
    [23.1, true, false],
    [24, true, false],
    [24.1, false, true],
  ])("%d hours of 24: soon %s, over %s", (hours, soon, over) => {
    expect(after(hours, 24)).toMatchObject({ soon, over, most: 24 * HOUR });
  });

  test("without a limit it is never over", () => expect(after(1000, null)).toEqual({ stood: 1000 * HOUR, most: null, soon: false, over: false }));
});

test("a set that was left stays open after its trip was closed; one that is lifted, lost or no set does not", () => {
  const set = (id: string, parent: string, more: object = {}): { id: string; parent: string; content: Record<string, unknown> } => ({ id, parent, content: { kind: "set", ...more } });
  const hauls = [set("left", "closed"), set("lifted", "closed", { end: "2028-07-14T02:30:15Z" }), set("lost", "closed", { lost: true }), set("of today", "open"), set("haul", "closed", { kind: "haul" })];
  expect(leftInTheWater(hauls, new Set(["closed"])).map((one) => one.id)).toEqual(["left"]);
});
