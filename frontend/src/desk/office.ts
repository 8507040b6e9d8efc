/** The desk's words with the server: one function a question, and every refusal turned into words for people. */
import { PROTOCOL } from "../device/server";
import type {
  AcceptSent,
  AllotmentRead,
  AuthorityRead,
  BalanceRead,
  CertifiedSent,
  ConflictRead,
  DeclineSent,
  DeviceRead,
  DraftRead,
  EnrolmentRead,
  FilingSent,
  FindingRead,
  FindingsRead,
  HistoryRead,
  HoldSent,
  LotRead,
  LotState,
  LotsRead,
  OperationSent,
  OrganisationRead,
  PersonRead,
  PhotoRead,
  PullRead,
  PushRead,
  PushSent,
  ReportRead,
  ReportsRead,
  RoomRead,
  SettlementSent,
  SiteRead,
  ToldRead,
  WhoRead,
} from "./answers";

const TOO_LONG = 60_000;
const MOST_LOTS = 200;
const LOTS_AT_ONCE = 40;
const MOST_FINDINGS = 1000;
const MOST_REPORTS = 200;
const MOST_CHANGES = 1000;

/** Which lots are asked for: of a state, only with something broken or open, the trips that wait longest or the newest first. */
export interface AskedLots {
  readonly state: LotState | "";
  readonly order: "oldest" | "newest";
  readonly grave: boolean;
  readonly start: number;
}

/** A request that did not do what was asked. Its message tells a person what is wrong; `status` is 0 without an answer. */
export class RefusedError extends Error {
  readonly status: number;
  readonly waitSeconds: number;

  constructor(status: number, message: string, waitSeconds = 0) {
    super(message);
    this.name = "RefusedError";
    this.status = status;
    this.waitSeconds = waitSeconds;
  }

  /** Whether the session has ended, so that somebody has to sign in again. */
  get signedOut(): boolean {
    return this.status === 401;
  }
}

/** Give what went wrong as a sentence. */
export function sentenceOf(problem: unknown): string {
  if (problem instanceof Error) return asSentence(problem.message);
  return "Something went wrong that has no name.";
}

function asSentence(text: string): string {
  const clean = text.trim();
  if (clean === "") return "The server gave no reason.";
  const begun = clean.charAt(0).toUpperCase() + clean.slice(1);
  return /[.!?]$/.test(begun) ? begun : `${begun}.`;
}

interface Fault {
  readonly where?: unknown;
  readonly what?: unknown;
  readonly mend?: unknown;
}

/** Make a refusal of an answer: the problem's own words and those of its single faults (RFC 9457), else by its status. */
export async function refusalOf(response: Response): Promise<RefusedError> {
  const body = (await response.json().catch(() => ({}))) as { detail?: unknown; faults?: unknown };
  const faults = Array.isArray(body.faults) ? (body.faults as Fault[]) : [];
  const told = faults.map((one) => asSentence([one.where, one.what].filter((part) => typeof part === "string" && part).join(": ")));
  const detail = typeof body.detail === "string" && body.detail !== "" ? asSentence(body.detail) : "";
  const wait = Number(response.headers.get("Retry-After")) || 0;
  const words = [detail, ...told].filter(Boolean).join(" ") || byStatus(response.status);
  return new RefusedError(response.status, words, wait);
}

function byStatus(status: number): string {
  if (status === 429) return "Too many requests from here; wait a minute.";
  if (status >= 500) return "The server failed at this. Try again; if it stays so, whoever keeps the server should look at its log.";
  return `The server refused this and gave no reason (${status}).`;
}

type Method = "GET" | "POST" | "PUT" | "DELETE";

/** The office at one address; `send` is the browser's fetch, which brings the session's cookie along. */
export class Office {
  constructor(
    private readonly send: typeof fetch = (...request) => fetch(...request),
    private readonly home = "",
  ) {}

