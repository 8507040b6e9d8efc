/** Seasons: open and closed dates, closed weekdays, and an end that the agency announces. */
import { holds, isoDay, parseDay, spanOf, spokenDay, weekday, type Day } from "../calendar";
import type { SeasonRule } from "../conditions";
import type { Facts, HaulFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { daysOf, haulsFor, softened } from "../hauls";
import type { Clause } from "../permits";
import type { Fit } from "../taxa";
import { worst, type Outcome } from "../vocabulary";

type Answer = readonly [Outcome, string];

/** Judge one version of a season over each haul, on every local day it touches. */
export function judgeSeason(facts: Facts, clause: Clause<SeasonRule>): Finding[] {
  return [...haulsFor(facts, clause)].map(([fact, fit]) => findingOf(facts, clause, fact, fit));
}

/** Judge one local day. */
function answerOn(condition: SeasonRule, day: Day): Answer {
  const open = condition.open ?? [];
  if (open.length > 0 && !open.some((dates) => holds(dates, day))) {
    return ["broken", `${spokenDay(day)} is outside the open dates`];
  }
  for (const dates of condition.closed ?? []) {
    if (!holds(dates, day)) continue;
    const [first, last] = spanOf(dates, day);
    return ["broken", `${spokenDay(day)} is in the closed dates ${spokenDay(first)} to ${spokenDay(last)}`];
  }
  const name = weekday(day);
  if (condition.closed_weekdays?.includes(name) === true && condition.except_dates?.includes(isoDay(day)) !== true) {
    return ["broken", `${spokenDay(day)} is a ${name}, which is closed`];
  }
  return announced(condition, day);
}

function announced(condition: SeasonRule, day: Day): Answer {
  const end = condition.ends_before;
  if (end == null) return ["met", ""];
  const what = (condition.ends_before_what ?? "") || "the announced date";
  if (end === "") return ["open", `${what} has not been entered`];
  if (day < parseDay(end)) return ["met", ""];
  return ["broken", `${spokenDay(day)} is not before ${what} (${spokenDay(parseDay(end))})`];
}

function findingOf(facts: Facts, clause: Clause<SeasonRule>, fact: HaulFact, fit: Fit): Finding {
  const days = daysOf(facts, fact, clause.authority.zone);
  const answers = days.map((day) => answerOn(clause.condition, day));
  const judged = worst(answers.map(([found]) => found));
  const why = answers.find(([found, words]) => found === judged && words !== "")?.[1] ?? "";
  const outcome = softened(judged, fit);
  const [first, last] = [days[0] ?? 0, days.at(-1) ?? 0];
  const when = first === last ? spokenDay(first) : `${spokenDay(first)} to ${spokenDay(last)}`;
  const sentence = `Haul ${fact.haul.id}: ${why || `${when} is in the open season`}.`;
  return findingFor(clause, outcome, `haul ${fact.haul.id}`, sentence, {
    settle: outcome === "open" ? `Needs what it hangs on: ${why}.` : "",
    records: [fact.haul.id],
    over: outcome === "broken" ? [fact.haul.id] : [],
  });
}
