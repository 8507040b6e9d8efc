/** The desk's client: its shapes are those of the contract, its addresses are there, and every refusal becomes words. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { amendmentOf } from "./amending";
import type * as Answers from "./answers";
import { Office, refusalOf, RefusedError, sentenceOf } from "./office";

interface Schema {
  readonly properties: Record<string, { readonly enum?: string[]; readonly default?: unknown }>;
  readonly required?: readonly string[];
}

const contract = JSON.parse(readFileSync(join(import.meta.dirname, "../../contract/openapi.json"), "utf-8")) as {
  components: { schemas: Record<string, Schema> };
  paths: Record<string, Record<string, unknown>>;
};
const schema = (name: string): Schema => contract.components.schemas[name] as Schema;

/** Names of a shape: the compiler wants each of them, and no other, so the list is the interface. */
type Names<Shape> = Readonly<Record<keyof Shape, true>>;

const CountRead: Names<Answers.CountRead> = { low: true, best: true, high: true };
const WhoRead: Names<Answers.WhoRead> = { person: true, name: true, login: true, roles: true, session: true, device: true };
const OrganisationRead: Names<Answers.OrganisationRead> = { name: true, zone: true, own_catch_approved: true, demo: true, server_time: true };
const AuthorityRead: Names<Answers.AuthorityRead> = {
  id: true, kind: true, number: true, title: true, issuer: true, holder: true, zone: true, first_day: true, last_day: true, outcome: true,
};
const RestsRead: Names<Answers.RestsRead> = { authority: true, number: true, outcome: true, about: true, sentence: true };
const LotRead: Names<Answers.LotRead> = {
  id: true, state: true, version: true, accession: true, line: true, haul: true, trip: true, taxon: true, authority: true, unit: true,
  field_count: true, on_hand: true, door_count: true, decided_at: true, decided_by: true, decided_by_name: true, reason: true, onward: true,
  collectors: true, wanted: true, amended: true, findings: true, of_haul: true, of_trip: true,
};
const StateCount: Names<Answers.StateCount> = { state: true, lots: true };
const TripCount: Names<Answers.TripCount> = { trip: true, lots: true };
const LotsRead: Names<Answers.LotsRead> = { total: true, lots: true, states: true, trips: true };
const HoldSent: Names<Answers.HoldSent> = { expected_version: true, reason: true };
const AcceptSent: Names<Answers.AcceptSent> = { ...HoldSent, door_count: true, died: true };
const DeclineSent: Names<Answers.DeclineSent> = { ...AcceptSent, onward: true };
const TallyRead: Names<Answers.TallyRead> = { limit: true, operator: true, unit: true, before: true, here: true, after: true, left: true, used_low: true, used_high: true };
const FindingRead: Names<Answers.FindingRead> = {
  authority: true, number: true, kind: true, version: true, outcome: true, about: true, label: true, sentence: true, settle: true, near: true,
  records: true, over: true, tally: true,
};
const FindingsRead: Names<Answers.FindingsRead> = { total: true, findings: true };
const AllottedRead: Names<Answers.AllottedRead> = { trip: true, label: true, name: true, first_day: true, unit: true, amount: true };
const AllotmentRead: Names<Answers.AllotmentRead> = {
  id: true, trip: true, code: true, authority: true, number: true, label: true, name: true, first_day: true, unit: true, amount: true, state: true,
  granted_at: true, granted_by: true, ended_at: true, why: true,
};
const RoomRead: Names<Answers.RoomRead> = {
  authority: true, number: true, label: true, name: true, about: true, unit: true, limit: true, left: true, short: true, held: true, used: true,
};
const PendingRead: Names<Answers.PendingRead> = { conflict: true, kind: true, record: true, trip: true };
const BalanceRead: Names<Answers.BalanceRead> = {
  number: true, text: true, kind: true, outcome: true, tallies: true, fullest: true, allotted: true, pending: true,
};
const OfferingRead: Names<Answers.OfferingRead> = { person: true, device: true, device_name: true };
const ConflictRead: Names<Answers.ConflictRead> = {
  id: true, kind: true, record: true, stands: true, offered: true, base: true, together: true, offered_by: true, state: true, why: true,
  made_at: true, settled_at: true, settled_by: true,
};
const SettlementSent: Names<Answers.SettlementSent> = { take: true, why: true };
const PhotoRead: Names<Answers.PhotoRead> = {
  id: true, sha256: true, of_kind: true, of_record: true, media_type: true, size: true, received: true, made_at: true, begun_at: true,
  begun_by: true, whole_at: true,
};
const EntryRead: Names<Answers.EntryRead> = {
  kind: true, record: true, version: true, by: true, by_name: true, device: true, at: true, device_at: true, entered_from: true,
};
const CorrectionRead: Names<Answers.CorrectionRead> = {
  record: true, field: true, old: true, new: true, by: true, by_name: true, at: true, why: true,
};
const HistoryRead: Names<Answers.HistoryRead> = { entries: true, corrections: true };
const OperationSent: Names<Answers.OperationSent> = {
  id: true, kind: true, record: true, parent: true, based_on: true, why: true, device_clock: true, entered_from: true,
};
const PushSent: Names<Answers.PushSent> = { protocol: true, operations: true, device_time: true };
const FaultRead: Names<Answers.FaultRead> = { where: true, what: true, mend: true };
const ToldRead: Names<Answers.ToldRead> = { id: true, answer: true, version: true, code: true, problems: true, conflict: true };
const PushRead: Names<Answers.PushRead> = { answers: true, server_time: true };
const RoleHeldRead: Names<Answers.RoleHeldRead> = { authority: true, role: true, first_day: true, last_day: true };
const PersonRead: Names<Answers.PersonRead> = { id: true, name: true, login: true, roles: true, held: true };
const SiteRead: Names<Answers.SiteRead> = { id: true, name: true };
const DeviceRead: Names<Answers.DeviceRead> = {
  id: true, name: true, person: true, person_name: true, enrolled_at: true, last_seen_at: true, revoked_at: true, clock_fast_s: true,
  signed_in: true,
};
const EnrolmentRead: Names<Answers.EnrolmentRead> = { code: true, qr: true, ends_at: true, person: true, login: true };
const UnresolvedRead: Names<Answers.UnresolvedRead> = { condition: true, outcome: true, sentence: true, settle: true };
const DraftRead: Names<Answers.DraftRead> = {
  authority: true, as_of: true, revision: true, replaces: true, conditions: true, unresolved: true, changes: true,
};
const ReportRead: Names<Answers.ReportRead> = {
  id: true, authority: true, condition: true, revision: true, replaces: true, filing: true, snapshot_sha256: true, pdf_sha256: true,
  certified_name: true, certified_title: true, filed_by: true, filed_by_name: true, filed_at: true, changes: true, unresolved: true,
  affected: true, since: true,
};
const ReportsRead: Names<Answers.ReportsRead> = { total: true, reports: true };
const CertifiedSent: Names<Answers.CertifiedSent> = { name: true, title: true };
const FilingSent: Names<Answers.FilingSent> = { ...CertifiedSent, condition: true };
const ChangedRead: Names<Answers.ChangedRead> = {
  seq: true, kind: true, id: true, version: true, trip: true, at: true, code: true, parent: true, record: true,
};
const PullRead: Names<Answers.PullRead> = { changes: true, cursor: true, more: true };

