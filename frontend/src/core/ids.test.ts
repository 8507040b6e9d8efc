import { expect, test } from "vitest";
import { IdMaker } from "./ids";

const FORM = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

test("the example of RFC 9562, A.6: 2022-02-22 19:22:22 UTC-05:00 with its random bits", () => {
  const random = [0, 0, 0, 0, 0, 0, 0x0c, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f];
  const maker = new IdMaker(() => 0x017f22e279b0, (bytes) => bytes.set(random));
  expect(maker.next()).toBe("017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
});

test("ids sort as they were made, within a millisecond and when the clock steps back an hour", () => {
  const times = [5_000_000_000, 5_000_000_000, 5_000_000_000, 4_996_400_000, 5_000_000_001, 5_000_000_009];
  const maker = new IdMaker(() => times.shift() ?? 5_000_000_010, (bytes) => crypto.getRandomValues(bytes));
  const made = Array.from({ length: 8 }, () => maker.next());
  expect([...made].sort()).toEqual(made);
  for (const id of made) expect(id).toMatch(FORM);
});

test("ten thousand ids of one millisecond are ten thousand", () => {
  const maker = new IdMaker(() => 1_800_000_000_000, (bytes) => crypto.getRandomValues(bytes));
  expect(new Set(Array.from({ length: 10_000 }, () => maker.next())).size).toBe(10_000);
});
