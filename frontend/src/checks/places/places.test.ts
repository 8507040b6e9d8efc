import { describe, expect, test } from "vitest";
import { areaOf, contains, signedDistance, together } from "./areas";
import { probabilityInside } from "./chances";
import { geodesic, metresPerDegree } from "./ellipsoid";
import { distanceTo, judgePath } from "./paths";
import type { Polygon } from "./polygons";
import { radius95, type Fix } from "./positions";

interface Box {
  readonly type: "Polygon";
  readonly coordinates: Polygon;
}

function box(west: number, south: number, east: number, north: number): Box {
  const ring = [[west, south], [east, south], [east, north], [west, north], [west, south]] as const;
  return { type: "Polygon", coordinates: [ring] };
}

function fix(lat: number, lon: number, radius_m: number | null, confidence = 0.95): Fix {
  return { lat, lon, radius_m, confidence };
}

describe("geodesics", () => {
  test.each([
    // GeographicLib, test cases of its geodesic tests (vectors geo.testgeod.*).
    [35.60777, -139.44815, -11.17491, -69.95921, 8_935_244.56048183],
    [55.52454, 106.05087, 77.03196, 197.18234, 4_105_086.171392441],
    [-21.97856, 142.59065, 41.84138, 98.56635, 8_394_328.894657671],
  ])("%d %d to %d %d as published, to a millimetre", (lat1, lon1, lat2, lon2, metres) => {
    expect(Math.abs(geodesic(lon1, lat1, lon2, lat2) - metres)).toBeLessThan(1e-3);
  });

  test("Flinders Peak to Buninyong, 54 972.271 m (vector geo.vincenty.flinders_buninyong; on GRS80, the same to a millimetre)", () => {
    const dms = (degrees: number, minutes: number, seconds: number): number => degrees + minutes / 60 + seconds / 3600;
    const metres = geodesic(dms(144, 25, 29.5244), -dms(37, 57, 3.7203), dms(143, 55, 35.3839), -dms(37, 39, 10.1561));
    expect(Math.abs(metres - 54_972.271)).toBeLessThan(1e-3);
  });

  test("of no length, and along the equator", () => {
    expect(geodesic(150, -45, 150, -45)).toBe(0);
    // Vector geo.degree.0.
    expect(geodesic(10, 0, 11, 0)).toBeCloseTo(111_319.49, 1);
    expect(geodesic(179.5, 0, -179.5, 0)).toBeCloseTo(111_319.49, 1);
  });

  test("nearly opposite on the earth, half a per cent is promised (vector geo.karney.antipodal)", () => {
    expect(Math.abs(geodesic(0, -30, 179.8, 29.9) / 19_989_832.82761 - 1)).toBeLessThan(0.005);
  });

  test.each([
    // Vectors geo.degree.*: metres of a degree of latitude and longitude.
    [0, 110_574.3, 111_319.49],
    [30, 110_852.46, 96_485.97],
    [45, 111_131.78, 78_846.33],
    [60, 111_412.27, 55_799.47],
  ])("a degree at latitude %d", (lat, north, east) => {
    const found = metresPerDegree(lat);
    expect(Math.abs(found[0] - east)).toBeLessThan(1.2); // the vector's is along the geodesic, ours along the parallel
    expect(Math.abs(found[1] - north)).toBeLessThan(0.03);
  });
});

test("a radius of 68 % and of 50 % brought to 95 % (vector geo.accuracy.scale, Rayleigh distribution)", () => {
  expect(radius95(fix(0, 0, 1, 0.68))).toBeCloseTo(1.621, 3);
  expect(radius95(fix(0, 0, 1, 0.5))).toBeCloseTo(2.079, 3);
  expect(radius95(fix(0, 0, null))).toBeNull();
});

describe("inside, outside or cannot tell", () => {
  // Vectors geo.inpoly.*: the edge is 15.768 m away.
  const area = areaOf("a", "A", box(-75, 45, -74.99, 45.01));
  test.each([
    [-74.9902, 10, "inside"],
    [-74.9902, 30, "cannot tell"],
    [-74.9898, 30, "cannot tell"],
    [-74.9898, 10, "outside"],
  ])("at %d with a radius of %d m: %s", (lon, radius, verdict) => {
    expect(Math.abs(signedDistance(area, lon, 45.005))).toBeCloseTo(15.768, 2);
    expect(judgePath(area, [fix(45.005, lon, radius)]).whole).toBe(verdict);
  });

  test("an edge is straight in degrees, not along the geodesic (vector geo.edge.1: 121.636 m apart in its middle)", () => {
    const long = areaOf("b", "B", box(-75, 45, -74, 46));
    expect(contains(long, -74.5, 45.0005)).toBe(true);
    expect(signedDistance(long, -74.5, 45.0005)).toBeCloseTo(55.57, 0);
  });
});

