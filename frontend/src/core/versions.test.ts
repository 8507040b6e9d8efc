/** Two versions side by side: what differs, in words, and nothing that differs hidden. */
import { expect, test } from "vitest";
import { aboutWords, differences, fieldsOf, type Naming } from "./versions";

const NAMING: Naming = {
  zone: "Pacific/Auckland",
  people: new Map([["p1", "Ann Oake"], ["p2", "Bo Reed"], ["p3", "Bo Reed"]]),
  sites: new Map([["s1", "North arm"]]),
  authorities: new Map([["a1", "KP 27"]]),
};

const LINE = { id: "L-1-a", taxon: "Galaxias maculatus", fate: "kept", unit: "individuals", method: "counted", count: { low: 4, best: 4, high: 4 } };

const told = (stands: object, offered: object): string[] =>
  differences({ ...stands }, { ...offered }, NAMING).map((one) => `${one.name}: ${one.stands} | ${one.offered}`);

test("only what differs is told, what is looked for first stands first", () => {
  expect(told(LINE, { ...LINE, id: "an id", note: "one was pale", fate: "released", count: { low: 3, best: 3, high: 3 } })).toEqual([
    "Count: 4 | 3",
    "Fate: kept | released",
    "Note: not recorded | one was pale",
  ]);
  expect(told(LINE, LINE)).toEqual([]);
});

test.each([
  [12, "12"],
  [{ low: 12, best: 12, high: 12 }, "12"],
  [{ low: 136, best: 140, high: 147 }, "136–147, best 140"],
  [{ low: 136, best: 136, high: 147 }, "136–147, best 136"],
  [{ low: 5, best: 5, high: "unknown" }, "at least 5"],
  [{ low: 5, best: 8, high: "unknown" }, "at least 5, best 8"],
  [{ low: 0, best: 0, high: "unknown" }, "unknown"],
  [{ low: "7/2", best: "7/2", high: "7/2" }, "3.5"],
  [{ low: "1/3", best: "1/3", high: "1/3" }, "1/3"],
  ["2 shell crate", "2 shell crate"],
  ["odd", "odd"],
])("the count %j reads %s", (count, words) => {
  expect(fieldsOf({ count }, NAMING)).toEqual([{ field: "count", name: "Count", words }]);
});

test("a count bears the unit of its own version", () => {
  const litres = { low: "7/2", best: "7/2", high: "7/2" };
  expect(told({ count: litres, unit: "L" }, { count: litres, unit: "g" })).toEqual(["Count: 3.5 L | 3.5 g", "Unit: L | g"]);
});

test("a whole number and its range of one are the same count", () => {
  expect(told({ count: 4 }, { count: { low: 4, best: 4, high: 4 } })).toEqual([]);
});

test("times are told in the trip's zone, to the second where one was recorded", () => {
  // Pacific/Auckland is 12 hours ahead of UTC in July and 13 in January (IANA time zone database).
  expect(told({ start: "2027-07-31T21:00:00Z" }, { start: "2027-07-31T21:00:07Z" })).toEqual([
    "Start: 1 Aug 2027 09:00 | 1 Aug 2027 09:00:07",
  ]);
  expect(told({ end: "2027-01-31T21:00:00Z" }, { end: "somewhen" })).toEqual(["End: 1 Feb 2027 10:00 | somewhen"]);
  expect(told({ checks: ["2027-07-31T21:00:00Z"] }, { checks: [] })).toEqual(["Looked at: 1 Aug 2027 09:00 | none"]);
});

test("people and sites are named; who shares a name bears the id, and an unknown id is shown", () => {
  const crew = [{ person: "p1", role: "holder" }];
  expect(told({ person: "p1", site: "s1" }, { person: "p9", site: "s9" })).toEqual(["Site: North arm | s9", "Person: Ann Oake | p9"]);
  expect(told({ leader: "p2" }, { leader: "p3" })).toEqual(["Leader: Bo Reed (p2) | Bo Reed (p3)"]);
  expect(told({ crew }, { crew: [...crew, { person: "p2", role: "helper" }] })).toEqual([
    "Crew: Ann Oake (holder) | Ann Oake (holder), Bo Reed (p2) (helper)",
  ]);
  expect(told({ authority: "a1" }, {})).toEqual(["Authority: KP 27 | not recorded"]);
});

