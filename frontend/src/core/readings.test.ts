/** Readings that no water gives are asked about; what is kept all the same, and what is struck out, is the person's to say. */
import { describe, expect, test } from "vitest";
import { doubtOf, QUANTITIES, withoutOne, type Guess } from "./readings";

const quantity = (name: string): (typeof QUANTITIES)[number] => QUANTITIES.find((one) => one.name === name)!;
const guesses = (name: string, value: string, unit: string): string[] | null =>
  doubtOf(quantity(name), value, unit)?.guesses.map((one: Guess) => `${one.value} ${one.unit}`) ?? null;

describe("what a reading may have been meant to be", () => {
  // The ends are those of api/domain/water.py: EOS-80 holds from -2 to 40 C and to a salinity of 42; pH 0 to 14; oxygen to
  // 60 mg/L and 500 %. 40 C are 104 F.
  test.each([
    ["pH", "8.1", "pH", null],
    ["pH", "14", "pH", null],
    ["pH", "81", "pH", ["8.1 pH"]],
    ["pH", "810", "pH", ["8.1 pH"]],
    ["pH", "-8.1", "pH", ["8.1 pH"]],
    ["salinity", "32", "psu", null],
    ["salinity", "32", "SG", ["32 psu"]],
    ["salinity", "1.024", "SG", null],
    ["salinity", "1024", "SG", ["1.024 SG"]],
    ["salinity", "1.024", "psu", null],
    ["salinity", "342", "psu", ["34.2 psu"]],
    ["temperature", "40", "C", null],
    ["temperature", "-2", "C", null],
    ["temperature", "72", "C", ["72 F", "7.2 C"]],
    ["temperature", "18.8", "F", ["18.8 C"]],
    ["temperature", "104", "F", null],
    ["dissolved oxygen", "95", "mg/L", ["95 %", "9.5 mg/L"]],
    ["depth", "1.2", "m", null],
    ["depth", "120", "m", ["120 ft", "12 m"]],
    ["visibility", "-1", "m", ["1 m"]],
  ] as [string, string, string, string[] | null][])("%s %s %s: %o", (name, value, unit, wanted) => {
    expect(guesses(name, value, unit)).toEqual(wanted);
  });

  test("the question tells between which ends a reading is believed", () => {
    expect(doubtOf(quantity("pH"), "81", "pH")).toMatchObject({ low: 0, high: 14 });
  });

  test("every unit that can be touched has its ends", () => {
    for (const one of QUANTITIES) for (const unit of one.units) expect(doubtOf(one, "99999", unit), `${one.name} ${unit}`).not.toBeNull();
  });
});

test("of two alike one is struck out, and nothing where it is gone already", () => {
  const reading = { quantity: "pH", value: "81", unit: "pH" };
  const other = { quantity: "pH", value: "8.1", unit: "pH" };
  expect(withoutOne([reading, other, { ...reading }], { ...reading })).toEqual([other, reading]);
  expect(withoutOne([other], reading)).toEqual([other]);
});
