/** Tallies: a limit's lines sorted by holder, name and period, with doubt about whose and which they are. */
import {
  civil,
  dayOf,
  endOfDay,
  holds,
  onDay,
  parseDay,
  parseMonthDay,
  permitYearStart,
  spanOf,
  startOfDay,
  type Day,
  type Instant,
} from "./calendar";
import { possibly } from "./counts";
import { dayIn, type Facts, type LineFact } from "./facts";
import { fitAreas } from "./fitting";
import { countFor, entriesOf, fitSpec, shrunk, type Entry, type Spec } from "./tallies";
import { both, MAYBE, PROBABLY, YES, type Fit, type Identification } from "./taxa";
import { BASIS_FATES } from "./vocabulary";

const NOT_RECORDED = "not recorded";

/**
 * Which tally: its holder, its name where each recorded name has its own, and its period.
 *
 * A period is its first day, or the id of a haul or trip (`record`); neither: the whole term.
 */
export interface Key {
  readonly holder: string;
  readonly name: string;
  readonly firstDay: Day | null;
  readonly record: string;
}

/** One tally with its lines in order of capture. */
export interface Bucket {
  readonly key: Key;
  entries: Entry[];
}

type PeriodOf = readonly [firstDay: Day | null, record: string];

export function sameKey(first: Key, second: Key): boolean {
  return keyText(first) === keyText(second);
}

function keyText({ holder, name, firstDay, record }: Key): string {
  return `${firstDay}\n${record}\n${name}\n${holder}`;
}

/** Give the period a line falls in; null where its day is in no season. */
function periodOf(spec: Spec, entry: LineFact): PeriodOf | null {
  const { authority } = spec.clause;
  const day = (): Day => dayIn(authority.zone, entry);
  switch (spec.period) {
    case "haul":
      return [null, entry.haul.haul.id];
    case "trip":
      return [null, entry.haul.trip.id];
    case "day":
      return [day(), ""];
    case "month":
      return [dayOf(civil(day()).year, civil(day()).month, 1), ""];
    case "calendar year": {
      const first = dayOf(civil(parseDay(authority.first_day)).year, 1, 1);
      return [averaged(dayOf(civil(day()).year, 1, 1), first, spec), ""];
    }
    case "permit year": {
      const starts = parseMonthDay(authority.year_starts ?? "01-01");
      const first = permitYearStart(parseDay(authority.first_day), starts);
      return [averaged(permitYearStart(day(), starts), first, spec), ""];
    }
    case "season": {
      const { dates } = spec.bound;
      if (dates == null) return [null, ""];
      return holds(dates, day()) ? [spanOf(dates, day())[0], ""] : null;
    }
    case "rolling days":
    case "term":
    case "held":
      return [null, ""];
  }
}

/** Give the first day of the run of years that an average is taken over. */
function averaged(year: Day, first: Day, spec: Spec): Day {
  const years = spec.bound.years ?? 1;
  if (years === 1) return year;
  const { year: own, month, day } = civil(year);
  const past = own - civil(first).year;
  return onDay([month, day], own - (((past % years) + years) % years));
}

/** Give the last day of a period that began on `first`; null where it has no last day of its own. */
export function periodLastDay(spec: Spec, first: Day | null): Day | null {
  if (first === null) return null;
  const { year, month } = civil(first);
  switch (spec.period) {
    case "day":
      return first;
    case "month":
      return (month === 12 ? dayOf(year + 1, 1, 1) : dayOf(year, month + 1, 1)) - 1;
    case "calendar year":
      return onDay([1, 1], year + (spec.bound.years ?? 1)) - 1;
    case "permit year":
      return onDay(parseMonthDay(spec.clause.authority.year_starts ?? "01-01"), year + (spec.bound.years ?? 1)) - 1;
    case "season":
      return spec.bound.dates == null ? null : spanOf(spec.bound.dates, first)[1];
    default:
      return null;
  }
}

/** Tell whether a moment lies in a tally's period; one without a first day of its own holds all. */
export function isInPeriod(spec: Spec, key: Key, at: Instant): boolean {
  if (key.firstDay === null) return true;
  const { zone } = spec.clause.authority;
  const last = periodLastDay(spec, key.firstDay);
  return at >= startOfDay(key.firstDay, zone) && (last === null || at < endOfDay(last, zone));
}

const SORTED = new WeakMap<Facts, Map<Spec, readonly Bucket[]>>();

/** Sort a spec's entries into tallies, once for these facts. */
export function bucketsOf(facts: Facts, spec: Spec): readonly Bucket[] {
  const sorted = SORTED.get(facts) ?? new Map<Spec, readonly Bucket[]>();
  SORTED.set(facts, sorted);
  let found = sorted.get(spec);
  if (found === undefined) {
    found = bucketsWith(facts, spec, []);
    sorted.set(spec, found);
  }
  return found;
}

