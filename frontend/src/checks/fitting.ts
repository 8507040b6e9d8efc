/** Whether a line or a haul fits a description. What is not recorded may fit; doubt fits as far as it allows. */
import { holds } from "./calendar";
import { narrows, type Only, type Prohibited, type SizeClass, type TakeLimit } from "./conditions";
import { type Exact, greatest, least, UNKNOWN_AMOUNT, whole, ZERO } from "./exact";
import { dayIn, type Facts, type HaulFact, type LineFact } from "./facts";
import { compareLength, parseQuantity } from "./measures";
import type { Clause } from "./permits";
import type { Line } from "./records";
import { both, either, MAYBE, NO, PROBABLY, YES, type Fit, type Identification, type Taxa } from "./taxa";

/** Give the taxa that a condition names, by themselves or through a group of that version. */
export function membersOf(clause: Clause, taxa: readonly string[] = [], group = ""): readonly string[] {
  return group === "" ? taxa : groupOf(clause, group).taxa;
}

export function groupOf(clause: Clause, group: string): { readonly title: string; readonly taxa: readonly string[] } {
  const found = clause.version.groups.get(group);
  if (found === undefined) throw new RangeError(`the group '${group}' is not listed by '${clause.authority.id}'`);
  return found;
}

/** Give every taxon that the clause's version names in another take limit or prohibition. */
function listedElsewhere(clause: Clause): readonly string[] {
  const named = new Set<string>();
  for (const condition of clause.version.conditions.values()) {
    if (condition.number === clause.condition.number) continue;
    if (condition.kind === "take limit" || condition.kind === "prohibited taxon") {
      for (const taxon of membersOf(clause, condition.taxa, condition.group)) named.add(taxon);
    }
  }
  return [...named];
}

/** Tell how a name fits the animals of a take limit or prohibition (taxa, group or unlisted). */
export function fitName(facts: Facts, clause: Clause<TakeLimit | Prohibited>, name: Identification): Fit {
  return fitNamed(facts.book.taxa, clause, name);
}

/** Likewise, from the names alone. */
export function fitNamed(taxa: Taxa, clause: Clause<TakeLimit | Prohibited>, name: Identification): Fit {
  const { condition } = clause;
  if (condition.unlisted !== true) return taxa.fit(name, membersOf(clause, condition.taxa, condition.group));
  if (taxa.rank(name.taxon) === "material") return NO;
  return opposite(taxa.fit(name, listedElsewhere(clause)));
}

/** Turn "fits the listed ones" into "fits none of them". */
function opposite(fit: Fit): Fit {
  return { certain: !fit.possible, likely: !fit.likely && !fit.certain, possible: !fit.certain };
}

/** Tell how a name fits a list of taxa; an empty list narrows nothing. */
export function fitTaxa(facts: Facts, name: Identification, taxa: readonly string[] = []): Fit {
  return taxa.length > 0 ? facts.book.taxa.fit(name, taxa) : YES;
}

/** Tell how a recorded word fits a list; an unrecorded word may fit. */
export function fitWord(recorded: string, wanted: readonly string[] = []): Fit {
  if (wanted.length === 0) return YES;
  if (recorded === "") return MAYBE;
  return wanted.includes(recorded) ? YES : NO;
}

export function yesIf(holdsTrue: boolean): Fit {
  return holdsTrue ? YES : NO;
}

/** Tell how a haul fits what narrows a condition (all but taxa, stage, sex, size, person). */
export function fitHaul(facts: Facts, clause: Clause, only: Only, fact: HaulFact, dated = true): Fit {
  const parts = [
    fitWord(fact.haul.gear?.gear ?? "", only.gear),
    fitWord(fact.haul.waterbody, only.waters),
    fitWord(fact.haul.site, only.sites),
  ];
  if (dated && (only.dates?.length ?? 0) > 0) parts.push(fitDates(clause, only, fact));
  if (only.areas !== undefined && only.areas.length > 0) parts.push(fitAreas(facts, fact, only.areas));
  return both(...parts);
}

function fitDates(clause: Clause, only: Only, caught: HaulFact | LineFact): Fit {
  const day = dayIn(clause.authority.zone, caught);
  return yesIf((only.dates ?? []).some((dates) => holds(dates, day)));
}

/** Tell how a haul lies in several areas joined into one. */
export function fitAreas(facts: Facts, fact: HaulFact, areas: readonly string[]): Fit {
  if (fact.haul.fixes.length === 0) return MAYBE;
  const answer = facts.placeTogether(fact, areas);
  if (answer.whole === "inside") return YES;
  if (answer.whole === "outside") return NO;
  return answer.least_m >= 0 ? PROBABLY : MAYBE;
}

