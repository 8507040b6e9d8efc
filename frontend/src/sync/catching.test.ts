/** Touches and their taking back: each one transaction, none lost, none done twice (FIELD.md, 2 and 4). */
import "fake-indexeddb/auto";
import { beforeEach, describe, expect, test } from "vitest";
import { plainName } from "../core/finding_names";
import { IdMaker } from "../core/ids";
import type { Content } from "../core/outbox";
import { howMany, withMore, withValue, type Fate, type Line } from "../core/tally";
import { PhoneDatabase, type Picture } from "../device/database";
import { Catching, linesOf, rowsIn, type Touch } from "./catching";
import { keep, type Maker } from "./recording";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };
const NAME = plainName("Palaemon serenus");

let db: PhoneDatabase;
let catching: Catching;
let name = 0;

beforeEach(async () => {
  name += 1;
  db = new PhoneDatabase(`catch ${name}`);
  catching = new Catching(db, maker);
  await keep(db, maker, { kind: "trip", content: { id: "t", status: "open" } });
  await keep(db, maker, { kind: "haul", content: { id: "h" }, parent: "t" });
});

function touch(more: Partial<Touch> = {}): Touch {
  return { haul: "h", name: NAME, fate: "released", words: "1 released", change: (line, make) => withMore(line, make, howMany(1, false)), ...more };
}

const one = (fate: Fate = "released"): Promise<Line> => catching.touch(touch({ fate }));
const counts = async (): Promise<unknown[]> => (await linesOf(db, "h")).map((line) => line["count"]);
const waiting = async (): Promise<Content[]> => (await db.outbox.where("parent").equals("h").sortBy("seq")).map((entry) => entry.content);

function offer(): Promise<number> {
  return db.outbox.toCollection().modify({ offered: true });
}

describe("a touch", () => {
  test("is the line, its way to the server and what takes it back, together", async () => {
    const line = await one();
    expect(await db.records.get(["line", line.id])).toMatchObject({ parent: "h", version: null, content: { count: 1, fate: "released", taxon: "Palaemon serenus", unit: "individuals" } });
    expect(await waiting()).toEqual([line]);
    expect(await db.steps.toArray()).toMatchObject([{ haul: "h", line: line.id, before: null, words: "1 released" }]);
  });

  test("leaves nothing behind where any of it fails", async () => {
    const failing = new Catching(db, { ...maker, nextId: () => { throw new Error("no chance left"); } });
    await expect(failing.touch(touch())).rejects.toThrow("no chance left");
    await expect(catching.touch(touch({ change: () => { throw new RangeError("no"); } }))).rejects.toThrow("no");
    expect([await db.steps.count(), await counts(), await waiting()]).toEqual([0, [], []]);
  });

  test("a hundred at once are a hundred, in one line", async () => {
    await Promise.all(Array.from({ length: 100 }, () => one()));
    expect(await counts()).toEqual([100]);
    expect(await waiting()).toHaveLength(1);
    expect(await db.steps.count()).toBe(100);
  });

  test("kept and dead of one kind are lines of their own in one row", async () => {
    for (const fate of ["kept", "dead", "kept"] as const) await one(fate);
    const [row, ...others] = await rowsIn(db, "h");
    expect(others).toEqual([]);
    expect([row?.cells.kept?.["count"], row?.cells.dead?.["count"]]).toEqual([2, 1]);
  });

  test("of two lines that bear one name the row that was touched is the one that grows", async () => {
    for (const id of ["a", "b"]) await keep(db, maker, { kind: "line", content: { id, taxon: NAME.taxon, fate: "released", unit: "individuals", count: 5 }, parent: "h" });
    const [, second] = await rowsIn(db, "h");
    await catching.touch(touch({ row: second?.key ?? "" }));
    expect(await counts()).toEqual([5, 6]);
  });

  test("what was offered goes as it was, and the next touch behind it", async () => {
    await one();
    await offer();
    await one();
    await one();
    expect((await waiting()).map((line) => line["count"])).toEqual([1, 3]);
  });

  test.each([[{ status: "open" }, "screen"], [{ status: "open", paper_record: true }, "paper"]])("under a trip %o it is entered from %s", async (content, from) => {
    await keep(db, maker, { kind: "trip", content: { id: "t", ...content } });
    await one();
    expect((await db.outbox.where("parent").equals("h").first())?.entered_from).toBe(from);
  });
});

