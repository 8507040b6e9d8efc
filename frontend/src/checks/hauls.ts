/** Which hauls a condition speaks of, how surely, and until when their gear was in the water. */
import { localDay, type Day, type Instant } from "./calendar";
import type { Facts, HaulFact } from "./facts";
import { fitWorked } from "./fitting";
import { holdsAt, type Clause } from "./permits";
import type { Fit } from "./taxa";
import type { Outcome } from "./vocabulary";

const LONGEST_SET_DAYS = 400;

/** Give the hauls under a clause's authority, caught while it held, that it may speak of. */
export function* haulsFor(facts: Facts, clause: Clause): Iterable<readonly [HaulFact, Fit]> {
  for (const fact of facts.haulsUnder(clause.authority.id)) {
    if (!holdsAt(clause, fact.at)) continue;
    const fit = fitWorked(facts, clause, fact);
    if (fit.possible) yield [fact, fit];
  }
}

/** Give until when a haul's gear was in the water; for a set still out, the moment of judging. */
export function workedUntil(facts: Facts, { haul }: HaulFact): Instant {
  const out = haul.kind === "set" && !haul.lost && haul.end === null;
  return Math.max(haul.start, haul.end ?? (out ? facts.asOf : haul.start));
}

/** Give every local day on which a haul's gear was in the water. */
export function daysOf(facts: Facts, fact: HaulFact, zone: string): Day[] {
  const first = localDay(fact.haul.start, zone);
  const last = localDay(workedUntil(facts, fact), zone);
  return Array.from({ length: Math.min(last - first, LONGEST_SET_DAYS) + 1 }, (_none, day) => first + day);
}

/** Leave open what would be broken but for a condition that only may apply. */
export function softened(outcome: Outcome, fit: Fit): Outcome {
  return outcome === "broken" && !fit.certain ? "open" : outcome;
}
