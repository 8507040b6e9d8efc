/**
 * Running totals behind limits: which lines count, how much, in whose tally and in which period.
 *
 * Each version of a limit reads the whole period by its own words: what was taken before it began counts as before.
 */
import { parseMonthDay, permitYearStart, civil, dayOf } from "./calendar";
import { narrows, type Bound, type Only, type SizeClass, type TakeLimit, type Trigger } from "./conditions";
import { add, countOf, isExact, NOTHING, possibly, UNKNOWN, type Count } from "./counts";
import { exact, greatest, least, room, whole, ZERO, type Exact } from "./exact";
import { dayIn, type Facts, type LineFact } from "./facts";
import { fitLine, fitName, membersOf, shareInClass } from "./fitting";
import { parseQuantity, type Dimension } from "./measures";
import type { Authority, Clause } from "./permits";
import { both, type Fit, type Identification } from "./taxa";
import { BASIS_FATES, type Operator, type Period } from "./vocabulary";

const UNIT_OF: Readonly<Record<Dimension, string>> = { count: "individuals", mass: "g", volume: "L", length: "mm", area: "m2" };

/** One limit to be tallied: an amount over a period for one holder, of certain animals. */
export interface Spec {
  readonly clause: Clause<TakeLimit>;
  readonly label: string;
  readonly amount: Exact;
  readonly unit: string;
  readonly operator: Operator;
  readonly period: Period;
  readonly bound: Bound;
  readonly holder: string;
  /** null where the condition's own animals count; a list narrows to those. */
  readonly taxa: readonly string[] | null;
  readonly narrower: Only;
  /** One tally per name as recorded ("each taxon not listed"). */
  readonly byName: boolean;
  readonly part: boolean;
}

/** A line's share in a tally. */
export interface Entry {
  readonly line: LineFact;
  readonly count: Count;
}

/** Tell whether a limit counts whole animals, not litres or grams. */
export function isWholeIn(spec: Spec): boolean {
  return spec.unit === "individuals";
}

/** Read an amount as issued: a number and its base unit; throws RangeError for a container that is not listed. */
export function amountOf(authority: Authority, text: string, container = "", times = ""): readonly [Exact, string] {
  const factor = times === "" ? whole(1) : exact(times);
  if (container !== "") {
    const known = (authority.containers ?? []).find((one) => one.name === container);
    if (known === undefined) throw new RangeError(`the container '${container}' is not listed by '${authority.id}'`);
    return [exact(text).times(exact(known.litres)).times(factor), "L"];
  }
  const quantity = parseQuantity(text);
  return [quantity.inBase.times(factor), UNIT_OF[quantity.dimension]];
}

const SPECS = new WeakMap<Clause, readonly Spec[]>();

/** Give every limit that a take-limit clause holds: its bounds, its parts, its crew cap; the same ones each time. */
export function specsOf(clause: Clause<TakeLimit>): readonly Spec[] {
  let found = SPECS.get(clause);
  if (found === undefined) {
    found = [...read(clause)];
    SPECS.set(clause, found);
  }
  return found;
}

function* read(clause: Clause<TakeLimit>): Iterable<Spec> {
  const { condition } = clause;
  for (const bound of condition.limits) {
    const [amount, unit] = amountOf(clause.authority, bound.amount, bound.container, bound.times);
    const base = specOf(clause, bound, amount.times(whole(bound.years ?? 1)), unit, condition.holder ?? "permit");
    if (condition.each !== true) {
      yield base;
    } else if (condition.unlisted === true) {
      yield { ...base, byName: true };
    } else {
      for (const taxon of membersOf(clause, condition.taxa, condition.group)) {
        yield { ...base, label: joined(base.label, taxon), taxa: [taxon] };
      }
    }
  }
  yield* partsOf(clause);
}

function* partsOf(clause: Clause<TakeLimit>): Iterable<Spec> {
  const { condition } = clause;
  const first = condition.limits[0];
  if (first === undefined) return;
  for (const part of condition.parts ?? []) {
    const [amount, unit] = amountOf(clause.authority, part.amount);
    const base = specOf(clause, first, amount, unit, condition.holder ?? "permit");
    yield {
      ...base,
      label: joined(base.label, part.label),
      operator: part.operator ?? "at most",
      taxa: (part.taxa?.length ?? 0) > 0 ? (part.taxa ?? null) : null,
      narrower: { stages: part.stages ?? [], sexes: part.sexes ?? [], size: part.size ?? null },
      part: true,
    };
  }
  if ((condition.crew_cap ?? "") !== "") {
    const [amount, unit] = amountOf(clause.authority, condition.crew_cap ?? "");
    yield { ...specOf(clause, first, amount, unit, "crew"), label: "whole crew" };
  }
}

function specOf(clause: Clause<TakeLimit>, bound: Bound, amount: Exact, unit: string, holder: string): Spec {
  return {
    clause,
    label: clause.condition.limits.length > 1 ? `per ${bound.period}` : "",
    amount,
    unit,
    operator: bound.operator ?? "at most",
    period: bound.period,
    bound,
    holder,
    taxa: null,
    narrower: {},
    byName: false,
    part: false,
  };
}

function joined(...labels: readonly string[]): string {
  return labels.filter((label) => label !== "").join(", ");
}

