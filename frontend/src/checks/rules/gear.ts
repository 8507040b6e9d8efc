/** Gear: permitted kinds and their bounds, the number set at once, soak and looks. */
import { HOUR, spokenTime, type Instant } from "../calendar";
import type { GearAllowed, GearRule } from "../conditions";
import { Exact, exact } from "../exact";
import type { Facts, HaulFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { haulsFor, softened } from "../hauls";
import { formatExact, parseQuantity } from "../measures";
import type { Clause } from "../permits";
import type { GearUse } from "../records";
import type { Fit } from "../taxa";
import { byGravity, worst, type Outcome } from "../vocabulary";

/** An outcome with the words that say why; "" where there is nothing to say. */
type Answer = readonly [Outcome, string];

/** Judge one version of a gear condition over each haul and set. */
export function judgeGear(facts: Facts, clause: Clause<GearRule>): Finding[] {
  return [...haulsFor(facts, clause)].map(([fact, fit]) => findingOf(facts, clause, fact, fit));
}

function findingOf(facts: Facts, clause: Clause<GearRule>, fact: HaulFact, fit: Fit): Finding {
  const [judged, why] = answerFor(facts, clause, fact);
  const outcome = softened(judged, fit);
  const gear = fact.haul.gear?.gear ?? "gear not recorded";
  return findingFor(clause, outcome, `haul ${fact.haul.id}`, `Haul ${fact.haul.id}, ${gear}: ${why || "as permitted"}.`, {
    settle: outcome === "open" ? `Needs what is missing: ${why}.` : "",
    records: [fact.haul.id],
    over: outcome === "broken" ? [fact.haul.id] : [],
  });
}

/** Judge against each entry for this kind of gear; the best answer counts. */
function answerFor(facts: Facts, clause: Clause<GearRule>, fact: HaulFact): Answer {
  const use = fact.haul.gear;
  if (use === null) return ["open", "the gear was not recorded"];
  const entries = clause.condition.gear.filter((entry) => sameGear(entry.gear, use.gear));
  if (entries.length === 0) {
    const named = [...new Set(clause.condition.gear.map((entry) => entry.gear))].join(", ");
    return ["broken", `not among the permitted gear (${named})`];
  }
  const answers = entries.map((entry) => against(facts, clause, entry, fact, use));
  return answers.reduce((best, one) => (byGravity(one[0], best[0]) > 0 ? one : best));
}

function sameGear(first: string, second: string): boolean {
  return first.toLowerCase() === second.toLowerCase();
}

function against(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact, use: GearUse): Answer {
  const parts = [
    ...bounds(entry, use),
    ...marking(entry, use),
    ...together(facts, clause, entry, fact, use),
    ...soak(facts, clause, entry, fact),
    ...looks(facts, clause, entry, fact),
  ];
  if (parts.length === 0) return ["met", ""];
  const outcome = worst(parts.map(([found]) => found));
  const words = parts.filter(([found, why]) => found === outcome && why !== "").map(([, why]) => why);
  return [outcome, words.join("; ")];
}

function bounds(entry: GearAllowed, use: GearUse): Answer[] {
  return [
    ...bound("length", use.length_mm, entry.length_max, true),
    ...bound("mesh", use.mesh_mm, entry.mesh_max, true),
    ...bound("mesh", use.mesh_mm, entry.mesh_min, false),
    ...bound("opening", use.opening_mm, entry.opening_max, true),
  ];
}

function bound(name: string, value: Exact | null, limit: string | undefined, largest: boolean): Answer[] {
  if (limit === undefined || limit === "") return [];
  const words = `${name} ${largest ? "at most" : "at least"} ${limit}`;
  if (value === null) return [["open", `the ${name} was not recorded (${words})`]];
  const side = value.compare(parseQuantity(limit).inBase);
  if (largest ? side <= 0 : side >= 0) return [["met", ""]];
  return [["broken", `${name} ${formatExact(value, 1)} mm, ${words} permitted`]];
}

function marking(entry: GearAllowed, use: GearUse): Answer[] {
  if (entry.marked !== true || use.marked === true) return [];
  if (use.marked === null) return [["open", "whether the gear bore its marking was not recorded"]];
  return [["broken", "the gear did not bear its marking"]];
}

/** Count the gear of this kind that stood when this one was set, itself included. */
function together(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact, use: GearUse): Answer[] {
  const most = entry.together ?? 0;
  if (most === 0) return [];
  let number = use.number;
  for (const other of facts.haulsUnder(clause.authority.id)) {
    const { haul } = other;
    if (other === fact || haul.kind !== "set" || haul.lost || haul.gear === null || !sameGear(haul.gear.gear, use.gear)) continue;
    const until = haul.end ?? facts.asOf;
    if (haul.start <= fact.haul.start && fact.haul.start < until) number += haul.gear.number;
  }
  return number > most ? [["broken", `${number} in use at once, at most ${most} permitted`]] : [];
}

function soak(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact): Answer[] {
  if ((entry.soak_hours ?? "") === "" || fact.haul.kind !== "set") return [];
  return [gap(facts, clause, fact, exact(entry.soak_hours ?? ""), fact.haul.start, "soak", "lift")];
}

function hoursBetween(since: Instant, until: Instant): Exact {
  return Exact.of(BigInt(Math.trunc((until - since) / 1000)), BigInt(HOUR / 1000));
}

/** Judge one stretch up to the set's lift, or to now for a set still out. */
function gap(facts: Facts, clause: Clause, { haul }: HaulFact, allowed: Exact, since: Instant, name: string, what: string): Answer {
  if (haul.end === null && haul.lost) return ["open", `the ${name} of lost gear is not known`];
  const hours = hoursBetween(since, haul.end ?? facts.asOf);
  const most = formatExact(allowed, 0);
  if (hours.compare(allowed) > 0) return ["broken", `${name} ${formatExact(hours, 1)} h, at most ${most} h permitted`];
  if (haul.end !== null) return ["met", ""];
  const start = spokenTime(since, clause.authority.zone);
  return ["open", `still out since ${start}; ${what} within ${most} h of it`];
}

/** Judge the longest gap between setting, looks and lift. */
function looks(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact): Answer[] {
  if ((entry.check_hours ?? "") === "" || fact.haul.kind !== "set") return [];
  const allowed = exact(entry.check_hours ?? "");
  const moments = [fact.haul.start, ...[...fact.haul.checks].sort((a, b) => a - b)];
  const answers: Answer[] = [];
  let last = fact.haul.start;
  for (const moment of moments) {
    const hours = hoursBetween(last, moment);
    if (hours.compare(allowed) > 0) {
      answers.push(["broken", `${formatExact(hours, 1)} h between looks, at most ${formatExact(allowed, 0)} h permitted`]);
    }
    last = moment;
  }
  return [...answers, gap(facts, clause, fact, allowed, last, "time without a look", "look")];
}
