/** Gear: what the permit bounds is asked for, a net's sizes are typed once, and nothing is taken from another kind. */
import { describe, expect, test } from "vitest";
import type { Clause } from "../checks/permits";
import { boundWords, gearOf, gearWords, inMetric, knownGear, lengthWords, marksWanted, missingOf, sameNet, soakHours, standingGear, type GearUsed } from "./gear";

const entries = [
  { gear: "seine", length_max: "15 m", mesh_max: "1/2 in" },
  { gear: "hand net", opening_max: "600 mm" },
  { gear: "by hand" },
  { gear: "trap", opening_max: "80 mm", together: 6, soak_hours: "24", marked: true },
  { gear: "fyke" },
];
const clauses = [{ condition: { number: "4.1", kind: "gear", text: "", gear: entries } }, { condition: { number: "4.7", kind: "season", text: "" } }] as unknown as Clause[];

test("the permit's kinds, and those of them that are left to stand", () => {
  expect(gearOf(clauses)).toEqual(["seine", "hand net", "by hand", "trap", "fyke"]);
  // Picking by hand and a hand net are no gear that one sets; a fyke stands though nothing more is said of it (common practice, no source).
  expect(standingGear(clauses)).toEqual(["trap", "fyke"]);
  expect([soakHours(clauses, "trap"), soakHours(clauses, "seine")]).toEqual([24, null]);
});

test.each([
  ["seine", "length_mm", "at most 15 m (4.1)"],
  ["Seine", "mesh_mm", "at most 1/2 in (4.1)"],
  ["seine", "opening_mm", ""],
  ["trap", "opening_mm", "at most 80 mm (4.1)"],
  ["by hand", "length_mm", ""],
] as const)("of a %s the %s: “%s”", (gear, field, words) => expect(boundWords(clauses, gear, field)).toBe(words));

test("a mesh with two ends", () => {
  const two = [{ condition: { number: "9", kind: "gear", text: "", gear: [{ gear: "seine", mesh_min: "5 mm", mesh_max: "10 mm" }] } }] as unknown as Clause[];
  expect(boundWords(two, "seine", "mesh_mm")).toBe("at least 5 mm, at most 10 mm (9)");
});

test.each([
  [{ gear: "seine" }, ["length", "mesh"]],
  [{ gear: "seine", mesh_mm: "6 mm" }, ["length"]],
  [{ gear: "trap", opening_mm: "60 mm" }, ["marking"]],
  [{ gear: "trap", opening_mm: "60 mm", marked: false }, []],
  [{ gear: "by hand" }, []],
  [{}, []],
] as [GearUsed, string[]][])("of %o this is still to be noted: %o", (gear, missing) => {
  expect(missingOf(clauses, gear)).toEqual(missing);
});

test("a marking is asked for where the permit asks for it", () => {
  expect([marksWanted(clauses, "trap"), marksWanted(clauses, "seine")]).toEqual([true, false]);
});

describe("in words", () => {
  // The server gives lengths in millimetres, a quarter of an inch as 127/20 mm (6.35 mm exactly).
  test.each([["12000 mm", "12 m"], ["127/20 mm", "6.35 mm"], ["450 mm", "450 mm"], ["12345 mm", "12.345 m"], ["1000 mm", "1 m"], ["1/3 mm", "1/3 mm"], ["333333/1000000 mm", "0.333333 mm"], [`1/${"9".repeat(70)} mm`, `1/${"9".repeat(70)} mm`], ["1/0 mm", "1/0 mm"], ["some mm", "some mm"], ["1/4 in", "1/4 in"], ["12 m", "12 m"]])("%s is %s", (written, words) => {
    expect(lengthWords(written)).toBe(words);
  });

  test("a gear with its name, sizes and number", () => {
    expect(gearWords({ gear: "trap", tag: "T1-T4", opening_mm: "60 mm", number: 4 })).toBe("trap T1-T4, opening 60 mm, 4 of them");
    expect([gearWords({ gear: "rake", number: 1 }), gearWords({}), gearWords(undefined)]).toEqual(["rake", "", ""]);
  });

  // NIST SP 811 (2008), B.8: the inch is 25.4 mm, the foot 0.3048 m.
  test.each([["0.5", "in", "12.7 mm"], ["40", "ft", "12.19 m"], ["12", "mm", ""], ["", "in", ""], ["0", "ft", ""]])("%s %s is %s", (value, unit, other) => {
    expect(inMetric(value, unit)).toBe(other);
  });
});

describe("nets of earlier hauls", () => {
  const haul = (start: string, gear: GearUsed): object => ({ start, gear });
  const blue = { gear: "seine", tag: "S-1", length_mm: "12 m", mesh_mm: "1/4 in" };

  test("the latest first, each once, as it was noted last; a bare kind is no net that is known", () => {
    const mended = { ...blue, mesh_mm: "6 mm" };
    const found = knownGear([
      haul("2028-07-01T00:00:00Z", blue),
      haul("2028-07-03T00:00:00Z", { gear: "seine" }),
      haul("2028-07-02T00:00:00Z", mended),
      haul("2028-07-04T00:00:00Z", { gear: "hand net", opening_mm: "450 mm" }),
      haul("2028-06-01T00:00:00Z", { gear: "hand net", opening_mm: "45 cm" }),
      haul("2028-07-05T00:00:00Z", { gear: "trap", opening_mm: "wide" }),
      { start: "2028-07-05T00:00:00Z" },
    ] as never);
    expect(found).toEqual([{ gear: "hand net", opening_mm: "450 mm" }, mended]);
  });

  test("one without a name that measures as one with a name is that one", () => {
    const bare = { gear: "seine", length_mm: "12000 mm", mesh_mm: "127/20 mm" };
    expect(knownGear([haul("2028-07-02T00:00:00Z", bare), haul("2028-07-01T00:00:00Z", blue)] as never)).toEqual([blue]);
  });

  test("no more than are offered", () => {
    const many = ["a", "b", "c"].map((tag, day) => haul(`2028-07-0${day + 1}T00:00:00Z`, { gear: "seine", tag }));
    expect(knownGear(many as never, 2).map((one) => one.tag)).toEqual(["c", "b"]);
  });

  test("the same net, however its size was written", () => {
    expect(sameNet(blue, { ...blue, length_mm: "12000 mm" })).toBe(true);
    expect(sameNet({ gear: "hand net", opening_mm: "450 mm" }, { gear: "hand net", opening_mm: "45 cm" })).toBe(true);
    expect(sameNet({ gear: "seine" }, blue)).toBe(false);
    expect(sameNet(undefined, blue)).toBe(false);
  });
});
