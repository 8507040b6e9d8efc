/**
 * How many more may be kept: the least over every limit that covers an animal and over the trip's allotments, with the
 * one that binds. The safe number is given: what may have been taken already counts as taken.
 */
import { bucketsOf, hypothetical, isInPeriod, sameKey, type Key } from "./buckets";
import type { Instant } from "./calendar";
import type { Condition, Prohibited } from "./conditions";
import { add, exactly, leftOf, NOTHING, total, UNKNOWN, type Count } from "./counts";
import { ONE, room, ZERO, type Exact } from "./exact";
import { dayIn, type Facts, type LineFact } from "./facts";
import { fitLine, fitName } from "./fitting";
import { heldAfter, heldTallies } from "./holdings";
import { holdsAt, type Clause } from "./permits";
import type { Haul, Line, Trip } from "./records";
import { amountOf, entriesOf, fitSpec, isWholeIn, specsOf, type Spec } from "./tallies";
import { both, type Fit, type Identification } from "./taxa";
import { BASIS_FATES, type Period, type Unit } from "./vocabulary";

/** What a trip was given of a limit before it left signal, as the server names it. */
export interface Allotment {
  readonly authority: string;
  readonly number: string;
  readonly label: string;
  /** The taxon, where a limit counts each name by itself. */
  readonly name: string;
  readonly unit: string;
  readonly amount: Exact;
}

/** What one limit still allows of an animal: `left` (its low is safe), and whether it covers it for certain. */
export interface Room {
  readonly number: string;
  readonly label: string;
  readonly limit: Exact;
  readonly taken: Count;
  readonly left: Count;
  readonly certain: boolean;
  /** Whether it is the limit itself that speaks, or the crew's allotment under it. */
  readonly by: "limit" | "allotment" | "prohibition";
  /** The unit of its amounts. */
  readonly unit: Unit;
  /** The vessel that the limit is printed in, with its litres; null for the unit itself. */
  readonly vessel: { readonly name: string; readonly litres: Exact } | null;
}

export interface Allowance {
  readonly authority: string;
  /** null where no limit covers the animal. */
  readonly more: Exact | null;
  readonly binding: Room | null;
  readonly rooms: readonly Room[];
}

/** Where and when an animal is about to be kept, and by whom; what is not given is not recorded. */
export interface Situation {
  readonly at: Instant;
  readonly trip: Trip;
  readonly haul: Haul;
  readonly person?: string;
  readonly stage?: string;
  readonly sex?: string;
  /** What it is measured in: only limits in that unit are looked at. Animals where nothing is said. */
  readonly unit?: Unit;
}

/** Give how many more of an animal so named may be kept now under an authority, within these allotments. */
export function keepAtMost(
  facts: Facts,
  authority: string,
  name: Identification,
  situation: Situation,
  allotments: readonly Allotment[] = [],
): Allowance {
  const entry = imagined(authority, name, situation);
  const known = facts.clauses.get(facts.authority(authority).id) ?? new Map<string, readonly Clause[]>();
  const clauses = [...known.values()].flat().filter((one) => holdsAt(one, situation.at));
  const rooms = clauses.flatMap((clause) => roomsUnder(facts, clause, entry, allotments));
  const binding = rooms.length === 0 ? null : rooms.reduce((best, one) => (isTighter(one, best) ? one : best));
  return { authority, more: binding?.left.low ?? null, binding, rooms };
}

/** Of equally tight rooms the one that surely covers the animal binds, then the widest limit. */
function isTighter(one: Room, other: Room): boolean {
  const side = one.left.low.compare(other.left.low);
  if (side !== 0) return side < 0;
  if (one.certain !== other.certain) return one.certain;
  return one.limit.compare(other.limit) > 0;
}

/** Build the line that keeping one more such animal would make. */
function imagined(authority: string, name: Identification, { at, trip, haul, person, stage, sex, unit }: Situation): LineFact {
  const line: Line = {
    id: "",
    name,
    count: exactly(ONE),
    unit: unit ?? "individuals",
    fate: "kept",
    method: "counted",
    stage: stage ?? "",
    sex: sex ?? "",
    authority,
    person: "",
    container: "",
    weight: null,
    measurements: [],
    at: null,
  };
  const fact = { haul: { ...haul, lines: [] }, trip, at, under: new Set([authority]) };
  return { line, haul: fact, at, authority, person: (person ?? "") || haul.person || trip.leader, name, order: 0 };
}

function roomsUnder(facts: Facts, clause: Clause, entry: LineFact, allotments: readonly Allotment[]): Room[] {
  if (isOfKind(clause, "prohibited taxon")) return prohibition(facts, clause, entry);
  if (!isOfKind(clause, "take limit")) return [];
  return specsOf(clause).flatMap((spec) => [...limitRoom(facts, spec, entry), ...allotmentRooms(facts, spec, entry, allotments)]);
}

function isOfKind<Kind extends Condition["kind"]>(
  clause: Clause,
  kind: Kind,
): clause is Clause<Extract<Condition, { kind: Kind }>> {
  return clause.condition.kind === kind;
}

