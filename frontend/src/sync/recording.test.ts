/** Copies that another phone takes, and what is thrown away: each record arrives once, and nothing is left hanging. */
import "fake-indexeddb/auto";
import { beforeEach, describe, expect, test } from "vitest";
import { IdMaker } from "../core/ids";
import type { Content, Entry, RecordKind } from "../core/outbox";
import { oneAtATime } from "../device/locks";
import { PhoneDatabase } from "../device/database";
import { amend, compareClocks, CLOCK_COMPARED, copyOfUnsent, CURSOR, discardRefused, hangOn, keep, sendAgain, takeCopy, wantsReason, type Maker } from "./recording";
import { Sender, type Ended } from "./sending";
import { networkTo, SimulatedServer } from "./testing/simulated";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };

let one: PhoneDatabase;
let other: PhoneDatabase;
let server: SimulatedServer;
let name = 0;

beforeEach(() => {
  name += 1;
  [one, other] = [new PhoneDatabase(`one ${name}`), new PhoneDatabase(`other ${name}`)];
  server = new SimulatedServer();
});

const put = (db: PhoneDatabase, kind: RecordKind, content: Content & { id: string }, parent = ""): Promise<void> => keep(db, maker, { kind, content, parent });

async function aDay(db = one): Promise<void> {
  await put(db, "trip", { id: "t" });
  await put(db, "haul", { id: "h" }, "t");
  await put(db, "line", { id: "l", count: 1 }, "h");
}

function send(db: PhoneDatabase, arrives = true): Promise<Ended> {
  const around = { server: networkTo(server, () => (arrives ? "arrives" : "request lost")), oneAtATime: oneAtATime(undefined), now: () => NOW, chance: () => 0, later: () => () => undefined };
  return new Sender(db, around).send();
}

const onServer = (record: string): unknown => JSON.parse(server.records.get(record)?.content ?? "null");

