import { expect, test } from "vitest";
import { Exact, exact } from "./exact";
import { compareLength, decimalText, formatExact, parseQuantity, tenths } from "./measures";
import { vectors } from "./testing/vectors";

/** What each name of the handbook's values asks for: an amount here, and the base unit it is told in. */
const AMOUNTS: Readonly<Record<string, readonly [amount: string, unit: string]>> = {
  "unit.bushel_us_L": ["1 US bushel", "1 L"],
  "unit.peck_L": ["1 peck", "1 L"],
  "unit.dry_quart_in3": ["1 dry quart", "1 in3"],
  "unit.liquid_quart_L": ["1 liquid quart", "1 L"],
  "unit.liquid_quart_in3": ["1 liquid quart", "1 in3"],
  "unit.pound_kg": ["1 lb", "1 kg"],
  "unit.ounce_g": ["1 oz", "1 g"],
  "unit.inch_mm": ["1 in", "1 mm"],
  "unit.foot_m": ["1 ft", "1 m"],
  "unit.mile_m": ["1 mi", "1 m"],
};

test.each(Object.entries(AMOUNTS))("%s as NIST Handbook 44, Appendix C, has it", (id, [amount, unit]) => {
  const vector = vectors(id).find((one) => one.id === id);
  const found = parseQuantity(amount).inBase.over(parseQuantity(unit).inBase);
  expect(Math.abs(found.toNumber() - Number(vector?.expected))).toBeLessThanOrEqual(Number(vector?.tolerance));
});

const SIZES = vectors("unit.size_in.");

test.each(SIZES.map((one) => [one.id, one] as const))("%s: inches of a size limit are exact millimetres", (_id, vector) => {
  const found = parseQuantity(`${vector.inputs["inches"]} in`).inBase;
  expect(decimalText(found)).toBe(vector.expected);
});

test("seven sizes were held", () => {
  expect(SIZES.length).toBe(7);
});

test("exactly the legal length is not short of it, though binary floats say so (vector unit.float_trap)", () => {
  expect(3.5 * 25.4 >= 88.9).toBe(false);
  expect(compareLength(889, parseQuantity("3.5 in"))).toBe(0);
  expect(compareLength(3048, parseQuantity("12 in"))).toBe(0);
});

test("a length finer than a tenth of a millimetre is refused, not rounded (ASTM E29, vector unit.round_limit)", () => {
  expect(() => tenths("total length", "126.95")).toThrow("126.95");
  expect(() => tenths("total length", "4 1/8 in")).toThrow("104.775 mm");
  expect(tenths("total length", "3 1/2 in")).toBe(889);
  expect(tenths("total length", 88.9)).toBe(889);
  expect(tenths("weight", "0.5 kg")).toBe(5000);
  expect(() => tenths("weight", "12 mm")).toThrow("unit of mass");
});

test("a word that names several measures is asked about", () => {
  expect(() => parseQuantity("2 quarts")).toThrow("dry or a liquid");
  expect(() => parseQuantity("1 bucket")).toThrow("no fixed size");
  expect(() => parseQuantity("1,5 in")).toThrow("comma");
  expect(() => parseQuantity("-3 in")).toThrow("below zero");
});

test.each([
  ["0.05", 1, "0.0"],
  ["0.15", 1, "0.2"],
  ["0.25", 1, "0.2"],
  ["2.5", 0, "2"],
  ["3.5", 0, "4"],
  ["0.051", 1, "0.1"],
  ["12", 2, "12.00"],
])("%s with %d decimals prints as %s, halves to the even digit", (value, places, printed) => {
  expect(formatExact(exact(value), places)).toBe(printed);
});

test("a third is printed rounded, a quarter in full", () => {
  expect(decimalText(Exact.of(1n, 3n))).toBe("0.333333");
  expect(decimalText(Exact.of(5n, 4n))).toBe("1.25");
  expect(decimalText(Exact.of(120n))).toBe("120");
});