const SHAPES = {
  CountRead, WhoRead, OrganisationRead, AuthorityRead, RestsRead, LotRead, StateCount, TripCount, LotsRead, HoldSent, AcceptSent, DeclineSent, TallyRead, FindingRead,
  FindingsRead, AllottedRead, AllotmentRead, RoomRead, PendingRead, BalanceRead, OfferingRead, ConflictRead, SettlementSent, PhotoRead, EntryRead, CorrectionRead, HistoryRead,
  OperationSent, PushSent, FaultRead, ToldRead, PushRead, RoleHeldRead, PersonRead, SiteRead, DeviceRead, EnrolmentRead,
  UnresolvedRead, DraftRead, ReportRead, ReportsRead, CertifiedSent, FilingSent, ChangedRead, PullRead,
};

test.each(Object.entries(SHAPES))("%s has the contract's fields, all of them and no others", (name, names) => {
  expect(Object.keys(names).sort()).toEqual(Object.keys(schema(name).properties).sort());
});

test("the words of the lists are the contract's", () => {
  const outcomes: Answers.Outcome[] = ["met", "broken", "open", "not used"];
  const states: Answers.LotState[] = ["waiting", "on hold", "accepted", "declined"];
  expect(schema("FindingRead").properties["outcome"]?.enum).toEqual(outcomes);
  expect(schema("LotRead").properties["state"]?.enum).toEqual(states);
  expect(schema("UnresolvedRead").properties["outcome"]?.enum).toEqual(["broken", "open"]);
  const conflicts: Answers.ConflictRead["state"][] = ["open", "ours", "theirs", "both", "followed"];
  const taken: Answers.SettlementSent["take"][] = ["stands", "offered", "together"];
  expect(schema("ConflictRead").properties["state"]?.enum).toEqual(conflicts);
  expect(schema("SettlementSent").properties["take"]?.enum).toEqual(taken);
});

