/** Pulling: the mark of two versions stays while they wait, and goes with the record as it then stands. */
import "fake-indexeddb/auto";
import { beforeEach, expect, test } from "vitest";
import { IdMaker } from "../core/ids";
import type { Content } from "../core/outbox";
import { PhoneDatabase } from "../device/database";
import { oneAtATime } from "../device/locks";
import type { Changed, Office } from "../device/office";
import { pullAll } from "./pulling";
import { keep, ownVersionOf, type Maker } from "./recording";
import { Sender } from "./sending";
import { networkTo, SimulatedServer } from "./testing/simulated";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };
const CONFLICT = "conflict of l";

let db: PhoneDatabase;
let name = 0;

beforeEach(async () => {
  db = new PhoneDatabase(`pulling phone ${(name += 1)}`);
  const server = new SimulatedServer();
  const send = (): Promise<unknown> =>
    new Sender(db, { server: networkTo(server, () => "arrives"), oneAtATime: oneAtATime(undefined), now: () => NOW, chance: () => 0, later: () => () => undefined }).send();
  const put = (kind: "trip" | "haul" | "line", content: Content & { id: string }, parent = ""): Promise<void> => keep(db, maker, { kind, content, parent });
  await put("trip", { id: "t" });
  await put("haul", { id: "h" }, "t");
  await put("line", { id: "l", count: 1 }, "h");
  await send();
  server.change("l", { id: "l", count: 7 });
  await put("line", { id: "l", count: 3 });
  await send();
});

function change(version: number, count: number): Changed {
  return { seq: version, kind: "line", id: "l", version, code: "T28-001-1-a", parent: "h", record: { id: "l", count } };
}

/** An office with these changes and open conflicts; `meanwhile` happens once the conflicts have been told. */
function office(changes: readonly Changed[], open: readonly string[], meanwhile: () => Promise<unknown> = async () => null): Pick<Office, "pull" | "conflicts"> {
  return {
    pull: async () => ({ changes, cursor: 9, more: false }),
    conflicts: async () => {
      await meanwhile();
      return open.map((id) => ({ id, kind: "line", record: "l", stands: {}, offered: {}, base: null, together: null }));
    },
  };
}

const pull = (from: Pick<Office, "pull" | "conflicts">): Promise<number> => pullAll({ db, office: from, now: () => NOW });

test("while two versions wait the mark stays, with what was entered here, and the record is what stands", async () => {
  expect(await db.records.get(["line", "l"])).toMatchObject({ conflict: CONFLICT, content: { count: 3 } });
  await pull(office([change(2, 7)], [CONFLICT]));
  expect(await db.records.get(["line", "l"])).toMatchObject({ conflict: CONFLICT, version: 2, content: { count: 7 } });
  expect(await db.notes.get(ownVersionOf(CONFLICT))).toMatchObject({ value: { id: "l", count: 3 } });
});

test("once they are settled the mark and the kept version go, and the record is as it then stands", async () => {
  await pull(office([change(3, 3)], []));
  expect(await db.records.get(["line", "l"])).toMatchObject({ conflict: "", version: 3, content: { count: 3 } });
  expect(await db.notes.get(ownVersionOf(CONFLICT))).toBeUndefined();
});

test("a mark that came while the server was asked is not taken for a settled one", async () => {
  const meanwhile = (): Promise<unknown> => db.records.update(["line", "l"], { conflict: "a newer one" });
  await pull(office([], [], meanwhile));
  expect((await db.records.get(["line", "l"]))?.conflict).toBe("a newer one");
});
