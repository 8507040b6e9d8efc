import { expect, test } from "vitest";
import { exactly, isNear, leftOf, outcomeOf, possibly, UNKNOWN } from "./counts";
import { Exact, exact, room, UNKNOWN_AMOUNT, whole, ZERO } from "./exact";

test("a number is what was written: a tenth is one tenth", () => {
  expect(exact(0.1).plus(exact(0.2)).equals(exact("0.3"))).toBe(true);
  expect(String(exact("7/21"))).toBe("1/3");
  expect(String(exact("1e3"))).toBe("1000");
  expect(String(exact(" .5 "))).toBe("1/2");
  for (const wrong of ["", "a", "1/0", ".", "1 2", "0x10", "1e999999"]) expect(() => exact(wrong), wrong).toThrow(RangeError);
});

test("whole numbers beyond what a float holds stay whole", () => {
  expect(String(exact("9007199254740993").plus(whole(1)))).toBe("9007199254740994");
});

test("floor and ceiling of a negative fraction", () => {
  expect(String(exact("-1/2").floor())).toBe("-1");
  expect(String(exact("-1/2").ceil())).toBe("0");
  expect(String(exact("7/2").ceil())).toBe("4");
});

test("an unknown amount is above every number, and leaves no room", () => {
  expect(UNKNOWN_AMOUNT.compare(whole(1_000_000))).toBe(1);
  expect(whole(5).plus(UNKNOWN_AMOUNT).isKnown).toBe(false);
  expect(room(whole(5), UNKNOWN_AMOUNT).equals(ZERO)).toBe(true);
  expect(() => whole(5).minus(UNKNOWN_AMOUNT)).toThrow(RangeError);
});

test("what is left is never below nothing, and fewer than 40 leaves 39 in all", () => {
  const eight = exactly(whole(8));
  expect(String(leftOf(eight, whole(5), "at most").low)).toBe("0");
  expect(String(leftOf(eight, whole(40), "fewer than").low)).toBe("31");
  expect(String(leftOf(eight, exact("8.5"), "fewer than", false).low)).toBe("1/2");
  expect(leftOf(UNKNOWN, whole(40), "at most")).toMatchObject({ low: ZERO, high: whole(40) });
});

test("a tally that stood over already is not broken by nothing", () => {
  const fifty = exactly(whole(50));
  expect(outcomeOf(fifty, exactly(ZERO), whole(40), "at most")).toBe("met");
  expect(outcomeOf(fifty, exactly(whole(1)), whole(40), "at most")).toBe("broken");
  expect(outcomeOf(fifty, possibly(exactly(whole(1)), true), whole(40), "at most")).toBe("open");
});

test("near is the last tenth, or the last animal", () => {
  expect(isNear(exactly(whole(36)), whole(40), "at most")).toBe(true);
  expect(isNear(exactly(whole(35)), whole(40), "at most")).toBe(false);
  expect(isNear(exactly(whole(1)), whole(2), "at most")).toBe(true);
});

test("Exact.of brings to lowest terms and one sign", () => {
  expect(String(Exact.of(6n, -4n))).toBe("-3/2");
  expect(Exact.of(0n, 7n).equals(ZERO)).toBe(true);
});
