/** The outbox against a server and a network in memory: nothing lost, nothing doubled, every refusal told (FIELD.md, 2). */
import "fake-indexeddb/auto";
import { beforeEach, describe, expect, test } from "vitest";
import type { Delivered, OneAtATime, Server } from "../core/delivering";
import { IdMaker } from "../core/ids";
import { nextBatch, waitAfter, type Content, type Entry, type RecordKind } from "../core/outbox";
import { PhoneDatabase } from "../device/database";
import { oneAtATime } from "../device/locks";
import { CLOCK_COMPARED, copyOfUnsent, COPY_FORMAT, keep, unsent, type Maker } from "./recording";
import { Sender } from "./sending";
import { dice, networkTo, SimulatedServer, type Fate } from "./testing/simulated";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };

let db: PhoneDatabase;
let server: SimulatedServer;
let name = 0;

beforeEach(() => {
  name += 1;
  db = new PhoneDatabase(`phone ${name}`);
  server = new SimulatedServer();
});

interface Tried {
  readonly sender: Sender;
  readonly waits: number[];
}

function senderTo(to: Server, locks: OneAtATime = oneAtATime(undefined), chance = 0): Tried {
  const waits: number[] = [];
  const later = (_work: () => void, milliseconds: number): (() => void) => {
    waits.push(milliseconds);
    return () => undefined;
  };
  return { sender: new Sender(db, { server: to, oneAtATime: locks, now: () => NOW, chance: () => chance, later }), waits };
}

function put(kind: RecordKind, content: Content & { id: string }, parent = ""): Promise<void> {
  return keep(db, maker, { kind, content, parent });
}

async function aDay(): Promise<void> {
  await put("trip", { id: "t" });
  await put("haul", { id: "h" }, "t");
  await put("line", { id: "l", count: 1 }, "h");
}

const good = (): Fate => "arrives";

describe("writing", () => {
  test("a record and its way to the server are written together, or not at all", async () => {
    const broken: Maker = { ...maker, nextId: () => { throw new Error("no chance left"); } };
    await expect(keep(db, broken, { kind: "trip", content: { id: "t" } })).rejects.toThrow("no chance left");
    expect(await db.records.count()).toBe(0);
    expect(await db.outbox.count()).toBe(0);
    await put("trip", { id: "t" });
    expect(await db.records.count()).toBe(1);
    expect(await db.outbox.count()).toBe(1);
  });

  test("forty touches of a tally that was never offered are one operation", async () => {
    await aDay();
    for (let count = 2; count <= 40; count++) await put("line", { id: "l", count });
    expect(await db.outbox.count()).toBe(3);
    const network = networkTo(server, good);
    await senderTo(network).sender.send();
    expect(JSON.parse(server.records.get("l")?.content ?? "")).toEqual({ id: "l", count: 40 });
    expect(server.writes).toBe(3);
    expect(network.batches).toHaveLength(1);
    expect(network.batches[0]?.[2]?.parent).toBe("h");
  });

  test("a hundred touches at once are counted as they came", async () => {
    await aDay();
    await Promise.all(Array.from({ length: 100 }, (_none, place) => put("line", { id: "l", count: place + 2 })));
    expect((await db.records.get(["line", "l"]))?.content["count"]).toBe(101);
  });

  test("what is only on this phone is told, and can be taken along as a file", async () => {
    expect(await unsent(db)).toEqual({ number: 0, refused: 0, oldest: null });
    await aDay();
    expect(await unsent(db)).toEqual({ number: 3, refused: 0, oldest: "2027-03-10T10:00:00.000Z" });
    const copy = JSON.parse(await copyOfUnsent(db)) as { format: string; entries: Entry[] };
    expect(copy.format).toBe(COPY_FORMAT);
    expect(copy.entries.map((entry) => entry.record)).toEqual(["t", "h", "l"]);
  });
});

