/**
 * The steps of the outbox, as decisions on plain values: what is sent next, and what an answer does to an entry.
 *
 * An entry leaves only on an answer that names it. What was offered to the server once is never changed: the answer may
 * be lost, and the same id with another content would be refused. The version that a change is based on is therefore
 * known, and written down, only at the moment of sending.
 */

export type RecordKind = "person" | "trip" | "haul" | "line" | "notice" | "incident" | "movement";
export type Content = Readonly<Record<string, unknown>>;

/** One thing that is wrong with a refused record: where, what, and what would be right. */
export interface Problem {
  readonly where: string;
  readonly what: string;
  readonly mend: string;
}

/** What this phone's clock showed at an entry, and what was known of that clock then: null where it was never compared. */
export interface DeviceClock {
  readonly at: string;
  /** Seconds by which it was ahead of the server's clock when they were last compared. */
  readonly ahead_s: number | null;
  /** When that was, by the server's clock. */
  readonly known_at: string | null;
}

export type EnteredFrom = "screen" | "paper";

/** One change of one record, on its way to the server. */
export interface Entry {
  /** Its place in the queue; the database gives it. */
  readonly seq: number;
  readonly id: string;
  readonly kind: RecordKind;
  readonly record: string;
  readonly parent: string;
  readonly content: Content;
  readonly why: string;
  readonly device_clock: DeviceClock;
  readonly entered_from: EnteredFrom;
  readonly based_on: number | null;
  /** Whether it was ever handed to the network, or to another phone in a copy. */
  readonly offered: boolean;
  readonly state: "waiting" | "refused";
  readonly problems: readonly Problem[];
}

/** What the server said of one entry. */
export interface Told {
  readonly id: string;
  readonly answer: "stored" | "already had" | "refused" | "conflict";
  readonly version: number | null;
  readonly code: string;
  readonly problems: readonly Problem[];
  readonly conflict: string;
}

/** The operation as the server takes it. */
export interface OperationSent {
  readonly id: string;
  readonly kind: RecordKind;
  readonly record: Content;
  readonly parent: string;
  readonly based_on: number | null;
  readonly why: string;
  readonly device_clock: DeviceClock;
  readonly entered_from: EnteredFrom;
}

export function operationOf(entry: Entry): OperationSent {
  const { id, kind, content, parent, based_on, why, device_clock, entered_from } = entry;
  return { id, kind, record: content, parent, based_on, why, device_clock, entered_from };
}

/** Whether a change closes a trip: whatever of the trip comes after it needs a reason. */
export function closesTrip(kind: RecordKind, content: Content): boolean {
  return kind === "trip" && content["status"] === "closed";
}

/**
 * Choose what is sent next, oldest first: of each record only its oldest change, since the next one is based on the
 * version that this one will get; nothing that hangs on a record which the server has refused; and the closing of a
 * trip only once nothing older waits, or what was entered before it would come to a closed trip.
 */
export function nextBatch(entries: readonly Entry[], most: number): Entry[] {
  const refused = new Set(entries.filter((one) => one.state === "refused").map((one) => one.record));
  const seen = new Set<string>();
  const batch: Entry[] = [];
  let leftBehind = false;
  for (const entry of [...entries].sort((a, b) => a.seq - b.seq)) {
    const first = !seen.has(entry.record);
    seen.add(entry.record);
    if (batch.length >= most) break;
    if (entry.state === "refused" || refused.has(entry.parent)) continue;
    if (first && !(leftBehind && closesTrip(entry.kind, entry.content))) batch.push(entry);
    else leftBehind = true;
  }
  return batch;
}

/** What becomes of an entry and of its record on an answer. */
export type Deed =
  | { readonly what: "leave"; readonly version: number | null; readonly code: string; readonly conflict: string }
  | { readonly what: "stay refused"; readonly problems: readonly Problem[] };

/**
 * Decide on an answer. Of a conflict the phone does not take the version that stands: it has not seen it, and a later
 * change of this record must not pass for one of that version, but come to lie beside it as well.
 */
export function deedFor(told: Told): Deed {
  const { version, code, conflict } = told;
  if (told.answer === "refused") return { what: "stay refused", problems: told.problems };
  if (told.answer === "conflict") return { what: "leave", version: null, code, conflict };
  return { what: "leave", version, code, conflict: "" };
}

const FIRST_WAIT = 2_000;
const LONGEST_WAIT = 300_000;

/**
 * Give how long to wait after so many failures in a row: twice as long each time, up to five minutes, and up to half of
 * it less by chance, so that phones back in signal do not all come at once.
 */
export function waitAfter(failures: number, chance: number): number {
  const full = Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** Math.min(Math.max(failures - 1, 0), 20));
  return Math.round(full * (1 - chance / 2));
}