function prohibition(facts: Facts, clause: Clause<Prohibited>, entry: LineFact): Room[] {
  const { number, counts, only } = clause.condition;
  const fit = both(fitName(facts, clause, entry.name), fitLine(facts, clause, only, entry));
  if (!fit.possible || !BASIS_FATES[counts ?? "kept"].has("kept")) return [];
  const none = { limit: ZERO, taken: NOTHING, left: NOTHING };
  return [{ number, label: "prohibited", ...none, certain: fit.certain, by: "prohibition", unit: entry.line.unit, vessel: null }];
}

/** Give what one limit leaves for the animal, none where it does not cover it. */
function limitRoom(facts: Facts, spec: Spec, entry: LineFact): Room[] {
  const entered = spec.unit === entry.line.unit ? hypothetical(facts, spec, entry) : [];
  if (entered.length === 0) return [];
  const taken = entered
    .map((key) => takenIn(facts, spec, entry, key))
    .reduce((most, one) => (one.high.compare(most.high) > 0 ? one : most));
  const left = leftOf(taken, spec.amount, spec.operator, isWholeIn(spec));
  return [{ ...roomHead(facts, spec, entry), limit: spec.amount, taken, left, by: "limit" }];
}

function roomHead(facts: Facts, spec: Spec, entry: LineFact): Pick<Room, "number" | "label" | "certain" | "unit" | "vessel"> {
  const { container: name = "" } = spec.bound;
  const vessel = name === "" ? null : { name, litres: amountOf(spec.clause.authority, "1", name)[0] };
  return { number: spec.clause.condition.number, label: spec.label, certain: coverOf(facts, spec, entry).certain, unit: entry.line.unit, vessel };
}

function coverOf(facts: Facts, spec: Spec, entry: LineFact): Fit {
  return both(fitSpec(facts, spec, entry.name), fitLine(facts, spec.clause, spec.clause.condition.only, entry));
}

/** Give what stands against the limit in the tally that the animal would enter. */
function takenIn(facts: Facts, spec: Spec, entry: LineFact, entered: Key): Count {
  if (spec.period === "held") return heldIn(facts, spec, entry, entered);
  const own = bucketsOf(facts, spec)
    .filter((bucket) => sameKey(bucket.key, entered))
    .flatMap((bucket) => bucket.entries)
    .filter((one) => one.line.at <= entry.at && isInWindow(spec, entry, one.line));
  const sum = total(own.map((one) => one.count));
  if (spec.holder !== "everybody") return sum;
  const { authority, condition } = spec.clause;
  const published = facts
    .published(authority.id, condition.number)
    .filter((one) => one.as_of <= entry.at && isInPeriod(spec, entered, one.as_of))
    .at(-1);
  if (published === undefined) return add(UNKNOWN, sum);
  // A published total holds the own take up to its moment; only what came after stands on top.
  return add(published.total, total(own.filter((one) => one.line.at > published.as_of).map((one) => one.count)));
}

function heldIn(facts: Facts, spec: Spec, entry: LineFact, entered: Key): Count {
  const found = heldTallies(facts, spec).find(([bucket]) => sameKey(bucket.key, entered));
  if (found === undefined) return NOTHING;
  const [bucket, gains] = found;
  const before = heldAfter(facts, bucket.entries, gains, spec.unit).filter((moment) => moment.at <= entry.at);
  return before.at(-1)?.held ?? NOTHING;
}

/** Tell whether a line is in the same run of rolling days; other periods are the tally's own. */
function isInWindow(spec: Spec, entry: LineFact, other: LineFact): boolean {
  if (spec.period !== "rolling days") return true;
  const { zone } = spec.clause.authority;
  const ago = dayIn(zone, entry) - dayIn(zone, other);
  return ago >= 0 && ago < (spec.bound.days ?? 1);
}

/** Periods in which two trips may draw on one tally: only of those are allotments given. */
const SHARED_PERIODS: ReadonlySet<Period> = new Set<Period>([
  "day",
  "rolling days",
  "month",
  "calendar year",
  "permit year",
  "season",
  "term",
]);

/**
 * Give what is left of the crew's allotments under one limit.
 *
 * All that this trip took in that limit counts, whenever it was taken and at its highest, as the server reckons it.
 */
function allotmentRooms(facts: Facts, spec: Spec, entry: LineFact, allotments: readonly Allotment[]): Room[] {
  const { authority, condition } = spec.clause;
  if (spec.unit !== entry.line.unit || spec.holder !== "permit" || !SHARED_PERIODS.has(spec.period) || !coverOf(facts, spec, entry).possible) return [];
  const name = spec.byName ? entry.name.taxon : "";
  return allotments
    .filter((one) => one.authority === authority.id && one.number === condition.number && one.label === spec.label)
    .filter((one) => one.name === name)
    .map((one) => {
      const taken = takenByTrip(facts, spec, entry, one);
      const left = { low: room(one.amount, taken.high), best: room(one.amount, taken.best), high: room(one.amount, taken.low) };
      return { ...roomHead(facts, spec, entry), limit: one.amount, taken, left, by: "allotment" as const };
    });
}

function takenByTrip(facts: Facts, spec: Spec, { haul: { trip } }: LineFact, allotment: Allotment): Count {
  const entries = spec.byName
    ? bucketsOf(facts, spec).flatMap((bucket) => (bucket.key.name === allotment.name ? bucket.entries : []))
    : entriesOf(facts, spec);
  return total(entries.filter((one) => one.line.haul.trip.id === trip.id).map((one) => one.count));
}

