/** Size limits: what was measured against the limit in the unit printed, exactly, never after rounding. */
import { spokenDay } from "../calendar";
import type { SizeLimit, SizeRule } from "../conditions";
import { Exact, room, UNKNOWN_AMOUNT, whole, ZERO } from "../exact";
import { byText, dayIn, type Facts, type LineFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { fitLine, valuesOf } from "../fitting";
import { compareLength, parseQuantity } from "../measures";
import { holdsAt, type Clause } from "../permits";
import { both, type Fit } from "../taxa";
import { BASIS_FATES, type Outcome } from "../vocabulary";

/** What is known of a group's sizes: animals outside for certain, possibly outside, and not measured. */
interface Sizes {
  lines: string[];
  outside: string[];
  outsideLow: number;
  outsideHigh: number;
  measured: number;
  unmeasuredHigh: Exact;
  values: number[];
}

/** Judge one version of a size limit over each haul, trip or day with such animals. */
export function judgeSizeLimit(facts: Facts, clause: Clause<SizeLimit>): Finding[] {
  const { condition } = clause;
  const fates = BASIS_FATES[condition.counts ?? "kept"];
  const groups = new Map<string, Sizes>();
  for (const { name, lines } of facts.linesOf([clause.authority.id])) {
    const named = facts.book.taxa.fit(name, condition.taxa);
    if (!named.possible) continue;
    for (const entry of lines) {
      if (!fates.has(entry.line.fate) || !holdsAt(clause, entry.at) || entry.line.count.high.isZero) continue;
      const fit = both(named, fitLine(facts, clause, condition.only, entry));
      if (fit.possible) addLine(groupFor(groups, aboutOf(clause, entry)), condition, entry, fit);
    }
  }
  return [...groups].sort(([a], [b]) => byText(a, b)).map(([about, sizes]) => findingOf(clause, about, sizes));
}

function groupFor(groups: Map<string, Sizes>, about: string): Sizes {
  const found = groups.get(about) ?? {
    lines: [],
    outside: [],
    outsideLow: 0,
    outsideHigh: 0,
    measured: 0,
    unmeasuredHigh: ZERO,
    values: [],
  };
  groups.set(about, found);
  return found;
}

function aboutOf(clause: Clause<SizeLimit>, entry: LineFact): string {
  const per = clause.condition.per ?? "trip";
  if (per === "haul") return `haul ${entry.haul.haul.id}`;
  return per === "trip" ? `trip ${entry.haul.trip.id}` : `day ${spokenDay(dayIn(clause.authority.zone, entry))}`;
}

/** Add one line's measured animals; what was not measured is counted, not judged. */
function addLine(sizes: Sizes, condition: SizeLimit, entry: LineFact, fit: Fit): void {
  const { measured, outside } = sizesOf(condition, entry);
  const only = condition.rules.length === 1 ? condition.rules[0] : undefined;
  if (only !== undefined) sizes.values.push(...valuesOf(entry.line, only.measure, only.variant));
  sizes.lines.push(entry.line.id);
  if (outside > 0) sizes.outside.push(entry.line.id);
  sizes.measured += measured;
  sizes.outsideLow += fit.certain ? outside : 0;
  sizes.outsideHigh += outside;
  sizes.unmeasuredHigh = sizes.unmeasuredHigh.plus(restOf(entry, measured));
}

/** Give how many animals were not measured, at most; of a line in litres or grams nobody knows their number. */
function restOf({ line }: LineFact, measured: number): Exact {
  const known = line.unit === "individuals" && line.count.high.isKnown;
  return known ? room(line.count.high, whole(measured)) : UNKNOWN_AMOUNT;
}

/**
 * Give how many animals were measured and how many are outside every alternative.
 *
 * The n-th value of each run is the n-th animal, so an animal fails only where each rule was measured and none is
 * satisfied; one that satisfies any rule passes.
 */
export function sizesOf({ rules }: SizeLimit, entry: LineFact): { measured: number; outside: number } {
  const runs = rules.map((rule) => ({ rule, values: valuesOf(entry.line, rule.measure, rule.variant) }));
  const animals = Math.max(0, ...runs.map((run) => run.values.length));
  let [measured, outside] = [0, 0];
  for (let animal = 0; animal < animals; animal++) {
    const known = runs.flatMap(({ rule, values }) => {
      const value = values[animal];
      return value === undefined ? [] : [satisfies(value, rule)];
    });
    const passes = known.includes(true);
    if (passes || known.length === runs.length) measured += 1;
    if (!passes && known.length === runs.length) outside += 1;
  }
  return { measured, outside };
}

/** Tell whether one measured animal (tenths of mm, or of g for a weight) is of the size allowed. */
export function satisfies(tenths: number, rule: SizeRule): boolean {
  let between = true;
  if ((rule.smallest ?? "") !== "") {
    const side = compareTo(tenths, rule, rule.smallest ?? "");
    between &&= side > 0 || (side === 0 && (rule.smallest_operator ?? "at least") === "at least");
  }
  if ((rule.largest ?? "") !== "") {
    const side = compareTo(tenths, rule, rule.largest ?? "");
    between &&= side < 0 || (side === 0 && (rule.largest_operator ?? "at most") === "at most");
  }
  return rule.inside === false ? !between : between;
}

function compareTo(tenths: number, rule: SizeRule, limit: string): -1 | 0 | 1 {
  const quantity = parseQuantity(limit);
  return rule.measure === "weight" ? Exact.of(BigInt(tenths), 10n).compare(quantity.inBase) : compareLength(tenths, quantity);
}

function outcomeFor(condition: SizeLimit, sizes: Sizes): Outcome {
  const tolerated = condition.tolerated ?? 0;
  if (sizes.outsideLow > tolerated) return "broken";
  if (sizes.outsideHigh > tolerated) return "open";
  if (!sizes.unmeasuredHigh.isZero && (sizes.measured === 0 || condition.measure_all === true)) {
    return whole(sizes.outsideHigh).plus(sizes.unmeasuredHigh).compare(whole(tolerated)) <= 0 ? "met" : "open";
  }
  return "met";
}

function findingOf(clause: Clause<SizeLimit>, about: string, sizes: Sizes): Finding {
  const { condition } = clause;
  const tolerated = condition.tolerated ?? 0;
  const outcome = outcomeFor(condition, sizes);
  let words = `${condition.taxa.join(", ")}: ${sizes.measured} measured, ${sizes.outsideHigh} outside ${ruleWords(condition)}`;
  if (tolerated > 0) words += `, ${tolerated} tolerated`;
  if (!sizes.unmeasuredHigh.isZero) words += `; ${mostWords(sizes)} not measured`;
  return findingFor(clause, outcome, about, `${words} (${about}).`, {
    settle: outcome === "open" ? settleOf(condition, sizes) : "",
    records: sizes.lines,
    over: sizes.outside,
    near: outcome === "met" && sizes.outsideHigh > 0 && sizes.outsideHigh === tolerated,
    measured: extremes(condition, sizes),
  });
}

function extremes(condition: SizeLimit, { values }: Sizes): (readonly [string, string])[] {
  if (values.length === 0) return [];
  const unit = condition.rules[0]?.measure === "weight" ? "g" : "mm";
  const shown = (value: number): string => `${Math.floor(value / 10)}.${value % 10} ${unit}`;
  return [
    ["smallest", shown(values.reduce((a, b) => Math.min(a, b)))],
    ["largest", shown(values.reduce((a, b) => Math.max(a, b)))],
  ];
}

function mostWords({ unmeasuredHigh }: Sizes): string {
  return unmeasuredHigh.isKnown ? String(unmeasuredHigh) : "an unknown number";
}

/** Give the size allowed, in the words and units as issued. */
export function ruleWords(condition: SizeLimit): string {
  return condition.rules.map(oneRule).join(" or ");
}

function oneRule(rule: SizeRule): string {
  const ends: string[] = [];
  if ((rule.smallest ?? "") !== "") ends.push(`${rule.smallest_operator ?? "at least"} ${rule.smallest}`);
  if ((rule.largest ?? "") !== "") ends.push(`${rule.largest_operator ?? "at most"} ${rule.largest}`);
  return `${measureWords(rule)} ${rule.inside === false ? "not " : ""}${ends.join(" and ")}`;
}

function measureWords(rule: SizeRule): string {
  return (rule.variant ?? "") === "" ? rule.measure : `${rule.measure} (${rule.variant})`;
}

function settleOf(condition: SizeLimit, sizes: Sizes): string {
  if (sizes.outsideHigh > (condition.tolerated ?? 0)) return "Needs a sure name for the animals outside the size.";
  const names = condition.rules.map(measureWords).join(" or ");
  return `Needs ${names} of ${sizes.unmeasuredHigh.equals(whole(1)) ? "1 animal" : "the animals"} not measured.`;
}
