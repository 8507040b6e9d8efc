/** Low, best and high: numbers that say how sure they are. An exact count has all three equal. */
import { greatest, least, ONE, room, UNKNOWN_AMOUNT, whole as wholeNumber, ZERO, type Exact } from "./exact";
import type { Operator, Outcome } from "./vocabulary";

export interface Count {
  readonly low: Exact;
  readonly best: Exact;
  readonly high: Exact;
}

const TEN = wholeNumber(10);

export const NOTHING: Count = { low: ZERO, best: ZERO, high: ZERO };
export const UNKNOWN: Count = { low: ZERO, best: ZERO, high: UNKNOWN_AMOUNT };

/** Build a count; throws RangeError unless 0 <= low <= best <= high. */
export function countOf(low: Exact, best: Exact, high: Exact): Count {
  if (low.compare(ZERO) < 0 || low.compare(best) > 0 || best.compare(high) > 0) {
    throw new RangeError(`a count needs 0 <= low <= best <= high, got low ${low}, best ${best}, high ${high}`);
  }
  return { low, best, high };
}

export function exactly(amount: Exact): Count {
  return { low: amount, best: amount, high: amount };
}

export function add(first: Count, second: Count): Count {
  return {
    low: first.low.plus(second.low),
    best: first.best.plus(second.best),
    high: first.high.plus(second.high),
  };
}

export function total(counts: Iterable<Count>): Count {
  let sum = NOTHING;
  for (const count of counts) sum = add(sum, count);
  return sum;
}

/** Give the count that is one of two, nobody knows which. */
export function spanned(first: Count, second: Count): Count {
  return { low: least(first.low, second.low), best: least(first.best, second.best), high: greatest(first.high, second.high) };
}

export function isExact(count: Count): boolean {
  return count.low.equals(count.high);
}

/** Give a count as something that may not belong: low 0, best kept only where its likeliest reading belongs. */
export function possibly(count: Count, nominal: boolean): Count {
  return { low: ZERO, best: nominal ? count.best : ZERO, high: count.high };
}

export function within(amount: Exact, limit: Exact, operator: Operator): boolean {
  const side = amount.compare(limit);
  return operator === "at most" ? side <= 0 : side < 0;
}

/**
 * Judge what was taken here on top of what stood before.
 *
 * Broken needs it for certain: something was taken and even the low sum is over. A tally that stood over a lowered
 * limit already, with nothing taken since, breaks nothing.
 */
export function outcomeOf(before: Count, here: Count, limit: Exact, operator: Operator): Outcome {
  const after = add(before, here);
  if (here.high.isZero || within(after.high, limit, operator)) return "met";
  return !here.low.isZero && !within(after.low, limit, operator) ? "broken" : "open";
}

/** Give how much may still be taken: low if the most was taken, high if the least; never below 0. */
export function leftOf(after: Count, limit: Exact, operator: Operator, whole = true): Count {
  const most = operator === "fewer than" && whole ? limit.minus(ONE) : limit;
  return { low: room(most, after.high), best: room(most, after.best), high: room(most, after.low) };
}

/** Tell whether a tally stands in the last tenth of its limit, or has room for one animal at most. */
export function isNear(after: Count, limit: Exact, operator: Operator, whole = true): boolean {
  const left = leftOf(after, limit, operator, whole).low;
  return left.times(TEN).compare(limit) <= 0 || (whole && left.compare(ONE) <= 0);
}

