/** What a catch screen is told: what is left, of material too, in its own vessel; and a size in one short sentence. */
import { describe, expect, test } from "vitest";
import { exact, instant, Reader, type Allotment, type Authority } from "../checks/checks";
import { taxa } from "../checks/testing/case_files";
import { plainName } from "../core/finding_names";
import { rowKey } from "../core/tally";
import { answerFor, type HaulAnswer } from "./answers";

const [FISH, SHELL, AT] = ["Galaxias maculatus", "oyster shell", "2027-03-10T12:00Z"];

function permit(...conditions: object[]): Authority {
  const numbered = conditions.map((one, place) => ({ number: String(place + 1), text: "As issued.", ...one }));
  const containers = [{ name: "crate", litres: "24" }];
  return { id: "P", zone: "UTC", first_day: "2027-01-01", last_day: "2027-12-31", containers, conditions: numbered } as unknown as Authority;
}

/** Answer for a haul with these lines, all kept. */
function answered(authority: Authority, lines: readonly object[], allotments: readonly Allotment[] = []): HaulAnswer {
  const reader = new Reader(taxa, [authority]);
  const written = lines.map((one, place) => ({ id: `l${place}`, taxon: FISH, fate: "kept", ...one }));
  const trip = { id: "T", leader: "ana", authority: "P", hauls: [{ id: "H", start: "2027-03-10T10:00Z", lines: written }] };
  const season = reader.season({ zone: "UTC", trips: [trip] });
  const shelf = { book: { authorities: [authority], taxa, areas: new Map() }, reader, allotments: new Map([["T", allotments]]), problems: [] };
  const names = Object.fromEntries([FISH, SHELL].map((taxon) => [rowKey(plainName(taxon)), plainName(taxon)]));
  return answerFor(shelf, season, { trip: "T", haul: "H", at: instant(AT, "UTC"), names });
}

const left = (answer: HaulAnswer, taxon: string): unknown[] => {
  const found = answer.left[rowKey(plainName(taxon))];
  return [found?.more, found?.unit, found?.number, found?.by];
};

describe("what is left", () => {
  const crates = { kind: "take limit", taxa: [SHELL], limits: [{ amount: "3", container: "crate", period: "trip" }] };

  test.each([
    [[], 3],
    [[{ count: "2 crate" }], 1],
    // 72 - 3 L are 2.875 crates: told as less, never as more.
    [[{ count: "3 L" }], 2.8],
    [[{ count: "3 crate" }], 0],
  ])("of three crates after %j: %s", (lines, more) => {
    const answer = answered(permit(crates), lines.map((one) => ({ ...one, taxon: SHELL })));
    expect(left(answer, SHELL)).toEqual([more, "crate", "1", "limit"]);
  });

  test("the sentence names the vessel in which the limit is printed", () => {
    const words = answered(permit(crates), [{ taxon: SHELL, count: "2 crate" }]).left[rowKey(plainName(SHELL))]?.words;
    expect(words).toBe("1 crate left of 1, 3 crate in all.");
  });

  test("a limit by weight is told in grams; what was measured otherwise may be all of it", () => {
    const heavy = permit({ kind: "take limit", taxa: [SHELL], limits: [{ amount: "2 kg", period: "trip" }] });
    expect(left(answered(heavy, [{ taxon: SHELL, count: "500 g" }]), SHELL)).toEqual([1500, "g", "1", "limit"]);
    expect(left(answered(heavy, [{ taxon: SHELL, count: "1 L" }]), SHELL)).toEqual([0, "g", "1", "limit"]);
  });

  test("an allotment that binds is told as the trip's, in whole animals", () => {
    const year = permit({ kind: "take limit", taxa: [FISH], limits: [{ amount: "100", period: "calendar year" }] });
    const given = [{ authority: "P", number: "1", label: "", name: "", unit: "individuals", amount: exact(5) }];
    const answer = answered(year, [{ count: 2 }], given);
    expect(left(answer, FISH)).toEqual([3, "", "1", "allotment"]);
    expect(answer.left[rowKey(plainName(FISH))]?.words).toBe("3 left of this trip's allotment under 1, 5 in all.");
  });
});

describe("a size", () => {
  const size = (...rules: object[]): Authority => permit({ kind: "size limit", taxa: [FISH], rules });
  const run = (measure: string, ...values: string[]): object => ({ count: values.length, measurements: [{ measure, values }] });
  const told = (authority: Authority, line: object): (string | undefined)[] => answered(authority, [line]).told.filter((one) => one.outcome === "broken").map((one) => one.plain);
  const band = { measure: "total length", smallest: "60 mm", largest: "230 mm" };

  test.each([
    [["85 mm", "55 mm", "120.5 mm"], "1 of 3 measured is below 60 mm total length."],
    [["55 mm", "59.9 mm"], "2 of 2 measured are below 60 mm total length."],
    [["85 mm", "231 mm"], "1 of 2 measured is above 230 mm total length."],
    [["55 mm", "231 mm"], "2 of 2 measured are not of the size: total length at least 60 mm and at most 230 mm."],
  ])("%j within a band: “%s”", (values, words) => expect(told(size(band), run("total length", ...values))).toEqual([words]));

  test("of a weight it is told likewise, and of what is of the size nothing", () => {
    const heavy = size({ measure: "weight", smallest: "50 g" });
    expect(told(heavy, run("weight", "49.9 g", "50 g"))).toEqual(["1 of 2 measured is below 50 g weight."]);
    expect(told(heavy, run("weight", "50 g"))).toEqual([]);
  });

  test("a band that is not to be kept, and a choice of measures, are told in the words as issued", () => {
    expect(told(size({ ...band, inside: false }), run("total length", "100 mm"))).toEqual(["1 of 1 measured is not of the size: total length not at least 60 mm and at most 230 mm."]);
  });
});
