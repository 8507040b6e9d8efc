/** The phone's reckoning beside the core's on places and days that the core has reckoned (tests/frontend/worlds.py). */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { instant, parseDay, startOfDay } from "./calendar";
import { parseCount } from "./count_text";
import { daylight } from "./daylight";
import { areaOf, signedDistance, together, type Area, type Geometry } from "./places/areas";
import { probabilityInside } from "./places/chances";
import { geodesic } from "./places/ellipsoid";

interface Numbers {
  readonly geodesics: readonly [lon1: number, lat1: number, lon2: number, lat2: number, metres: number][];
  readonly suns: readonly {
    lat: number;
    lon: number;
    day: string;
    zone: string;
    sunrise: string | null;
    sunset: string | null;
    state: string;
  }[];
  readonly places: readonly {
    geometries: readonly Geometry[];
    spots: readonly (readonly [lon: number, lat: number, sigma: number, metres: number, chance: number])[];
  }[];
  readonly days: readonly (readonly [day: string, zone: string, begins: string])[];
  readonly counts: readonly (readonly [text: string, low: string, best: string, high: string])[];
}

const NUMBERS = JSON.parse(readFileSync(process.env["CREEKLEDGER_NUMBERS"] ?? "", "utf-8")) as Numbers;

test("geodesics agree to a millimetre up to 5 000 km, and to a hundredth of one up to 100 km", () => {
  expect(NUMBERS.geodesics.length).toBeGreaterThan(100);
  for (const [lon1, lat1, lon2, lat2, metres] of NUMBERS.geodesics) {
    const apart = Math.abs(geodesic(lon1, lat1, lon2, lat2) - metres);
    expect(apart, `${lon1} ${lat1} ${lon2} ${lat2}: ${metres}`).toBeLessThan(metres < 100_000 ? 1e-5 : 1e-3);
  }
});

test("sunrise and sunset agree to a second", () => {
  expect(NUMBERS.suns.length).toBeGreaterThan(100);
  for (const one of NUMBERS.suns) {
    const found = daylight(one.lat, one.lon, parseDay(one.day), one.zone);
    expect(found.state, JSON.stringify(one)).toBe(one.state);
    for (const event of ["sunrise", "sunset"] as const) {
      const wanted = one[event];
      expect(found[event] === null, JSON.stringify(one)).toBe(wanted === null);
      if (wanted !== null) expect(Math.abs((found[event] ?? 0) - instant(wanted, "UTC"))).toBeLessThan(1000);
    }
  }
});

test("distances to edges agree to two centimetres, and chances to a millionth", () => {
  expect(NUMBERS.places.length).toBeGreaterThan(20);
  for (const { geometries, spots } of NUMBERS.places) {
    const area: Area = together(geometries.map((geometry, place) => areaOf(`a${place}`, "", geometry)));
    for (const [lon, lat, sigma, metres, chance] of spots) {
      const where = `${JSON.stringify(geometries)} at ${lon} ${lat}`;
      expect(Math.abs(signedDistance(area, lon, lat) - metres), where).toBeLessThan(0.02);
      expect(Math.abs(probabilityInside(area, lon, lat, sigma) - chance), where).toBeLessThan(1e-6);
    }
  }
});

test("days begin at the same instant, clock changes and all", () => {
  expect(NUMBERS.days.length).toBeGreaterThan(100);
  for (const [day, zone, begins] of NUMBERS.days) {
    expect(startOfDay(parseDay(day), zone), `${day} ${zone}`).toBe(instant(begins, "UTC"));
  }
});

test("counts are read alike", () => {
  expect(NUMBERS.counts.length).toBeGreaterThan(100);
  for (const [text, low, best, high] of NUMBERS.counts) {
    const { count } = parseCount(text, new Map());
    expect([count.low, count.best, count.high].map(String), text).toEqual([low, best, high]);
  }
});
