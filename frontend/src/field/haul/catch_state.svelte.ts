/** What a catch screen shows: rows that keep their place under the finger, and what is left of each kind. */
import { Asking } from "../../checking/asking";
import type { HaulAnswer, Left, Question, Told } from "../../checking/answers";
import { plainName } from "../../core/finding_names";
import { animalsOf, nameOf, rowKey, type Row, type RowName } from "../../core/tally";

const MOST_SUGGESTED = 8;
const NOTHING: HaulAnswer = { left: {}, told: [], often: [], problems: [] };

/** A row's place on the screen. Two lines of one name and fate, as two phones may write them, are two rows. */
export interface Placed {
  readonly key: string;
  readonly name: RowName;
}

export class CatchState {
  /** The rows in their places: the haul's own, the newest on top as it was opened, then what may well come up. */
  order = $state.raw<readonly Placed[]>([]);
  answer = $state.raw<HaulAnswer>(NOTHING);
  /** Whether the checks have answered at all. */
  answered = $state(false);
  /** How many of each row were kept when the answer was asked for. */
  private keptThen = $state.raw<Readonly<Record<string, number>>>({});
  private readonly asking = new Asking((answer, question) => this.take(answer, question));
  private readonly keptAt = new WeakMap<Question, Readonly<Record<string, number>>>();

  constructor(private readonly named: () => void) {}

  private take(answer: HaulAnswer, question: Question): void {
    this.answer = answer;
    this.answered = true;
    this.keptThen = this.keptAt.get(question) ?? {};
    if (this.suggest(answer.often)) this.named();
  }

  /** Put rows of the haul that have no place yet on top; nothing else moves. */
  place(rows: readonly Row[]): void {
    const placed = new Set(this.order.map((one) => one.key));
    const fresh = rows.filter((row) => !placed.has(row.key));
    if (fresh.length > 0) this.order = [...fresh.toReversed().map((row) => ({ key: row.key, name: nameWithin(row) })), ...this.order];
  }

  /** Put a name that was looked for on top, unless it has its place. */
  putOnTop(name: RowName): void {
    const key = rowKey(name);
    if (!this.order.some((one) => one.key === key)) this.order = [{ key, name }, ...this.order];
  }

  /** Name a row that holds nothing yet otherwise, in its place; where such a row stands already, the empty one goes. */
  renameEmpty(from: string, name: RowName): void {
    const key = rowKey(name);
    const known = this.order.some((one) => one.key === key);
    this.order = this.order.flatMap((one) => (one.key !== from ? [one] : known ? [] : [{ key, name }]));
  }

  /** Add names that are likely to come up, below; gives whether there were any. */
  suggest(taxa: readonly string[]): boolean {
    const room = MOST_SUGGESTED - this.order.length;
    // A kind that had two rows before, as of both sexes, comes up once.
    const fresh = [...new Set(taxa)].filter((taxon) => !this.order.some((one) => one.name.taxon === taxon)).slice(0, Math.max(0, room));
    if (fresh.length > 0) this.order = [...this.order, ...fresh.map(plainName).map((name) => ({ key: rowKey(name), name }))];
    return fresh.length > 0;
  }

  ask(question: Question, rows: readonly Row[]): void {
    this.keptAt.set(question, keptNow(rows));
    this.asking.ask(question);
  }

  stop(): void {
    this.asking.stop();
  }

  leftOf(key: string): Left | undefined {
    return this.answer.left[key];
  }

  /** How many more may be kept, counting what was touched since the answer was asked for; null without a limit. */
  moreOf(key: string, rows: readonly Row[]): number | null {
    const more = this.answer.left[key]?.more ?? null;
    return more === null ? null : more - ((keptNow(rows)[key] ?? 0) - (this.keptThen[key] ?? 0));
  }

  /** What is broken because of the lines of a row. */
  toldOf(row: Row | undefined): Told[] {
    const lines = new Set(Object.values(row?.cells ?? {}).map((line) => line.id));
    return this.answer.told.filter((one) => one.outcome === "broken" && one.kind !== "area" && one.over.some((record) => lines.has(record)));
  }
}

export function nameWithin(row: Row): RowName {
  const line = Object.values(row.cells)[0];
  return line === undefined ? row : nameOf(line);
}

function keptNow(rows: readonly Row[]): Record<string, number> {
  return Object.fromEntries(rows.map((row) => [row.key, animalsOf(row.cells.kept).high]));
}