const HELD: Answers.ChangedRead = { seq: 1, kind: "trip", id: "t", version: 1, trip: "t", at: "", code: "T1", parent: "", record: { id: "t" } };

interface Asked {
  readonly method: string;
  readonly address: string;
  readonly body: unknown;
}

function officeThat(answers: (address: string, method: string) => Response): { office: Office; asked: Asked[] } {
  const asked: Asked[] = [];
  const send = (async (address: string, request: RequestInit) => {
    const method = request.method ?? "GET";
    asked.push({ method, address, body: request.body === undefined ? undefined : JSON.parse(String(request.body)) });
    return answers(address, method);
  }) as typeof fetch;
  return { office: new Office(send, "https://creek.example"), asked };
}

const json = (status: number, body: unknown, headers: Record<string, string> = {}): Response =>
  new Response(JSON.stringify(body), { status, headers });

/** Tell whether the contract has an address and method; its places stand in braces. */
function inContract(address: string, method: string): boolean {
  const path = new URL(address).pathname;
  return Object.entries(contract.paths).some(([pattern, methods]) => {
    const form = new RegExp(`^${pattern.replaceAll(/\{[^}]+\}/g, "[^/]+")}$`);
    return form.test(path) && method.toLowerCase() in methods;
  });
}

test("every address that is asked is in the contract, and bodies have its fields", async () => {
  const { office, asked } = officeThat((address, method) => {
    if (method === "DELETE") return new Response(null, { status: 204 });
    if (address.includes("/findings")) return json(200, { total: 0, findings: [] });
    if (address.includes("/acquisitions?")) return json(200, { total: 0, lots: [] });
    if (address.includes("/push")) return json(200, { answers: [] });
    if (address.includes("/reports?")) return json(200, { total: 0, reports: [] });
    return json(200, {});
  });
  const base = { expected_version: 1, reason: "" };
  await office.signIn("ann", "a long one");
  await office.signOut();
  await office.me();
  await office.organisation();
  await office.authorities();
  await office.balance("permit");
  await office.allotments();
  await office.findings({ authority: "permit" });
  await office.everyLot();
  await office.lots({ state: "waiting", order: "newest", grave: true, start: 30 });
  await office.lot("lot");
  await office.accept("lot", { ...base, door_count: null, died: null });
  await office.hold("lot", base);
  await office.decline("lot", { ...base, door_count: "2", died: "1", onward: "transferred" });
  await office.photos("T1");
  await office.history("T1");
  await office.allotmentsOf("t");
  await office.rooms("t", "");
  await expect(office.push(amendmentOf(HELD, (now) => now, "recounted", "op"))).rejects.toThrow("gave no answer");
  await office.conflicts();
  await office.settle("conflict", { take: "offered", why: "counted again" });
  await office.people();
  await office.sites();
  await office.phones();
  await office.makeCode("ann");
  await office.revokePhone("phone");
  await office.draft("permit");
  await office.reports("permit");
  await office.file("permit", { name: "Ann Oake", title: "Holder", condition: "" });
  await office.revise("report", { name: "Ann Oake", title: "Holder" });
  await office.pull(0);
  expect(asked.filter(({ address, method }) => !inContract(address, method))).toEqual([]);
  expect(asked).toHaveLength(31);
  const bodyOf = (end: string): object => (asked.find(({ address, body }) => address.endsWith(end) && body)?.body ?? {}) as object;
  expect(Object.keys(bodyOf("/sessions")).sort()).toEqual(Object.keys(schema("SignInSent").properties).sort());
  expect(Object.keys(bodyOf("/enrolments")).sort()).toEqual(Object.keys(schema("EnrolmentSent").properties).sort());
  expect(Object.keys(bodyOf("/push")).sort()).toEqual(Object.keys(schema("PushSent").properties).sort());
  expect(inContract(office.originalAddress({ sha256: "0".repeat(64) } as Answers.PhotoRead), "GET")).toBe(true);
  expect(inContract(office.draftAddress("permit"), "GET")).toBe(true);
  expect(inContract(office.reportAddress("report"), "GET")).toBe(true);
});