/** Give a line's count in the unit of a limit; unknown where the record does not tell it. */
function countIn({ line }: LineFact, unit: string): Count {
  if (line.unit === unit) return line.count;
  if (unit === "g" && line.unit === "individuals" && line.weight !== null) return line.weight;
  return line.count.high.isZero ? NOTHING : UNKNOWN;
}

/** Give the count as far as it fits: all, only possibly, or not at all. */
export function shrunk(count: Count, fit: Fit): Count {
  if (fit.certain) return count;
  return fit.possible ? possibly(count, fit.likely) : NOTHING;
}

/** Give the lines that count in a spec, with how much, in order of capture. */
export function entriesOf(facts: Facts, spec: Spec): Entry[] {
  const found = linesIn(facts, spec);
  const { after } = spec.clause.condition;
  if (after == null) return found;
  // A part stands inside the whole, and so does the total that starts the limit.
  const all = spec.part ? linesIn(facts, { ...spec, taxa: null, narrower: {}, part: false }) : found;
  return afterTrigger(spec, after, found, all);
}

function linesIn(facts: Facts, spec: Spec): Entry[] {
  const { condition, authority } = spec.clause;
  const fates = BASIS_FATES[condition.counts ?? "kept"];
  const plain = !narrows(condition.only) && !narrows(spec.narrower);
  const found: Entry[] = [];
  for (const { name, lines } of facts.linesOf([authority.id, ...(condition.in_common_with ?? [])])) {
    const fit = fitSpec(facts, spec, name);
    if (!fit.possible) continue;
    for (const line of lines) {
      if (!fates.has(line.line.fate)) continue;
      const surely = plain && fit.certain && line.line.unit === spec.unit;
      const count = surely ? line.line.count : countFor(facts, spec, line, fit);
      if (!count.high.isZero) found.push({ line, count });
    }
  }
  return found.sort((a, b) => a.line.order - b.line.order);
}

/** Tell how a name fits the animals that a spec counts. */
export function fitSpec(facts: Facts, spec: Spec, name: Identification): Fit {
  const fit = fitName(facts, spec.clause, name);
  return spec.taxa === null ? fit : both(fit, facts.book.taxa.fit(name, spec.taxa));
}

/** Give how much of a line counts in a spec, its name fitting as said, once all that narrows is looked at. */
export function countFor(facts: Facts, spec: Spec, entry: LineFact, nameFit: Fit): Count {
  let fit = nameFit;
  let count = countIn(entry, spec.unit);
  for (const only of [spec.clause.condition.only, spec.narrower]) {
    if (!narrows(only)) continue;
    fit = both(fit, fitLine(facts, spec.clause, only, entry, false));
    if (only.size != null) count = inClass(entry, count, only.size);
  }
  return shrunk(count, fit);
}

function inClass(entry: LineFact, count: Count, size: SizeClass): Count {
  const own = entry.line.count;
  const [low, high] = shareInClass(entry.line, size);
  if (high.isZero) return NOTHING;
  if (whole(low).equals(own.low) && isExact(own)) return count;
  if (entry.line.unit !== "individuals" || count !== own) return possibly(count, low > 0);
  const most = high.isKnown ? high.floor() : count.high;
  return countOf(least(whole(low), count.low), least(whole(low), count.best), least(most, count.high));
}

/** Keep of each entry what lies beyond the amount at which the limit starts, counted over the whole. */
function afterTrigger(spec: Spec, trigger: Trigger, entries: readonly Entry[], all: readonly Entry[]): Entry[] {
  const [amount] = amountOf(spec.clause.authority, trigger.amount);
  const running = new Map<number | null, Count>();
  const before = new Map<LineFact, Count>();
  for (const entry of all) {
    const period = triggerPeriod(spec, trigger, entry.line);
    const stood = running.get(period) ?? NOTHING;
    before.set(entry.line, stood);
    running.set(period, add(stood, entry.count));
  }
  return entries
    .map((entry) => ({ line: entry.line, count: beyond(before.get(entry.line) ?? NOTHING, entry.count, amount) }))
    .filter((entry) => !entry.count.high.isZero);
}

/** Give what of a count lies beyond an amount when it comes on top of what stood before. */
function beyond(before: Count, count: Count, amount: Exact): Count {
  const part = (stood: Exact, taken: Exact): Exact => {
    const after = stood.plus(taken);
    return after.isKnown ? least(taken, greatest(ZERO, room(after, amount))) : taken;
  };
  return countOf(part(before.low, count.low), part(before.best, count.best), part(before.high, count.high));
}

function triggerPeriod(spec: Spec, trigger: Trigger, entry: LineFact): number | null {
  const { zone, year_starts: starts = "01-01" } = spec.clause.authority;
  const day = dayIn(zone, entry);
  if (trigger.period === "calendar year") return dayOf(civil(day).year, 1, 1);
  return trigger.period === "permit year" ? permitYearStart(day, parseMonthDay(starts)) : null;
}

/** Tell whether nobody counted a line's animals one by one; material measured exactly is no estimate. */
export function isEstimated({ line }: LineFact): boolean {
  if (line.unit !== "individuals") return !isExact(line.count);
  return line.method !== "counted" || !isExact(line.count);
}