describe("leaving only on an answer that names it", () => {
  test("all answered: the outbox is empty, and each record knows its version and code", async () => {
    await aDay();
    expect(await senderTo(networkTo(server, good)).sender.send()).toBe("all answered");
    expect(await db.outbox.count()).toBe(0);
    expect(await db.records.get(["line", "l"])).toMatchObject({ version: 1, code: "T28-001" });
  });

  test.each(["request lost", "answer lost"] as const)("%s: everything stays, and comes again as it was", async (fate) => {
    await aDay();
    const fates: Fate[] = [fate];
    const network = networkTo(server, () => fates.shift() ?? "arrives");
    const { sender, waits } = senderTo(network);
    expect(await sender.send()).toBe("not reached");
    expect(await db.outbox.count()).toBe(3);
    expect(waits).toEqual([2000]);
    expect(await sender.send()).toBe("all answered");
    expect(network.batches[1]).toEqual(network.batches[0]);
    expect(server.writes).toBe(3);
  });

  test("an answer that names only some lets only those go", async () => {
    await aDay();
    const fates: Fate[] = ["part of the answer lost", "request lost"];
    expect(await senderTo(networkTo(server, () => fates.shift() ?? "arrives")).sender.send()).toBe("not reached");
    expect((await db.outbox.toArray()).map((entry) => entry.record)).toEqual(["h", "l"]);
  });

  test("an answer that names nothing that was asked is none", async () => {
    await aDay();
    const stranger = { id: "x", answer: "stored", version: 1, code: "", problems: [], conflict: "" } as const;
    const to: Server = { push: async () => ({ what: "answered", answers: [stranger], server_time: "" }) };
    expect(await senderTo(to).sender.send()).toBe("not reached");
    expect(await db.outbox.count()).toBe(3);
  });

  test.each([
    [{ what: "signed out" }, "signed out"],
    [{ what: "app too old", detail: "Protocol 1 is not spoken here" }, "app too old"],
    [{ what: "not reached" }, "not reached"],
    [{ what: "wait", seconds: 90 }, "not reached"],
  ] as [Delivered, string][])("%o takes nothing out of the outbox", async (found, ended) => {
    await aDay();
    const { sender, waits } = senderTo({ push: async () => found });
    expect(await sender.send()).toBe(ended);
    expect(await db.outbox.count()).toBe(3);
    if (found.what === "wait") expect(waits).toEqual([90_000]);
  });
});

describe("a change while the last one is on its way", () => {
  test("what was offered is not touched; the change waits for the version that it will be based on", async () => {
    await aDay();
    const fates: Fate[] = ["answer lost"];
    const network = networkTo(server, () => fates.shift() ?? "arrives");
    const { sender } = senderTo(network);
    await sender.send();
    await put("line", { id: "l", count: 2 });
    expect(await db.outbox.count()).toBe(4);
    expect(await sender.send()).toBe("all answered");
    expect(network.batches[1]).toEqual(network.batches[0]);
    expect(network.batches[2]?.map((one) => [one.record["count"], one.based_on])).toEqual([[2, 1]]);
    expect(await db.records.get(["line", "l"])).toMatchObject({ version: 2, content: { count: 2 } });
  });

  test("what was offered goes again as it was, even if the phone has learned of a newer version meanwhile", async () => {
    await aDay();
    const fates: Fate[] = ["arrives", "answer lost"];
    const network = networkTo(server, () => fates.shift() ?? "arrives");
    const { sender } = senderTo(network);
    await sender.send();
    await put("line", { id: "l", count: 2 });
    await sender.send();
    await db.records.update(["line", "l"], { version: 2 });
    expect(await sender.send()).toBe("all answered");
    expect(network.batches[2]).toEqual(network.batches[1]);
    expect(server.kept).toEqual([]);
  });

  test("a record changed at the office meanwhile: both are kept there, and the phone knows of the conflict", async () => {
    await aDay();
    const { sender } = senderTo(networkTo(server, good));
    await sender.send();
    server.change("l", { id: "l", count: 7 });
    await put("line", { id: "l", count: 3 });
    expect(await sender.send()).toBe("all answered");
    expect(JSON.parse(server.records.get("l")?.content ?? "")).toEqual({ id: "l", count: 7 });
    expect(server.kept).toHaveLength(1);
    expect(await db.records.get(["line", "l"])).toMatchObject({ conflict: "conflict of l", version: 1 });
    await put("line", { id: "l", count: 4 });
    await sender.send();
    expect(server.kept, "a later change does not pass for one of the version that stands").toHaveLength(2);
    expect(JSON.parse(server.records.get("l")?.content ?? "")).toEqual({ id: "l", count: 7 });
  });
});

