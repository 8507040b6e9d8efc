/** A haul's rows and the arithmetic of touches: no animal more or less than was touched. */
import { describe, expect, test } from "vitest";
import { countWords, encountered, howMany, nameOf, NONE, plus, rowKey, rowsOf, runsOf, sum, tripleOf, withMore, withValue, written, type Line } from "./tally";

const line = (more: object = {}): Line => ({ id: "l", taxon: "Palaemon serenus", fate: "kept", unit: "individuals", method: "counted", count: 0, ...more });
const make = (): Line => line({ id: "new" });

describe("counts", () => {
  test.each([
    [4, { low: 4, best: 4, high: 4 }],
    [{ low: 30, best: 40, high: 50 }, { low: 30, best: 40, high: 50 }],
    [{ low: "3", best: "4", high: "5" }, { low: 3, best: 4, high: 5 }],
    ["~40", null],
    [null, null],
    [{ best: 4 }, null],
  ])("%o is read as %o", (count, found) => expect(tripleOf(count)).toEqual(found));

  // "About" is a quarter either way, outward to whole animals: the core's own rule (api/exchange/count_text.py).
  test.each([[40, 30, 50], [10, 7, 13], [3, 2, 4], [1, 0, 2]])("about %d is %d to %d", (number, low, high) => {
    expect(howMany(number, true)).toEqual({ low, best: number, high });
    expect(howMany(number, false)).toEqual({ low: number, best: number, high: number });
  });

  test("sums add bound by bound, and what is sure is written as one number", () => {
    const all = sum([howMany(2, false), howMany(40, true), NONE]);
    expect(all).toEqual({ low: 32, best: 42, high: 52 });
    expect([written(all), written(plus(NONE, howMany(3, false)))]).toEqual([all, 3]);
    expect([countWords(all), countWords(NONE)]).toEqual(["about 42", "0"]);
  });
});

describe("a touch", () => {
  test("begins a line, and adds to one", () => {
    expect(withMore(null, make, howMany(1, false))).toMatchObject({ id: "new", count: 1, method: "counted" });
    expect(withMore(line({ count: 6, note: "wet" }), make, howMany(1, false))).toMatchObject({ id: "l", count: 7, note: "wet" });
  });

  test("a line that holds an estimate is by eye, however much is counted on top", () => {
    const about = withMore(line({ count: 2 }), make, howMany(40, true));
    expect(about).toMatchObject({ count: { low: 32, best: 42, high: 52 }, method: "by eye" });
    expect(withMore(about, make, howMany(1, false))).toMatchObject({ count: { low: 33, best: 43, high: 53 }, method: "by eye" });
  });

  test.each([{ count: "~40" }, { count: 3, unit: "g" }])("a line that counts no animals (%o) is not added to", (other) => {
    expect(() => withMore(line(other), make, howMany(1, false))).toThrow("not counted in animals");
  });

  test("the line that stood is left as it was, so that it can be put back", () => {
    const before = line({ count: 5, measurements: [{ measure: "total length", values: ["80 mm"] }] });
    const copy = structuredClone(before);
    withMore(before, make, howMany(1, false));
    withValue(before, make, "total length", "85 mm");
    expect(before).toEqual(copy);
  });
});

describe("a run of lengths", () => {
  test("what was tallied is measured first; beyond that each length is one animal more", () => {
    let measured = line({ count: 2 });
    const counts = ["80 mm", "85 mm", "90.5 mm"].map((value) => (measured = withValue(measured, make, "total length", value))["count"]);
    expect(counts).toEqual([2, 2, 3]);
    expect(runsOf(measured)).toEqual([{ measure: "total length", values: ["80 mm", "85 mm", "90.5 mm"] }]);
  });

  test("another measure of the same animals counts none of them twice", () => {
    const both = ["total length", "weight"].reduce<Line | null>((now, measure) => withValue(now, make, measure, "7"), null);
    expect(both).toMatchObject({ count: 1 });
    expect(runsOf(both).map((run) => run.measure)).toEqual(["total length", "weight"]);
  });

  test("an estimate is not made smaller by measuring some of it", () => {
    const about = line({ count: { low: 30, best: 40, high: 50 }, method: "by eye" });
    expect(withValue(about, make, "total length", "80 mm")).toMatchObject({ count: { low: 30, best: 40, high: 50 } });
  });

  test("measuring what was estimated counts no animal twice: only the bounds that are too low rise", () => {
    let measured = line({ count: { low: 3, best: 4, high: 5 }, method: "by eye" });
    const counts = [1, 2, 3, 4, 5, 6].map((value) => (measured = withValue(measured, make, "total length", `${value} mm`))["count"]);
    const estimated = { low: 3, best: 4, high: 5 };
    expect(counts).toEqual([estimated, estimated, estimated, { ...estimated, low: 4 }, 5, 6]);
    expect(measured["method"]).toBe("counted");
  });

  test("no line has no run", () => expect([runsOf(null), runsOf(undefined), runsOf(line())]).toEqual([[], [], []]));
});

describe("rows", () => {
  const released = line({ id: "r", fate: "released", count: 3 });

  test("lines of one name are one row, a cell for each fate, in the order in which they were begun", () => {
    const rows = rowsOf([line({ count: 2 }), line({ id: "o", taxon: "Aldrichetta forsteri" }), released]);
    expect(rows.map((row) => row.taxon)).toEqual(["Palaemon serenus", "Aldrichetta forsteri"]);
    expect(rows[0]?.cells).toMatchObject({ kept: { id: "l" }, released: { id: "r" } });
    expect(encountered(rows[0]!)).toEqual({ low: 5, best: 5, high: 5 });
  });

  test.each([{ stage: "berried" }, { sex: "female" }, { doubt: "cf." }, { name_as_written: "unknown 1" }])("%o is a row of its own", (more) => {
    expect(rowsOf([line(), line({ id: "m", ...more })])).toHaveLength(2);
  });

  test("a second line for one cell stands by itself: none is hidden, none is added up unseen", () => {
    const rows = rowsOf([line({ count: 2 }), line({ id: "second", count: 5 }), line({ id: "third", count: 7 })]);
    expect(rows.map((row) => row.cells.kept?.["count"])).toEqual([2, 5, 7]);
    expect(new Set(rows.map((row) => row.key)).size).toBe(3);
  });

  test("a line without a fate is taken as released, a name without parts as plain", () => {
    const bare: Line = { id: "b", taxon: "Animalia" };
    expect(rowsOf([bare])[0]?.cells.released).toBe(bare);
    expect(rowKey(nameOf(bare))).toBe("Animalia||||");
  });
});