test("measurements are told as runs", () => {
  const run = { measure: "total length", values: ["41.0 mm", "38.5 mm"] };
  expect(told({ measurements: [run] }, { measurements: [run, { measure: "weight", variant: "wet", values: ["3.1 g"] }] })).toEqual([
    "Measured: total length 41.0 mm, 38.5 mm | total length 41.0 mm, 38.5 mm; weight (wet) 3.1 g",
  ]);
});

test("gear, place, readings and cleanings read without brackets", () => {
  expect(told({ gear: { gear: "seine", length_mm: "12000 mm", mesh_mm: "127/20 mm" }, swept_m: "61/2 m" }, { gear: { gear: "trap", marked: true } })).toEqual([
    "Gear: seine, length 12 m, mesh 6.35 mm | trap, marked yes",
    "Length swept: 30.5 m | not recorded",
  ]);
  expect(told({ fixes: [{ lat: -42.3, lon: 153.6, radius_m: 8 }] }, { fixes: [{ lat: -42.3, lon: 153.6, radius_m: 8, confidence: 0.95 }] })).toEqual([
    "Place: -42.3, 153.6, within 8 m | -42.3, 153.6, within 8 m, 95 % sure",
  ]);
  const reading = { quantity: "salinity", value: "12", unit: "psu", at: "2027-07-31T21:00:00Z" };
  expect(told({ readings: [reading] }, {})).toEqual(["Readings: salinity 12 psu, 1 Aug 2027 09:00 | not recorded"]);
  const cleaning = { method: "dried", at: "2027-07-31T21:00:00Z", person: "p1", minutes: 30 };
  expect(told({}, { cleanings: [cleaning] })).toEqual(["Cleanings: not recorded | dried, 1 Aug 2027 09:00, Ann Oake, minutes 30"]);
});

test("the order in which the parts of a value were written is no difference", () => {
  const turned = (value: object): object => Object.fromEntries(Object.entries(value).reverse());
  const haul = {
    gear: { gear: "seine", length_mm: "12000 mm", mesh_mm: "4 mm", tag: "K1" },
    fixes: [{ lat: -42.3, lon: 153.6, radius_m: 8, confidence: 0.95, source: "phone", heading: 3, altitude: 1 }],
    readings: [{ quantity: "salinity", value: "12", unit: "psu", instrument: "meter 1", note: "warm" }],
    cleanings: [{ method: "dried", at: "2027-07-31T21:00:00Z", person: "p1", minutes: 30, note: "x" }],
    crew: [{ person: "p1", role: "holder" }],
    measurements: [{ measure: "weight", values: ["3 g"], variant: "wet" }],
    count: { low: 1, best: 2, high: 3 },
    whatever: { a: { b: 1, c: 2 }, d: 3 },
  };
  const offered = Object.fromEntries(
    Object.entries(haul).map(([field, value]) => [field, Array.isArray(value) ? value.map(turned) : turned(value)]),
  );
  expect(told(haul, { ...offered, whatever: { d: 3, a: { c: 2, b: 1 } } })).toEqual([]);
});

test("what stands at its default says so, and a shape that nobody knows is shown as it came", () => {
  expect(told({}, { lost: true })).toEqual(["Lost: no | yes"]);
  expect(told({ crew: "odd", whatever: { a_b: [1, { c: null }] } }, {})).toEqual([
    "Crew: odd | not recorded",
    "Whatever: a b 1; c not recorded | not recorded",
  ]);
});

test.each([
  ["line", { ...LINE }, "Galaxias maculatus, 4 kept"],
  ["line", { taxon: "Gobiidae", name_as_written: "unknown 1", count: 2, fate: "dead" }, "unknown 1, 2 dead"],
  ["haul", { kind: "set", start: "2027-07-31T21:00:00Z", site: "s1" }, "set of 1 Aug 2027 09:00, North arm"],
  ["trip", { depart: "2027-07-31T19:00:00Z", status: "open" }, "trip of 1 Aug 2027 07:00, open"],
  ["notice", {}, "notice"],
])("a %s is said in a few words", (kind, content, words) => {
  expect(aboutWords(kind, content, NAMING)).toBe(words);
});
