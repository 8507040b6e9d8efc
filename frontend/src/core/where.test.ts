/** Where a haul seems to be: asked only where it is clear, and never corrected. */
import { describe, expect, test } from "vitest";
import { askedSite, askedWater, keptAs, knownSites, metresWords, type DrawnArea, type Standing } from "./where";

// A thousandth of a degree of latitude is 111 m everywhere to within a metre (WGS 84).
const at = (north: number, radius_m = 8): Standing => ({ lat: -42 + north / 111_100, lon: 153, radius_m });
const haul = (site: string, waterbody: string, north: number | null, start = "2028-07-01T00:00:00Z"): Record<string, unknown> => ({
  site,
  waterbody,
  start,
  ...(north === null ? {} : { fixes: [at(north)] }),
});
const sites = knownSites([haul("jetty", "Inlet", 0), haul("flat", "Inlet", 1000), haul("head", "Arm", 5000), haul("unread", "Arm", null)]);

test("a site is known with every position read there, and with the water of its latest haul", () => {
  const [jetty] = knownSites([haul("jetty", "", 0, "2028-07-03T00:00:00Z"), haul("jetty", "Inlet", 30, "2028-07-02T00:00:00Z"), haul("jetty", "Old", null), haul("", "Inlet", 1)]);
  expect(jetty).toMatchObject({ site: "jetty", waterbody: "Inlet" });
  expect(jetty?.spots).toHaveLength(2);
});

describe("another site", () => {
  test.each([
    ["at the site that is noted", "jetty", at(20), null],
    ["half way: nobody can say", "jetty", at(500), null],
    ["at the other one", "jetty", at(950), "flat"],
    ["there, but with a position that is good to half a kilometre", "jetty", at(950, 500), null],
    ["a site of which no position is known", "unread", at(950), null],
    ["a name that was typed anew", "elsewhere", at(950), null],
    ["nothing noted, at a known one", "", at(990), "flat"],
    ["nothing noted, between them", "", at(500), null],
  ] as [string, string, Standing, string | null][])("%s", (_what, noted, here, wanted) => {
    expect(askedSite(sites, noted, here)?.site ?? null).toBe(wanted);
  });

  test("the question tells both distances", () => {
    const asked = askedSite(sites, "jetty", at(5000));
    expect(asked).toMatchObject({ site: "head", waterbody: "Arm" });
    expect([Math.round(asked?.metres ?? -1), Math.round((asked?.noted ?? 0) / 10)]).toEqual([0, 500]);
  });

  test("no haul before, no question", () => expect(askedSite([], "", at(0))).toBeNull());
});

describe("another water", () => {
  const square = (id: string, name: string, from: number, to: number): DrawnArea => {
    const [south, north] = [at(from).lat, at(to).lat];
    return { id, name, geometry: { type: "Polygon", coordinates: [[[152.9, south], [153.1, south], [153.1, north], [152.9, north], [152.9, south]]] } };
  };
  const areas = [
    square("inlet", "Inlet and the inner bar", 0, 1000),
    square("arm", "Long Arm", 2000, 3000),
    square("lower", "Long Arm below the weir", 3000, 4000),
    square("not", "Inletside closure", 2000, 3000),
    { id: "post", name: "Inlet outfall", geometry: { type: "Point", coordinates: [153, -42] } } as DrawnArea,
  ];
  const waters = ["Inlet", "Long Arm", "Far Creek"];

  test.each([
    ["within it", "Inlet", at(500), null],
    ["on the shore", "Inlet", at(1040), null],
    ["so near that the position may be wrong", "Inlet", at(1100, 60), null],
    ["well outside", "Inlet", at(1300), ""],
    ["within another one", "Inlet", at(2500), "Long Arm"],
    ["within the second of its areas", "Long Arm", at(3500), null],
    ["a water that is not drawn", "Far Creek", at(2500), null],
    ["none noted", "", at(2500), null],
  ] as [string, string, Standing, string | null][])("%s", (_what, noted, here, wanted) => {
    expect(askedWater(areas, waters, noted, here)?.instead ?? null).toBe(wanted);
  });

  test("it tells how far outside", () => expect(Math.round((askedWater(areas, waters, "Inlet", at(1300))?.metres ?? 0) / 10)).toBe(30));
});

test.each([[0, "10 m"], [44, "40 m"], [999, "1000 m"], [1234, "1.2 km"]])("%d m are “%s”", (metres, words) => expect(metresWords(metres)).toBe(words));

test("what is kept is asked about again where another is noted or another position was read, and not otherwise", () => {
  const noted = haul("jetty", "Inlet", 0);
  expect(keptAs({ ...noted, note: "mud" }, "site")).toBe(keptAs(noted, "site"));
  expect(keptAs({ ...noted, waterbody: "Long Arm" }, "site")).toBe(keptAs(noted, "site"));
  for (const other of [{ site: "bar" }, { fixes: [at(0), at(5)] }, { fixes: undefined }]) expect(keptAs({ ...noted, ...other }, "site")).not.toBe(keptAs(noted, "site"));
  expect(keptAs({ ...noted, waterbody: "Long Arm" }, "waterbody")).not.toBe(keptAs(noted, "waterbody"));
});
