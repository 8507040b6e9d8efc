/** How the desk lays records together: lots by trip, records behind a figure by trip and haul, findings by condition. */
import { add, isExact, NOTHING, type Count } from "../checks/counts";
import type { AllotmentRead, AuthorityRead, BalanceRead, FindingRead, LotRead, Outcome, RoomRead, UnresolvedRead } from "./answers";
import { authorityOf, countFrom, inOrder, type Haul, type Line, type Season, type Trip } from "./season";
import { OUTCOMES } from "./words";

// --- lots

export interface LotsOfTrip {
  readonly trip: string;
  readonly lots: readonly LotRead[];
}

/** Lay lots together by trip, in the order in which they come. */
export function lotsByTrip(lots: readonly LotRead[]): readonly LotsOfTrip[] {
  const trips = new Map<string, LotRead[]>();
  for (const lot of lots) {
    const held = trips.get(lot.trip);
    if (held === undefined) trips.set(lot.trip, [lot]);
    else held.push(lot);
  }
  return [...trips].map(([trip, own]) => ({ trip, lots: own }));
}

export function gravest(outcomes: Iterable<Outcome>): Outcome {
  const found = new Set(outcomes);
  return OUTCOMES.find((one) => found.has(one)) ?? "not used";
}

/** Put the gravest first and leave the order otherwise as it was. */
export function gravestFirst<One extends { readonly outcome: Outcome }>(every: readonly One[]): readonly One[] {
  return [...every].sort((first, second) => OUTCOMES.indexOf(first.outcome) - OUTCOMES.indexOf(second.outcome));
}

/** Findings on one condition, the gravest outcome of them on top. */
export interface FoundOn<One> {
  readonly authority: string;
  readonly number: string;
  readonly outcome: Outcome;
  readonly findings: readonly One[];
}

/** Lay findings together by condition, the gravest conditions first, and within each the gravest finding. */
export function byCondition<One extends { readonly authority: string; readonly number: string; readonly outcome: Outcome }>(
  every: readonly One[],
): readonly FoundOn<One>[] {
  const groups = new Map<string, One[]>();
  for (const one of every) found(groups, `${one.authority} ${one.number}`, () => []).push(one);
  return gravestFirst(
    [...groups.values()].flatMap((own) => {
      const [first] = own;
      if (first === undefined) return [];
      const { authority, number } = first;
      return [{ authority, number, outcome: gravest(own.map((one) => one.outcome)), findings: gravestFirst(own) }];
    }),
  );
}

// --- the records behind a figure

export interface HaulBehind {
  readonly code: string;
  readonly haul: Haul | null;
  readonly lines: readonly Line[];
}

export interface TripBehind {
  readonly code: string;
  readonly trip: Trip | null;
  readonly hauls: readonly HaulBehind[];
}

export interface Behind {
  readonly trips: readonly TripBehind[];
  /** Codes of what is no trip, haul or line: notices, incidents, movements. */
  readonly others: readonly string[];
  readonly lineCount: number;
}

/** Lay the records that a finding rests on together by trip and haul. */
export function behind(season: Season, records: readonly string[]): Behind {
  const trips = new Map<string, Map<string, Line[]>>();
  const others: string[] = [];
  const haulsOf = (trip: string): Map<string, Line[]> => found(trips, trip, () => new Map());
  let lineCount = 0;
  for (const code of new Set(records)) {
    const line = season.linesByCode.get(code);
    const haul = line === undefined ? season.haulsByCode.get(code) : season.hauls.get(line.haul);
    const trip = haul === undefined ? season.tripsByCode.get(code) : season.trips.get(haul.trip);
    if (trip === undefined) {
      others.push(code);
      continue;
    }
    const hauls = haulsOf(trip.code);
    if (haul === undefined) continue;
    const lines = found(hauls, haul.code, () => []);
    if (line !== undefined) {
      lines.push(line);
      lineCount += 1;
    }
  }
  return { trips: [...trips].map(([code, hauls]) => tripBehind(season, code, hauls)), others, lineCount };
}

function tripBehind(season: Season, code: string, hauls: ReadonlyMap<string, readonly Line[]>): TripBehind {
  return {
    code,
    trip: season.tripsByCode.get(code) ?? null,
    hauls: [...hauls].map(([haul, lines]) => ({ code: haul, haul: season.haulsByCode.get(haul) ?? null, lines })),
  };
}

function found<Key, Value>(held: Map<Key, Value>, key: Key, make: () => Value): Value {
  let value = held.get(key);
  if (value === undefined) {
    value = make();
    held.set(key, value);
  }
  return value;
}

// --- conditions

/** A condition as the balance shows it: with its tallies where it limits an amount, with its findings always. */
export interface ConditionShown {
  readonly number: string;
  readonly kind: string;
  readonly outcome: Outcome;
  readonly findings: readonly FindingRead[];
  readonly balance: BalanceRead | null;
}

/** Kinds of conditions that limit an amount. */
const TALLIED: ReadonlySet<string> = new Set(["take limit", "share limit"]);

/**
 * Lay findings and balances together by condition, in the authority's own order.
 *
 * A limit of which nothing is taken yet has no balance: it is whole, and what trips were given of it is told all the same.
 */
