/** What a phone asks of the server besides delivering: to be enrolled, what is new, papers. */
import type { Content } from "../core/outbox";

export interface Who {
  readonly person: string;
  readonly name: string;
  readonly login: string;
  readonly roles: readonly string[];
}

export interface Enrolled {
  readonly token: string;
  readonly ends_at: string;
  readonly who: Who;
}

/** A record as the server tells it; `record` is null for what only was changed. */
export interface Changed {
  readonly seq: number;
  readonly kind: string;
  readonly id: string;
  readonly version: number;
  readonly code: string;
  readonly parent: string;
  readonly record: Content | null;
}

export interface Pulled {
  readonly changes: readonly Changed[];
  readonly cursor: number;
  readonly more: boolean;
}

/** Two versions of one record, which a person has to settle. */
export interface TwoVersions {
  readonly id: string;
  readonly kind: string;
  readonly record: string;
  readonly stands: Content;
  readonly offered: Content;
  /** Of a line, what both began from, and what it is with the animals of both; null where nobody can tell. */
  readonly base: Content | null;
  readonly together: Content | null;
}

export interface Organisation {
  readonly name: string;
  readonly zone: string;
  readonly demo: boolean;
  readonly server_time: string;
}

/** The server said no, in words that can be shown. */
export class AnswerError extends Error {
  constructor(
    readonly status: number,
    message: string,
  ) {
    super(message);
  }
}

/** There was no answer, or none of the server's. */
export class NoSignalError extends Error {}

const TOO_LONG = 30_000;

export class Office {
  constructor(
    private readonly home: string,
    private readonly token: () => string,
    private readonly send: typeof fetch = (address, request) => fetch(address, request),
  ) {}

  enrol(code: string, name: string): Promise<Enrolled> {
    return this.asked("/api/devices", { method: "POST", body: JSON.stringify({ code, name }) });
  }

  organisation(): Promise<Organisation> {
    return this.asked("/api/organisation");
  }

  pull(after: number): Promise<Pulled> {
    return this.asked(`/api/sync/pull?after=${after}&limit=500`);
  }

  /** The records of which there are two versions that nobody has settled yet. */
  conflicts(): Promise<readonly TwoVersions[]> {
    return this.asked("/api/conflicts");
  }

  /** Everybody by name, and every site: the record's own are not all among what is pulled. */
  async names(kind: "people" | "sites"): Promise<readonly { readonly id: string; readonly name: string }[]> {
    return this.asked(`/api/${kind}`);
  }

  async paper(sha256: string): Promise<ArrayBuffer> {
    return (await this.answer(`/api/documents/${sha256}`)).arrayBuffer();
  }

  announce(photo: Content): Promise<PhotoStanding> {
    return this.asked("/api/photos", { method: "POST", body: JSON.stringify(photo) });
  }

  part(sha256: string, offset: number, bytes: ArrayBuffer): Promise<PhotoStanding> {
    const headers = { "Content-Type": "application/octet-stream" };
    return this.asked(`/api/photos/${sha256}?offset=${offset}`, { method: "PATCH", body: bytes, headers });
  }

  private async asked<Shape>(path: string, request: RequestInit = {}): Promise<Shape> {
    const answer = await this.answer(path, request);
    try {
      return (await answer.json()) as Shape;
    } catch {
      throw new NoSignalError("The answer was not the server's.");
    }
  }

  private async answer(path: string, request: RequestInit = {}): Promise<Response> {
    const token = this.token();
    const headers: Record<string, string> = { "Content-Type": "application/json", ...(request.headers as Record<string, string>) };
    if (token !== "") headers["Authorization"] = `Bearer ${token}`;
    let answer: Response;
    try {
      answer = await this.send(`${this.home}${path}`, { ...request, headers, signal: AbortSignal.timeout(TOO_LONG) });
    } catch {
      throw new NoSignalError("The server was not reached.");
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => null)) as { detail?: unknown; offset?: unknown } | null;
    if (answer.status >= 500 || told === null) throw new NoSignalError(`The server answered ${answer.status}.`);
    throw Object.assign(new AnswerError(answer.status, typeof told.detail === "string" ? told.detail : `Answer ${answer.status}.`), {
      offset: told.offset,
    });
  }
}

/** How much of a photo the server has. */
export interface PhotoStanding {
  readonly sha256: string;
  readonly offset: number;
  readonly whole: boolean;
  readonly part_bytes: number;
}
