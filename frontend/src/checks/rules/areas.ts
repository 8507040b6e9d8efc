/** Areas: inside the permitted ones, outside the closed ones, far enough from a feature. */
import { holds } from "../calendar";
import type { AreaRule } from "../conditions";
import type { Facts, HaulFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { daysOf, haulsFor, softened } from "../hauls";
import { parseQuantity } from "../measures";
import type { Clause } from "../permits";
import { decidingDistance, distanceTo, type PathAnswer } from "../places/paths";
import type { Fit } from "../taxa";
import { byGravity, type Outcome } from "../vocabulary";

type Measured = readonly (readonly [name: string, value: string])[];

/** How one haul lies: the outcome, in words, with the distances that say so. */
interface Place {
  readonly outcome: Outcome;
  readonly words: string;
  readonly measured: Measured;
}

/** Judge one version of an area condition over each haul in its season. */
export function judgeArea(facts: Facts, clause: Clause<AreaRule>): Finding[] {
  const dates = clause.condition.dates ?? [];
  const findings: Finding[] = [];
  for (const [fact, fit] of haulsFor(facts, clause)) {
    const days = dates.length > 0 ? daysOf(facts, fact, clause.authority.zone) : [];
    if (dates.length > 0 && !days.some((day) => dates.some((range) => holds(range, day)))) continue;
    findings.push(findingOf(clause, fact, fit, placeOf(facts, clause.condition, fact)));
  }
  return findings;
}

function placeOf(facts: Facts, condition: AreaRule, fact: HaulFact): Place {
  if (fact.haul.fixes.length === 0) {
    const site = facts.season.sites[fact.haul.site] ?? fact.haul.site;
    const where = site === "" ? "" : ` (named place: ${site})`;
    return { outcome: "open", words: `no position was recorded${where}`, measured: [] };
  }
  if (condition.where === "inside") {
    const answer = facts.placeTogether(fact, condition.areas);
    const outcome = answer.leaves_for_certain ? "broken" : answer.whole === "inside" ? "met" : "open";
    return worded(outcome, answer, "the permitted area");
  }
  const places = condition.areas.map((area) => apart(facts, condition, fact, area));
  return places.reduce((worst, one) => (byGravity(one.outcome, worst.outcome) < 0 ? one : worst));
}

/** Judge one closed area, or the distance from one feature. */
function apart(facts: Facts, condition: AreaRule, fact: HaulFact, id: string): Place {
  const area = facts.area(id);
  const name = area.name || id;
  if (condition.where === "outside") {
    const answer = facts.placeTogether(fact, [id]);
    const outcome = answer.enters_for_certain ? "broken" : answer.whole === "outside" ? "met" : "open";
    return worded(outcome, answer, name);
  }
  const distance = condition.distance ?? "";
  const needed = parseQuantity(distance).inBase.toNumber() / 1000;
  const gap = distanceTo(area, fact.haul.fixes);
  const measured: Measured = [[`distance to ${name}`, `${gap.best_m.toFixed(1)} m`]];
  const words = `${gap.best_m.toFixed(0)} m from ${name}, at least ${distance} to be kept`;
  if (gap.low_m === null || gap.high_m === null) {
    return { outcome: "open", words: `${words}; the position has no radius`, measured };
  }
  const outcome = outcomeOf(gap.low_m, gap.high_m, needed);
  const spread = `; it may be ${gap.low_m.toFixed(0)} to ${gap.high_m.toFixed(0)} m`;
  return { outcome, words: outcome === "open" ? words + spread : words, measured };
}

function outcomeOf(low: number, high: number, needed: number): Outcome {
  if (high < needed) return "broken";
  return low >= needed ? "met" : "open";
}

/** Tell a haul's place in metres to the edge. */
function worded(outcome: Outcome, answer: PathAnswer, name: string): Place {
  const distance = decidingDistance(answer);
  let words = `${Math.abs(distance).toFixed(0)} m ${distance >= 0 ? "inside" : "outside"} the edge of ${name}`;
  if (answer.whole === "cannot tell" && answer.greatest_m > 0 && answer.least_m < 0) {
    words = `from ${answer.greatest_m.toFixed(0)} m inside to ${(-answer.least_m).toFixed(0)} m outside the edge of ${name}`;
  }
  const measured: [string, string][] = [["signed distance to the edge", `${distance.toFixed(1)} m`]];
  if (answer.radius_m === null) {
    words += "; the position has no radius";
  } else {
    measured.push(["radius (95 %)", `${answer.radius_m.toFixed(1)} m`]);
    words += `, position good to ${answer.radius_m.toFixed(0)} m`;
  }
  if (answer.probability_inside !== null && outcome === "open") {
    measured.push(["probability of being inside", answer.probability_inside.toFixed(2)]);
    words += `, inside with a probability of ${(answer.probability_inside * 100).toFixed(0)} %`;
  }
  return { outcome, words, measured };
}

function findingOf(clause: Clause<AreaRule>, fact: HaulFact, fit: Fit, place: Place): Finding {
  const outcome = softened(place.outcome, fit);
  const { id } = fact.haul;
  return findingFor(clause, outcome, `haul ${id}`, `Haul ${id}: ${place.words}.`, {
    settle:
      outcome === "open" ? "Needs a position (or a better one), a landmark photo, or the gear and place it hangs on." : "",
    records: [id],
    over: outcome === "broken" ? [id] : [],
    measured: place.measured,
  });
}
