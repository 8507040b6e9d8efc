/** Findings as a person in the water reads them: short, about this haul, and no record by its id. */
import { Exact } from "../checks/exact";
import type { Facts, LineFact } from "../checks/facts";
import type { Answer, Finding } from "../checks/checks";
import { valuesOf } from "../checks/fitting";
import type { SizeLimit, SizeRule } from "../checks/conditions";
import { holdsAt } from "../checks/permits";
import { ruleWords, sizesOf } from "../checks/rules/size_limits";
import { compareLength, parseQuantity } from "../checks/measures";

/** Say what a finding means in the haul in hand: a size in one sentence, others as they stand. */
export function plainWords(facts: Facts, answer: Answer, finding: Finding, haul: string): string {
  if (answer.kind !== "size limit" || finding.outcome !== "broken") return finding.sentence;
  const lines = facts.lines.filter((entry) => entry.haul.haul.id === haul && finding.over.includes(entry.line.id));
  const [first] = lines;
  const versions = facts.clauses.get(answer.authority)?.get(answer.number) ?? [];
  const condition = versions.find((clause) => first !== undefined && holdsAt(clause, first.at))?.condition;
  return condition?.kind === "size limit" ? sizeWords(condition, lines) : finding.sentence;
}

/** "1 of 3 measured is below 60 mm total length." */
export function sizeWords(condition: SizeLimit, lines: readonly LineFact[]): string {
  const sizes = lines.map((entry) => sizesOf(condition, entry));
  const [measured, outside] = (["measured", "outside"] as const).map((part) => sizes.reduce((sum, one) => sum + one[part], 0)) as [number, number];
  const are = `${outside} of ${measured} measured ${outside === 1 ? "is" : "are"}`;
  const [rule, ...others] = condition.rules;
  const values = rule === undefined ? [] : lines.flatMap(({ line }) => valuesOf(line, rule.measure, rule.variant));
  const side = rule === undefined || others.length > 0 || rule.inside === false ? "" : sideOf(values, rule, outside);
  return side === "" ? `${are} not of the size: ${ruleWords(condition)}.` : `${are} ${side} ${rule?.measure}.`;
}

/** Give the side on which all that are outside lie: "below 60 mm"; "" where they lie on both. */
function sideOf(values: readonly number[], rule: SizeRule, outside: number): string {
  const beyond = (limit: string | undefined, side: -1 | 1): boolean =>
    limit !== undefined && limit !== "" && values.filter((value) => compare(value, rule, limit) === side).length === outside;
  if (beyond(rule.smallest, -1)) return `below ${rule.smallest}`;
  return beyond(rule.largest, 1) ? `above ${rule.largest}` : "";
}

function compare(value: number, { measure }: SizeRule, limit: string): -1 | 0 | 1 {
  const quantity = parseQuantity(limit);
  return measure === "weight" ? Exact.of(BigInt(value), 10n).compare(quantity.inBase) : compareLength(value, quantity);
}
