/** What is held at each moment: take and gains in, deaths and departures out, line by line. */
import type { Instant } from "./calendar";
import { bucketsWith, isSure, type Bucket, type Key } from "./buckets";
import { narrows, type Only } from "./conditions";
import { add, NOTHING, possibly, total, UNKNOWN, type Count } from "./counts";
import { greatest, least, room, ZERO, type Exact } from "./exact";
import { byText, type Facts } from "./facts";
import { fitName } from "./fitting";
import type { Movement } from "./records";
import { shrunk, type Entry, type Spec } from "./tallies";
import { both, MAYBE, named, NO, PROBABLY, YES, type Fit } from "./taxa";
import { GAINS } from "./vocabulary";

/** The state of what is held after one event; `added` is what the event brought in. */
export interface Moment {
  readonly at: Instant;
  readonly record: string;
  readonly added: Count;
  readonly held: Count;
}

export type Gain = readonly [Movement, Count];

/** One change of what a line (or a gift of no line) holds; `clear` where its unit is that of the tally. */
interface Event {
  readonly at: Instant;
  readonly rank: 0 | 1;
  readonly record: string;
  readonly lot: string;
  readonly count: Count;
  readonly gain: boolean;
  readonly clear: boolean;
}

/**
 * Walk take, gains and departures in order of time and give what is held after each.
 *
 * A line never holds less than nothing. What leaves it in another unit than the tally's leaves an unknown rest,
 * nothing once all of the line has gone. What happens at one moment happens together, take first.
 */
export function heldAfter(facts: Facts, entries: readonly Entry[], extra: readonly Gain[], unit: string): Moment[] {
  const events = entries.flatMap((entry) => eventsOf(facts, entry, unit));
  for (const [movement, count] of extra) {
    events.push({ at: movement.at, rank: 1, record: movement.id, lot: movement.id, count, gain: true, clear: true });
  }
  events.sort((a, b) => a.at - b.at || a.rank - b.rank || byText(a.record, b.record));
  const totals = new Map(entries.map((entry) => [entry.line.line.id, entry.line.line.count.high]));
  const held = new Map<string, Count>();
  const gone = new Map<string, Exact>();
  const moments: Moment[] = [];
  let running = NOTHING;
  events.forEach((event, place) => {
    const last = moments.at(-1);
    const previous = events[place - 1];
    const together = previous !== undefined && previous.at === event.at && previous.rank === event.rank;
    if (!event.gain) gone.set(event.lot, (gone.get(event.lot) ?? ZERO).plus(event.count.low));
    const allGone = (gone.get(event.lot) ?? ZERO).compare(totals.get(event.lot) ?? UNKNOWN.high) >= 0;
    const old = held.get(event.lot) ?? NOTHING;
    const now = changed(old, event, allGone);
    held.set(event.lot, now);
    running = replaced(running, old, now) ?? total(held.values());
    const added = together && last !== undefined ? last.added : NOTHING;
    if (together) moments.pop();
    moments.push({
      at: event.at,
      record: event.record,
      added: event.gain ? add(added, event.count) : added,
      held: running,
    });
  });
  return moments;
}

/** Put one lot's new state in place of its old one in a sum; null where an unknown amount would have to be taken off. */
function replaced(sum: Count, old: Count, now: Count): Count | null {
  if (![sum, old, now].every((count) => count.high.isKnown)) return null;
  return {
    low: sum.low.plus(now.low).minus(old.low),
    best: sum.best.plus(now.best).minus(old.best),
    high: sum.high.plus(now.high).minus(old.high),
  };
}

function eventsOf(facts: Facts, entry: Entry, unit: string): Event[] {
  const { line } = entry.line;
  const own = { lot: line.id };
  const events: Event[] = [{ ...own, at: entry.line.at, rank: 0, record: line.id, count: entry.count, gain: true, clear: true }];
  for (const movement of facts.movementsOf.get(line.id) ?? []) {
    const gain = GAINS.has(movement.what);
    const clear = line.unit === unit;
    let count = clear || !gain ? movement.count : UNKNOWN;
    if (gain && entry.count.low.isZero) count = possibly(count, !entry.count.best.isZero);
    events.push({ ...own, at: movement.at, rank: 1, record: movement.id, count, gain, clear });
  }
  return events;
}

/** Give what a lot holds after an event. */
function changed(old: Count, event: Event, allGone: boolean): Count {
  if (event.gain) return add(old, event.count);
  if (!event.clear) return allGone ? NOTHING : { low: ZERO, best: old.best, high: old.high };
  const rest = (stood: Exact, left: Exact): Exact => (stood.isKnown ? room(stood, left) : stood);
  const low = rest(old.low, event.count.high);
  const high = rest(old.high, event.count.low);
  const best = least(high, greatest(low, rest(old.best, event.count.best)));
  return { low, best, high };
}

/** Give each tally of what is held with the births and gifts of no catch line that count in it. */
export function heldTallies(facts: Facts, spec: Spec): (readonly [Bucket, Gain[]])[] {
  const gains = gainsUnder(facts, spec);
  const keys = gains.map(([movement]): Key => ({ holder: "", name: spec.byName ? movement.taxon : "", firstDay: null, record: "" }));
  return bucketsWith(facts, spec, keys).map((bucket) => [bucket, gainsIn(facts, spec, bucket.key, gains)]);
}

function gainsIn(facts: Facts, spec: Spec, key: Key, gains: readonly Gain[]): Gain[] {
  const found: Gain[] = [];
  for (const [movement, count] of gains) {
    // Whose a birth is, where the limit speaks of holders, is not recorded: it may be anybody's.
    const fit = both(key.holder === "" ? YES : MAYBE, spec.byName ? fitOwnName(facts, movement.taxon, key.name) : YES);
    if (fit.possible) found.push([movement, shrunk(count, fit)]);
  }
  return found;
}

function fitOwnName(facts: Facts, taxon: string, tally: string): Fit {
  const sure = isSure(facts, named(taxon));
  if (taxon === tally) return sure ? YES : PROBABLY;
  return sure ? NO : both(facts.book.taxa.fit(named(taxon), [tally]), MAYBE);
}

/** Give births, gifts and finds without a catch line that count against a limit on what is held. */
function gainsUnder(facts: Facts, spec: Spec): Gain[] {
  const found: Gain[] = [];
  for (const movement of facts.movementsOf.get("") ?? []) {
    if (!GAINS.has(movement.what) || movement.authority !== spec.clause.authority.id || movement.taxon === "") continue;
    const name = named(movement.taxon);
    const fit = both(
      fitName(facts, spec.clause, name),
      fitGain(facts, spec.clause.condition.only, movement),
      fitGain(facts, spec.narrower, movement),
      spec.taxa === null ? YES : facts.book.taxa.fit(name, spec.taxa),
    );
    const count = spec.unit === "individuals" ? movement.count : UNKNOWN;
    if (fit.possible) found.push([movement, shrunk(count, fit)]);
  }
  return found;
}

/** Tell how a birth or gift fits what narrows a condition: by its taxon; nothing else of it is recorded. */
function fitGain(facts: Facts, only: Only | undefined, movement: Movement): Fit {
  if (only === undefined) return YES;
  const { taxa, ...rest } = only;
  const fit = taxa !== undefined && taxa.length > 0 ? facts.book.taxa.fit(named(movement.taxon), taxa) : YES;
  return narrows(rest) ? both(fit, MAYBE) : fit;
}
