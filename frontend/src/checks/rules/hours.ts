/** Time of day: clock hours and hours counted from sunrise and sunset, in the authority's zone. */
import { atClock, civil, localDay, MINUTE, spokenTime, type Day, type Instant } from "../calendar";
import { readHour, type Hours, type TimeOfDay } from "../conditions";
import { daylight, MARGIN } from "../daylight";
import type { Facts, HaulFact } from "../facts";
import { findingFor, type Finding } from "../finding";
import { haulsFor, softened } from "../hauls";
import type { Authority, Clause } from "../permits";
import type { Fit } from "../taxa";
import { worst, type Outcome } from "../vocabulary";

type Span = readonly [Instant, Instant];

/** One end of allowed hours, and by how much it may be off: an end that hangs on the sun is not sharp. */
interface End {
  readonly at: Instant;
  readonly slack: number;
}

/** The sun does not rise or set that day, or there is no place to reckon it for. */
class NoSun extends Error {}

/** Judge one version of a time-of-day condition over each haul that its hours speak of. */
export function judgeHours(facts: Facts, clause: Clause<TimeOfDay>): Finding[] {
  const findings: Finding[] = [];
  for (const [fact, fit] of haulsFor(facts, clause)) {
    const entries = clause.condition.hours.filter((entry) => speaksOf(clause, entry, fact));
    if (entries.length > 0) findings.push(findingOf(clause, fact, fit, entries));
  }
  return findings;
}

function speaksOf(clause: Clause, { months = [], gear = [] }: Hours, { haul }: HaulFact): boolean {
  const { month } = civil(localDay(haul.start, clause.authority.zone));
  const used = haul.gear?.gear ?? "";
  return (months.length === 0 || months.includes(month)) && (gear.length === 0 || used === "" || gear.includes(used));
}

/** Give the stretches of work: a set is worked at its setting, looks and lift. */
function spansOf({ haul }: HaulFact): Span[] {
  if (haul.kind === "haul") return [[haul.start, haul.end ?? haul.start]];
  return [haul.start, ...haul.checks, ...(haul.end === null ? [] : [haul.end])].map((at) => [at, at]);
}

function findingOf(clause: Clause<TimeOfDay>, fact: HaulFact, fit: Fit, entries: readonly Hours[]): Finding {
  const answers = spansOf(fact).map((span) => answerFor(clause.authority, fact, entries, span));
  let judged = worst(answers.map(([found]) => found));
  let why = answers.find(([found]) => found === judged)?.[1] ?? "";
  if (judged === "met" && fact.haul.kind === "haul" && fact.haul.end === null) {
    [judged, why] = ["open", "the end of the haul was not recorded"];
  }
  if (judged !== "met" && fact.haul.gear === null && entries.some((entry) => (entry.gear?.length ?? 0) > 0)) {
    [judged, why] = ["open", "the gear was not recorded"];
  }
  const outcome = softened(judged, fit);
  return findingFor(clause, outcome, `haul ${fact.haul.id}`, `Haul ${fact.haul.id}: ${why}.`, {
    settle: outcome === "open" ? `Needs the exact time or place: ${why}.` : "",
    records: [fact.haul.id],
    over: outcome === "broken" ? [fact.haul.id] : [],
  });
}

/** Judge one stretch against the entries; lying wholly in one window of one entry suffices. */
function answerFor(authority: Authority, fact: HaulFact, entries: readonly Hours[], span: Span): readonly [Outcome, string] {
  const [from, until] = span.map((at) => spokenTime(at, authority.zone));
  const when = span[0] === span[1] ? from : `${from} to ${until}`;
  const allowed = entries.map((entry) => `${entry.start} to ${entry.end}`).join(" or ");
  const day = localDay(span[0], authority.zone);
  const found = new Set<Outcome>();
  let unknown = "";
  for (const entry of entries) {
    try {
      // A window that began on the day before may still run.
      for (const anchor of [day, day - 1]) found.add(liesIn(windowOn(authority, fact, entry, anchor), span));
    } catch (problem) {
      if (!(problem instanceof NoSun)) throw problem;
      unknown = problem.message;
    }
    if (found.has("met")) return ["met", `${when} is within ${allowed}`];
  }
  if (unknown !== "") return ["open", unknown];
  if (found.has("open")) {
    return ["open", `${when} is within ${MARGIN / MINUTE} minutes of an end of ${allowed}: too near to tell`];
  }
  return ["broken", `${when} is not within ${allowed}`];
}

/** Judge a stretch against one window; near an end that hangs on the sun it cannot be told. */
function liesIn([start, end]: readonly [End, End], [from, until]: Span): Outcome {
  if (from >= start.at + start.slack && until <= end.at - end.slack) return "met";
  return from >= start.at - start.slack && until <= end.at + end.slack ? "open" : "broken";
}

/** Give the window of an entry that begins on a local day; it may end on the next. */
export function windowOn(authority: Authority, fact: HaulFact, entry: Hours, day: Day): readonly [End, End] {
  const start = endOf(authority, fact, entry.start, day);
  const end = endOf(authority, fact, entry.end, day);
  return end.at > start.at ? [start, end] : [start, endOf(authority, fact, entry.end, day + 1)];
}

const WHOLE_DAY = 24 * 60;

function endOf(authority: Authority, fact: HaulFact, text: string, day: Day): End {
  const { by, minutes } = readHour(text);
  if (by === "clock") {
    // A clock's own hour, which on the day of a clock change is not so many hours after midnight.
    const at = minutes === WHOLE_DAY ? atClock(day + 1, authority.zone) : atClock(day, authority.zone, minutes * MINUTE);
    return { at, slack: 0 };
  }
  const [lat, lon] = placeOf(authority, fact);
  const sun = daylight(lat, lon, day, authority.zone);
  const at = sun[by];
  if (at === null) throw new NoSun(`the sun ${sun.state} there on that day`);
  return { at: at + minutes * MINUTE, slack: MARGIN };
}

function placeOf(authority: Authority, { haul }: HaulFact): readonly [number, number] {
  const fix = haul.fixes[0];
  if (fix !== undefined) return [fix.lat, fix.lon];
  if (authority.reference_lat == null || authority.reference_lon == null) {
    throw new NoSun("no position was recorded and the authority has no place of reference for the sun");
  }
  return [authority.reference_lat, authority.reference_lon];
}