describe("refused", () => {
  test("it stays with its reason, what hangs on it waits, and all others go", async () => {
    await put("trip", { id: "t", wrong: true });
    await put("haul", { id: "h" }, "t");
    await put("trip", { id: "u" });
    expect(await senderTo(networkTo(server, good)).sender.send()).toBe("some refused");
    const left = await db.outbox.orderBy("seq").toArray();
    expect(left.map((entry) => [entry.record, entry.state])).toEqual([["t", "refused"], ["h", "refused"]]);
    expect(left[0]?.problems).toEqual([{ where: "record", what: "It cannot be read.", mend: "Mend it." }]);
    expect(await unsent(db)).toMatchObject({ number: 2, refused: 2 });
    expect([...server.records.keys()]).toEqual(["u"]);
  });

  test("mended, it goes under an id of its own, and what hung on it follows by itself", async () => {
    await put("trip", { id: "t", wrong: true });
    await put("haul", { id: "h" }, "t");
    const network = networkTo(server, good);
    const { sender } = senderTo(network);
    await sender.send();
    await put("trip", { id: "t" });
    expect(await sender.send()).toBe("all answered");
    expect([...server.records.keys()].sort()).toEqual(["h", "t"]);
    const trips = network.batches.flat().filter((one) => one.kind === "trip");
    expect(new Set(trips.map((one) => one.id)).size).toBe(2);
  });

  test("changed while it was on its way to be refused, the change goes in its place", async () => {
    await put("trip", { id: "t", wrong: true });
    const network = networkTo(server, good);
    const slow: Server = {
      async push(operations, time) {
        if (network.batches.length === 0) await put("trip", { id: "t" });
        return network.push(operations, time);
      },
    };
    expect(await senderTo(slow).sender.send()).toBe("all answered");
    expect(JSON.parse(server.records.get("t")?.content ?? "")).toEqual({ id: "t" });
  });

  test("nothing is sent twice in one call, however often the server refuses it", async () => {
    await put("trip", { id: "t", wrong: true });
    const network = networkTo(server, good);
    const { sender } = senderTo(network);
    await sender.send();
    await sender.send();
    expect(network.batches).toHaveLength(1);
  });
});

describe("batches", () => {
  test("one that is too large goes in halves, and one record that is too large is refused", async () => {
    for (let place = 0; place < 10; place++) await put("trip", { id: `t${place}`, ...(place === 6 ? { big: "x" } : {}) });
    const network = networkTo(server, good);
    const narrow: Server = {
      push: async (operations, time) =>
        operations.length > 3 || operations.some((one) => one.record["big"] !== undefined)
          ? { what: "too large" }
          : network.push(operations, time),
    };
    expect(await senderTo(narrow).sender.send()).toBe("some refused");
    expect(server.records.size).toBe(9);
    expect((await db.outbox.toArray()).map((entry) => entry.record)).toEqual(["t6"]);
  });

  test("a poisoned record does not hold up the others: a batch that is not read is parted", async () => {
    for (let place = 0; place < 9; place++) await put("trip", { id: `t${place}`, ...(place === 4 ? { poison: 1 } : {}) });
    const network = networkTo(server, good);
    const strict: Server = {
      push: async (operations, time) =>
        operations.some((one) => one.record["poison"] !== undefined)
          ? { what: "not read", detail: "body: poison" }
          : network.push(operations, time),
    };
    expect(await senderTo(strict).sender.send()).toBe("some refused");
    expect(server.records.size).toBe(8);
    expect((await db.outbox.toArray())[0]?.problems[0]?.what).toBe("body: poison");
  });

  test("parents go before their children, and of one record one change at a time", () => {
    const entry = (seq: number, record: string, parent = "", state: Entry["state"] = "waiting"): Entry => ({
      seq,
      id: `o${seq}`,
      kind: "trip",
      record,
      parent,
      content: {},
      why: "",
      device_clock: { at: "", ahead_s: null, known_at: null },
  entered_from: "screen",
      based_on: null,
      offered: false,
      state,
      problems: [],
    });
    const all = [entry(3, "a"), entry(1, "a"), entry(2, "b"), entry(4, "c", "d"), entry(5, "d", "", "refused")];
    expect(nextBatch(all, 10).map((one) => one.seq)).toEqual([1, 2]);
    expect(nextBatch(all, 1).map((one) => one.seq)).toEqual([1]);
  });
});

