/**
 * The catch of one haul as rows of a screen: each row is a name with stage and sex, each cell a catch line.
 *
 * A line that this phone writes holds a whole number, or low, best and high where it was estimated; what came from
 * elsewhere in another way of writing is shown as it is, and added to only where it can be.
 */
import type { Content } from "./outbox";

export type Fate = "kept" | "released" | "dead" | "lost";
export const FATES: readonly Fate[] = ["kept", "released", "dead", "lost"];

export interface Triple {
  readonly low: number;
  readonly best: number;
  readonly high: number;
}

/** What a row stands for. */
export interface RowName {
  readonly taxon: string;
  readonly doubt: string;
  /** "unknown 1", where nobody could name the animal yet. */
  readonly written: string;
  readonly stage: string;
  readonly sex: string;
}

export interface Line extends Content {
  readonly id: string;
}

export interface Row extends RowName {
  readonly key: string;
  readonly cells: Readonly<Partial<Record<Fate, Line>>>;
}

export function rowKey(name: RowName): string {
  return [name.taxon, name.doubt, name.written, name.stage, name.sex].join("|");
}

export function nameOf(line: Content): RowName {
  const text = (field: string): string => (typeof line[field] === "string" ? (line[field] as string) : "");
  return { taxon: text("taxon"), doubt: text("doubt"), written: text("name_as_written"), stage: text("stage"), sex: text("sex") };
}

/** Give the rows of a haul in the order in which their first line was made. A second line for one cell stands by itself. */
export function rowsOf(lines: readonly Line[]): Row[] {
  const rows = new Map<string, Row>();
  for (const line of lines) {
    const name = nameOf(line);
    const fate = (typeof line["fate"] === "string" ? line["fate"] : "released") as Fate;
    let key = rowKey(name);
    while (rows.get(key)?.cells[fate] !== undefined) key += "+";
    const row = rows.get(key) ?? { ...name, key, cells: {} };
    rows.set(key, { ...row, cells: { ...row.cells, [fate]: line } });
  }
  return [...rows.values()];
}

/** Read a count as this phone writes it; null for another way of writing. */
export function tripleOf(count: unknown): Triple | null {
  if (typeof count === "number") return { low: count, best: count, high: count };
  if (typeof count !== "object" || count === null) return null;
  const { low, best, high } = count as Record<string, unknown>;
  const [a, b, c] = [Number(low), Number(best), Number(high)];
  return [a, b, c].every(Number.isFinite) ? { low: a, best: b, high: c } : null;
}

export const NONE: Triple = { low: 0, best: 0, high: 0 };

/** Give the animals of a line: none where there is no line, or where it holds litres or grams of material. */
export function animalsOf(line: Content | undefined): Triple {
  if (line === undefined || !isInAnimals(line)) return NONE;
  return tripleOf(line["count"]) ?? NONE;
}

/** Whether a line counts animals, and does not hold litres, grams or the like. */
export function isInAnimals(line: Content): boolean {
  return (line["unit"] ?? "individuals") === "individuals" && typeof line["count"] !== "string";
}

export function written(count: Triple): number | Triple {
  return count.low === count.high ? count.best : count;
}

export function plus(a: Triple, b: Triple): Triple {
  return { low: a.low + b.low, best: a.best + b.best, high: a.high + b.high };
}

export function sum(counts: readonly Triple[]): Triple {
  return counts.reduce(plus, NONE);
}

/** What was counted is sure; "about" is taken as a quarter either way, outward to whole animals, as the core does. */
export function howMany(number: number, about: boolean): Triple {
  if (!about) return { low: number, best: number, high: number };
  return { low: Math.floor(number * 0.75), best: number, high: Math.ceil(number * 1.25) };
}

/** Give a line with so many more; `null` begins one of this name and fate. Throws RangeError for a count written otherwise. */
export function withMore(line: Line | null, make: () => Line, more: Triple): Line {
  const old = line ?? make();
  const before = line === null ? NONE : tripleOf(line["count"]);
  if (before === null || (old["unit"] ?? "individuals") !== "individuals") {
    throw new RangeError("This line is not counted in animals. Open its details to change it.");
  }
  const count = plus(before, more);
  return { ...old, count: written(count), method: count.low === count.high ? "counted" : "by eye" };
}

/** Give a line for an amount of material as it was measured: "2 shell crate", "3.5 L", "500 g". Each is a line of its own. */
export function withAmount(make: () => Line, amount: string): Line {
  const { unit: _unit, method: _method, ...rest } = make();
  return { ...rest, count: amount } as Line;
}

/** A run of lengths (in mm) or weights (in g) under one named measure. */
export interface Run extends Content {
  readonly measure: string;
  readonly values: readonly string[];
}

export function runsOf(line: Content | null | undefined): readonly Run[] {
  const runs = line?.["measurements"];
  return Array.isArray(runs) ? (runs as Run[]) : [];
}

/**
 * Add one measured animal. Animals that were tallied already are measured first; beyond those each value is one animal
 * more, so that a run of lengths needs no counting beside it.
 */
export function withValue(line: Line | null, make: () => Line, measure: string, value: string): Line {
  const old = line ?? make();
  const runs = runsOf(old);
  const own = runs.find((run) => run.measure === measure);
  const grown: Run = { ...(own ?? { measure, values: [] }), values: [...(own?.values ?? []), value] };
  const measurements = own === undefined ? [...runs, grown] : runs.map((run) => (run === own ? grown : run));
  const counted = line === null ? NONE : (tripleOf(old["count"]) ?? NONE);
  const count = atLeast(counted, grown.values.length);
  return { ...old, count: written(count), method: count.low === count.high ? "counted" : "by eye", measurements };
}

/** What was estimated stays so, but no bound of it is below what was in the hand. */
function atLeast({ low, best, high }: Triple, number: number): Triple {
  return { low: Math.max(low, number), best: Math.max(best, number), high: Math.max(high, number) };
}

/** The animals met with: kept, released, dead and lost together. */
export function encountered(row: Row): Triple {
  return sum(FATES.map((fate) => animalsOf(row.cells[fate])));
}

export function countWords(count: Triple): string {
  return count.low === count.high ? String(count.best) : `about ${count.best}`;
}
