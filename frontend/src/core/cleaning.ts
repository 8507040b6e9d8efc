/** Gear cleaned between two waters, as the trip's record holds it. */
import type { Clause } from "../checks/permits";
import type { Content } from "./outbox";

export interface Cleaned extends Content {
  readonly at: string;
  readonly method: string;
  /** Minutes, as a number or as the server writes them. */
  readonly minutes?: string | number;
  readonly gear?: string;
  readonly done?: boolean;
  readonly person?: string;
  readonly note?: string;
}

export interface CleaningAsked {
  readonly number: string;
  /** The condition as issued. */
  readonly text: string;
  readonly methods: readonly string[];
}

/** The conditions on cleaning, in the permit's own words. */
export function cleaningAsked(clauses: readonly Clause[]): CleaningAsked[] {
  return clauses.flatMap(({ condition }) => {
    if (condition.kind !== "cleaning") return [];
    const { text = "", methods } = condition as unknown as { text?: string; methods: readonly { method: string }[] };
    return [{ number: condition.number, text, methods: methods.map((one) => one.method) }];
  });
}

/** From one water to another, with the stretch of time in which the gear would have been cleaned. */
export interface Crossing {
  readonly from: string;
  readonly to: string;
  readonly since: number;
  readonly until: number;
}

const time = (text: unknown): number => Date.parse(String(text));

/**
 * Give the change of water before a haul, where no cleaning (nor that there was none) is noted; null where there was no
 * change, or a water is not noted. The haul before may be one of another trip. A cleaning counts from the end of the
 * haul before to the start of this one, as the judge has it.
 */
export function crossingOf(haul: Content, hauls: readonly Content[], cleanings: readonly Cleaned[]): Crossing | null {
  const order = (one: Content): string => `${new Date(time(one["start"])).toISOString()} ${String(one["id"])}`;
  const before = hauls.filter((one) => order(one) < order(haul)).toSorted((a, b) => (order(a) < order(b) ? -1 : 1)).at(-1);
  const [from, to] = [String(before?.["waterbody"] ?? ""), String(haul["waterbody"] ?? "")];
  if (before === undefined || from === "" || to === "" || from === to) return null;
  const until = time(haul["start"]);
  const ended = before["end"] === undefined ? Number.POSITIVE_INFINITY : time(before["end"]);
  const since = ended <= until ? ended : time(before["start"]);
  const noted = cleanings.some((one) => since <= time(one.at) && time(one.at) <= until);
  return noted ? null : { from, to, since, until };
}

const MINUTES = { minutes: 1, hours: 60, days: 1440 } as const;
export type SpanUnit = keyof typeof MINUTES;

/** Minutes of a span that was typed; null where none was, throws RangeError for what is none. */
export function minutesOf(typed: string, unit: SpanUnit): number | null {
  if (typed.trim() === "") return null;
  const number = Number(typed.trim().replace(",", "."));
  if (!(number > 0) || !Number.isFinite(number)) throw new RangeError(`“${typed}” is no length of time; write a number such as 15, or leave it empty`);
  return Math.round(number * MINUTES[unit]);
}

function spanWords(minutes: number): string {
  if (minutes >= 2 * 1440 && minutes % 1440 === 0) return `${minutes / 1440} days`;
  return minutes >= 120 && minutes % 60 === 0 ? `${minutes / 60} h` : `${minutes} min`;
}

/** What was noted, in a line: "seine S-1: hot water, 15 min" or "not cleaned". */
export function cleanedWords({ method, minutes, gear = "", done, note = "" }: Cleaned): string {
  const what = done === false ? "not cleaned" : [method, ...(minutes === undefined ? [] : [spanWords(Number(minutes))])].join(", ");
  return `${gear === "" ? "" : `${gear}: `}${what}${note === "" ? "" : ` (${note})`}`;
}