describe("the closing of a trip goes after all that was entered before it", () => {
  const order = (network: { readonly batches: readonly (readonly { readonly record: Content }[])[] }): unknown[] =>
    network.batches.flat().map(({ record }) => record["status"] ?? record["id"]);

  test("a trip begun and closed without signal goes as open, then its hauls, then closed", async () => {
    await put("trip", { id: "t", status: "open" });
    await put("haul", { id: "h" }, "t");
    await put("line", { id: "l", count: 1 }, "h");
    await put("trip", { id: "t", status: "closed" });
    await put("trip", { id: "t", status: "closed", note: "back late" });
    const network = networkTo(server, good);
    expect(await senderTo(network).sender.send()).toBe("all answered");
    expect(order(network)).toEqual(["open", "h", "l", "closed"]);
    expect(JSON.parse(server.records.get("t")?.content ?? "")).toMatchObject({ note: "back late" });
  });

  test("it waits for a change that itself waits for an answer", async () => {
    await put("trip", { id: "t", status: "open" });
    await senderTo(networkTo(server, good)).sender.send();
    await put("haul", { id: "h", start: "09:00" }, "t");
    const fates: Fate[] = ["answer lost"];
    const network = networkTo(server, () => fates.shift() ?? "arrives");
    await senderTo(network).sender.send();
    await put("haul", { id: "h", start: "09:00", end: "09:30" }, "t");
    await put("trip", { id: "t", status: "closed" });
    expect(await senderTo(network).sender.send()).toBe("all answered");
    expect(order(network)).toEqual(["h", "h", "h", "closed"]);
  });

  test("a refused record does not hold it up", async () => {
    await put("trip", { id: "t", status: "open" });
    await put("haul", { id: "h", wrong: true }, "t");
    await put("trip", { id: "t", status: "closed" });
    expect(await senderTo(networkTo(server, good)).sender.send()).toBe("some refused");
    expect(JSON.parse(server.records.get("t")?.content ?? "")).toMatchObject({ status: "closed" });
  });
});

describe("waiting", () => {
  test("twice as long after each failure, five minutes at most, half of it less by chance", () => {
    expect([1, 2, 3, 4, 8, 9, 50].map((failures) => waitAfter(failures, 0))).toEqual([2000, 4000, 8000, 16_000, 256_000, 300_000, 300_000]);
    expect(waitAfter(1, 1)).toBe(1000);
  });

  test("the waits grow over failures and begin anew after an answer", async () => {
    await put("trip", { id: "t" });
    const fates: Fate[] = ["request lost", "request lost", "answer lost", "arrives", "request lost"];
    const { sender, waits } = senderTo(networkTo(server, () => fates.shift() ?? "arrives"));
    for (let times = 0; times < 4; times++) await sender.send();
    await put("trip", { id: "u" });
    await sender.send();
    expect(waits).toEqual([2000, 4000, 8000, 2000]);
  });
});

describe("two tabs", () => {
  test.each([
    ["the browser's locks", () => oneAtATime()],
    ["one tab alone", () => oneAtATime(undefined)],
  ])("with %s only one sends at a time", async (_name, locks) => {
    for (let place = 0; place < 5; place++) await put("trip", { id: `t${place}` });
    const shared = locks();
    let within = 0;
    let most = 0;
    const network = networkTo(server, good);
    const watched: Server = {
      async push(operations, time) {
        most = Math.max(most, ++within);
        await new Promise((done) => setTimeout(done, 5));
        const found = await network.push(operations, time);
        within -= 1;
        return found;
      },
    };
    const [one, two] = [senderTo(watched, shared), senderTo(watched, shared)];
    const ended = await Promise.all([one.sender.send(), two.sender.send()]);
    expect(ended.sort()).toEqual(["all answered", "another tab sends"]);
    expect(most).toBe(1);
    expect([...one.waits, ...two.waits], "the other one looks again soon").toEqual([2000]);
  });

  test("Node has the locks that the test above speaks of", () => {
    expect(globalThis.navigator.locks).toBeDefined();
  });
});