export function conditionsOf(
  balances: readonly BalanceRead[],
  findings: readonly FindingRead[],
  allotments: readonly AllotmentRead[],
): readonly ConditionShown[] {
  const limits = new Map(balances.map((one) => [one.number, one]));
  const numbers = new Map<string, FindingRead[]>();
  for (const one of findings) found(numbers, one.number, () => []).push(one);
  for (const one of balances) found(numbers, one.number, () => [...one.tallies]);
  return [...numbers].map(([number, own]) => {
    const kind = own[0]?.kind ?? limits.get(number)?.kind ?? "";
    const outcome = limits.get(number)?.outcome ?? gravest(own.map((one) => one.outcome));
    const balance = limits.get(number) ?? (TALLIED.has(kind) ? untouched(number, kind, outcome, allotments) : null);
    return { number, kind, outcome, findings: own, balance };
  });
}

function untouched(number: string, kind: string, outcome: Outcome, allotments: readonly AllotmentRead[]): BalanceRead {
  const allotted = allotments.filter((one) => one.number === number).map(({ code, ...one }) => ({ ...one, trip: code }));
  return { number, text: "", kind, outcome, tallies: [], fullest: [], allotted, pending: [] };
}

/** What trips were given: of the tally that is shown, and whether there is more in other tallies of the limit. */
export interface Given {
  readonly amount: number;
  readonly elsewhere: boolean;
}

export function givenOf(balance: BalanceRead, tally: FindingRead | null): Given {
  const own = balance.allotted.filter((one) => tally === null || one.label === tally.label);
  return { amount: own.reduce((sum, one) => sum + one.amount, 0), elsewhere: own.length < balance.allotted.length };
}

/** Give what a trip took at most of the tally that an allotment is from; null where the server tells of none. */
export function usedOf(allotment: AllotmentRead, rooms: readonly RoomRead[]): RoomRead | null {
  const same = (one: RoomRead): boolean =>
    one.authority === allotment.authority && one.number === allotment.number && one.label === allotment.label && one.name === allotment.name;
  return rooms.find(same) ?? null;
}

export function countOutcomes(conditions: readonly { readonly outcome: Outcome }[]): ReadonlyMap<Outcome, number> {
  return new Map(OUTCOMES.map((one) => [one, conditions.filter((each) => each.outcome === one).length]));
}

/** Give the tally that a row shows: the one that the server says stands for the condition, as in the report. */
export function fullestTally(balance: BalanceRead): FindingRead | null {
  return balance.tallies[balance.fullest[0] ?? -1] ?? null;
}

/** Give the newest version that any tally was judged by: that of the words in force. */
export function newestVersion(balances: readonly BalanceRead[]): number {
  return Math.max(1, ...balances.flatMap((one) => one.tallies.map((tally) => tally.version)));
}

// --- before filing

/** What the catch lines say was kept, beside what stands at the gate, in one unit. */
export interface Tie {
  readonly unit: string;
  readonly kept: Count;
  readonly atTheGate: Count;
  readonly ties: boolean;
}

export interface Reconciled {
  readonly ties: readonly Tie[];
  /** Kept lines that have no lot, and lots whose line says something else than it did at the decision. */
  readonly without: readonly string[];
  readonly differing: readonly string[];
}

/** Hold what catch lines of closed trips say was kept under an authority against the lots at the gate, line by line. */
export function reconciled(season: Season, lots: readonly LotRead[], authority: string): Reconciled {
  const kept = [...season.lines.values()].filter(
    (line) => line.fate === "kept" && !line.count.high.isZero && isClosed(season, line) && authorityOf(season, line) === authority,
  );
  const byLine = new Map(lots.map((lot) => [lot.line, lot]));
  const units = new Map<string, { kept: Count; gate: Count }>();
  const without: string[] = [];
  const differing: string[] = [];
  for (const line of kept) {
    const sums = found(units, line.unit, () => ({ kept: NOTHING, gate: NOTHING }));
    sums.kept = add(sums.kept, line.count);
    const lot = byLine.get(line.code);
    if (lot === undefined) {
      without.push(line.code);
      continue;
    }
    const brought = countFrom(lot.field_count);
    sums.gate = add(sums.gate, brought);
    if (!sameCount(brought, line.count)) differing.push(line.code);
  }
  const ties = [...units].map(([unit, sums]) => {
    const same = sameCount(sums.kept, sums.gate);
    return { unit, kept: sums.kept, atTheGate: sums.gate, ties: same };
  });
  return { ties, without: without.sort(inOrder), differing: differing.sort(inOrder) };
}

function isClosed(season: Season, line: Line): boolean {
  const haul = season.hauls.get(line.haul);
  return haul !== undefined && season.trips.get(haul.trip)?.status === "closed";
}

function sameCount(first: Count, second: Count): boolean {
  return first.low.equals(second.low) && first.best.equals(second.best) && first.high.equals(second.high);
}

/** Lay what is unresolved together by condition, the broken first. */
export function unresolvedByCondition(
  every: readonly UnresolvedRead[],
): readonly { readonly condition: string; readonly outcome: Outcome; readonly told: readonly UnresolvedRead[] }[] {
  const numbers = new Map<string, UnresolvedRead[]>();
  for (const one of every) found(numbers, one.condition, () => []).push(one);
  return gravestFirst(
    [...numbers].map(([condition, told]) => ({ condition, outcome: gravest(told.map((one) => one.outcome)), told })),
  );
}

/** Give the authority asked for, else the first there is. */
export function authorityAsked(every: readonly AuthorityRead[], asked: string): AuthorityRead | null {
  return every.find((one) => one.id === asked) ?? every[0] ?? null;
}

/** Tell whether a number was estimated: its three figures differ. */
export function isEstimated(count: Count): boolean {
  return !isExact(count);
}