/** Sort a spec's entries into tallies; a key in `also` has one even if no line is surely of it. */
export function bucketsWith(facts: Facts, spec: Spec, also: readonly Key[]): readonly Bucket[] {
  const buckets = new Map<string, Bucket>();
  for (const entry of entriesOf(facts, spec)) {
    for (const [key, fit] of keysOf(facts, spec, entry.line)) {
      const count = shrunk(entry.count, fit);
      if (count.high.isZero) continue;
      const text = keyText(key);
      const bucket = buckets.get(text);
      const own = count === entry.count ? entry : { line: entry.line, count };
      if (bucket === undefined) buckets.set(text, { key, entries: [own] });
      else bucket.entries.push(own);
    }
  }
  for (const key of also) {
    if (![...buckets.values()].some((other) => other.key.name === key.name)) buckets.set(keyText(key), { key, entries: [] });
  }
  spread(facts, spec, [...buckets.values()]);
  return [...buckets.values()];
}

/**
 * Let a line be a possible one of every tally of its period whose holder and name it may have.
 *
 * A sure species under a recorded holder stands in its own tally alone.
 */
function spread(facts: Facts, spec: Spec, buckets: readonly Bucket[]): void {
  const guests = new Map<Bucket, Entry[]>();
  for (const bucket of buckets) {
    const unsure = spec.byName ? bucket.entries.filter((entry) => !isSure(facts, entry.line.name)) : [];
    const anywhere = bucket.key.holder === NOT_RECORDED;
    if (unsure.length === 0 && !anywhere) continue;
    for (const other of buckets) {
      if (other === bucket || !isReachable(bucket.key, other.key, anywhere)) continue;
      const sameName = other.key.name === bucket.key.name;
      const found = (sameName ? bucket.entries : unsure)
        .filter((entry) => sameName || facts.book.taxa.fit(entry.line.name, [other.key.name]).possible)
        .map((entry) => ({ line: entry.line, count: possibly(entry.count, false) }));
      guests.set(other, [...(guests.get(other) ?? []), ...found]);
    }
  }
  for (const [bucket, entries] of guests) {
    bucket.entries = [...bucket.entries, ...entries].sort((a, b) => a.line.order - b.line.order);
  }
}

function isReachable(from: Key, to: Key, anywhere: boolean): boolean {
  return from.firstDay === to.firstDay && from.record === to.record && (anywhere || from.holder === to.holder);
}

/** Tell whether a name is that of one species for certain. */
export function isSure(facts: Facts, name: Identification): boolean {
  const rank = facts.book.taxa.rank(name.taxon);
  return name.doubt === "" && name.one_of.length === 0 && (rank === "species" || rank === "subspecies");
}

/** Give the tallies that a line stands in, and how surely; none where its day is in no period. */
function keysOf(facts: Facts, spec: Spec, entry: LineFact): (readonly [Key, Fit])[] {
  const period = periodOf(spec, entry);
  if (period === null) return [];
  const [firstDay, record] = period;
  const name = spec.byName ? entry.name.taxon : "";
  const nameFit = name === "" || isSure(facts, entry.name) ? YES : PROBABLY;
  return holdersOf(facts, spec, entry).map(([holder, fit]) => [{ holder, name, firstDay, record }, both(fit, nameFit)]);
}

function holdersOf(facts: Facts, spec: Spec, entry: LineFact): (readonly [string, Fit])[] {
  const { haul } = entry.haul;
  const recorded = (holder: string): (readonly [string, Fit])[] => (holder === "" ? [[NOT_RECORDED, MAYBE]] : [[holder, YES]]);
  switch (spec.holder) {
    case "person":
      return [[entry.person, YES]];
    case "site":
      return recorded(haul.site);
    case "waterbody":
      return recorded(haul.waterbody);
    case "container":
      return recorded(entry.line.container);
    case "crew":
      return [[`crew of ${entry.haul.trip.id}`, YES]];
    case "area":
      return (spec.clause.condition.only?.areas ?? []).map((area) => [area, fitAreas(facts, entry.haul, [area])]);
    default:
      return [["", YES]];
  }
}

/** Give the tallies that one more such line would enter (possible ones included); none if it counts nowhere. */
export function hypothetical(facts: Facts, spec: Spec, entry: LineFact): Key[] {
  if (!BASIS_FATES[spec.clause.condition.counts ?? "kept"].has(entry.line.fate)) return [];
  const fit = fitSpec(facts, spec, entry.name);
  if (!fit.possible || countFor(facts, spec, entry, fit).high.isZero) return [];
  return keysOf(facts, spec, entry)
    .filter(([, keyFit]) => keyFit.possible)
    .map(([key]) => key);
}