  private async ask(method: Method, path: string, body?: unknown): Promise<unknown> {
    const request: RequestInit = { method, credentials: "same-origin", signal: AbortSignal.timeout(TOO_LONG) };
    if (body !== undefined) {
      request.headers = { "Content-Type": "application/json" };
      request.body = JSON.stringify(body);
    }
    let response: Response;
    try {
      response = await this.send(`${this.home}/api${path}`, request);
    } catch {
      throw new RefusedError(0, "The server was not reached. Look at the network, then try again.");
    }
    if (!response.ok) throw await refusalOf(response);
    if (response.status === 204) return null;
    return response.json().catch(() => {
      throw new RefusedError(0, "What came back is no answer of this server. Look at the network, then try again.");
    });
  }

  async signIn(login: string, password: string): Promise<WhoRead> {
    return (await this.ask("POST", "/sessions", { login, password, label: "desk" })) as WhoRead;
  }

  async signOut(): Promise<void> {
    await this.ask("DELETE", "/sessions/current");
  }

  /** Give who is signed in, null for nobody. */
  async me(): Promise<WhoRead | null> {
    try {
      return (await this.ask("GET", "/me")) as WhoRead;
    } catch (problem) {
      if (problem instanceof RefusedError && problem.signedOut) return null;
      throw problem;
    }
  }

  async organisation(): Promise<OrganisationRead> {
    return (await this.ask("GET", "/organisation")) as OrganisationRead;
  }

  async authorities(): Promise<readonly AuthorityRead[]> {
    return (await this.ask("GET", "/authorities")) as AuthorityRead[];
  }

  async balance(authority: string): Promise<readonly BalanceRead[]> {
    return (await this.ask("GET", `/authorities/${encodeURIComponent(authority)}/balance`)) as BalanceRead[];
  }

  /** Give what is given to trips and not yet given back. */
  async allotments(): Promise<readonly AllotmentRead[]> {
    return (await this.ask("GET", "/allotments?state=open")) as AllotmentRead[];
  }

  /** Give what a trip was given, and what became of it. */
  async allotmentsOf(trip: string): Promise<readonly AllotmentRead[]> {
    return (await this.ask("GET", `/allotments?trip=${encodeURIComponent(trip)}`)) as AllotmentRead[];
  }

  /** Give what a trip may be given and what it took; `name` is meant where a limit counts each name by itself. */
  async rooms(trip: string, name: string): Promise<readonly RoomRead[]> {
    return (await this.ask("GET", `/trips/${encodeURIComponent(trip)}/rooms?${new URLSearchParams({ name })}`)) as RoomRead[];
  }

  /** Give every finding under an authority, or on a trip, page by page. */
  async findings(asked: { readonly authority?: string; readonly trip?: string; readonly outcome?: string }): Promise<readonly FindingRead[]> {
    const found: FindingRead[] = [];
    for (;;) {
      const query = new URLSearchParams({ ...asked, start: String(found.length), limit: String(MOST_FINDINGS) });
      const page = (await this.ask("GET", `/findings?${query}`)) as FindingsRead;
      found.push(...page.findings);
      if (page.findings.length === 0 || found.length >= page.total) return found;
    }
  }

  /** Give a page of the lots asked for, with how many there are in each state and of each trip. */
  async lots(asked: AskedLots): Promise<LotsRead> {
    const { state, order, grave, start } = asked;
    const query = new URLSearchParams({ state, order, grave: String(grave), start: String(start), limit: String(LOTS_AT_ONCE) });
    return (await this.ask("GET", `/acquisitions?${query}`)) as LotsRead;
  }

  /** Give every lot in order of capture, page by page. */
  async everyLot(): Promise<readonly LotRead[]> {
    const found: LotRead[] = [];
    for (;;) {
      const query = new URLSearchParams({ start: String(found.length), limit: String(MOST_LOTS) });
      const page = (await this.ask("GET", `/acquisitions?${query}`)) as LotsRead;
      found.push(...page.lots);
      if (page.lots.length === 0 || found.length >= page.total) return found;
    }
  }

  async lot(lot: string): Promise<LotRead> {
    return (await this.ask("GET", `/acquisitions/${encodeURIComponent(lot)}`)) as LotRead;
  }

  async accept(lot: string, sent: AcceptSent): Promise<LotRead> {
    return (await this.ask("POST", `/acquisitions/${encodeURIComponent(lot)}/accept`, sent)) as LotRead;
  }

