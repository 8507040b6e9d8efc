/** What the trip's view says of records. The season is a small invented one; what is expected follows from it. */
import { describe, expect, test } from "vitest";
import type { Naming } from "../core/versions";
import type { ChangedRead, HistoryRead } from "./answers";
import { seasonOf, type Haul, type Trip } from "./season";
import { attestedOn, authoritiesOn } from "./statements";
import { aboutPlainly, beyond, correctionWords, emptyWords, enteredWords, otherWords, papersOn, standingOf } from "./telling";

const ZONE = "Australia/Hobart";
const change = (kind: string, id: string, parent: string, record: Record<string, unknown>): ChangedRead => ({
  seq: 1, kind, id, version: 3, trip: "", at: "2027-03-10T00:00:00Z", code: ["trip", "haul", "line"].includes(kind) ? `K-${id}` : id, parent, record,
});
const ONE = { low: 2, best: 2, high: 2 };

const SEASON = seasonOf([
  change("trip", "t", "", {
    zone: ZONE, leader: "ann", authority: "permit", status: "closed", depart: "2027-03-09T21:00:00Z", papers: ["permit", "tide table"],
    attestations: [{ authority: "permit", condition: "9", person: "ann", at: "2027-03-10T03:00:00Z", kept: "kept" }],
  }),
  change("trip", "later", "", {
    zone: ZONE, leader: "bo", authority: "permit", status: "closed", depart: "2027-04-09T21:00:00Z",
    attestations: [{ authority: "permit", condition: "8", person: "bo", at: "2027-04-10T03:00:00Z", kept: "not kept", reason: "no label" }],
  }),
  change("haul", "out", "t", { start: "2027-03-09T22:50:00Z", kind: "set", checks: ["2027-03-10T01:30:00Z", "2027-03-10T00:10:00Z"] }),
  change("haul", "fresh", "t", { start: "2027-03-09T22:50:00Z", kind: "set" }),
  change("haul", "gone", "t", { start: "2027-03-09T22:55:00Z", kind: "set", lost: true }),
  change("haul", "quiet", "t", { start: "2027-03-09T22:55:00Z", kind: "set", lost: true }),
  change("haul", "done", "t", {
    start: "2027-03-09T23:00:00Z", end: "2027-03-09T23:10:00Z", kind: "haul", note: "snagged once", gear: { gear: "trap", number: 3, tag: "KA-7" },
    readings: [{ quantity: "salinity", value: "27.5", unit: "psu" }],
  }),
  change("haul", "endless", "t", { start: "2027-03-09T23:30:00Z", kind: "haul" }),
  change("line", "l", "done", {
    taxon: "Galaxias maculatus", count: ONE, fate: "kept", unit: "individuals", stage: "adult", sex: "female", method: "counted", note: "all bright",
    measurements: [{ measure: "total length", values: ["236 mm", "63.5 mm"] }], authority: "licence",
  }),
  change("incident", "i-1", "", { id: "i-1", about: ["gone"], to: "Inlet Office", told: "2027-03-10T05:00:00Z", channel: "telephone" }),
  change("notice", "n-1", "", { id: "n-1", trip: "t", to: "Inlet Office", sent: "2027-03-08T05:00:00Z", proof: "mail 12" }),
  change("movement", "01a20000-0000-7000-8000-000000000000", "", {
    line: "l", what: "transferred", to: "Cape Hall", count: ONE, at: "2027-03-20T01:00:00Z",
  }),
  change("authority", "permit", "", {
    id: "permit", number: "9/27", title: "Permit", zone: ZONE, first_day: "2027-01-01", last_day: "2027-12-31",
    conditions: [
      { number: "8", kind: "attested", text: "Every tank bears the number.", per: "term" },
      { number: "9", kind: "attested", text: "No more than is needed." },
      { number: "10", kind: "term" },
    ],
  }),
]);
const TRIP = SEASON.trips.get("t") as Trip;
const haul = (id: string): Haul => SEASON.hauls.get(id) as Haul;
const NAMING: Naming = { zone: ZONE, people: new Map(), sites: new Map(), authorities: new Map([["licence", "L 2"]]) };

