/**
 * What the desk adds to records afterwards: a statement, a name, a look, a cleaning, a consent.
 *
 * Each is an operation as a phone delivers it, on the whole record as it stands, so that audit, corrections and versions
 * treat it like any other.
 */
import { timeText } from "../core/trip_records";
import type { ChangedRead, OperationSent, ToldRead } from "./answers";
import { RefusedError, sentenceOf } from "./office";
import type { Raw } from "./season";

export type Change = (now: Raw) => Raw;

/** Make the operation that puts a changed record in place of the one that stands. */
export function amendmentOf(held: ChangedRead, change: Change, why: string, id: string): OperationSent {
  return {
    id,
    kind: held.kind,
    record: change(held.record ?? {}),
    parent: held.parent,
    based_on: held.version,
    why,
    device_clock: null,
    entered_from: null,
  };
}

/** Take an answer as done; throws RefusedError with the server's words where it is not. */
export function checkAnswer(told: ToldRead): void {
  if (told.answer === "conflict") {
    throw new RefusedError(
      409,
      "Somebody changed this record at the same moment. Both versions are kept under Two versions, where a person says which one stands.",
    );
  }
  if (told.answer !== "refused") return;
  const words = told.problems.flatMap(({ what, mend }) => [what, mend]).filter(Boolean).map((one) => sentenceOf(new Error(one)));
  throw new RefusedError(422, words.join(" ") || "The server refused this and gave no reason.");
}

export type Kept = "kept" | "not kept" | "did not arise";

export interface Statement {
  readonly authority: string;
  readonly condition: string;
  readonly person: string;
  readonly at: number;
  readonly kept: Kept;
  readonly reason: string;
}

export function withStatement({ reason, at, ...said }: Statement): Change {
  const statement = { ...said, at: timeText(at), ...(reason === "" ? {} : { reason }) };
  return (trip) => ({ ...trip, attestations: [...listed(trip["attestations"]), statement] });
}

/** Put a name in place of the one that stands; what it may be besides, or how sure it is, is what is said now. */
export function withName(taxon: string, doubt: string): Change {
  return ({ one_of: _, doubt: __, ...line }) => ({ ...line, taxon, ...(doubt === "" ? {} : { doubt }) });
}

export function withLook(at: number): Change {
  return (set) => ({ ...set, checks: [...listed(set["checks"]), timeText(at)].sort() });
}

export interface CleaningTold {
  readonly at: number;
  readonly done: boolean;
  readonly method: string;
  /** Minutes as they were typed; "" where nobody took the time. */
  readonly minutes: string;
  readonly gear: string;
  readonly person: string;
  readonly note: string;
}

export function withCleaning({ at, done, method, ...said }: CleaningTold): Change {
  const more = Object.fromEntries(Object.entries(said).filter(([, value]) => value !== ""));
  const cleaning = { at: timeText(at), method, done, ...more };
  return (trip) => ({ ...trip, cleanings: [...listed(trip["cleanings"]), cleaning] });
}

export function withConsent(consent: string): Change {
  return (movement) => ({ ...movement, consent });
}

function listed(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? value : [];
}
