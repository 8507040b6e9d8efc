/** Stages and sexes that must not be kept: egg-bearing females, juveniles, eggs. */
import type { StageRule } from "../conditions";
import type { Facts, LineFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { fitSome, fitWord } from "../fitting";
import { holdsAt, type Clause } from "../permits";
import { both, MAYBE, NO, YES, type Fit } from "../taxa";
import { BASIS_FATES, type Outcome } from "../vocabulary";
import { countWords } from "../words";

/** Judge one version of a stage condition over each catch line of its animals. */
export function judgeStages(facts: Facts, clause: Clause<StageRule>): Finding[] {
  const { condition } = clause;
  const fates = BASIS_FATES[condition.counts ?? "kept"];
  const found: { order: number; finding: Finding }[] = [];
  for (const { name, lines } of facts.linesOf([clause.authority.id])) {
    const named = facts.book.taxa.fit(name, condition.taxa);
    if (!named.possible) continue;
    for (const entry of lines) {
      if (!fates.has(entry.line.fate) || !holdsAt(clause, entry.at) || entry.line.count.high.isZero) continue;
      const fit = both(named, fitSome(facts, clause, condition.only, entry));
      if (fit.possible) found.push({ order: entry.order, finding: findingOf(clause, entry, fit) });
    }
  }
  return found.sort((a, b) => a.order - b.order).map((one) => one.finding);
}

/** Tell how surely a line's animals are of the barred stage and sex. */
function barredFit(condition: StageRule, { line }: LineFact): Fit {
  const unsaid =
    ((condition.stages?.length ?? 0) > 0 && line.stage === "") || ((condition.sexes?.length ?? 0) > 0 && line.sex === "");
  if (unsaid && condition.when_not_recorded === "is not") return NO;
  return both(fitWord(line.stage, condition.stages), fitWord(line.sex, condition.sexes));
}

function findingOf(clause: Clause<StageRule>, entry: LineFact, named: Fit): Finding {
  const { condition } = clause;
  const { line } = entry;
  const fit = both(named, barredFit(condition, entry));
  const some = line.count.low.isZero ? MAYBE : YES;
  const outcome: Outcome = both(fit, some).certain ? "broken" : fit.possible ? "open" : "met";
  const recorded = [line.stage, line.sex].filter((word) => word !== "").join(" ") || "stage and sex not recorded";
  const barred = [...(condition.stages ?? []), ...(condition.sexes ?? [])].join(", ");
  const taken = `${line.name.taxon}: ${line.fate} ${countWords(line.count, line.unit)}`;
  const sentence = `${taken}, ${recorded}; not to be ${condition.counts ?? "kept"}: ${barred}.`;
  return findingFor(clause, outcome, `line ${line.id}`, sentence, {
    settle: outcome === "open" ? "Needs the stage or sex, and a sure name, of these animals." : "",
    records: [line.id],
    over: outcome === "met" ? [] : [line.id],
  });
}