describe("a copy", () => {
  test("that both phones send arrives once, in either order", async () => {
    for (const [first, second] of [[one, other], [other, one]] as const) {
      await aDay();
      await takeCopy(other, await copyOfUnsent(one));
      expect([await send(first), await send(second)]).toEqual(["all answered", "all answered"]);
      expect([server.writes, server.kept]).toEqual([3, []]);
      expect((await other.records.get(["line", "l"]))?.version).toBe(1);
      await Promise.all([one.records.clear(), other.records.clear()]);
      server = new SimulatedServer();
    }
  });

  test("taken twice comes once", async () => {
    await aDay();
    const copy = await copyOfUnsent(one);
    expect([await takeCopy(other, copy), await takeCopy(other, copy), await takeCopy(one, copy)]).toEqual([3, 0, 0]);
  });

  test("sent late does not make an old version of a newer one", async () => {
    await aDay();
    const copy = await copyOfUnsent(one);
    await send(one);
    server.change("l", { id: "l", count: 8 });
    await other.records.put({ kind: "line", id: "l", parent: "h", content: { id: "l", count: 8 }, version: 2, code: "", conflict: "" });
    await takeCopy(other, copy);
    expect(await send(other)).toBe("all answered");
    expect(await other.records.get(["line", "l"])).toMatchObject({ content: { count: 8 }, version: 2 });
    await put(other, "line", { id: "l", count: 9 }, "h");
    await send(other);
    expect([onServer("l"), server.kept]).toEqual([{ id: "l", count: 9 }, []]);
  });

  test.each(["one", "other"])("what is changed on %s phone after it goes behind it, and is not refused", async (who) => {
    await aDay();
    await takeCopy(other, await copyOfUnsent(one));
    const changing = who === "one" ? one : other;
    await put(changing, "line", { id: "l", count: 2 }, "h");
    const still = changing === one ? other : one;
    expect([await send(still), await send(changing)]).toEqual(["all answered", "all answered"]);
    expect([onServer("l"), server.kept]).toEqual([{ id: "l", count: 2 }, []]);
  });

  test("of two changes of one record, the first of which may have arrived, holds both in their order", async () => {
    await aDay();
    await send(one, false);
    await put(one, "line", { id: "l", count: 2 }, "h");
    const copy = await copyOfUnsent(one);
    await takeCopy(other, copy);
    expect(await send(other)).toBe("all answered");
    expect([onServer("l"), server.kept]).toEqual([{ id: "l", count: 2 }, []]);
    expect(await send(one)).toBe("all answered");
    // Long after, it is had already, and what stands here is not put back to what it was.
    await takeCopy(other, copy);
    expect(await send(other)).toBe("all answered");
    expect([server.kept, (await other.records.get(["line", "l"]))?.content, (await other.records.get(["line", "l"]))?.version]).toEqual([[], { id: "l", count: 2 }, 2]);
  });

  test("holds the change of a record that the other phone has pulled: a planned trip that was begun", async () => {
    const planned = { kind: "trip", id: "t", parent: "", content: { id: "t", status: "planned" }, version: 1, code: "T28-001", conflict: "" };
    server.records.set("t", { kind: "trip", parent: "", content: JSON.stringify(planned.content), version: 1 });
    await Promise.all([one.records.put(planned), other.records.put(planned)]);
    await put(one, "trip", { id: "t", status: "open" });
    await put(one, "haul", { id: "h" }, "t");
    expect(await takeCopy(other, await copyOfUnsent(one))).toBe(2);
    expect(await other.records.get(["trip", "t"])).toMatchObject({ content: { status: "open" }, version: 1, code: "T28-001" });
    await send(other);
    expect(onServer("t")).toEqual({ id: "t", status: "open" });
  });

  test("never hides what the other phone knows better: its own change, or a newer version", async () => {
    const held = { kind: "line", id: "l", parent: "h", content: { id: "l", count: 1 }, version: 1, code: "", conflict: "" };
    await one.records.put(held);
    await put(one, "line", { id: "l", count: 5 }, "h");
    const copy = await copyOfUnsent(one);
    await other.records.put({ ...held, content: { id: "l", count: 9 }, version: 2 });
    await takeCopy(other, copy);
    expect((await other.records.get(["line", "l"]))?.content["count"]).toBe(9);
    await Promise.all([other.outbox.clear(), other.records.put(held)]);
    await put(other, "line", { id: "l", count: 7 }, "h");
    await takeCopy(other, copy);
    expect([(await other.records.get(["line", "l"]))?.content["count"], await other.outbox.count()]).toEqual([7, 2]);
  });

  test.each(["", "[]", "{}", '{"format": "another", "entries": []}', "null"])("another file (%s) is refused in words", async (text) => {
    await expect(takeCopy(one, text)).rejects.toThrow("this file is no copy of unsent records");
  });
});

describe("throwing a refused record away", () => {
  const refuse = (record: string): Promise<number> => one.outbox.filter((entry) => entry.record === record).modify({ state: "refused", offered: true });
  const entry = async (record: string): Promise<number> => (await one.outbox.filter((found) => found.record === record).first())?.seq ?? -1;

  test("that the server never had takes along what hangs on it, and nothing else", async () => {
    await aDay();
    await put(one, "haul", { id: "h2" }, "t");
    await one.pictures.put({ id: "p", of_kind: "line", of_record: "l", sha256: "", bytes: new ArrayBuffer(1), media_type: "image/jpeg", made_at: "", state: "waiting", problem: "" });
    await one.steps.add({ haul: "h", words: "1 released", line: "l", before: null });
    await refuse("h");
    expect(await hangOn(one, "h")).toBe(1);
    await discardRefused(one, await entry("h"));
    expect((await one.records.toArray()).map((found) => found.id).sort()).toEqual(["h2", "t"]);
    expect((await one.outbox.toArray()).map((found) => found.record).sort()).toEqual(["h2", "t"]);
    expect([await one.pictures.count(), await one.steps.count()]).toEqual([0, 0]);
  });

  test("that the server has leaves it, and has its version pulled anew", async () => {
    await one.records.put({ kind: "line", id: "l", parent: "h", content: { id: "l", count: 1 }, version: 3, code: "", conflict: "" });
    await one.notes.put({ name: CURSOR, value: 40 });
    await put(one, "line", { id: "l", count: 2 }, "h");
    await refuse("l");
    await discardRefused(one, await entry("l"));
    expect([await one.records.count(), await one.outbox.count(), (await one.notes.get(CURSOR))?.value]).toEqual([1, 0, 0]);
  });

  test("is done to refused ones alone", async () => {
    await aDay();
    await discardRefused(one, await entry("l"));
    await discardRefused(one, 999);
    expect([await one.records.count(), await one.outbox.count()]).toEqual([3, 3]);
  });
});