describe("a set or haul that has not simply ended", () => {
  test.each([
    ["out", "still out since 10 Mar 2027 09:50, last looked in 10 Mar 2027 12:30", "It has not been lifted; nothing is entered of it yet."],
    ["fresh", "still out since 10 Mar 2027 09:50, not looked in yet", "It has not been lifted; nothing is entered of it yet."],
    ["gone", "lost, reported 10 Mar 2027 16:00 to Inlet Office", "What was in it is not known."],
    ["quiet", "lost, no report of it is in the record", "What was in it is not known."],
    ["endless", "no end recorded", "Nothing is entered yet."],
    ["done", "", "Nothing caught."],
  ])("%s: %s", (id, standing, empty) => {
    expect(standingOf(SEASON, haul(id), ZONE)).toBe(standing);
    expect(emptyWords(haul(id))).toBe(empty);
  });
});

test("what a row does not show is told in words: gear with its number and tag, readings, lengths, stage, sex, authority", () => {
  const told = (kind: string, id: string): Record<string, string> =>
    Object.fromEntries(beyond(SEASON, kind, id, NAMING).map((one) => [one.field, one.words]));
  expect(told("haul", "done")).toMatchObject({ gear: "trap, number 3, tag KA-7", readings: "salinity 27.5 psu" });
  expect(told("line", "l")).toEqual({
    measurements: "total length 236 mm, 63.5 mm", stage: "adult", sex: "female", authority: "L 2",
  });
  expect(told("haul", "out")["checks"]).toBe("10 Mar 2027 12:30, 10 Mar 2027 11:10");
  expect(told("trip", "t")).toEqual({ papers: "permit; tide table" });
  expect(beyond(SEASON, "line", "nowhere", NAMING)).toEqual([]);
});

test("who entered and who amended a record, on which phone, at which time", () => {
  const entry = { kind: "line", record: "l", by: "ann", by_name: "Ann Oake", entered_from: "screen", at: "2027-03-10T04:00:00Z" } as const;
  const history: HistoryRead = {
    entries: [
      { ...entry, version: 1, device: "creek phone 1", device_at: "2027-03-09T23:05:00Z" },
      { ...entry, version: 2, by_name: "Bo Reed", device: "", device_at: null, entered_from: "paper" },
      { ...entry, record: "other", version: 1, device: "", device_at: null },
    ],
    corrections: [],
  };
  expect(enteredWords(history, "l", ZONE)).toEqual([
    "Entered by Ann Oake on creek phone 1, 10 Mar 2027 10:05 by the phone, received 10 Mar 2027 15:00",
    "Amended by Bo Reed, from paper, 10 Mar 2027 15:00",
  ]);
  expect(enteredWords(history, "from a file", ZONE)).toEqual([]);
});

test("a correction is a sentence with its reason", () => {
  const one = { record: "l", field: "taxon", old: "Gobiidae", new: "Galaxias", by: "bo", by_name: "Bo Reed", at: "2027-03-10T04:00:00Z", why: "fin rays" };
  expect(correctionWords(one, ZONE)).toBe("Taxon was Gobiidae, is Galaxias: Bo Reed, 10 Mar 2027 15:00. Reason: fin rays");
});

test("papers of a trip are told by their time, each as people name it, and no id is shown", () => {
  expect(papersOn(SEASON, TRIP).map((one) => [one.words, one.more])).toEqual([
    ["notice to Inlet Office, 8 Mar 2027 16:00", "proof: mail 12"],
    ["report to Inlet Office, 10 Mar 2027 16:00", "by: telephone"],
    ["2 Galaxias maculatus of K-l transferred to Cape Hall, 20 Mar 2027 12:00", ""],
  ]);
  expect(otherWords(SEASON, "01a20000-0000-7000-8000-000000000000", ZONE)).toBe(
    "2 Galaxias maculatus of K-l transferred to Cape Hall, 20 Mar 2027 12:00",
  );
  expect(otherWords(SEASON, "N-77", ZONE)).toBe("N-77");
  expect(aboutPlainly(SEASON, "movement 01a20000-0000-7000-8000-000000000000", ZONE)).toBe(
    "2 Galaxias maculatus of K-l transferred to Cape Hall, 20 Mar 2027 12:00",
  );
  expect(aboutPlainly(SEASON, "haul K-done", ZONE)).toBe("haul K-done");
});

test("statements are those of the trip, or of any trip where one holds for the term", () => {
  expect(authoritiesOn(SEASON, TRIP)).toEqual(["permit", "licence"]);
  const told = attestedOn(SEASON, TRIP, 0);
  expect(told.map(({ number, wholeTerm, stated }) => [number, wholeTerm, stated.map((one) => `${one.person} ${one.kept}${one.reason && `: ${one.reason}`}`)])).toEqual([
    ["8", true, ["bo not kept: no label"]],
    ["9", false, ["ann kept"]],
  ]);
});
