/** The plain words that findings share: amounts, counts with their doubt, units. */
import { isExact, type Count } from "./counts";
import type { Exact } from "./exact";
import { decimalText } from "./measures";
import type { Operator } from "./vocabulary";

/** Give an amount with its unit: "12", "3.5 L"; individuals bear none. */
export function amountWords(amount: Exact, unit: string): string {
  if (!amount.isKnown) return unit === "individuals" ? "an unknown number" : `an unknown amount in ${unit}`;
  return unit === "individuals" ? amountNumber(amount) : `${amountNumber(amount)} ${unit}`;
}

export function amountNumber(amount: Exact): string {
  return amount.isKnown ? decimalText(amount) : "unknown";
}

/** Give a count as people read it: "12", "212, of which 200 estimated", "between 9 and 14". */
export function countWords(count: Count, unit: string, estimated?: Exact): string {
  if (isExact(count)) return amountWords(count.best, unit);
  if (!count.high.isKnown) return `at least ${amountWords(count.low, unit)}`;
  const spread = `between ${amountNumber(count.low)} and ${amountWords(count.high, unit)}`;
  if (estimated === undefined || estimated.isZero) return spread;
  const best = amountWords(count.best, unit);
  if (estimated.equals(count.best)) return `${best} estimated (${spread})`;
  return `${best}, of which ${amountNumber(estimated)} estimated (${spread})`;
}

/** Give a limit as issued: "at most 40". */
export function limitWords(limit: Exact, operator: Operator, unit: string): string {
  return `${operator} ${amountWords(limit, unit)}`;
}