describe("areas joined", () => {
  const west = areaOf("w", "West", box(150, -45.01, 150.01, -45));
  const east = areaOf("e", "East", box(150.01, -45.01, 150.02, -45));

  test("what two of them share is no edge any more", () => {
    const joined = together([west, east]);
    expect(signedDistance(west, 150.0099, -45.005)).toBeLessThan(10);
    expect(signedDistance(joined, 150.01, -45.005)).toBeCloseTo(signedDistance(areaOf("b", "", box(150, -45.01, 150.02, -45)), 150.01, -45.005), 3);
    expect(contains(joined, 150.01, -45.005)).toBe(true);
  });

  test("what lies within another is no edge, what sticks out is", () => {
    const over = areaOf("o", "Over", box(150.005, -45.02, 150.006, -45.005));
    const joined = together([west, over]);
    expect(signedDistance(joined, 150.0055, -45.006)).toBeGreaterThan(300);
    expect(signedDistance(joined, 150.0055, -45.015)).toBeGreaterThan(30);
    expect(signedDistance(joined, 150.0065, -45.015)).toBeLessThan(0);
  });

  test("the same area twice is one", () => {
    const twice = together([west, areaOf("again", "", box(150, -45.01, 150.01, -45))]);
    expect(signedDistance(twice, 150.005, -45.0001)).toBeCloseTo(signedDistance(west, 150.005, -45.0001), 6);
  });

  test("its tolerance is the largest of its parts", () => {
    expect(together([west, areaOf("t", "", box(151, -45, 151.1, -44), 20)]).tolerance).toBe(20);
  });
});

describe("awkward outlines", () => {
  test("a hole is outside", () => {
    const rings = [...box(0, 0, 0.01, 0.01).coordinates, ...box(0.002, 0.002, 0.004, 0.004).coordinates];
    const area = areaOf("h", "", { type: "Polygon", coordinates: rings });
    expect(signedDistance(area, 0.003, 0.003)).toBeCloseTo(-110.57, 0);
    expect(contains(area, 0.005, 0.005)).toBe(true);
  });

  test("split at the antimeridian, the seam is no edge; counted on beyond 180 neither", () => {
    const split = areaOf("s", "", {
      type: "MultiPolygon",
      coordinates: [
        box(179.9, -16, 180, -15.9).coordinates,
        box(-180, -16, -179.9, -15.9).coordinates,
      ],
    });
    const beyond = areaOf("b", "", box(179.9, -16, 180.1, -15.9));
    for (const area of [split, beyond]) {
      expect(signedDistance(area, 180, -15.95)).toBeCloseTo(5532, -1);
      expect(signedDistance(area, -179.95, -15.95)).toBeGreaterThan(5000);
      expect(judgePath(area, [fix(-15.95, 179.95, 10), fix(-15.95, -179.95, 10)]).whole).toBe("inside");
    }
  });

  test("no corner, and corners that are metres", () => {
    expect(() => areaOf("x", "", { type: "MultiPoint", coordinates: [] })).toThrow("is empty");
    expect(() => areaOf("x", "", box(500_000, 6_000_000, 500_100, 6_000_100))).toThrow("in degrees");
  });
});

describe("chances", () => {
  const area = areaOf("a", "", box(150, -45, 150.1, -44.9));
  test.each([
    // A long straight edge: the chance is the normal distribution's, 0.8413 at one sigma (any table).
    [0, 0.5],
    [10, 0.8413447460685429],
    [-10, 0.15865525393145707],
    [20, 0.9772498680518208],
  ])("%d m from a long edge with a sigma of 10 m", (metres, chance) => {
    const lon = 150 + metres / metresPerDegree(-44.95)[0];
    expect(probabilityInside(area, lon, -44.95, 10)).toBeCloseTo(chance, 4);
  });

  test("on a corner it is a quarter, on a corner of a notch three quarters", () => {
    expect(probabilityInside(area, 150, -45, 10)).toBeCloseTo(0.25, 3);
    const notched = together([areaOf("l", "", box(0, 0, 0.02, 0.01)), areaOf("u", "", box(0, 0.01, 0.01, 0.02))]);
    expect(probabilityInside(notched, 0.01, 0.01, 10)).toBeCloseTo(0.75, 3);
  });
});

test("a feature to keep away from may be a point or a line; low and high are the radius either way", () => {
  const outfall = areaOf("o", "", { type: "Point", coordinates: [150.03, -45.05] });
  const gap = distanceTo(outfall, [fix(-45.048, 150.03, 22.2)]);
  expect(gap.best_m).toBeCloseTo(222.27, 1);
  expect((gap.high_m ?? 0) - gap.best_m).toBeCloseTo(22.2, 9);
  const line = areaOf("l", "", { type: "LineString", coordinates: [[150, -45], [150.1, -45]] });
  expect(distanceTo(line, [fix(-45.001, 150.02, 5), fix(-44.999, 150.02, 5)])).toMatchObject({ low_m: 0 });
  expect(distanceTo(line, [fix(-45.001, 150.02, 5), fix(-44.999, 150.02, 5)]).best_m).toBeLessThan(0.01);
  expect(distanceTo(line, [fix(-45.001, 150.02, null)])).toMatchObject({ low_m: null, high_m: null });
});

test("a haul without a position is no path", () => {
  expect(() => judgePath(areaOf("a", "", box(0, 0, 1, 1)), [])).toThrow("no position");
});