describe("taking back", () => {
  test("has no limit: every touch is undone, the last first, down to nothing", async () => {
    for (let count = 0; count < 30; count++) await one();
    await catching.touch(touch({ change: (line, make) => withValue(line, make, "total length", "80 mm") }));
    await catching.touch(touch({ change: (line, make) => withMore(line, make, howMany(40, true)) }));
    expect(await counts()).toEqual([{ low: 60, best: 70, high: 80 }]);
    await catching.undo("h");
    expect((await linesOf(db, "h"))[0]).toMatchObject({ count: 30, method: "counted", measurements: [{ values: ["80 mm"] }] });
    await catching.undo("h");
    expect((await linesOf(db, "h"))[0]?.["measurements"]).toBeUndefined();
    for (let left = 29; left >= 1; left--) {
      await catching.undo("h");
      expect(await counts()).toEqual([left]);
    }
    expect(await catching.undo("h")).toMatchObject({ before: null });
    expect([await counts(), await waiting(), await db.steps.count()]).toEqual([[], [], 0]);
    expect(await catching.undo("h")).toBeNull();
  });

  test("two at once take back two", async () => {
    for (let count = 0; count < 5; count++) await one();
    await Promise.all([catching.undo("h"), catching.undo("h")]);
    expect(await counts()).toEqual([3]);
  });

  test("is of its own haul alone", async () => {
    await keep(db, maker, { kind: "haul", content: { id: "h2" }, parent: "t" });
    await one();
    await catching.touch(touch({ haul: "h2" }));
    await catching.undo("h");
    expect([await counts(), (await linesOf(db, "h2")).length]).toEqual([[], 1]);
  });

  test.each(["offered", "stored"])("a line that was %s stands with nothing in it, for it may be on the server", async (how) => {
    const line = await catching.touch(touch({ change: (now, make) => withValue(now, make, "total length", "80 mm") }));
    await offer();
    if (how === "stored") {
      await db.outbox.clear();
      await db.records.update(["line", line.id], { version: 1 });
    }
    await catching.undo("h");
    expect(await db.records.get(["line", line.id])).toMatchObject({ content: { id: line.id, taxon: NAME.taxon, count: 0, measurements: [], method: "counted" } });
    expect((await waiting()).at(-1)).toMatchObject({ count: 0 });
    await one();
    expect(await counts()).toEqual([1]);
  });

  test("of a measured amount the words go with the amount", async () => {
    await db.records.put({ kind: "line", id: "m", parent: "h", content: { id: "m", taxon: "sand", fate: "kept", count: 48, unit: "L", measured_as: "2 shell crate" }, version: 1, code: "", conflict: "" });
    await db.steps.add({ haul: "h", words: "2 shell crate kept", line: "m", before: null });
    await catching.undo("h");
    const [left] = await linesOf(db, "h");
    expect(left).toMatchObject({ count: 0, unit: "L" });
    expect(left).not.toHaveProperty("measured_as");
  });

  test("the reason goes along, as a closed trip asks for it", async () => {
    await one();
    await offer();
    await catching.undo("h", "counted twice");
    expect((await db.outbox.where("parent").equals("h").sortBy("seq")).at(-1)?.why).toBe("counted twice");
  });
});

describe("a photo", () => {
  /** A photo that waits in the haul, as it does from the moment it was taken. */
  const taken = async (id = "p"): Promise<string> => {
    const picture: Picture = { id, of_kind: "haul", of_record: "h", sha256: "00", bytes: new ArrayBuffer(4), media_type: "image/jpeg", made_at: "2027-03-10T10:00:00Z", state: "waiting", problem: "" };
    await db.pictures.put(picture);
    return id;
  };
  const whose = async (): Promise<unknown[]> => (await db.pictures.toArray()).map((one) => [one.of_kind, one.of_record]);

  test("is given to the line of its touch, or neither is kept", async () => {
    await taken();
    await expect(catching.touch(touch({ picture: "p", change: () => { throw new RangeError("no"); } }))).rejects.toThrow("no");
    expect([await whose(), await counts()]).toEqual([[["haul", "h"]], []]);
    const line = await catching.touch(touch({ picture: "p" }));
    expect([await whose(), await counts()]).toEqual([[["line", line.id]], [1]]);
  });

  test("outlives the taking back of its row: it waits in the haul again, and can be given to another", async () => {
    await taken();
    await catching.touch(touch({ picture: "p" }));
    await catching.undo("h");
    expect([await whose(), await counts()]).toEqual([[["haul", "h"]], []]);
    const line = await catching.touch(touch({ picture: "p", fate: "dead" }));
    expect(await whose()).toEqual([["line", line.id]]);
  });

  test("and so do those that were added to the row later", async () => {
    const line = await one();
    for (const id of ["p", "q"]) await catching.give(await taken(id), line.id);
    await catching.undo("h");
    expect([await whose(), await counts()]).toEqual([[["haul", "h"], ["haul", "h"]], []]);
  });

  test.each([0, 1])("stays with a row that stands after the taking back (%d touches before, all offered)", async (before) => {
    for (let count = 0; count < before; count++) await one();
    await taken();
    const line = await catching.touch(touch({ picture: "p" }));
    await offer();
    await catching.undo("h");
    expect([await whose(), await counts()]).toEqual([[["line", line.id]], [before]]);
  });

  test("added to a row that stands is no step: the count before it is what is taken back", async () => {
    const line = await one();
    await one();
    await catching.give(await taken(), line.id);
    await catching.undo("h");
    expect([await whose(), await counts()]).toEqual([[["line", line.id]], [1]]);
  });
});