/** Tell how a catch line fits everything that narrows a condition; its size class only where asked. */
export function fitLine(facts: Facts, clause: Clause, only: Only | undefined, entry: LineFact, sized = true): Fit {
  if (only === undefined) return YES;
  const { line } = entry;
  const parts = [fitTaxa(facts, entry.name, only.taxa), fitWord(line.stage, only.stages), fitWord(line.sex, only.sexes)];
  if ((only.persons?.length ?? 0) > 0) parts.push(yesIf(only.persons?.includes(entry.person) ?? false));
  if (sized && only.size != null) parts.push(fitSize(entry, only.size));
  // The line's own day counts where it was taken at another moment than its haul.
  const dated = (only.dates?.length ?? 0) > 0 && line.at !== null;
  if (dated) parts.push(fitDates(clause, only, entry));
  const fit = both(...parts);
  return fit.possible ? both(fit, fitHaul(facts, clause, only, entry.haul, !dated)) : fit;
}

/** Tell whether at least one animal of a line fits what narrows a condition. */
export function fitSome(facts: Facts, clause: Clause, only: Only | undefined, entry: LineFact): Fit {
  if (only?.size == null) return fitLine(facts, clause, only, entry);
  return both(someInClass(entry.line, only.size), fitLine(facts, clause, only, entry, false));
}

function someInClass(line: Line, size: SizeClass): Fit {
  const [low, high] = shareInClass(line, size);
  if (high.isZero) return NO;
  return low > 0 ? YES : MAYBE;
}

/** Tell how a line's animals fit a size class: certain only where each one was measured and fits. */
function fitSize(entry: LineFact, size: SizeClass): Fit {
  const [low, high] = shareInClass(entry.line, size);
  if (high.isZero) return NO;
  return whole(low).equals(entry.line.count.high) ? YES : MAYBE;
}

/** Give how many of a line's animals are in a size class, at least and at most. */
export function shareInClass(line: Line, size: SizeClass): readonly [low: number, high: Exact] {
  const measured = valuesOf(line, size.measure, size.variant);
  const inside = measured.filter((value) => isInClass(value, size)).length;
  const outside = whole(measured.length - inside);
  const high = line.count.high.isKnown ? greatest(ZERO, line.count.high.minus(outside)) : UNKNOWN_AMOUNT;
  return [Number(least(whole(inside), line.count.low.floor()).top), high];
}

/** Give what was measured of a line under a named measure (and variant, where one is asked for). */
export function valuesOf(line: Line, measure: string, variant = ""): number[] {
  return line.measurements
    .filter((run) => run.measure === measure && (variant === "" || run.variant === variant))
    .flatMap((run) => run.values);
}

function isInClass(value: number, size: SizeClass): boolean {
  if ((size.smallest ?? "") !== "") {
    const side = compareLength(value, parseQuantity(size.smallest ?? ""));
    if (side < 0 || (side === 0 && size.smallest_included === false)) return false;
  }
  if ((size.largest ?? "") !== "") {
    const side = compareLength(value, parseQuantity(size.largest ?? ""));
    if (side > 0 || (side === 0 && size.largest_included === false)) return false;
  }
  return true;
}

/** Tell whether a haul kept animals such as a condition is narrowed to. */
function fitKept(facts: Facts, only: Only, fact: HaulFact): Fit {
  const asked = [only.taxa, only.stages, only.sexes].some((list) => (list?.length ?? 0) > 0) || only.size != null;
  if (!asked) return YES;
  const fits = fact.haul.lines
    .filter((line) => line.fate === "kept" && !line.count.high.isZero)
    .map((line) =>
      both(
        line.count.low.isZero ? MAYBE : YES,
        fitTaxa(facts, line.name, only.taxa),
        fitWord(line.stage, only.stages),
        fitWord(line.sex, only.sexes),
        only.size != null ? someInClass(line, only.size) : YES,
      ),
    );
  return either(...fits);
}

/** Tell how a haul fits everything that narrows a condition on hauls. */
export function fitWorked(facts: Facts, clause: Clause, fact: HaulFact): Fit {
  const { only } = clause.condition;
  if (!narrows(only)) return YES;
  const parts = [fitHaul(facts, clause, only, fact), fitKept(facts, only, fact)];
  if ((only.persons?.length ?? 0) > 0) {
    parts.push(yesIf(only.persons?.includes(fact.haul.person || fact.trip.leader) ?? false));
  }
  return both(...parts);
}
