/** What is new on the server, onto this phone; nothing that was written here and not yet answered is overwritten. */
import type { Changed, Office } from "../device/office";
import type { PhoneDatabase } from "../device/database";
import { CURSOR, ownVersionOf } from "./recording";

export const PULLED_AT = "pulled at";

const MOST_PAGES = 10_000;
const MADE_HERE = new Set(["trip", "haul", "line"]);

export interface Pulling {
  readonly db: PhoneDatabase;
  readonly office: Pick<Office, "pull" | "conflicts">;
  readonly now: () => number;
  /** Told after each page: how many records came so far. */
  readonly progress?: (records: number) => void;
}

/**
 * Pull all that is new, page by page, each page in one transaction. Gives the number of records that came.
 *
 * A record with an unanswered change of its own stays as it is here: its change is then based on the version that this
 * phone saw, and the server keeps both. The cursor stays before the first of those, so that they come again.
 */
export async function pullAll({ db, office, now, progress }: Pulling): Promise<number> {
  const settled = await settledSince(db, office);
  let cursor = Number((await db.notes.get(CURSOR))?.value ?? 0);
  let [came, held] = [0, false];
  for (let page = 0; page < MOST_PAGES; page++) {
    const pulled = await office.pull(cursor);
    held = (await takePage(db, pulled.changes, held ? null : pulled.cursor)) || held;
    cursor = pulled.cursor;
    came += pulled.changes.length;
    progress?.(came);
    if (!pulled.more) break;
  }
  await forget(db, settled);
  await db.notes.put({ name: PULLED_AT, value: new Date(now()).toISOString() });
  return came;
}

/**
 * Give the conflicts of this phone that somebody has settled. Asked before all else is pulled, so that a record whose
 * mark goes is here as it stood after that; and only of those known by then, for another may come while this runs.
 */
async function settledSince(db: PhoneDatabase, office: Pick<Office, "conflicts">): Promise<ReadonlySet<string>> {
  const marked = await db.records.filter((one) => one.conflict !== "").toArray();
  if (marked.length === 0) return new Set();
  const open = new Set((await office.conflicts()).map((one) => one.id));
  return new Set(marked.map((one) => one.conflict).filter((conflict) => !open.has(conflict)));
}

/** Take the marks of settled conflicts away, and the versions kept for them. */
async function forget(db: PhoneDatabase, settled: ReadonlySet<string>): Promise<void> {
  await db.transaction("rw", db.records, db.notes, async () => {
    await db.records.filter((one) => settled.has(one.conflict)).modify({ conflict: "" });
    await db.notes.bulkDelete([...settled].map(ownVersionOf));
  });
}

/** Take a page; gives whether something was left as it is. `cursor` null leaves the cursor where it stands. */
async function takePage(db: PhoneDatabase, changes: readonly Changed[], cursor: number | null): Promise<boolean> {
  return db.transaction("rw", db.records, db.outbox, db.notes, async () => {
    const unanswered = new Set((await db.outbox.toArray()).map((entry) => `${entry.kind} ${entry.record}`));
    let first: number | null = null;
    for (const { seq, kind, id, version, code, parent, record } of changes) {
      if (record === null) continue;
      if (unanswered.has(`${kind} ${id}`)) {
        first ??= seq;
        continue;
      }
      const held = await db.records.get([kind, id]);
      // Read before the server took a change of this phone's own, and come after its answer: what is here is newer.
      if (MADE_HERE.has(kind) && (held?.version ?? 0) > version) continue;
      await db.records.put({ kind, id, parent, content: record, version, code, conflict: held?.conflict ?? "" });
    }
    if (cursor !== null) await db.notes.put({ name: CURSOR, value: first === null ? cursor : first - 1 });
    return first !== null;
  });
}