test("lists are asked for page by page until all are here", async () => {
  const page = (start: number): unknown => ({ total: 3, lots: start === 0 ? [{ id: "a" }, { id: "b" }] : [{ id: "c" }] });
  const { office, asked } = officeThat((address) => json(200, page(Number(new URL(address).searchParams.get("start")))));
  expect((await office.everyLot()).map((one) => one.id)).toEqual(["a", "b", "c"]);
  expect(asked).toHaveLength(2);
});

test("a list that is all here is not asked for again", async () => {
  const { office, asked } = officeThat(() => json(200, { total: 1, findings: [{ number: "1" }] }));
  expect(await office.findings({ trip: "T1" })).toHaveLength(1);
  expect(asked.map(({ address }) => address)).toEqual(["https://creek.example/api/findings?trip=T1&start=0&limit=1000"]);
});

test("a list that grows shorter while it is read ends", async () => {
  const { office } = officeThat((address) =>
    json(200, new URL(address).searchParams.get("start") === "0" ? { total: 5, findings: [{ number: "1" }] } : { total: 1, findings: [] }),
  );
  expect(await office.findings({ authority: "permit" })).toHaveLength(1);
});

test("nobody signed in is an answer, anything else that fails is none", async () => {
  expect(await officeThat(() => json(401, { detail: "Sign in first." })).office.me()).toBeNull();
  await expect(officeThat(() => json(500, {})).office.me()).rejects.toThrow("The server failed at this.");
});

test.each([
  [json(409, { detail: "ann has decided on this lot meanwhile" }), "Ann has decided on this lot meanwhile."],
  [json(422, { detail: "", faults: [{ where: "body.reason", what: "too long", mend: "" }] }), "Body.reason: too long."],
  [
    json(422, { detail: "The request is wrong.", faults: [{ where: "body.door_count", what: "a number is wanted" }] }),
    "The request is wrong. Body.door_count: a number is wanted.",
  ],
  [json(429, {}), "Too many requests from here; wait a minute."],
  [json(503, {}), "The server failed at this. Try again; if it stays so, whoever keeps the server should look at its log."],
  [json(418, {}), "The server refused this and gave no reason (418)."],
  [new Response("<html>", { status: 502 }), "The server failed at this. Try again; if it stays so, whoever keeps the server should look at its log."],
])("a refusal is told in words: %#", async (response, words) => {
  const refusal = await refusalOf(response);
  expect(sentenceOf(refusal)).toBe(words);
  expect(refusal.status).toBe(response.status);
});

test("a server that is not reached, and a page in place of an answer, are told as such", async () => {
  const unreached = new Office((async () => Promise.reject(new TypeError("network"))) as typeof fetch);
  await expect(unreached.people()).rejects.toThrow("The server was not reached.");
  const { office } = officeThat(() => new Response("<html>", { status: 200 }));
  await expect(office.people()).rejects.toThrow("no answer of this server");
});

test("a session that has ended says so, and how long to wait is kept", async () => {
  expect((await refusalOf(json(401, {}))).signedOut).toBe(true);
  expect((await refusalOf(json(429, {}, { "Retry-After": "12" }))).waitSeconds).toBe(12);
  expect(new RefusedError(403, "no").signedOut).toBe(false);
});
