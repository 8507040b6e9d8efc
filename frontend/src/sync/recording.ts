/** Writing records: the record and its way to the server in one transaction, or neither. */
import { closesTrip, type Content, type DeviceClock, type EnteredFrom, type Entry, type RecordKind } from "../core/outbox";
import type { PhoneDatabase, StoredRecord } from "../device/database";

/** A record made or amended. */
export interface Change {
  readonly kind: RecordKind;
  readonly content: Content & { readonly id: string };
  /** The trip of a haul or the haul of a line. */
  readonly parent?: string;
  /** Why it is changed, which a closed trip asks for. */
  readonly why?: string;
  /** Paper, where it was written down in the field and entered afterwards; where nothing is said, as its trip was. */
  readonly entered_from?: EnteredFrom;
}

export interface Maker {
  readonly nextId: () => string;
  readonly now: () => number;
}

/**
 * Keep a record on this phone and put its change into the outbox; both are on the disk when this answers.
 *
 * A change that was never offered to the server is replaced by the next one of the same record: a tally of forty touches
 * is one operation. Only the closing of a trip stands behind all that was entered before it. A refused one is replaced, too, under an id of its own: that is how it is mended.
 */
export async function keep(db: PhoneDatabase, maker: Maker, change: Change): Promise<void> {
  const { kind, content } = change;
  await db.transaction("rw", db.records, db.outbox, db.notes, async () => {
    const [held, entries] = await Promise.all([
      db.records.get([kind, content.id]),
      db.outbox.where("[kind+record]").equals([kind, content.id]).sortBy("seq"),
    ]);
    await keepOver(db, maker, change, held, entries);
  });
}

/** Do the same within a transaction that has read what stands: the record, and its entries in their order. */
export async function keepOver(
  db: PhoneDatabase,
  maker: Maker,
  change: Change,
  held: StoredRecord | undefined,
  entries: readonly Entry[],
): Promise<void> {
  const { kind, content, parent = "", why = "" } = change;
  const { id } = content;
  const above = parent || held?.parent || "";
  const known = { version: held?.version ?? null, code: held?.code ?? "", conflict: held?.conflict ?? "" };
  const put = db.records.put({ kind, id, parent: above, content, ...known });
  const open = entries.findLast((entry) => !entry.offered);
  // The closing of a trip never takes an older place in the queue: what was entered before it goes before it.
  if (open !== undefined && !(closesTrip(kind, content) && !closesTrip(kind, open.content))) {
    await Promise.all([put, db.outbox.put({ ...open, content, parent: above, why: why || open.why })]);
    return;
  }
  await put;
  await db.outbox.bulkDelete(entries.filter((entry) => entry.state === "refused").map((entry) => entry.seq));
  await db.outbox.add({
    id: maker.nextId(),
    kind,
    record: id,
    parent: above,
    content,
    why,
    device_clock: await clockNow(db, maker),
    entered_from: change.entered_from ?? ((await isFromPaper(db, kind, id)) ? "paper" : "screen"),
    based_on: null,
    offered: false,
    state: "waiting",
    problems: [],
  });
}

/** Whether a trip, or what hangs on it, was written down on paper in the field. */
async function isFromPaper(db: PhoneDatabase, kind: string, id: string): Promise<boolean> {
  const held = await db.records.get([kind, id]);
  if (held === undefined) return false;
  if (kind === "trip") return held.content["paper_record"] === true;
  const above = { line: "haul", haul: "trip" }[kind];
  return above !== undefined && isFromPaper(db, above, held.parent);
}

/**
 * Change a record that stands on this phone, from what it is at that moment: two changes at once are one after the
 * other. Gives the changed content; throws RangeError where the record is not here.
 */
export async function amend(
  db: PhoneDatabase,
  maker: Maker,
  kind: RecordKind,
  id: string,
  change: (content: Content) => Content,
  more: Pick<Change, "why" | "entered_from"> = {},
): Promise<Content> {
  return db.transaction("rw", db.records, db.outbox, db.notes, async () => {
    const held = await db.records.get([kind, id]);
    if (held === undefined) throw new RangeError(`this ${kind} is not on this phone`);
    const content = { ...change(held.content), id };
    await keep(db, maker, { kind, content, parent: held.parent, ...more });
    return content;
  });
}

/** The name of the note that keeps up to which change all was pulled. */
export const CURSOR = "pulled up to";

/** The name of the note that keeps the version which this phone offered, until the conflict about it is settled. */
export function ownVersionOf(conflict: string): string {
  return `own version in ${conflict}`;
}

/** The name of the note that keeps how far this phone's clock was off, and when that was found. */
export const CLOCK_COMPARED = "clock compared";

/** Note by how much this phone's clock is ahead of the server's; nothing where the server's time cannot be read. */
export async function compareClocks(db: PhoneDatabase, now: number, serverTime: string): Promise<void> {
  const ahead_s = Math.round((now - Date.parse(serverTime)) / 1000);
  if (!Number.isNaN(ahead_s)) await db.notes.put({ name: CLOCK_COMPARED, value: { ahead_s, known_at: serverTime } });
}

async function clockNow(db: PhoneDatabase, maker: Maker): Promise<DeviceClock> {
  const note = await db.notes.get(CLOCK_COMPARED);
  const known = (note?.value ?? { ahead_s: null, known_at: null }) as Omit<DeviceClock, "at">;
  return { at: new Date(maker.now()).toISOString(), ...known };
}

