/** Take limits: how much of something may be taken, in a period, by a holder. */
import { bucketsOf, isInPeriod, periodLastDay, type Bucket } from "../buckets";
import { endOfDay, spokenDay, spokenMonth, spokenTime, type Day, type Instant } from "../calendar";
import type { TakeLimit } from "../conditions";
import { add, isExact, isNear, leftOf, NOTHING, outcomeOf, total, UNKNOWN, type Count } from "../counts";
import { ZERO, type Exact } from "../exact";
import { dayIn, gather, type Facts } from "../facts";
import { findingFor, type Finding, type Tally } from "../finding";
import { groupOf } from "../fitting";
import { heldAfter, heldTallies, type Moment } from "../holdings";
import { holdsAt, type Clause } from "../permits";
import { isEstimated, isWholeIn, specsOf, type Entry, type Spec } from "../tallies";
import { byGravity, type Outcome } from "../vocabulary";
import { amountWords, countWords, limitWords } from "../words";

/** One tally at one stretch: what stood before, what was taken in it, and from which lines. */
interface Standing {
  readonly spec: Spec;
  readonly holder: string;
  readonly period: string;
  readonly before: Count;
  readonly entries: readonly Entry[];
  readonly earlier: readonly Entry[];
}

/** Judge one version of a take limit over every tally it holds. */
export function judgeTakeLimit(facts: Facts, clause: Clause<TakeLimit>): Finding[] {
  const findings: Finding[] = [];
  for (const spec of specsOf(clause)) {
    if (spec.period === "held") {
      findings.push(...judgeHeld(facts, spec));
      continue;
    }
    for (const bucket of bucketsOf(facts, spec)) {
      findings.push(...standingsOf(facts, spec, bucket).map(findingOf));
    }
  }
  return findings;
}

function standingsOf(facts: Facts, spec: Spec, bucket: Bucket): Standing[] {
  if (spec.period === "rolling days") return rolling(facts, spec, bucket);
  const period = periodWords(spec, bucket);
  if (spec.holder === "everybody") return shared(facts, spec, bucket, period);
  const [earlier, here] = splitAt(spec.clause, bucket.entries);
  if (here.length === 0 && !runsOn(spec, bucket)) return [];
  const before = total(earlier.map((entry) => entry.count));
  return [{ spec, holder: holderWords(facts, spec, bucket), period, before, entries: here, earlier }];
}

/** Split a tally at the moment the version began; drop what came after it ended. */
function splitAt(clause: Clause, entries: readonly Entry[]): readonly [Entry[], Entry[]] {
  const { begins } = clause;
  const earlier = begins === null ? [] : entries.filter((entry) => entry.line.at < begins);
  return [earlier, entries.filter((entry) => holdsAt(clause, entry.line.at))];
}

/** Tell whether a tally begun under an earlier version still runs when this version begins. */
function runsOn(spec: Spec, bucket: Bucket): boolean {
  const { begins } = spec.clause;
  if (begins === null || !bucket.entries.some((entry) => entry.line.at < begins)) return false;
  if (spec.period === "term") return true;
  const last = periodLastDay(spec, bucket.key.firstDay);
  return last !== null && endOfDay(last, spec.clause.authority.zone) > begins;
}

/** Give a standing for each day with take: the window of N days that ends with it. */
function rolling(facts: Facts, spec: Spec, bucket: Bucket): Standing[] {
  const length = spec.bound.days ?? 1;
  const days = new Map<Day, Entry[]>();
  for (const entry of bucket.entries) gather(days, dayIn(spec.clause.authority.zone, entry.line), entry);
  const standings: Standing[] = [];
  for (const day of [...days.keys()].sort((a, b) => a - b)) {
    const [before, here] = splitAt(spec.clause, days.get(day) ?? []);
    if (here.length === 0) continue;
    const window = Array.from({ length: length - 1 }, (_none, place) => day - length + 1 + place);
    const earlier = [...window.flatMap((other) => days.get(other) ?? []), ...before];
    standings.push({
      spec,
      holder: holderWords(facts, spec, bucket),
      period: `${length} days up to ${spokenDay(day)}`,
      before: total(earlier.map((entry) => entry.count)),
      entries: here,
      earlier,
    });
  }
  return standings;
}

