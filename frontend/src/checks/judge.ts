/**
 * A season against every condition that the phone judges; the others are named, in their own words, and left to the
 * server. Nothing here knows a screen, a network or a clock.
 */
import { parseDay, spokenDay, type Instant } from "./calendar";
import type { Condition, JudgedCondition } from "./conditions";
import { dayIn, Facts, type Book } from "./facts";
import { findingFor, type Finding } from "./finding";
import { workedUntil } from "./hauls";
import { termOf, type Authority, type Clause } from "./permits";
import type { Season } from "./records";
import { judgeArea } from "./rules/areas";
import { judgeGear } from "./rules/gear";
import { judgeHours } from "./rules/hours";
import { judgeProhibited } from "./rules/prohibited";
import { judgeSeason } from "./rules/seasons";
import { judgeSizeLimit } from "./rules/size_limits";
import { judgeStages } from "./rules/stages";
import { judgeTakeLimit } from "./rules/take_limits";
import { worst, type Outcome } from "./vocabulary";

type Rule<Kind extends JudgedCondition> = (facts: Facts, clause: Clause<Kind>) => Finding[];
type Rules = { readonly [Kind in JudgedCondition["kind"]]: Rule<Extract<JudgedCondition, { kind: Kind }>> };

/** Every kind of condition that the phone judges, and the rule that does. */
export const RULES: Rules = {
  "take limit": judgeTakeLimit,
  "size limit": judgeSizeLimit,
  "stage and sex": judgeStages,
  "prohibited taxon": judgeProhibited,
  gear: judgeGear,
  area: judgeArea,
  season: judgeSeason,
  "time of day": judgeHours,
};

/** Every kind that it does not judge, and why. */
export const LEFT_TO_THE_SERVER: { readonly [Kind in Exclude<Condition["kind"], JudgedCondition["kind"]>]: string } = {
  "share limit": "needs the whole crew's handled animals of the trip, site or term, which other phones may hold",
  people: "the permit's list of people and their qualifications is judged when the trip is planned",
  notice: "notices are given and proved from the desk, before the crew leaves",
  "encounter and stop": "deaths add up over all crews, and the report is told from the desk",
  disposition: "what becomes of animals once held is the curator's record",
  cleaning: "needs the haul before this one, which may be another crew's",
  report: "a season's report is filed from the desk",
  papers: "what must be carried is ticked off at the start and judged with the trip",
  holding: "speaks of animals still held after the permit's end",
  attested: "a person answers it, word for word, when the trip is closed",
};

/** The number under which an authority's own first and last day are judged. */
export const TERM = "term";

/** All findings on one condition number of one authority; `judged` false where it is left to the server. */
export interface Answer {
  readonly authority: string;
  readonly number: string;
  readonly text: string;
  readonly kind: string;
  readonly judged: boolean;
  readonly outcome: Outcome;
  readonly findings: readonly Finding[];
}

export interface Judgement {
  readonly answers: readonly Answer[];
  readonly findings: readonly Finding[];
  /** The lines that stand under no authority that is on this phone. */
  readonly unassigned: readonly string[];
}

/** Judge a season; `asOf` is the moment that deadlines are held against. */
export function judge(book: Book, season: Season, asOf: Instant): Judgement {
  return judgeFacts(new Facts(book, season, asOf));
}

export function judgeFacts(facts: Facts): Judgement {
  const answers = facts.book.authorities.flatMap((authority) => [
    termAnswer(facts, authority),
    ...[...(facts.clauses.get(authority.id)?.values() ?? [])].map((clauses) => answerOn(facts, clauses)),
  ]);
  const known = new Set(facts.book.authorities.map((authority) => authority.id));
  return {
    answers,
    findings: answers.flatMap((answer) => answer.findings),
    unassigned: facts.lines.filter((entry) => !known.has(entry.authority)).map((entry) => entry.line.id),
  };
}

function answerOn(facts: Facts, clauses: readonly Clause[]): Answer {
  const latest = clauses.at(-1);
  if (latest === undefined) throw new RangeError("a condition has no version");
  const { number, text, kind } = latest.condition;
  const head = { authority: latest.authority.id, number, text, kind };
  // An amendment may put another kind under the same number: each version is judged by its own.
  if (!clauses.every((clause) => isJudged(clause.condition))) {
    return { ...head, judged: false, outcome: "not used", findings: [] };
  }
  const found = clauses.flatMap((clause) => judgeClause(facts, clause));
  const findings = found.length > 0 ? found : [findingFor(latest, "not used", "", "No record touches this condition.")];
  return { ...head, judged: true, outcome: worst(findings.map((one) => one.outcome)), findings };
}

function isJudged(condition: Condition): condition is JudgedCondition {
  return condition.kind in RULES;
}

function isJudgedClause(clause: Clause): clause is Clause<JudgedCondition> {
  return isJudged(clause.condition);
}

/** Judge one condition in one version; of a kind that the phone does not judge there are no findings. */
export function judgeClause(facts: Facts, clause: Clause): Finding[] {
  if (!isJudgedClause(clause)) return [];
  const rule = RULES[clause.condition.kind] as Rule<JudgedCondition>;
  return rule(facts, clause);
}

/** Judge that every haul under an authority lies in its term, both end days included. */
function termAnswer(facts: Facts, authority: Authority): Answer {
  const [begins, ends] = termOf(authority);
  const [first, last] = [authority.first_day, authority.last_day].map((day) => spokenDay(parseDay(day)));
  const hauls = facts.haulsUnder(authority.id);
  const outside = hauls.filter((fact) => fact.haul.start < begins || workedUntil(facts, fact) >= ends);
  let findings = outside.map((fact) => {
    const sentence = `Haul ${fact.haul.id} on ${spokenDay(dayIn(authority.zone, fact))} is outside the term.`;
    return termFinding(authority, "broken", `haul ${fact.haul.id}`, sentence, [fact.haul.id]);
  });
  if (findings.length === 0) {
    const outcome = hauls.length > 0 ? "met" : "not used";
    const many = hauls.length === 1 ? "The one haul or set is" : `${hauls.length} hauls and sets, all`;
    const sentence = hauls.length > 0 ? `${many} within the term.` : "No record touches this condition.";
    findings = [termFinding(authority, outcome, "whole term", sentence, hauls.map((fact) => fact.haul.id))];
  }
  return {
    authority: authority.id,
    number: TERM,
    text: `Valid from ${first} to ${last}, both days included.`,
    kind: TERM,
    judged: true,
    outcome: worst(findings.map((one) => one.outcome)),
    findings,
  };
}

function termFinding(
  authority: Authority,
  outcome: Outcome,
  about: string,
  sentence: string,
  records: readonly string[],
): Finding {
  return {
    authority: authority.id,
    number: TERM,
    kind: TERM,
    version: 1,
    outcome,
    about,
    sentence,
    settle: "",
    records,
    over: outcome === "broken" ? records : [],
    near: false,
    tally: null,
    label: "",
    measured: [],
  };
}
