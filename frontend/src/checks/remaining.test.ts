/** What is left under the trip's allotments and every limit that covers an animal (FIELD.md, 3; CHECKS.md, Allotments). */
import { describe, expect, test } from "vitest";
import { instant } from "./calendar";
import { whole } from "./exact";
import { Facts } from "./facts";
import { decimalText } from "./measures";
import type { Authority } from "./permits";
import { Reader } from "./records";
import { keepAtMost, type Allotment, type Allowance } from "./remaining";
import { named } from "./taxa";
import { taxa } from "./testing/case_files";
import type { Unit } from "./vocabulary";

const FISH = "Galaxias maculatus";
const AT = "2027-03-10T12:00Z";

function permit(...conditions: object[]): Authority {
  const numbered = conditions.map((one, place) => ({ number: String(place + 1), text: "As issued.", kind: "take limit", ...one }));
  return { id: "P", zone: "UTC", first_day: "2027-01-01", last_day: "2027-12-31", conditions: numbered } as unknown as Authority;
}

interface Taken {
  readonly trip?: string;
  readonly taxon?: string;
  readonly count: number | string;
}

function leftAfter(authority: Authority, takes: readonly Taken[], allotments: readonly Allotment[], taxon = FISH, unit: Unit = "individuals"): Allowance {
  const trips = ["T1", "T2"].map((id) => ({
    id,
    leader: "ana",
    authority: "P",
    hauls: [
      {
        id: `${id}-1`,
        start: "2027-03-10T10:00Z",
        lines: takes
          .filter((one) => (one.trip ?? "T1") === id)
          .map((one, place) => ({ id: `${id}-1-${place}`, taxon: one.taxon ?? FISH, count: one.count, fate: "kept" })),
      },
    ],
  }));
  const season = new Reader(taxa, [authority]).season({ zone: "UTC", trips });
  const facts = new Facts({ authorities: [authority], taxa, areas: new Map() }, season, instant(AT, "UTC"));
  const [trip] = season.trips;
  const haul = trip?.hauls[0];
  if (trip === undefined || haul === undefined) throw new Error("no trip");
  return keepAtMost(facts, "P", named(taxon), { at: instant(AT, "UTC"), trip, haul, unit }, allotments);
}

/** What is left of shell in litres, after takes of this trip; a crate holds 24 L. */
function shellLeft(limits: readonly object[], takes: readonly Taken[], more: object = {}): Allowance {
  const shells = { ...permit({ taxa: ["oyster shell"], limits, ...more }), containers: [{ name: "crate", litres: "24" }] };
  return leftAfter(shells, takes.map((one) => ({ taxon: "oyster shell", ...one })), [], "oyster shell", "L");
}

function allotted(amount: number, number = "1", label = "", name = ""): Allotment {
  return { authority: "P", number, label, name, unit: "individuals", amount: whole(amount) };
}

const YEAR = { taxa: [FISH], limits: [{ amount: "100", period: "calendar year" }] };
const DAY = { taxa: [FISH], limits: [{ amount: "12", period: "day" }] };

function told(allowance: Allowance): (string | null)[] {
  return [String(allowance.more), allowance.binding?.number ?? null, allowance.binding?.by ?? null];
}

describe("the least over allotment and limits", () => {
  test("the crew's allotment binds below the permit's own limit", () => {
    expect(told(leftAfter(permit(YEAR), [{ count: 4 }], [allotted(20)]))).toEqual(["16", "1", "allotment"]);
  });

  test("a day limit binds below the allotment of the year", () => {
    expect(told(leftAfter(permit(YEAR, DAY), [{ count: 4 }], [allotted(20)]))).toEqual(["8", "2", "limit"]);
  });

  test("without an allotment the limit speaks for itself", () => {
    expect(told(leftAfter(permit(YEAR), [{ count: 4 }], []))).toEqual(["96", "1", "limit"]);
  });

  test("what another crew took counts against the limit, not against this crew's allotment", () => {
    const takes = [{ count: 4 }, { trip: "T2", count: 90 }];
    const allowance = leftAfter(permit(YEAR), takes, [allotted(20)]);
    expect(allowance.rooms.map((room) => [room.by, String(room.left.low)])).toEqual([["limit", "6"], ["allotment", "16"]]);
    expect(told(allowance)).toEqual(["6", "1", "limit"]);
  });

  test("an estimate counts at its highest: what may have been taken is taken", () => {
    const allowance = leftAfter(permit(YEAR), [{ count: "about 8" }], [allotted(20)]);
    expect(told(allowance)).toEqual(["10", "1", "allotment"]);
    expect(String(allowance.binding?.left.high)).toBe("14");
  });

  test("a catch named only to genus may be of the limited species", () => {
    const takes = [{ taxon: "Galaxias", count: 3 }];
    expect(told(leftAfter(permit(YEAR), takes, [allotted(20)]))).toEqual(["17", "1", "allotment"]);
  });

  test("beyond the allotment nothing is left, never less", () => {
    expect(told(leftAfter(permit(YEAR), [{ count: 25 }], [allotted(20)]))).toEqual(["0", "1", "allotment"]);
  });
});

