/** What this phone holds: the records as it knows them, and the changes that the server has not yet answered. */
import Dexie, { type Table } from "dexie";
import type { Content, Entry, RecordKind } from "../core/outbox";

/** A record as it stands on this phone. */
export interface StoredRecord {
  readonly kind: RecordKind;
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

/** An entry before the database has given it its place. */
export type NewEntry = Omit<Entry, "seq">;

export class PhoneDatabase extends Dexie {
  declare readonly records: Table<StoredRecord, [RecordKind, string]>;
  declare readonly outbox: Table<Entry, number, NewEntry>;
  declare readonly notes: Table<Note, string>;

  constructor(name = "creekledger") {
    // Strict: what the button has answered to outlives a dead battery. It costs a millisecond or so.
    super(name, { chromeTransactionDurability: "strict" });
    this.version(1).stores({
      records: "[kind+id], parent",
      outbox: "++seq, &id, [kind+record], parent",
      notes: "name",
    });
  }
}