export interface Unsent {
  readonly number: number;
  readonly refused: number;
  /** When the oldest of them was made; null where all has been sent. */
  readonly oldest: string | null;
}

/** Tell how much is only on this phone. */
export async function unsent(db: PhoneDatabase): Promise<Unsent> {
  const entries = await db.outbox.orderBy("seq").toArray();
  const refused = entries.filter((entry) => entry.state === "refused").length;
  return { number: entries.length, refused, oldest: entries[0]?.device_clock.at ?? null };
}

/**
 * Throw a refused record away: its change, and, where the server never had it, the record with what hangs on it, since
 * none of that can be sent without it. Of a record that the server has, its version comes back with the next pull.
 */
export async function discardRefused(db: PhoneDatabase, seq: number): Promise<void> {
  await db.transaction("rw", [db.records, db.outbox, db.notes, db.steps, db.pictures], async () => {
    const entry = await db.outbox.get(seq);
    if (entry?.state !== "refused") return;
    await db.outbox.delete(seq);
    const held = await db.records.get([entry.kind, entry.record]);
    if (held?.version == null) await remove(db, entry.kind, entry.record);
    else await db.notes.put({ name: CURSOR, value: 0 });
  });
}

/** Whether the server refused a change only for want of its reason, as it does once the trip is closed. */
export function wantsReason(entry: Entry): boolean {
  return entry.state === "refused" && entry.problems.length > 0 && entry.problems.every((one) => one.where === "why");
}

/**
 * Send refused changes again, with the reason that was wanted: each under an id of its own, since the server has
 * answered to the old one, in its old place in the queue.
 */
export async function sendAgain(db: PhoneDatabase, maker: Maker, seqs: readonly number[], why: string): Promise<void> {
  await db.transaction("rw", db.outbox, async () => {
    for (const entry of await db.outbox.bulkGet([...seqs])) {
      if (entry === undefined || !wantsReason(entry)) continue;
      await db.outbox.put({ ...entry, id: maker.nextId(), why, based_on: null, offered: false, state: "waiting", problems: [] });
    }
  });
}

/** How many records hang on one: what goes with it when it is thrown away. */
export async function hangOn(db: PhoneDatabase, record: string): Promise<number> {
  const below = await db.records.where("parent").equals(record).toArray();
  const further = await Promise.all(below.map((one) => hangOn(db, one.id)));
  return below.length + further.reduce((all, one) => all + one, 0);
}

async function remove(db: PhoneDatabase, kind: string, id: string): Promise<void> {
  for (const below of await db.records.where("parent").equals(id).toArray()) await remove(db, below.kind, below.id);
  await db.records.delete([kind, id]);
  await db.outbox.where("[kind+record]").equals([kind, id]).delete();
  await db.pictures.where("of_record").equals(id).delete();
  await db.steps.filter((step) => step.haul === id || step.line === id).delete();
}

export const COPY_FORMAT = "creekledger unsent 1";

/**
 * Take the entries of a copy that another phone saved, under their own ids: whichever phone sends them first, the server
 * stores them once. What this phone shows of a record stays where it knows more of it. Gives how many came; throws
 * RangeError for another file.
 */
export async function takeCopy(db: PhoneDatabase, text: string): Promise<number> {
  const entries = entriesIn(text);
  return db.transaction("rw", db.records, db.outbox, async () => {
    let came = 0;
    const shown = new Set<string>();
    for (const entry of entries) {
      if ((await db.outbox.where("id").equals(entry.id).count()) > 0) continue;
      const { kind, record, parent, content } = entry;
      const own = await db.outbox.where("[kind+record]").equals([kind, record]).count();
      const held = await db.records.get([kind, record]);
      const bare = { kind, id: record, parent, version: null, code: "", conflict: "" };
      if (held === undefined || shown.has(record) || (own === 0 && held.version === entry.based_on)) {
        await db.records.put({ ...(held ?? bare), content });
        shown.add(record);
      }
      const { seq: _, ...copied } = entry;
      await db.outbox.add(copied);
      came += 1;
    }
    return came;
  });
}

function entriesIn(text: string): Entry[] {
  const wrong = new RangeError("this file is no copy of unsent records; take one that was saved by “Save a copy to a file”");
  let read: { format?: unknown; entries?: unknown };
  try {
    read = JSON.parse(text) as typeof read;
  } catch {
    throw wrong;
  }
  if (read?.format !== COPY_FORMAT || !Array.isArray(read.entries)) throw wrong;
  return read.entries as Entry[];
}

/**
 * Give everything that is only on this phone as the text of a file, to be kept elsewhere before the phone is lost.
 *
 * From here on another phone may send it: as after an attempt of this phone's own, it goes again unchanged, and what is
 * changed later goes behind it. A second change of a record is taken to be based on what the first will have made of it;
 * where the server made something else of that, it keeps both.
 */
export async function copyOfUnsent(db: PhoneDatabase): Promise<string> {
  const entries = await db.transaction("rw", db.records, db.outbox, async () => {
    const made = new Map<string, number>();
    const leaving: Entry[] = [];
    for (const entry of await db.outbox.orderBy("seq").toArray()) {
      const held = await db.records.get([entry.kind, entry.record]);
      const based_on = entry.offered ? entry.based_on : (made.get(entry.record) ?? held?.version ?? null);
      made.set(entry.record, (based_on ?? 0) + 1);
      leaving.push({ ...entry, offered: true, based_on });
    }
    await db.outbox.bulkPut(leaving);
    return leaving;
  });
  return JSON.stringify({ format: COPY_FORMAT, entries }, null, 1);
}