describe("which allotment is meant", () => {
  test("one of another condition, authority or label is none of this limit's", () => {
    const others = [allotted(1, "9"), { ...allotted(1), authority: "Q" }, allotted(1, "1", "per day")];
    expect(told(leftAfter(permit(YEAR), [], others))).toEqual(["100", "1", "limit"]);
  });

  test("two limits under one number are told apart by their label", () => {
    const both = { taxa: [FISH], limits: [{ amount: "100", period: "term" }, { amount: "12", period: "day" }] };
    const allowance = leftAfter(permit(both), [{ count: 2 }], [allotted(7, "1", "per term"), allotted(5, "1", "per day")]);
    expect(told(allowance)).toEqual(["3", "1", "allotment"]);
    expect(allowance.binding?.label).toBe("per day");
  });

  test("of a limit on each name the allotment names the taxon", () => {
    const each = { unlisted: true, each: true, limits: [{ amount: "35", period: "term" }] };
    const own = [allotted(6, "1", "", FISH), allotted(1, "1", "", "Ambassis marianus")];
    expect(told(leftAfter(permit(each), [{ count: 2 }, { taxon: "Ambassis marianus", count: 1 }], own))).toEqual(["4", "1", "allotment"]);
  });

  test("an animal that the limit does not cover has no allotment", () => {
    const allowance = leftAfter(permit(YEAR), [], [allotted(20)], "Ambassis marianus");
    expect(told(allowance)).toEqual(["null", null, null]);
  });
});

describe("of material, in the unit of the limit", () => {
  test.each([
    [[], "72"],
    [[{ count: "2 crate" }], "24"],
    [[{ count: "2 crate" }, { count: "3.5 L" }], "20.5"],
    [[{ count: "3 crate" }], "0"],
    // Beyond the limit nothing is left, never less.
    [[{ count: "4 crate" }], "0"],
  ])("of three crates on a trip, after %j, %s L are left", (takes, litres) => {
    const allowance = shellLeft([{ amount: "3", container: "crate", period: "trip" }], takes);
    expect([decimalText(allowance.more!), allowance.binding?.vessel?.name]).toEqual([litres, "crate"]);
  });

  test("a limit printed in litres has no vessel, and one by weight says nothing of litres", () => {
    expect(shellLeft([{ amount: "30 L", period: "trip" }], []).binding).toMatchObject({ vessel: null, unit: "L" });
    expect(shellLeft([{ amount: "8 kg", period: "trip" }], []).binding).toBeNull();
  });

  test("a limit in litres leaves no number of animals", () => {
    const inLitres = permit({ taxa: [FISH], limits: [{ amount: "30 L", period: "day" }] });
    expect(told(leftAfter(inLitres, [], [allotted(20)]))).toEqual(["null", null, null]);
  });
});

test("a prohibition leaves nothing, whatever was allotted", () => {
  const authority = permit(YEAR, { kind: "prohibited taxon", taxa: ["Galaxias"] });
  expect(told(leftAfter(authority, [], [allotted(20)]))).toEqual(["0", "2", "prohibition"]);
});

test("an authority that is not on the phone is named", () => {
  const authority = permit(YEAR);
  expect(() => leftAfter({ ...authority, id: "Q" }, [], [])).toThrow("'P' is not on this phone");
});
