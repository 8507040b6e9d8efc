/** Figures, times and lengths of time as the desk writes them. */
import { localDay, parseDay, spokenDay, spokenTime } from "../checks/calendar";
import type { Count } from "../checks/counts";
import { isExact } from "../checks/counts";
import type { Exact } from "../checks/exact";
import { formatExact } from "../checks/measures";
import { amountNumber, amountWords } from "../checks/words";
import type { CountRead, Figure, Outcome, TallyRead } from "./answers";
import { countFrom, figureFrom } from "./season";

export const DASH = "\u2013";

/** Give an amount short enough for a column: a fraction that no decimal ends is cut at two places. */
export function shortAmount(amount: Exact): string {
  if (!amount.isKnown) return "unknown";
  return amount.isWhole ? formatExact(amount, 0) : formatExact(amount, 2).replace(/\.?0+$/, "");
}

/** Give the unit as it stands behind a number; individuals bear none. */
export function unitMark(unit: string): string {
  return unit === "individuals" ? "" : `\u00a0${unit}`;
}

/** Give a count as a range where it is in doubt: "12", "136–147", "at least 5", with its unit. */
export function rangeOf(count: Count, unit = "individuals"): string {
  if (isExact(count)) return count.high.isKnown ? `${shortAmount(count.best)}${unitMark(unit)}` : "unknown";
  if (!count.high.isKnown) return `at least ${shortAmount(count.low)}${unitMark(unit)}`;
  return `${shortAmount(count.low)}${DASH}${shortAmount(count.high)}${unitMark(unit)}`;
}

export function rangeFrom(count: CountRead, unit = "individuals"): string {
  return rangeOf(countFrom(count), unit);
}

/** Give a range as it is read aloud and in sentences: "12", "136 to 147, best 140". */
export function spokenRange(count: Count, unit = "individuals"): string {
  if (isExact(count)) return amountWords(count.best, unit);
  if (!count.high.isKnown) return `at least ${amountWords(count.low, unit)}`;
  const best = count.best.equals(count.low) || count.best.equals(count.high) ? "" : `, best ${amountNumber(count.best)}`;
  return `${amountNumber(count.low)} to ${amountWords(count.high, unit)}${best}`;
}

export function figureWords(figure: Figure, unit = "individuals"): string {
  return `${shortAmount(figureFrom(figure))}${unitMark(unit)}`;
}

export function limitOf(tally: TallyRead): string {
  const amount = `${shortAmount(figureFrom(tally.limit))}${unitMark(tally.unit)}`;
  return tally.operator === "fewer than" ? `under ${amount}` : amount;
}

/** How full a tally is: per cent of the limit for certain and at most (drawn no further than `MOST_SHOWN`), and in words. */
export interface Fullness {
  readonly low: number;
  readonly high: number;
  readonly words: string;
  readonly isOver: boolean;
}

const MOST_SHOWN = 100;

/** Say how full a tally is, by the server's per cents, which are those of the report. */
export function fullnessOf(tally: TallyRead): Fullness {
  const { used_low: low, used_high: high } = tally;
  const after = countFrom(tally.after);
  const isOver = after.low.compare(figureFrom(tally.limit)) > 0;
  if (low === null) {
    // Nothing is allowed, so there is no share of it.
    const none = after.high.isZero;
    return { low: isOver ? MOST_SHOWN : 0, high: none ? 0 : MOST_SHOWN, words: isOver ? "over the limit" : none ? "none taken" : "may be over", isOver };
  }
  const words = high === null ? `at least ${low} % full` : low === high ? `${low} % full` : `${low}${DASH}${high} % full`;
  return { low: Math.min(low, MOST_SHOWN), high: Math.min(high ?? MOST_SHOWN, MOST_SHOWN), words, isOver };
}

/** Say why a limit that more was taken under may yet be kept, as the report says it; "" where there is nothing to say. */
export function asideOf(tally: TallyRead, outcome: Outcome): string {
  const lowered = outcome === "met" && countFrom(tally.here).high.isZero && countFrom(tally.before).low.compare(figureFrom(tally.limit)) > 0;
  return lowered ? "all taken before the limit was lowered, none since" : "";
}

export const OUTCOMES: readonly Outcome[] = ["broken", "open", "met", "not used"];

export function dayOf(at: number | string | null, zone: string): string {
  const moment = typeof at === "string" ? Date.parse(at) : at;
  return moment === null || Number.isNaN(moment) ? "no date" : spokenDay(localDay(moment, zone));
}

export function timeOf(at: number | string | null, zone: string): string {
  const moment = typeof at === "string" ? Date.parse(at) : at;
  return moment === null || Number.isNaN(moment) ? "no time" : spokenTime(moment, zone);
}

/** Give a day of the wire ("2027-07-01") in words; "" stays "". */
export function writtenDay(day: string): string {
  return day === "" ? "" : spokenDay(parseDay(day));
}

/** Give by how much a phone's clock was ahead, in words; null was never compared. */
export function clockWords(fastSeconds: number | null): string {
  if (fastSeconds === null) return "never compared";
  const size = Math.abs(fastSeconds);
  if (size < 2) return "right to a second";
  return `${spanWords(size)} ${fastSeconds > 0 ? "fast" : "slow"}`;
}

/** Give a length of time in its two largest units: "45 s", "3 min 7 s", "2 h 5 min", "4 d 1 h". */
export function spanWords(seconds: number): string {
  const total = Math.round(seconds);
  const parts: readonly [number, string][] = [
    [Math.floor(total / 86_400), "d"],
    [Math.floor(total / 3600) % 24, "h"],
    [Math.floor(total / 60) % 60, "min"],
    [total % 60, "s"],
  ];
  const first = parts.findIndex(([size]) => size > 0);
  if (first === -1) return "0 s";
  return parts
    .slice(first, first + 2)
    .filter(([size]) => size > 0)
    .map(([size, unit]) => `${size} ${unit}`)
    .join(" ");
}

/** Give a number with its noun: "1 lot", "2 lots"; the plural may be said where it is no mere "s". */
export function many(number: number, one: string, more = `${one}s`): string {
  return `${number} ${number === 1 ? one : more}`;
}

/** Give names in a sentence: "Ann", "Ann and Bo", "Ann, Bo and Cy". */
export function listed(names: readonly string[]): string {
  if (names.length < 2) return names[0] ?? "";
  return `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
