/** What this phone holds: the records as it knows them, and the changes that the server has not yet answered. */
import Dexie, { type Table } from "dexie";
import type { Content, Entry } from "../core/outbox";

/** A record as it stands on this phone: collected here, or pulled (permits, names and areas are pulled only). */
export interface StoredRecord {
  readonly kind: string;
  readonly id: string;
  readonly parent: string;
  readonly content: Content;
  /** The version that the server holds, as far as this phone knows; null for one that it was never told of. */
  readonly version: number | null;
  /** What people call it; "" until the server has given it a code. */
  readonly code: string;
  /** The conflict that a person has to settle; "" where there is none. */
  readonly conflict: string;
}

/** One thing that the app keeps about itself: the server's clock, the cursor of pulling. */
export interface Note {
  readonly name: string;
  readonly value: unknown;
}

/** Something that was done in a haul, with what stood before: so it can be taken back, however long ago it was. */
export interface Step {
  readonly seq: number;
  readonly haul: string;
  /** What was done, as the button says it. */
  readonly words: string;
  readonly line: string;
  /** The line as it was; null where the step made it. */
  readonly before: Content | null;
}

/** A photo as this phone made it, on its way to the server. */
export interface Picture {
  readonly id: string;
  readonly of_kind: "trip" | "haul" | "line";
  readonly of_record: string;
  readonly sha256: string;
  readonly bytes: ArrayBuffer;
  readonly media_type: string;
  readonly made_at: string;
  /** "refused": the server said that it is no picture; it stays here. */
  readonly state: "waiting" | "refused";
  readonly problem: string;
}

/** A paper of an authority, byte for byte. */
export interface Paper {
  readonly sha256: string;
  readonly bytes: ArrayBuffer;
}

/** An entry before the database has given it its place. */
export type NewEntry = Omit<Entry, "seq">;

export class PhoneDatabase extends Dexie {
  declare readonly records: Table<StoredRecord, [string, string]>;
  declare readonly outbox: Table<Entry, number, NewEntry>;
  declare readonly notes: Table<Note, string>;
  declare readonly steps: Table<Step, number, Omit<Step, "seq">>;
  declare readonly pictures: Table<Picture, string>;
  declare readonly papers: Table<Paper, string>;

  constructor(name = "creekledger") {
    // Strict: what the button has answered to outlives a dead battery. It costs a millisecond or so.
    super(name, { chromeTransactionDurability: "strict" });
    this.version(1).stores({
      records: "[kind+id], parent",
      outbox: "++seq, &id, [kind+record], parent",
      notes: "name",
    });
    this.version(2).stores({ steps: "++seq, haul", pictures: "id, of_record", papers: "sha256" });
  }
}