/** Give a standing for each stretch between two published totals of a quota that others share. */
function shared(facts: Facts, spec: Spec, bucket: Bucket, period: string): Standing[] {
  const { authority, condition } = spec.clause;
  const published = facts.published(authority.id, condition.number).filter((one) => isInPeriod(spec, bucket.key, one.as_of));
  const stretches = [null, ...published];
  const standings: Standing[] = [];
  stretches.forEach((known, place) => {
    const since = known?.as_of ?? null;
    const until = stretches[place + 1]?.as_of ?? null;
    const own = bucket.entries.filter((entry) => isAfter(entry.line.at, since) && (until === null || entry.line.at <= until));
    const [earlier, here] = splitAt(spec.clause, own);
    if (here.length === 0) return;
    standings.push({
      spec,
      holder: holderWords(facts, spec, bucket),
      period: since === null ? period : `${period}, since ${spokenTime(since, authority.zone)}`,
      before: add(known?.total ?? UNKNOWN, total(earlier.map((entry) => entry.count))),
      entries: here,
      earlier,
    });
  });
  return standings;
}

function isAfter(at: Instant, since: Instant | null): boolean {
  return since === null || at > since;
}

function findingOf(standing: Standing): Finding {
  const { spec, before } = standing;
  const here = total(standing.entries.map((entry) => entry.count));
  const after = add(before, here);
  const outcome = outcomeOf(before, here, spec.amount, spec.operator);
  const tally = tallyOf(spec, before, here, after);
  const entries = [...standing.earlier, ...standing.entries];
  return findingFor(spec.clause, outcome, aboutWords(standing.holder, standing.period), sentenceOf(standing, tally, outcome), {
    settle: outcome === "open" ? settleOf(standing) : "",
    records: entries.map((entry) => entry.line.line.id),
    over: outcome === "met" ? [] : overOf(standing),
    near: outcome !== "broken" && isNear(after, spec.amount, spec.operator, isWholeIn(spec)),
    tally,
    label: spec.label,
  });
}

function tallyOf(spec: Spec, before: Count, here: Count, after: Count): Tally {
  const { amount: limit, operator, unit } = spec;
  return { limit, operator, unit, before, here, after, left: leftOf(after, limit, operator, isWholeIn(spec)) };
}

/** Give the lines that went over the limit for certain, else those that may have. */
function overOf({ spec, before, entries }: Standing): string[] {
  for (const bound of ["low", "high"] as const) {
    let running = before[bound];
    const over: string[] = [];
    for (const entry of entries) {
      running = running.plus(entry.count[bound]);
      const side = running.compare(spec.amount);
      const isOver = side > 0 || (spec.operator === "fewer than" && side === 0);
      if (!entry.count[bound].isZero && isOver) over.push(entry.line.line.id);
    }
    if (over.length > 0) return over;
  }
  return [];
}

export function aboutWords(holder: string, period: string): string {
  return holder === "" ? period : `${holder}: ${period}`;
}

/** Give the holder of a tally by name where the record holds one, the taxon, and the haul or trip it is of. */
export function holderWords(facts: Facts, spec: Spec, { key }: Bucket): string {
  const names: Record<string, string | undefined> = {
    person: facts.season.people[key.holder],
    site: facts.season.sites[key.holder],
    area: facts.book.areas.get(key.holder)?.name,
  };
  return [names[spec.holder] ?? key.holder, key.name, key.record].filter((part) => part !== "").join(" ");
}

export function periodWords(spec: Spec, { key }: Bucket): string {
  if (spec.period === "haul" || spec.period === "trip") return `this ${spec.period}`;
  if (key.firstDay === null) return "whole term";
  if (spec.period === "day") return `day ${spokenDay(key.firstDay)}`;
  if (spec.period === "month") return spokenMonth(key.firstDay);
  const last = periodLastDay(spec, key.firstDay);
  const first = spokenDay(key.firstDay);
  return last === null ? first : `${spec.period} ${first} to ${spokenDay(last)}`;
}

function whatWords(spec: Spec): string {
  const { condition } = spec.clause;
  if (spec.taxa !== null) return spec.taxa.join(" and ");
  if ((condition.group ?? "") !== "") return groupOf(spec.clause, condition.group ?? "").title;
  if (condition.unlisted === true) return spec.byName ? "each taxon not listed" : "taxa not listed";
  return (condition.taxa ?? []).join(", ");
}

const BASIS_WORDS = { kept: "kept", "kept and dead": "kept or died", handled: "handled" } as const;

