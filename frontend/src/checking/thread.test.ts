/**
 * The checks' thread over a phone's database: what it tells is held to the shared cases (tests/cases), to which the core
 * is held as well. A case's season is laid into the database as the phone keeps it, record by record.
 */
import "fake-indexeddb/auto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeEach, describe, expect, test } from "vitest";
import { everyCase, momentOf, type Case } from "../checks/testing/case_files";
import { plainName } from "../core/finding_names";
import { rowKey } from "../core/tally";
import { PhoneDatabase, type StoredRecord } from "../device/database";
import { Checker } from "./thread";

type Json = Readonly<Record<string, unknown>>;

const FOLDER = join(import.meta.dirname, "../../../tests/cases");
const TAXA = JSON.parse(readFileSync(join(FOLDER, "taxa.json"), "utf-8")) as Json;
const AREAS = (JSON.parse(readFileSync(join(FOLDER, "areas.geojson"), "utf-8")) as { features: { properties: Json; geometry: Json }[] }).features.map(
  ({ properties, geometry }) => ({ ...properties, geometry }),
);

let db: PhoneDatabase;
let checker: Checker;
let name = 0;

beforeEach(() => {
  name += 1;
  db = new PhoneDatabase(`checked ${name}`);
  checker = new Checker(db);
});

function record(kind: string, content: Json, parent = "", id = String(content["id"] ?? kind)): StoredRecord {
  return { kind, id, parent, content, version: 1, code: "", conflict: "" };
}

/** Keep a case as a phone would: each trip, haul and line a record of its own. */
async function laidIn(one: Case): Promise<{ trip: string; haul: string; hauls: Map<string, string> }> {
  const records = [record("taxa", TAXA), record("areas", { areas: AREAS })];
  records.push(...one.authorities.map((authority) => record("authority", authority)));
  const of = (season: Json, key: string): Json[] => (season[key] as Json[] | undefined) ?? [];
  for (const kind of ["movement", "incident"]) records.push(...of(one.season, `${kind}s`).map((content) => record(kind, content)));
  records.push(record("papers", { shared_totals: of(one.season, "shared_totals") }));
  const hauls = new Map<string, string>();
  let [last, lastHaul] = ["", ""];
  for (const { hauls: own, ...trip } of of(one.season, "trips") as ({ hauls: Json[] } & Json)[]) {
    records.push(record("trip", trip));
    for (const { lines, ...haul } of own as ({ lines: Json[] } & Json)[]) {
      records.push(record("haul", haul, String(trip["id"])));
      records.push(...lines.map((line) => record("line", line, String(haul["id"]))));
      for (const line of lines) hauls.set(String(line["id"]), `${String(trip["id"])} ${String(haul["id"])}`);
      lastHaul = String(haul["id"]);
    }
    last = String(trip["id"]);
  }
  await db.records.bulkPut(records);
  return { trip: last, haul: lastHaul, hauls };
}

const LEFT = everyCase().filter((one) => one.check === "keep_at_most" && one.expect.every((expected) => expected["person"] === undefined));

describe("what is left is what the core says", () => {
  test.each(LEFT.map((one) => [one.name, one] as const))("%s", async (_name, one) => {
    const { trip, haul } = await laidIn(one);
    for (const expected of one.expect) {
      const row = plainName(String(expected["taxon"]));
      const at = momentOf(one, String(expected["at"]));
      const told = await checker.answer({ trip, haul, at, names: { [rowKey(row)]: row } });
      expect(told.problems).toEqual([]);
      const left = told.left[rowKey(row)];
      const more = expected["more"];
      expect(left?.more).toBe(more === null || more === undefined ? null : Math.floor(Number(more)));
      if (more !== null && more !== undefined) expect(left?.number).toBe(expected["binding"]);
    }
  });

  test("there are such cases", () => expect(LEFT.length).toBeGreaterThanOrEqual(4));
});

/** Cases in which exactly one limit of one version is broken, by lines that are named. */
const BROKEN = everyCase().flatMap((one) => {
  const [only] = one.expect;
  const told = one.check === "judge" && ["take_limits", "size_limits"].includes(one.file) && one.expect.length === 1;
  return told && only?.["outcome"] === "broken" && (only["over"] as string[] | undefined)?.every((record) => record.startsWith("L")) ? [[one.name, one, only] as const] : [];
});

