/** Figures and times in words. Expected values follow from the words' own rules unless a source stands beside them. */
import { expect, test } from "vitest";
import { exact, UNKNOWN_AMOUNT } from "../checks/exact";
import { countOf } from "../checks/counts";
import type { TallyRead } from "./answers";
import { besideTheDead, doorCount } from "./door";
import { countFrom } from "./season";
import {
  asideOf, capital, clockWords, dayOf, figureWords, fullnessOf, limitOf, listed, many, rangeFrom, rangeOf, spanWords, spokenRange, timeOf, writtenDay,
} from "./words";

test.each([
  [{ low: 12, best: 12, high: 12 }, "individuals", "12"],
  [{ low: 136, best: 136, high: 147 }, "individuals", "136\u2013147"],
  [{ low: 72, best: 72, high: 72 }, "L", "72\u00a0L"],
  [{ low: "5/2", best: 3, high: "7/2" }, "L", "2.5\u20133.5\u00a0L"],
  [{ low: "1/3", best: "1/3", high: "1/3" }, "g", "0.33\u00a0g"],
  [{ low: 5, best: 5, high: "unknown" }, "individuals", "at least 5"],
  [{ low: 100, best: 100, high: 100 }, "individuals", "100"],
] as const)("%o %s reads %s", (count, unit, words) => {
  expect(rangeFrom(count, unit)).toBe(words);
});

test("what nobody counted is unknown, never zero", () => {
  expect(rangeOf(countOf(UNKNOWN_AMOUNT, UNKNOWN_AMOUNT, UNKNOWN_AMOUNT))).toBe("unknown");
  expect(rangeOf(countFrom(null))).toBe("at least 0");
});

test("a range read aloud names the best where it lies between", () => {
  expect(spokenRange(countFrom({ low: 150, best: 200, high: 250 }))).toBe("150 to 250, best 200");
  expect(spokenRange(countFrom({ low: 28, best: 28, high: 32 }))).toBe("28 to 32");
  expect(spokenRange(countFrom({ low: 4, best: 4, high: 4 }), "L")).toBe("4 L");
});

type Used = readonly [number | null, number | null];
const tally = (limit: number | string, low: number | string, high: number | string, [used_low, used_high]: Used = [0, 0]): TallyRead => {
  const count = { low, best: low, high };
  return { limit, operator: "at most", unit: "individuals", before: count, here: count, after: count, left: count, used_low, used_high };
};

test.each([
  [tally(150, 136, 147, [91, 98]), 91, 98, "91\u201398 % full", false],
  [tally(60, 62, 62, [103, 103]), 100, 100, "103 % full", true],
  [tally(30, 28, 32, [93, 107]), 93, 100, "93\u2013107 % full", false],
  [tally(0, 0, 0, [null, null]), 0, 0, "none taken", false],
  [tally(0, 0, 2, [null, null]), 0, 100, "may be over", false],
  [tally(0, 2, 2, [null, null]), 100, 100, "over the limit", true],
  [tally(30, 5, "unknown", [17, null]), 17, 100, "at least 17 % full", false],
])("%# fullness is the server's", (one, low, high, words, isOver) => {
  expect(fullnessOf(one)).toEqual({ low, high, words, isOver });
});

test("limits say what they do not reach", () => {
  expect(limitOf(tally(60, 0, 0))).toBe("60");
  expect(limitOf({ ...tally(100, 0, 0), operator: "fewer than", unit: "L" })).toBe("under 100\u00a0L");
  expect(figureWords("23/2")).toBe("11.5");
});

test("times are those of the zone, over the change of clocks", () => {
  // Hobart is UTC+10, and UTC+11 in summer time, which began on 3 October 2027 (rule: first Sunday in October; from memory).
  expect(timeOf("2027-10-02T15:30:00Z", "Australia/Hobart")).toBe("3 Oct 2027 01:30");
  expect(timeOf("2027-10-02T16:30:00Z", "Australia/Hobart")).toBe("3 Oct 2027 03:30");
  expect(dayOf("2027-11-17T22:05:00Z", "Australia/Hobart")).toBe("18 Nov 2027");
  expect(timeOf(null, "UTC")).toBe("no time");
  expect(dayOf(null, "UTC")).toBe("no date");
  expect(writtenDay("2027-07-01")).toBe("1 Jul 2027");
  expect(writtenDay("")).toBe("");
});

test.each([
  [null, "never compared"],
  [1, "right to a second"],
  [-45, "45 s slow"],
  [11_220, "3 h 7 min fast"],
  [187, "3 min 7 s fast"],
  [350_000, "4 d 1 h fast"],
])("a clock %o seconds ahead is %s", (seconds, words) => {
  expect(clockWords(seconds)).toBe(words);
});

test("numbers with nouns, names in a row", () => {
  expect([many(1, "lot"), many(2, "lot"), many(0, "tally", "tallies")]).toEqual(["1 lot", "2 lots", "0 tallies"]);
  expect([listed([]), listed(["Ann"]), listed(["Ann", "Bo"]), listed(["Ann", "Bo", "Cy"])]).toEqual(["", "Ann", "Ann and Bo", "Ann, Bo and Cy"]);
  expect(capital("held at 3 Feb")).toBe("Held at 3 Feb");
  expect(spanWords(3600)).toBe("1 h");
  expect(spanWords(0)).toBe("0 s");
});

test.each([
  ["", "individuals", null, "", ""],
  [" 12 ", "individuals", "12", "12", ""],
  ["0", "individuals", "0", "0", ""],
  ["2,5", "L", "5/2", "2.5", ""],
  ["2.5", "individuals", null, "", "Animals are counted whole; write 12."],
  ["about 12", "individuals", null, "", "The count at the door is a number, as 12."],
  ["-3", "g", null, "", "The count at the door is a number, as 12 or 2.5."],
])("a door count typed as '%s' in %s", (typed, unit, count, written, problem) => {
  const read = doorCount(typed, unit);
  expect([read.count?.toString() ?? null, read.written, read.problem]).toEqual([count, written, problem]);
  if (count !== null) expect(read.count?.equals(exact(count))).toBe(true);
});

test("what died on the way is taken off what should be alive, never below nothing", () => {
  expect(rangeOf(besideTheDead(countFrom({ low: 16, best: 20, high: 25 }), exact("3")))).toBe("13\u201322");
  expect(rangeOf(besideTheDead(countFrom({ low: 2, best: 2, high: 2 }), exact("3")))).toBe("0");
  expect(rangeOf(besideTheDead(countFrom({ low: 5, best: 5, high: "unknown" }), exact("3")))).toBe("at least 2");
});

test("a limit that was lowered below what was taken before is told as such, and no other is", () => {
  const whole = (number: number): TallyRead["here"] => ({ low: number, best: number, high: number });
  const taken = (before: number, here: number): TallyRead => ({ ...tally(25, 0, 0), before: whole(before), here: whole(here), after: whole(before + here) });
  expect(asideOf(taken(28, 0), "met")).toBe("all taken before the limit was lowered, none since");
  expect([asideOf(taken(28, 0), "broken"), asideOf(taken(28, 1), "met"), asideOf(taken(24, 1), "met"), asideOf(taken(25, 0), "met")]).toEqual(["", "", "", ""]);
});
