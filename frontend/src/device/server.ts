/** The server as the sender sees it: every answer of the network turned into one of a few things to do. */
import type { OperationSent, Told } from "../core/outbox";
import type { Delivered, Server } from "../core/delivering";

export const PROTOCOL = 2;
const TOO_LONG = 30_000;
const ASK_AGAIN = 30;

/** Push through the browser's network. `token` gives the session's token, "" for nobody. */
export function serverAt(home: string, token: () => string, send: typeof fetch = fetch): Server {
  return {
    async push(operations: readonly OperationSent[], deviceTime: string): Promise<Delivered> {
      const response = await send(`${home}/api/sync/push`, {
        method: "POST",
        headers: { "Content-Type": "application/json", Authorization: `Bearer ${token()}` },
        body: JSON.stringify({ protocol: PROTOCOL, device_time: deviceTime, operations }),
        signal: AbortSignal.timeout(TOO_LONG),
      });
      return delivered(response);
    },
  };
}

async function delivered(response: Response): Promise<Delivered> {
  if (response.ok) return answered(await response.json());
  switch (response.status) {
    case 401:
    case 403:
      return { what: "signed out" };
    case 409:
      return { what: "app too old", detail: await detailOf(response) };
    case 413:
      return { what: "too large" };
    case 400:
    case 422:
      return { what: "not read", detail: await detailOf(response) };
    case 429:
      return { what: "wait", seconds: Number(response.headers.get("Retry-After")) || ASK_AGAIN };
    default:
      return { what: "not reached" };
  }
}

/** Take an answer only in the shape that the contract gives it: a proxy's page is none. */
function answered(body: unknown): Delivered {
  const { answers, server_time } = (body ?? {}) as { answers?: unknown; server_time?: unknown };
  if (!Array.isArray(answers) || typeof server_time !== "string") return { what: "not reached" };
  return { what: "answered", answers: answers.filter(isTold), server_time };
}

const ANSWERS = ["stored", "already had", "refused", "conflict"];

function isTold(value: unknown): value is Told {
  const one = (value ?? {}) as Partial<Told>;
  return typeof one.id === "string" && ANSWERS.includes(one.answer ?? "");
}

async function detailOf(response: Response): Promise<string> {
  const body = (await response.json().catch(() => ({}))) as { detail?: unknown; faults?: { where: string; what: string }[] };
  const faults = (body.faults ?? []).map((fault) => `${fault.where}: ${fault.what}`);
  return [typeof body.detail === "string" ? body.detail : "", ...faults].filter(Boolean).join(" ");
}