function sentenceOf(standing: Standing, tally: Tally, outcome: Outcome): string {
  const { spec } = standing;
  const what = spec.label === "" || spec.taxa !== null ? whatWords(spec) : `${whatWords(spec)} (${spec.label})`;
  const estimated = [...standing.earlier, ...standing.entries]
    .filter((entry) => isEstimated(entry.line))
    .reduce((sum: Exact, entry) => sum.plus(entry.count.best), ZERO);
  const taken = countWords(tally.after, tally.unit, estimated);
  const limit = limitWords(tally.limit, tally.operator, tally.unit);
  const about = aboutWords(standing.holder, standing.period);
  const start = `${what}: ${BASIS_WORDS[spec.clause.condition.counts ?? "kept"]} ${taken}, ${limit} allowed (${about})`;
  if (outcome === "broken") {
    const over = tally.after.low.minus(tally.limit);
    return over.isZero
      ? `${start}: it must stay under the limit, and reaches it.`
      : `${start}: over by ${amountWords(over, tally.unit)}.`;
  }
  if (tally.here.high.isZero && tally.before.low.compare(tally.limit) > 0) {
    return `${start}: already above the new limit when it came, 0 left.`;
  }
  if (outcome === "open") return `${start}: whether the limit was kept cannot be told.`;
  const short = tally.operator === "fewer than" && !isWholeIn(spec) ? "under " : "";
  return `${start}: ${short}${countWords(tally.left, tally.unit)} left.`;
}

const MOST_NAMED = 5;

function settleOf(standing: Standing): string {
  const { spec } = standing;
  if (spec.holder === "everybody" && !standing.before.high.isKnown) {
    return "Enter the running total of the shared quota as published on the day.";
  }
  const entries = [...standing.earlier, ...standing.entries];
  const doubtful = entries.filter((entry) => entry.count.low.isZero).map((entry) => entry.line.line.id);
  const reasons: string[] = [];
  if (doubtful.length > 0) {
    const which = doubtful.length <= MOST_NAMED ? ` (${doubtful.join(", ")})` : "";
    reasons.push(`a sure name, place, stage or holder for the lines that may count${which}`);
  }
  if (entries.some((entry) => !isExact(entry.line.line.count))) reasons.push("an exact count in place of the estimate");
  if (entries.some((entry) => !entry.count.high.isKnown)) {
    reasons.push(`the amount in ${spec.unit} of the lines recorded otherwise`);
  }
  return `Needs ${reasons.join("; ") || "an exact count of what was taken before"}.`;
}

/** Judge a limit on what is held at once, each tally at the worst moment at which something came in. */
function judgeHeld(facts: Facts, spec: Spec): Finding[] {
  const findings: Finding[] = [];
  for (const [bucket, gains] of heldTallies(facts, spec)) {
    let worst: Finding | null = null;
    let most: Exact = ZERO;
    let before = NOTHING;
    for (const moment of heldAfter(facts, bucket.entries, gains, spec.unit)) {
      const counts = !moment.added.high.isZero && holdsAt(spec.clause, moment.at) && moment.at <= facts.asOf;
      if (counts) {
        const finding = heldFinding(facts, spec, bucket, moment, before);
        const graver = worst === null ? -1 : byGravity(finding.outcome, worst.outcome);
        if (graver < 0 || (graver === 0 && moment.held.high.compare(most) > 0)) {
          [worst, most] = [finding, moment.held.high];
        }
      }
      before = moment.held;
    }
    if (worst !== null) findings.push(worst);
  }
  return findings;
}

function heldFinding(facts: Facts, spec: Spec, bucket: Bucket, moment: Moment, before: Count): Finding {
  const outcome = outcomeOf(before, moment.added, spec.amount, spec.operator);
  const when = spokenTime(moment.at, spec.clause.authority.zone);
  const holder = holderWords(facts, spec, bucket);
  const whose = holder === "" ? "" : ` (${holder})`;
  const limit = limitWords(spec.amount, spec.operator, spec.unit);
  const sentence = `Held at once${whose}: ${countWords(moment.held, spec.unit)} on ${when}, ${limit} allowed.`;
  return findingFor(spec.clause, outcome, aboutWords(holder, `held at ${when}`), sentence, {
    settle: outcome === "open" ? "Needs a head-count of what is held, with sure names." : "",
    records: bucket.entries.map((entry) => entry.line.line.id),
    over: outcome === "broken" ? [moment.record] : [],
    near: outcome !== "broken" && isNear(moment.held, spec.amount, spec.operator, isWholeIn(spec)),
    tally: tallyOf(spec, before, moment.added, moment.held),
    label: spec.label,
  });
}
