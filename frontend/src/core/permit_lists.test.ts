/** What screens offer from a permit: the sample season's own, as it was issued and amended (sample_trips/STORY.md). */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import type { Clause } from "../checks/permits";
import { gearOf, soakHours } from "./gear";
import { attestedPerTrip, clausesAt, isInTerm, measuresOf, papersOf, peopleOf, stagesOf } from "./permit_lists";

const PERMIT = JSON.parse(readFileSync(join(import.meta.dirname, "../../../sample_trips/next-season/authority-3-collecting-permit.json"), "utf-8")) as Record<string, unknown>;
const IN_FORCE = Date.parse("2028-07-14T02:00:00Z");
const clauses = clausesAt(PERMIT, IN_FORCE);

const clause = (condition: object): Clause => ({ condition }) as unknown as Clause;

describe("a permit of the sample", () => {
  test("every condition is in force once, in the permit's own order", () => {
    const numbers = clauses.map(({ condition }) => condition.number);
    expect(numbers).toEqual((PERMIT["conditions"] as { number: string }[]).map((one) => one.number));
    expect(new Set(numbers).size).toBe(numbers.length);
  });

  test("both days of its term are within it, and no other", () => {
    const { first_day, last_day } = PERMIT as { first_day: string; last_day: string };
    expect([first_day, last_day].map((day) => isInTerm(PERMIT, day))).toEqual([true, true]);
    expect(["2028-06-30", "2029-07-01"].map((day) => isInTerm(PERMIT, day))).toEqual([false, false]);
  });

  test("people, gear, papers and what is attested are those that it names", () => {
    expect(peopleOf(PERMIT)).toEqual(PERMIT["people"]);
    expect(gearOf(clauses)).toContain("seine");
    expect(papersOf(clauses)).toContain("permit and amendments");
    expect(attestedPerTrip(clauses).every(({ condition }) => condition.kind === "attested")).toBe(true);
    expect(attestedPerTrip(clauses)).not.toEqual([]);
  });
});

test("a permit that names nobody offers nobody", () => expect(peopleOf({})).toEqual([]));

test("an amendment takes the place of the clause from its moment on", () => {
  const condition = (text: string): object => ({ kind: "attested", number: "9", text });
  const amendment = { number: "1", from_moment: "2028-08-01T00:00:00+10:00", conditions: [condition("new")] };
  const amended = { ...PERMIT, conditions: [condition("old")], amendments: [amendment] };
  const words = (at: string): unknown => clausesAt(amended, Date.parse(at)).map((one) => (one.condition as { text?: string }).text);
  expect(words("2028-07-31T13:59:59Z")).toEqual(["old"]);
  expect(words("2028-07-31T14:00:00Z")).toEqual(["new"]);
});

test("of several times that a set may stand the least counts, and only that gear's", () => {
  const gear = [{ gear: "trap", soak_hours: "24" }, { gear: "trap", soak_hours: 12 }, { gear: "seine" }, { gear: "trap" }];
  const listed = [clause({ kind: "gear", gear }), clause({ kind: "attested" })];
  expect([soakHours(listed, "trap"), soakHours(listed, "seine"), soakHours(listed, "rake")]).toEqual([12, null, null]);
  expect(gearOf(listed)).toEqual(["trap", "seine"]);
});

test("measures and stages that conditions speak of stand before the usual ones, each once", () => {
  const listed = [
    clause({ kind: "size limit", rules: [{ measure: "shell length" }, { measure: "body length" }] }),
    clause({ kind: "take limit", only: { size: { measure: "disc width" }, stages: ["glass eel"] } }),
    clause({ kind: "share limit", parts: [{ size: { measure: "disc width" } }, {}] }),
    clause({ kind: "prohibited stage", stages: ["berried"] }),
  ];
  expect(measuresOf(listed).slice(0, 4)).toEqual(["shell length", "body length", "disc width", "total length"]);
  expect(stagesOf(listed).slice(0, 3)).toEqual(["glass eel", "berried", "juvenile"]);
  for (const found of [measuresOf(listed), stagesOf(listed)]) expect(new Set(found).size).toBe(found.length);
});

test("what is attested once a term is not asked for at each trip", () => {
  expect(attestedPerTrip([clause({ kind: "attested", per: "term" }), clause({ kind: "attested", per: "trip" }), clause({ kind: "attested" })])).toHaveLength(2);
});
