/** The network's answers, and that what is sent is what the contract says. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { operationOf, type Entry, type Told } from "../core/outbox";
import { PROTOCOL, serverAt } from "./server";

interface Schema {
  readonly properties: Record<string, { readonly enum?: string[]; readonly default?: unknown }>;
  readonly required: readonly string[];
}

const contract = JSON.parse(readFileSync(join(import.meta.dirname, "../../contract/openapi.json"), "utf-8")) as {
  components: { schemas: Record<string, Schema> };
  paths: Record<string, Record<string, unknown>>;
};
const schema = (name: string): Schema => contract.components.schemas[name] as Schema;

const ENTRY: Entry = {
  seq: 1,
  id: "o",
  kind: "trip",
  record: "t",
  parent: "",
  content: { id: "t" },
  why: "",
  device_clock: { at: "2027-03-10T10:00:00.000Z", ahead_s: null, known_at: null },
  entered_from: "screen",
  based_on: null,
  offered: true,
  state: "waiting",
  problems: [],
};
const TOLD: Told = { id: "o", answer: "stored", version: 1, code: "", problems: [], conflict: "" };

async function sent(response: Response): Promise<{ found: unknown; request: RequestInit; address: string }> {
  const requests: [string, RequestInit][] = [];
  const send = (async (address: string, request: RequestInit) => {
    requests.push([address, request]);
    return response;
  }) as typeof fetch;
  const found = await serverAt("https://creek.example", () => "token", send).push([operationOf(ENTRY)], "2027-03-10T10:00:00Z");
  const [address, request] = requests[0] ?? ["", {}];
  return { found, request, address };
}

const json = (status: number, body: unknown, headers: Record<string, string> = {}): Response =>
  new Response(JSON.stringify(body), { status, headers });

test("what is sent has the contract's fields, all of them and no others", async () => {
  const { request, address } = await sent(json(200, { answers: [TOLD], server_time: "2027-03-10T10:00:00Z" }));
  const body = JSON.parse(String(request.body)) as { protocol: number; operations: object[] };
  expect(new URL(address).pathname in contract.paths).toBe(true);
  expect(Object.keys(body).sort()).toEqual(Object.keys(schema("PushSent").properties).sort());
  expect(Object.keys(body.operations[0] ?? {}).sort()).toEqual(Object.keys(schema("OperationSent").properties).sort());
  expect(body).toMatchObject({ protocol: PROTOCOL });
  expect(Object.keys(ENTRY.device_clock).sort()).toEqual(Object.keys(schema("DeviceClockSent").properties).sort());
  expect(new Headers(request.headers).get("Authorization")).toBe("Bearer token");
});

test("what is answered has the contract's fields", () => {
  expect(Object.keys(TOLD).sort()).toEqual(Object.keys(schema("ToldRead").properties).sort());
  expect(schema("ToldRead").properties["answer"]?.enum).toEqual(["stored", "already had", "refused", "conflict"]);
  expect([...schema("PushRead").required].sort()).toEqual(["answers", "server_time"]);
  expect(Object.keys(schema("FaultRead").properties).sort()).toEqual(["mend", "what", "where"]);
});

test.each([
  [json(200, { answers: [TOLD], server_time: "2027-03-10T10:00:00Z" }), "answered"],
  [json(200, { answers: [{ id: "o", answer: "lost" }, 7, null], server_time: "x" }), "answered"],
  [json(200, { hello: "from a portal" }), "not reached"],
  [json(200, null), "not reached"],
  [json(401, { detail: "Sign in first" }), "signed out"],
  [json(403, {}), "signed out"],
  [json(409, { detail: "Protocol 1 is not spoken here" }), "app too old"],
  [json(413, {}), "too large"],
  [json(422, { detail: "", faults: [{ where: "operations", what: "wrong" }] }), "not read"],
  [json(500, {}), "not reached"],
  [json(502, {}), "not reached"],
  [json(404, {}), "not reached"],
])("%o is %s", async (response, what) => {
  expect((await sent(response)).found).toMatchObject({ what });
});

test("an answer that says nothing we know of an operation names it not", async () => {
  const { found } = await sent(json(200, { answers: [{ id: "o", answer: "lost" }, 7, null, TOLD], server_time: "x" }));
  expect(found).toMatchObject({ answers: [TOLD] });
});

test("a server that asks for time is left alone as long as it says", async () => {
  expect((await sent(json(429, {}, { "Retry-After": "12" }))).found).toEqual({ what: "wait", seconds: 12 });
  expect((await sent(json(429, {}))).found).toEqual({ what: "wait", seconds: 30 });
});

test("a page in place of an answer is no answer, and a broken one throws, which the sender takes as not reached", async () => {
  await expect(sent(new Response("<html>", { status: 200 }))).rejects.toThrow();
});

test("the faults of a refused batch are told", async () => {
  const response = json(422, { detail: "The request is wrong.", faults: [{ where: "operations.0.id", what: "too long" }] });
  expect((await sent(response)).found).toEqual({ what: "not read", detail: "The request is wrong. operations.0.id: too long" });
});
