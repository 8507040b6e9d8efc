/** What is typed and not entered outlives the app, and is there no more once it is entered. */
import "fake-indexeddb/auto";
import { expect, test } from "vitest";
import { plainName } from "../core/finding_names";
import { IdMaker } from "../core/ids";
import { howMany, rowKey, withMore } from "../core/tally";
import { PhoneDatabase } from "../device/database";
import { Catching } from "./catching";
import { keep, type Maker } from "./recording";
import { holdTyped, typedIn, type TypedIn } from "./typed";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };
const NAME = plainName("Palaemon serenus");
const TWELVE: TypedIn = { row: { ...NAME, key: rowKey(NAME) }, fate: "kept", measure: "", digits: "12" };

test("digits are held per haul, and go when they are taken back", async () => {
  const db = new PhoneDatabase("typed 1");
  await holdTyped(db, "h", TWELVE);
  expect([await typedIn(db, "h"), await typedIn(db, "other")]).toEqual([TWELVE, null]);
  await holdTyped(db, "h", { ...TWELVE, digits: "" });
  expect(await typedIn(db, "h")).toBeNull();
});

test("entered, they are counted once: the note goes with the touch, or both stay as they were", async () => {
  const db = new PhoneDatabase("typed 2");
  const catching = new Catching(db, maker);
  await keep(db, maker, { kind: "haul", content: { id: "h" }, parent: "t" });
  await holdTyped(db, "h", TWELVE);
  const touch = { haul: "h", name: NAME, fate: "kept", words: "12 kept", typed: true } as const;
  await expect(catching.touch({ ...touch, change: () => { throw new RangeError("no"); } })).rejects.toThrow("no");
  expect(await typedIn(db, "h")).toEqual(TWELVE);
  await catching.touch({ ...touch, change: (line, make) => withMore(line, make, howMany(12, false)) });
  expect(await typedIn(db, "h")).toBeNull();
});