  async hold(lot: string, sent: HoldSent): Promise<LotRead> {
    return (await this.ask("POST", `/acquisitions/${encodeURIComponent(lot)}/hold`, sent)) as LotRead;
  }

  async decline(lot: string, sent: DeclineSent): Promise<LotRead> {
    return (await this.ask("POST", `/acquisitions/${encodeURIComponent(lot)}/decline`, sent)) as LotRead;
  }

  async photos(trip: string): Promise<readonly PhotoRead[]> {
    return (await this.ask("GET", `/trips/${encodeURIComponent(trip)}/photos`)) as PhotoRead[];
  }

  photoAddress(photo: PhotoRead): string {
    return `${this.home}/api/photos/${photo.sha256}`;
  }

  /** Where the photo lies as the phone made it, with its place: the administrators'. */
  originalAddress(photo: PhotoRead): string {
    return `${this.photoAddress(photo)}/original`;
  }

  /** Give who entered a trip's records, on which phone, and what was corrected since. */
  async history(trip: string): Promise<HistoryRead> {
    return (await this.ask("GET", `/trips/${encodeURIComponent(trip)}/history`)) as HistoryRead;
  }

  /** Give the records of which there are two versions, the oldest first: those that wait, or all. */
  async conflicts(state: "open" | "" = "open"): Promise<readonly ConflictRead[]> {
    return (await this.ask("GET", `/conflicts?state=${state}`)) as ConflictRead[];
  }

  async settle(conflict: string, sent: SettlementSent): Promise<ConflictRead> {
    return (await this.ask("POST", `/conflicts/${encodeURIComponent(conflict)}/settlement`, sent)) as ConflictRead;
  }

  async people(): Promise<readonly PersonRead[]> {
    return (await this.ask("GET", "/people")) as PersonRead[];
  }

  async sites(): Promise<readonly SiteRead[]> {
    return (await this.ask("GET", "/sites")) as SiteRead[];
  }

  async phones(): Promise<readonly DeviceRead[]> {
    return (await this.ask("GET", "/devices")) as DeviceRead[];
  }

  async makeCode(account: string): Promise<EnrolmentRead> {
    return (await this.ask("POST", "/enrolments", { account })) as EnrolmentRead;
  }

  async revokePhone(phone: string): Promise<void> {
    await this.ask("DELETE", `/devices/${encodeURIComponent(phone)}`);
  }

  async draft(authority: string): Promise<DraftRead> {
    return (await this.ask("GET", `/authorities/${encodeURIComponent(authority)}/reports/draft`)) as DraftRead;
  }

  async reports(authority: string): Promise<readonly ReportRead[]> {
    const path = `/authorities/${encodeURIComponent(authority)}/reports?limit=${MOST_REPORTS}`;
    return ((await this.ask("GET", path)) as ReportsRead).reports;
  }

  async file(authority: string, sent: FilingSent): Promise<ReportRead> {
    return (await this.ask("POST", `/authorities/${encodeURIComponent(authority)}/reports`, sent)) as ReportRead;
  }

  async revise(report: string, sent: CertifiedSent): Promise<ReportRead> {
    return (await this.ask("POST", `/reports/${encodeURIComponent(report)}/revisions`, sent)) as ReportRead;
  }

  draftAddress(authority: string): string {
    return `${this.home}/api/authorities/${encodeURIComponent(authority)}/report.pdf`;
  }

  reportAddress(report: string): string {
    return `${this.home}/api/reports/${encodeURIComponent(report)}/report.pdf`;
  }

  /** Deliver one operation, as a phone does; gives the answer to it. */
  async push(operation: OperationSent): Promise<ToldRead> {
    const sent: PushSent = { protocol: PROTOCOL, operations: [operation], device_time: null };
    const { answers } = (await this.ask("POST", "/sync/push", sent)) as PushRead;
    const told = answers[0];
    if (told === undefined) throw new RefusedError(0, "The server gave no answer to what was sent. Look again, then try once more.");
    return told;
  }

  async pull(after: number): Promise<PullRead> {
    return (await this.ask("GET", `/sync/pull?after=${after}&limit=${MOST_CHANGES}`)) as PullRead;
  }
}
