/** Cleaning between waters: asked for at the change, not otherwise, and noted within the time that counts. */
import { describe, expect, test } from "vitest";
import type { Clause } from "../checks/permits";
import { cleanedWords, cleaningAsked, crossingOf, minutesOf, type Cleaned } from "./cleaning";

const haul = (id: string, start: string, waterbody?: string, end?: string): Record<string, string> => ({
  id,
  start: `2028-07-14T${start}:00Z`,
  ...(waterbody === undefined ? {} : { waterbody }),
  ...(end === undefined ? {} : { end: `2028-07-14T${end}:00Z` }),
});
const cleaned = (at: string, more: Partial<Cleaned> = {}): Cleaned => ({ at: `2028-07-14T${at}:00Z`, method: "hot water", ...more });
const inlet = haul("a", "01:00", "Inlet", "01:20");
const arm = haul("b", "03:00", "Arm");

describe("a haul in another water than the one before", () => {
  test("asks, with the time in which the gear would have been cleaned", () => {
    expect(crossingOf(arm, [arm, inlet], [])).toEqual({ from: "Inlet", to: "Arm", since: Date.parse("2028-07-14T01:20:00Z"), until: Date.parse("2028-07-14T03:00:00Z") });
  });

  // As api/domain/rules/cleanings.py has it: from the end of the haul before to the start of this one, both included.
  test.each([["01:19", true], ["01:20", false], ["03:00", false], ["03:01", true]])("with a cleaning at %s it asks: %s", (at, asks) => {
    expect(crossingOf(arm, [inlet, arm], [cleaned(at)]) !== null).toBe(asks);
  });

  test("that it was not cleaned is an answer, too", () => expect(crossingOf(arm, [inlet], [cleaned("02:00", { done: false })])).toBeNull());

  test("the one just before counts, and a set still out from its start on", () => {
    const set = haul("s", "02:00", "Arm");
    expect(crossingOf(arm, [inlet, set], [])).toBeNull();
    expect(crossingOf(haul("c", "04:00", "Inlet"), [inlet, set], [])).toMatchObject({ from: "Arm", since: Date.parse("2028-07-14T02:00:00Z") });
  });

  test.each([
    ["the same water", haul("b", "03:00", "Inlet"), [inlet]],
    ["a water not noted here", haul("b", "03:00"), [inlet]],
    ["a water not noted before", arm, [haul("a", "01:00")]],
    ["no haul before", arm, [haul("z", "05:00", "Inlet")]],
  ] as const)("%s: it does not ask", (_why, now, all) => expect(crossingOf(now, all, [])).toBeNull());
});

test("the permit's own methods, and its words", () => {
  const clauses = [{ condition: { number: "6.3", kind: "cleaning", text: "Clean it.", methods: [{ method: "hot water", minutes: "15" }, { method: "dried" }] } }, { condition: { number: "1", kind: "term" } }] as unknown as Clause[];
  expect(cleaningAsked(clauses)).toEqual([{ number: "6.3", text: "Clean it.", methods: ["hot water", "dried"] }]);
});

test.each([["15", "minutes", 15], ["48", "hours", 2880], ["2", "days", 2880], ["0,5", "hours", 30], ["", "minutes", null]] as const)("%s %s are %s minutes", (typed, unit, minutes) => {
  expect(minutesOf(typed, unit)).toBe(minutes);
});

test.each(["0", "-5", "long", "1e999"])("“%s” is no length of time, and that is said", (typed) => expect(() => minutesOf(typed, "minutes")).toThrow("is no length of time"));

test.each([
  [{ gear: "seine S-1", minutes: 15 }, "seine S-1: hot water, 15 min"],
  [{ minutes: "2880" }, "hot water, 2 days"],
  [{ minutes: 180 }, "hot water, 3 h"],
  [{ done: false, note: "no water left" }, "not cleaned (no water left)"],
] as [Partial<Cleaned>, string][])("%o is told as “%s”", (more, words) => expect(cleanedWords(cleaned("02:00", more))).toBe(words));
