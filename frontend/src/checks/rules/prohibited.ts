/** Taxa that must not be kept or handled, and the clock that starts when one is met. */
import { HOUR, spokenTime, type Instant } from "../calendar";
import type { Prohibited } from "../conditions";
import type { Facts, LineFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { fitName, fitSome } from "../fitting";
import { holdsAt, type Clause } from "../permits";
import { both, type Fit } from "../taxa";
import { BASIS_FATES, type Outcome } from "../vocabulary";
import { countWords } from "../words";

/** Judge one version of a prohibition over each catch line that is, or may be, of its taxa. */
export function judgeProhibited(facts: Facts, clause: Clause<Prohibited>): Finding[] {
  const found: { order: number; findings: Finding[] }[] = [];
  for (const { name, lines } of facts.linesOf([clause.authority.id])) {
    const named = fitName(facts, clause, name);
    if (!named.possible) continue;
    for (const entry of lines) {
      if (!holdsAt(clause, entry.at) || entry.line.count.high.isZero) continue;
      const fit = both(named, fitSome(facts, clause, clause.condition.only, entry));
      if (fit.possible) found.push({ order: entry.order, findings: findingsOf(facts, clause, entry, fit) });
    }
  }
  return found.sort((a, b) => a.order - b.order).flatMap((one) => one.findings);
}

function findingsOf(facts: Facts, clause: Clause<Prohibited>, entry: LineFact, fit: Fit): Finding[] {
  const taken = takenFinding(clause, entry, fit);
  return (clause.condition.report_within_hours ?? 0) > 0 ? [taken, reportFinding(facts, clause, entry, fit)] : [taken];
}

function takenFinding(clause: Clause<Prohibited>, { line }: LineFact, fit: Fit): Finding {
  const counts = clause.condition.counts ?? "kept";
  let outcome: Outcome = "met";
  if (BASIS_FATES[counts].has(line.fate)) outcome = fit.certain && !line.count.low.isZero ? "broken" : "open";
  const sure = fit.certain ? "" : " (may be one of the taxa named)";
  const taken = `${line.name.taxon}${sure}: ${line.fate} ${countWords(line.count, line.unit)}`;
  return findingFor(clause, outcome, `line ${line.id}`, `${taken}; none may be ${counts}.`, {
    settle: outcome === "open" ? "Needs a sure name (photo or specimen) for this line." : "",
    records: [line.id],
    over: outcome === "met" ? [] : [line.id],
  });
}

type Told = "in time" | "late" | "not yet due" | "not told";
const OUTCOMES: Readonly<Record<Told, Outcome>> = { "in time": "met", late: "broken", "not told": "broken", "not yet due": "open" };

function reportFinding(facts: Facts, clause: Clause<Prohibited>, entry: LineFact, fit: Fit): Finding {
  const { line } = entry;
  const to = clause.condition.report_to ?? "";
  const until = entry.at + (clause.condition.report_within_hours ?? 0) * HOUR;
  const state = toldBy(facts, clause, entry, until);
  const sure = fit.certain && !line.count.low.isZero;
  const outcome = OUTCOMES[state] === "broken" && !sure ? "open" : OUTCOMES[state];
  const when = spokenTime(until, clause.authority.zone);
  return findingFor(clause, outcome, `report of line ${line.id}`, `${line.name.taxon}: ${to} to be told by ${when}: ${state}.`, {
    settle: outcome === "open" ? `Tell ${to} and enter the report, or settle the name.` : "",
    records: [line.id],
    over: outcome === "broken" ? [line.id] : [],
    label: "report",
  });
}

/** Tell how the report of an encounter stands. One that never was recorded counts as not told once its time is over. */
function toldBy(facts: Facts, clause: Clause<Prohibited>, { line, haul }: LineFact, until: Instant): Told {
  const about = [line.id, haul.haul.id, haul.trip.id];
  const to = (clause.condition.report_to ?? "").toLowerCase();
  const times = facts.season.incidents
    .filter((one) => one.authority === clause.authority.id && one.to.toLowerCase() === to)
    .filter((one) => one.about.some((id) => about.includes(id)))
    .flatMap((one) => (one.told !== null && one.told <= facts.asOf ? [one.told] : []));
  if (times.length > 0) return Math.min(...times) <= until ? "in time" : "late";
  return facts.asOf <= until ? "not yet due" : "not told";
}