describe("what is broken is told of the haul whose lines broke it", () => {
  test.each(BROKEN)("%s", async (_name, one, expected) => {
    const { hauls } = await laidIn(one);
    for (const line of expected["over"] as string[]) {
      const [trip = "", haul = ""] = (hauls.get(line) ?? "").split(" ");
      const { told } = await checker.answer({ trip, haul, at: momentOf(one, one.asOf), names: {} });
      const broken = told.filter((finding) => finding.outcome === "broken" && finding.over.includes(line));
      expect(broken.map((finding) => finding.number)).toContain(String(expected["number"] ?? "1"));
      expect(told[0]?.outcome, "the gravest comes first").toBe("broken");
      for (const part of [expected["says"] ?? []].flat()) expect(broken.map((finding) => finding.sentence).join(" ")).toContain(String(part));
    }
  });

  test("there are such cases", () => expect(BROKEN.length).toBeGreaterThanOrEqual(5));
});

describe("what stands on the phone is what is reckoned with", () => {
  const LIMIT = { kind: "take limit", number: "1", text: "At most 10 a day.", taxa: ["Galaxias maculatus"], limits: [{ amount: "10", period: "day" }] };
  const ROW = plainName("Galaxias maculatus");
  const AT = Date.parse("2027-03-10T02:00:00Z");
  const ask = { trip: "t", haul: "h", at: AT, names: { row: ROW } };

  async function aHaul(): Promise<void> {
    const base = LEFT[0] as Case;
    const authority = { ...base.authorities[0], amendments: [], conditions: [LIMIT] };
    const id = String((authority as Json)["id"]);
    const trip = { id: "t", zone: "Australia/Sydney", authority: id, status: "open", leader: "ana", depart: "2027-03-10T09:00:00+11:00" };
    await db.records.bulkPut([
      record("taxa", TAXA),
      record("authority", authority),
      record("trip", trip),
      record("haul", { id: "h", kind: "haul", start: "2027-03-10T10:00:00+11:00" }, "t"),
      record("line", line(4), "h"),
    ]);
  }

  const line = (count: unknown, id = "l"): Json => ({ id, taxon: "Galaxias maculatus", fate: "kept", unit: "individuals", method: "counted", count });

  test("a touch of this phone is in the next answer", async () => {
    await aHaul();
    expect((await checker.answer(ask)).left["row"]).toMatchObject({ more: 6, number: "1", by: "limit" });
    await db.records.put(record("line", line(9), "h"));
    expect((await checker.answer(ask)).left["row"]?.more).toBe(1);
  });

  test("an estimate is reckoned by what may have been taken at most", async () => {
    await aHaul();
    await db.records.put(record("line", line({ low: 3, best: 4, high: 7 }), "h"));
    expect((await checker.answer(ask)).left["row"]?.more).toBe(3);
  });

  test("what another phone took comes with the pull, also while the cursor stays where it is", async () => {
    await aHaul();
    await db.notes.bulkPut([{ name: "pulled up to", value: 7 }, { name: "pulled at", value: "2027-03-10T00:00:00Z" }]);
    expect((await checker.answer(ask)).left["row"]?.more).toBe(6);
    const { authority } = (await db.records.get(["trip", "t"]))?.content as { authority: string };
    await db.records.bulkPut([
      record("trip", { id: "t2", zone: "Australia/Sydney", authority, status: "open", leader: "ben", depart: "2027-03-10T09:00:00+11:00" }),
      record("haul", { id: "h2", kind: "haul", start: "2027-03-10T10:30:00+11:00" }, "t2"),
      record("line", line(5, "l2"), "h2"),
    ]);
    await db.notes.put({ name: "pulled at", value: "2027-03-10T00:05:00Z" });
    expect((await checker.answer(ask)).left["row"]?.more).toBe(1);
  });

  test("a record that cannot be read is named and left out, and the rest is answered", async () => {
    await aHaul();
    await db.records.put(record("line", { ...line(1, "bad"), taxon: "Nullius nihil" }, "h"));
    const told = await checker.answer(ask);
    expect(told.left["row"]?.more).toBe(6);
    expect(told.problems).toHaveLength(1);
    expect(told.problems[0]).toContain("bad");
  });

  test("a haul that is not here has no answer, and no error either", async () => {
    await aHaul();
    expect(await checker.answer({ ...ask, haul: "elsewhere" })).toMatchObject({ left: {}, told: [], problems: [] });
    expect(await checker.answer({ ...ask, trip: "elsewhere" })).toMatchObject({ left: {}, problems: [] });
  });

  test("an allotment of the trip binds where it is the lesser", async () => {
    await aHaul();
    const allotment = { id: "a", trip: "t", state: "open", authority: String((await db.records.get(["trip", "t"]))?.content["authority"]), number: "1", label: "", name: "", unit: "individuals", amount: "5" };
    await db.records.put(record("allotment", allotment));
    expect((await checker.answer(ask)).left["row"]).toMatchObject({ more: 1, by: "allotment" });
    await db.records.put(record("allotment", { ...allotment, state: "given back" }));
    await db.notes.put({ name: "pulled at", value: "later" });
    expect((await checker.answer(ask)).left["row"]).toMatchObject({ more: 6, by: "limit" });
  });
});