describe("amending", () => {
  test("two changes at once are one after the other", async () => {
    await aDay();
    const more = (content: Content): Content => ({ ...content, count: Number(content["count"]) + 1 });
    await Promise.all([1, 2, 3].map(() => amend(one, maker, "line", "l", more)));
    expect((await one.records.get(["line", "l"]))?.content["count"]).toBe(4);
    await expect(amend(one, maker, "line", "nowhere", more)).rejects.toThrow("this line is not on this phone");
  });

  test.each([["trip", "t"], ["haul", "h"], ["line", "l"]] as const)("a %s of a trip on paper is entered from paper, whatever screen it is changed on", async (kind, id) => {
    await put(one, "trip", { id: "t", paper_record: true });
    await put(one, "haul", { id: "h" }, "t");
    await put(one, "line", { id: "l", count: 1 }, "h");
    await one.outbox.toCollection().modify({ offered: true });
    await amend(one, maker, kind, id, (content) => ({ ...content, note: "later" }));
    expect((await one.outbox.orderBy("seq").last())?.entered_from).toBe("paper");
    expect(new Set((await one.outbox.toArray()).map((found) => found.entered_from))).toEqual(new Set(["paper"]));
  });
});

test("clocks are compared to the second; a time that cannot be read says nothing", async () => {
  await compareClocks(one, NOW + 10_800_400, "2027-03-10T10:00:00Z");
  await compareClocks(one, NOW, "yesterday");
  expect((await one.notes.get(CLOCK_COMPARED))?.value).toEqual({ ahead_s: 10_800, known_at: "2027-03-10T10:00:00Z" });
});

describe("refused for want of a reason", () => {
  const noReason = { where: "why", what: "The trip is closed; a change needs its reason.", mend: "Say why it is changed." };
  const entries = async (): Promise<Entry[]> => one.outbox.orderBy("seq").toArray();
  const refuse = (problems: readonly object[]): Promise<number> => one.outbox.toCollection().modify({ offered: true, based_on: 3, state: "refused", problems });

  test("goes again with it: under an id of its own, in its old place, with the moment at which it was made", async () => {
    await aDay();
    const before = await entries();
    await refuse([noReason]);
    await sendAgain(one, maker, before.map((entry) => entry.seq), "Counted anew");
    const after = await entries();
    for (const [place, entry] of after.entries()) {
      const was = before[place]!;
      expect(entry).toEqual({ ...was, id: entry.id, why: "Counted anew", based_on: null, offered: false, state: "waiting", problems: [] });
      expect(entry.id).not.toBe(was.id);
    }
    expect(await send(one)).toBe("all answered");
    expect([onServer("l"), await entries()]).toEqual([{ id: "l", count: 1 }, []]);
  });

  test.each([[[]], [[{ where: "count", what: "It is no number.", mend: "Write one." }]], [[noReason, { where: "count", what: "It is no number.", mend: "Write one." }]]])(
    "what was refused for %j stays refused",
    async (problems) => {
      await aDay();
      await refuse(problems);
      const before = await entries();
      expect(before.map(wantsReason)).toEqual([false, false, false]);
      await sendAgain(one, maker, before.map((entry) => entry.seq), "Counted anew");
      expect(await entries()).toEqual(before);
    },
  );
});
