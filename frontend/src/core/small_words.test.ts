/** Names found, times told, readings turned, readiness said. */
import { describe, expect, test } from "vitest";
import { findNames, plainName, type NamedTaxon } from "./finding_names";
import { isReady, itemsOf, type Held } from "./readiness";
import { otherUnit, QUANTITIES, unitWords } from "./readings";
import { ageWords, clockOffWords, clockWords, dayText, dayWords } from "./time_words";

const TAXA: readonly NamedTaxon[] = [
  { id: "Galaxias maculatus", rank: "species", common: "jollytail", synonyms: ["Mesites attenuatus"] },
  { id: "Galaxias truttaceus", rank: "species", common: "spotted galaxias" },
  { id: "Galaxias", rank: "genus" },
  { id: "Paragalaxias mesotes", rank: "species", common: "Arthurs paragalaxias" },
  { id: "Haliotis rubra", rank: "species", common: "abalone (blacklip) Müller's" },
];
const found = (typed: string, before: string[] = [], most = 8): string[] => findNames(typed, TAXA, before, most).map((one) => one.id);

describe("finding a name", () => {
  test.each([
    ["ga ma", ["Galaxias maculatus"]],
    ["ma ga", ["Galaxias maculatus"]],
    ["JOLLY", ["Galaxias maculatus"]],
    ["mesi", ["Galaxias maculatus"]],
    ["black", ["Haliotis rubra"]],
    ["muller", ["Haliotis rubra"]],
    ["müll", ["Haliotis rubra"]],
    ["axias", []],
    ["", []],
    ["  - ", []],
  ])("“%s” finds %o", (typed, wanted) => expect(found(typed)).toEqual(wanted));

  test("what was caught before comes first, in its order; then species, then broader names", () => {
    expect(found("ga")).toEqual(["Galaxias maculatus", "Galaxias truttaceus", "Galaxias"]);
    expect(found("ga", ["Galaxias", "Galaxias truttaceus"])).toEqual(["Galaxias", "Galaxias truttaceus", "Galaxias maculatus"]);
    expect(found("ga", [], 1)).toEqual(["Galaxias maculatus"]);
  });

  test("a name alone says nothing of stage, sex or doubt", () => {
    expect(plainName("Galaxias")).toEqual({ taxon: "Galaxias", doubt: "", written: "", stage: "", sex: "" });
  });
});

describe("times in words", () => {
  const [MINUTE, HOUR, DAY] = [60_000, 3_600_000, 86_400_000];
  test.each([
    [-5, "less than a minute"],
    [MINUTE - 1, "less than a minute"],
    [4.9 * MINUTE, "4 min"],
    [HOUR, "1 h"],
    [3 * HOUR + 10 * MINUTE, "3 h 10 min"],
    [DAY, "1 day"],
    [2.9 * DAY, "2 days"],
  ])("%d ms are “%s”", (age, words) => expect(ageWords(age)).toBe(words));

  test.each([[null, ""], [4, ""], [-4, ""], [40, "40 s fast"], [-90, "1 min slow"], [3 * 3600, "3 h fast"]])("a clock off by %s s: “%s”", (ahead, words) => {
    expect(clockOffWords(ahead)).toBe(words);
  });

  // Hobart is 10 h ahead of UTC in July and Honolulu 10 h behind it (IANA time zone database).
  test.each([["Australia/Hobart", "00:05", "15 July 2028", "2028-07-15"], ["Pacific/Honolulu", "04:05", "14 July 2028", "2028-07-14"]])("one moment in %s", (zone, clock, day, text) => {
    const at = Date.parse("2028-07-14T14:05:00Z");
    expect([clockWords(at, zone), dayWords(at, zone), dayText(at, zone)]).toEqual([clock, day, text]);
  });
});

describe("readings", () => {
  // NIST SP 811 (2008), B.8: degrees Fahrenheit, and the foot of 0.3048 m exactly.
  test.each([
    ["32", "F", "0.0 °C"],
    ["100", "C", "212.0 °F"],
    ["-40", "C", "-40.0 °F"],
    ["10", "ft", "3.05 m"],
    ["1", "m", "3.3 ft"],
    ["7.9", "pH", ""],
    ["", "C", ""],
    ["-", "C", ""],
  ])("%s %s is %s", (value, unit, other) => expect(otherUnit(value, unit)).toBe(other));

  test("every quantity has a unit to touch", () => {
    for (const { name, units } of QUANTITIES) expect(units.map(unitWords), name).not.toContain("");
    expect([unitWords("C"), unitWords("psu")]).toEqual(["°C", "psu"]);
  });
});

describe("ready to leave signal", () => {
  const all: Held = { app: true,
    appWords: "Kept.", numbers: { authority: 2, taxa: 1, areas: 1, person: 9 }, papersWanted: 3, papers: 3, shoreline: true, plannedTrips: 1, allotments: 0 };
  const missing = (held: Partial<Held>): string[] => itemsOf({ ...all, ...held }).filter((one) => !one.there).map((one) => one.what);

  test("with everything there", () => {
    expect(isReady(itemsOf(all))).toBe(true);
    expect(itemsOf(all).map((one) => one.words)).toContain("2 authorities, every condition as issued.");
  });

  test.each([
    [{ app: false }, ["The app itself"]],
    [{ papers: 2 }, ["Their papers"]],
    [{ numbers: { ...all.numbers, taxa: 0 } }, ["Names of animals"]],
    [{ numbers: { ...all.numbers, person: 0 } }, ["People"]],
    [{ numbers: { ...all.numbers, authority: 0 } }, ["Permits and licences", "Plan", "Allotment"]],
  ] as [Partial<Held>, string[]][])("without %o these are named: %o", (held, names) => expect(missing(held)).toEqual(names));

  test("what the office has put none in of is neither ticked nor missing", () => {
    const none = (held: Partial<Held>): string[] => itemsOf({ ...all, ...held }).filter((one) => one.none).map((one) => one.what);
    expect(none({ allotments: 2 })).toEqual([]);
    expect(none({})).toEqual(["Allotment"]);
    expect(none({ papersWanted: 0, papers: 0, plannedTrips: 0, shoreline: false })).toEqual(["Their papers", "Shoreline", "Plan", "Allotment"]);
    // Before the first visit nothing is known of plans and areas: they are missing, not none.
    expect(none({ numbers: {}, shoreline: false, plannedTrips: 0 })).toEqual([]);
    expect(isReady(itemsOf({ ...all, papersWanted: 0, papers: 0, plannedTrips: 0, shoreline: false }))).toBe(true);
  });

  test("a record without papers and plans is no reason to wait", () => {
    expect(missing({ papersWanted: 0, papers: 0, plannedTrips: 0, shoreline: false })).toEqual([]);
  });
});
