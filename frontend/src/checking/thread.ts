/** The checks' own thread: it reads what is stored and answers, so that a touch never waits for a sum over the season. */
import { namesOf, withNames } from "../core/record_names";
import type { StoredRecord } from "../device/database";
import { PhoneDatabase } from "../device/database";
import { answerFor, type HaulAnswer, type Question } from "./answers";
import { seasonAround, shelfOf, tripRead, type Shelf, type TripRead } from "./book";

export interface Asked {
  readonly ask: number;
  readonly question: Question;
}

export interface Answered {
  readonly ask: number;
  readonly answer: HaulAnswer;
}

/** What was read of the season, until something is pulled. */
interface Known {
  readonly mark: string;
  readonly zone: string;
  readonly shelf: Shelf;
  readonly around: ReturnType<typeof seasonAround>;
  readonly trips: Map<string, TripRead>;
  /** What records are called in sentences. */
  readonly names: Map<string, string>;
}

/** How many records are read in one piece: some ten milliseconds on a slow phone. */
const PIECE = 250;

/** Answers questions over one database; the trip in hand is read anew each time, the others once. */
export class Checker {
  private known: Known | null = null;

  constructor(private readonly db: PhoneDatabase) {}

  async answer(question: Question): Promise<HaulAnswer> {
    const known = await this.upToDate();
    const { trip, problems } = await this.tripNow(known, question.trip);
    await letGo();
    const others = [...known.trips].filter(([id]) => id !== question.trip).map(([, read]) => read);
    const trips = [...others.map((read) => read.trip), trip].filter((one) => one !== null);
    const answer = answerFor(known.shelf, { ...known.around.season, trips }, question);
    const told = [...known.shelf.problems, ...known.around.problems, ...others.flatMap((one) => one.problems), ...problems];
    const names = new Map([...known.names, [question.haul, "this haul"], [question.trip, "this trip"]]);
    return {
      ...answer,
      told: answer.told.map((one) => ({ ...one, plain: withNames(one.plain, names) })),
      problems: [...new Set([...told, ...answer.problems])].map((one) => withNames(one, names)),
    };
  }

  private async upToDate(): Promise<Known> {
    // The cursor alone stays where it is while something is unanswered here, whatever else came.
    const notes = await this.db.notes.bulkGet(["pulled up to", "pulled at"]);
    const mark = notes.map((note) => String(note?.value ?? "")).join(" ");
    if (this.known?.mark === mark) return this.known;
    const records = await this.everything();
    const zone = zoneOf(records);
    const shelf = shelfOf(records);
    const trips = new Map<string, TripRead>();
    const below = childrenOf(records);
    for (const one of records) {
      if (one.kind !== "trip" || one.content["status"] === "cancelled") continue;
      const hauls = (below.get(one.id) ?? []).filter((own) => own.kind === "haul");
      const lines = hauls.flatMap((haul) => (below.get(haul.id) ?? []).filter((own) => own.kind === "line"));
      trips.set(one.id, tripRead(one.content, hauls, lines, shelf, zone));
    }
    this.known = { mark, zone, shelf, around: seasonAround(records, shelf, zone), trips, names: namesOf(records) };
    return this.known;
  }

  /** Read all records in short pieces, so that a touch never waits for the whole of a long season to be read. */
  private async everything(): Promise<StoredRecord[]> {
    const found: StoredRecord[] = [];
    let last: [string, string] = ["", ""];
    for (;;) {
      const piece = await this.db.records.where("[kind+id]").above(last).limit(PIECE).toArray();
      found.push(...piece);
      await letGo();
      const end = piece.at(-1);
      if (end === undefined || piece.length < PIECE) return found;
      last = [end.kind, end.id];
    }
  }

  private async tripNow(known: Known, id: string): Promise<TripRead> {
    const [stored, below] = await Promise.all([
      this.db.records.get(["trip", id]),
      this.db.records.where("parent").equals(id).toArray(),
    ]);
    if (stored === undefined) return { trip: null, problems: [] };
    const hauls = below.filter((one) => one.kind === "haul");
    const lines = await this.db.records.where("parent").anyOf(hauls.map((one) => one.id)).toArray();
    const read = tripRead(stored.content, hauls, lines.filter((one) => one.kind === "line"), known.shelf, known.zone);
    known.trips.set(id, read);
    for (const [record, name] of namesOf([stored, ...hauls, ...lines])) known.names.set(record, name);
    return read;
  }
}

/**
 * Let the database go before the reckoning: a transaction ends only when its thread comes to rest, and as long as it
 * has not, a touch on the screen would wait for it.
 */
function letGo(): Promise<void> {
  return new Promise((resolve) => {
    setTimeout(resolve, 0);
  });
}

/** The zone of records that name none: the permit's own. */
function zoneOf(records: readonly StoredRecord[]): string {
  const authority = records.find((one) => one.kind === "authority");
  return String(authority?.content["zone"] ?? "UTC");
}

function childrenOf(records: readonly StoredRecord[]): Map<string, StoredRecord[]> {
  const found = new Map<string, StoredRecord[]>();
  for (const one of records) {
    if (one.parent === "") continue;
    const siblings = found.get(one.parent);
    if (siblings === undefined) found.set(one.parent, [one]);
    else siblings.push(one);
  }
  return found;
}
