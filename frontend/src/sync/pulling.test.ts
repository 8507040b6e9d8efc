/** Pulling: what is new comes, what was written here and not yet answered is never overwritten (FIELD.md, 2). */
import "fake-indexeddb/auto";
import { beforeEach, describe, expect, test } from "vitest";
import { IdMaker } from "../core/ids";
import type { Content } from "../core/outbox";
import { PhoneDatabase } from "../device/database";
import { NoSignalError, type Changed, type Office, type Pulled } from "../device/office";
import { PULLED_AT, pullAll } from "./pulling";
import { CURSOR, keep, type Maker } from "./recording";

const NOW = Date.parse("2027-03-10T10:00:00Z");
const ids = new IdMaker(() => NOW, (bytes) => crypto.getRandomValues(bytes));
const maker: Maker = { nextId: () => ids.next(), now: () => NOW };

let db: PhoneDatabase;
let name = 0;

beforeEach(() => {
  name += 1;
  db = new PhoneDatabase(`pull ${name}`);
});

function changed(seq: number, id: string, content: Content | null, version = 1, kind = "line"): Changed {
  return { seq, kind, id, version, code: `code ${id}`, parent: "h", record: content };
}

/** An office that has these changes, in pages of so many; `at` is called before a page is given. */
class Pages {
  asked: number[] = [];
  open: string[] = [];

  constructor(
    readonly changes: Changed[],
    readonly size = 100,
    readonly at: (page: number) => Promise<void> = async () => undefined,
  ) {}

  async pull(after: number): Promise<Pulled> {
    this.asked.push(after);
    const rest = this.changes.filter((one) => one.seq > after);
    const page = rest.slice(0, this.size);
    await this.at(this.asked.length);
    return { changes: page, cursor: page.at(-1)?.seq ?? after, more: rest.length > page.length };
  }

  async conflicts(): Promise<{ id: string }[]> {
    return this.open.map((id) => ({ id }));
  }
}

const pulled = (office: Pages): Promise<number> => pullAll({ db, office: office as unknown as Office, now: () => NOW });
const cursor = async (): Promise<unknown> => (await db.notes.get(CURSOR))?.value;
const content = async (id: string): Promise<unknown> => (await db.records.get(["line", id]))?.content["count"];
const put = (id: string, count: number): Promise<void> => keep(db, maker, { kind: "line", content: { id, count }, parent: "h" });

test("page by page all comes, each record with its version and code, and the cursor stands behind the last", async () => {
  const told: number[] = [];
  const office = new Pages([1, 2, 3, 4, 5].map((seq) => changed(seq, `l${seq}`, { id: `l${seq}`, count: seq })), 2);
  const came = await pullAll({ db, office: office as unknown as Office, now: () => NOW, progress: (records) => told.push(records) });
  expect([came, told, office.asked, await cursor()]).toEqual([5, [2, 4, 5], [0, 2, 4], 5]);
  expect(await db.records.get(["line", "l3"])).toEqual({ kind: "line", id: "l3", parent: "h", version: 1, code: "code l3", conflict: "", content: { id: "l3", count: 3 } });
  expect((await db.notes.get(PULLED_AT))?.value).toBe("2027-03-10T10:00:00.000Z");
  expect(await pulled(office)).toBe(0);
});

test("signal that is lost between two pages keeps the first, and the next pull goes on behind it", async () => {
  const changes = [1, 2, 3].map((seq) => changed(seq, `l${seq}`, { id: `l${seq}`, count: seq }));
  const lost = new Pages(changes, 2, async (page) => { if (page === 2) throw new NoSignalError("gone"); });
  await expect(pulled(lost)).rejects.toThrow("gone");
  expect([await cursor(), await db.notes.get(PULLED_AT), await db.records.count()]).toEqual([2, undefined, 2]);
  const again = new Pages(changes, 2);
  await pulled(again);
  expect([again.asked, await db.records.count()]).toEqual([[2], 3]);
});

describe("a change of this phone that is not answered", () => {
  test.each(["waiting", "refused"] as const)("and is %s stays as it is, and comes again once it was", async (state) => {
    await put("mine", 3);
    await db.outbox.toCollection().modify({ state });
    const office = new Pages([changed(1, "a", { id: "a", count: 1 }), changed(2, "mine", { id: "mine", count: 9 }, 4), changed(3, "b", { id: "b", count: 2 })]);
    await pulled(office);
    expect([await content("a"), await content("mine"), await content("b")]).toEqual([1, 3, 2]);
    expect((await db.records.get(["line", "mine"]))?.version).toBeNull();
    expect(await cursor()).toBe(1);
    await db.outbox.clear();
    await pulled(office);
    expect([await content("mine"), (await db.records.get(["line", "mine"]))?.version, await cursor()]).toEqual([9, 4, 3]);
  });

  test.each([[2, [0, 2, 4]], [100, [0]]])("keeps the cursor before the first of several, in pages of %d", async (size, asked) => {
    await put("m1", 1);
    await put("m2", 2);
    const office = new Pages(["x", "m1", "y", "m2", "z"].map((id, place) => changed(place + 1, id, { id, count: 90 + place }, 2)), size);
    await pulled(office);
    expect([await cursor(), office.asked]).toEqual([1, asked]);
    expect([await content("m1"), await content("m2"), await content("z")]).toEqual([1, 2, 94]);
  });

  test("that is made while a page is on its way stays", async () => {
    await db.records.put({ kind: "line", id: "mine", parent: "h", content: { id: "mine", count: 1 }, version: 1, code: "", conflict: "" });
    await pulled(new Pages([changed(1, "mine", { id: "mine", count: 1 })], 100, () => put("mine", 2)));
    expect([await content("mine"), await cursor()]).toEqual([2, 0]);
  });
});

test("a page that was read before the server took a change, and comes after its answer, does not undo it", async () => {
  await db.records.put({ kind: "line", id: "mine", parent: "h", content: { id: "mine", count: 1 }, version: 1, code: "", conflict: "" });
  const office = new Pages([changed(1, "mine", { id: "mine", count: 1 })], 100, async () => {
    await db.records.update(["line", "mine"], { content: { id: "mine", count: 2 }, version: 2 });
  });
  await pulled(office);
  expect([await content("mine"), (await db.records.get(["line", "mine"]))?.version]).toEqual([2, 2]);
});

test("what was only changed, without a record to read, leaves what is here", async () => {
  await db.records.put({ kind: "line", id: "l", parent: "h", content: { id: "l", count: 1 }, version: 1, code: "", conflict: "" });
  await pulled(new Pages([changed(7, "l", null, 2)]));
  expect([await content("l"), await cursor()]).toEqual([1, 7]);
});

test("a conflict is told until somebody has settled it, whatever is pulled meanwhile", async () => {
  await db.records.put({ kind: "line", id: "l", parent: "h", content: { id: "l", count: 1 }, version: 1, code: "", conflict: "c" });
  const office = new Pages([changed(1, "l", { id: "l", count: 2 }, 2)]);
  office.open = ["c", "another"];
  await pulled(office);
  expect(await db.records.get(["line", "l"])).toMatchObject({ content: { count: 2 }, conflict: "c" });
  office.open = ["another"];
  await pulled(office);
  expect((await db.records.get(["line", "l"]))?.conflict).toBe("");
});