test("the phone's clock beside the server's is kept with the answer", async () => {
  await put("trip", { id: "t" });
  const to: Server = {
    push: async ([operation]) => ({
      what: "answered",
      answers: [server.take(operation as NonNullable<typeof operation>)],
      server_time: "2027-03-10T07:00:00Z",
    }),
  };
  await senderTo(to).sender.send();
  expect((await db.notes.get(CLOCK_COMPARED))?.value).toEqual({ ahead_s: 3 * 3600, known_at: "2027-03-10T07:00:00Z" });
});

test("an entry bears what was known of the phone's clock when it was made, and whether it came from paper", async () => {
  await put("trip", { id: "t" });
  await db.notes.put({ name: CLOCK_COMPARED, value: { ahead_s: 90, known_at: "2027-03-09T20:00:00Z" } });
  await keep(db, maker, { kind: "trip", content: { id: "u" }, entered_from: "paper" });
  const [first, second] = await db.outbox.orderBy("seq").toArray();
  const at = new Date(NOW).toISOString();
  expect(first).toMatchObject({ device_clock: { at, ahead_s: null, known_at: null }, entered_from: "screen" });
  expect(second).toMatchObject({ device_clock: { at, ahead_s: 90, known_at: "2027-03-09T20:00:00Z" }, entered_from: "paper" });
});

describe("many days with a bad network", () => {
  const seeds = Array.from({ length: 40 }, (_none, seed) => seed);

  test.each(seeds)("seed %d: every record once, with what was last written, whatever was lost or killed", async (seed) => {
    const chance = dice(seed);
    const bad = (): Fate => {
      const drawn = chance();
      return drawn < 0.25 ? "request lost" : drawn < 0.5 ? "answer lost" : drawn < 0.65 ? "part of the answer lost" : "arrives";
    };
    const network = networkTo(server, bad);
    let { sender } = senderTo(network);
    const last = new Map<string, Content>();
    const parents = new Map<string, [RecordKind, string]>();
    for (let step = 0; step < 60; step++) {
      const drawn = chance();
      if (drawn < 0.55) {
        const made = [...parents.keys()];
        const again = made.length > 0 && chance() < 0.5 ? made[Math.floor(chance() * made.length)] : undefined;
        const id = again ?? `r${step}`;
        const [kind, parent] = parents.get(id) ?? placed(chance, parents);
        parents.set(id, [kind, parent]);
        const content = { id, count: step };
        last.set(id, content);
        await put(kind, content, parent);
      } else if (drawn < 0.9) {
        await sender.send();
      } else {
        // The app is killed: what it remembered is gone, what it wrote is not.
        db.close();
        db = new PhoneDatabase(db.name);
        ({ sender } = senderTo(network));
      }
    }
    const calm = senderTo(networkTo(server, good));
    expect(await calm.sender.send()).toBe("all answered");
    expect(Object.fromEntries([...server.records].map(([id, held]) => [id, JSON.parse(held.content) as Content]))).toEqual(Object.fromEntries(last));
    expect(server.kept).toEqual([]);
    const versions = [...server.records.values()].reduce((sum, held) => sum + held.version, 0);
    expect(server.writes).toBe(versions);
  });

  /** Give a new record its kind and a parent that was made before it. */
  function placed(chance: () => number, made: ReadonlyMap<string, [RecordKind, string]>): [RecordKind, string] {
    const of = (kind: RecordKind): string[] => [...made].filter(([, [own]]) => own === kind).map(([id]) => id);
    const pick = (all: string[]): string => all[Math.floor(chance() * all.length)] ?? "";
    const [trips, hauls] = [of("trip"), of("haul")];
    if (hauls.length > 0 && chance() < 0.6) return ["line", pick(hauls)];
    return trips.length > 0 && chance() < 0.6 ? ["haul", pick(trips)] : ["trip", ""];
  }
});
