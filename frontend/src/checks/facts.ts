/** A season laid out for judging: every haul and line in order of capture, under its authority. Uploads play no part. */
import { localDay, type Day, type Instant } from "./calendar";
import { spanned } from "./counts";
import { clausesOf, type Authority, type Clause } from "./permits";
import { together, type Area } from "./places/areas";
import { judgePath, type PathAnswer } from "./places/paths";
import type { Haul, Line, Movement, Season, SharedTotal, Trip } from "./records";
import { nameKey, type Identification, type Taxa } from "./taxa";

/** What is judged against: the authorities (with accepted names), the names, and the areas by id. */
export interface Book {
  readonly authorities: readonly Authority[];
  readonly taxa: Taxa;
  readonly areas: ReadonlyMap<string, Area>;
}

/** A haul in its trip, with the authorities it was worked under. */
export interface HaulFact {
  readonly haul: Haul;
  readonly trip: Trip;
  readonly at: Instant;
  readonly under: ReadonlySet<string>;
}

/** A catch line in its haul, with what it inherits from haul and trip. */
export interface LineFact {
  readonly line: Line;
  readonly haul: HaulFact;
  readonly at: Instant;
  readonly authority: string;
  readonly person: string;
  readonly name: Identification;
  order: number;
}

export interface NamedLines {
  readonly name: Identification;
  readonly lines: LineFact[];
}

/** A season under one book, as of a moment. */
export class Facts {
  readonly hauls: HaulFact[] = [];
  readonly lines: LineFact[] = [];
  readonly clauses: ReadonlyMap<string, ReadonlyMap<string, readonly Clause[]>>;
  readonly movementsOf = new Map<string, Movement[]>();
  private readonly linesUnder = new Map<string, Map<string, NamedLines>>();
  private readonly haulsBy = new Map<string, HaulFact[]>();
  private readonly joined = new Map<string, Area>();
  private readonly places = new Map<string, PathAnswer>();

  /** Throws RangeError where two records bear one id. */
  constructor(
    readonly book: Book,
    readonly season: Season,
    readonly asOf: Instant,
  ) {
    this.clauses = new Map(book.authorities.map((one) => [one.id, clausesOf(one)]));
    const trips = new Set<string>();
    for (const trip of season.trips) {
      if (trips.has(trip.id)) throw clash("trip", trip.id);
      trips.add(trip.id);
      for (const haul of trip.hauls) this.takeIn(trip, haul);
    }
    this.sort();
    for (const movement of season.movements) gather(this.movementsOf, movement.line, movement);
  }

  private takeIn(trip: Trip, haul: Haul): void {
    const own = haul.authority || trip.authority;
    const at = haul.end ?? haul.start;
    const under = new Set([own, ...haul.also_under, ...haul.lines.map((line) => line.authority)]);
    under.delete("");
    const fact: HaulFact = { haul, trip, at, under };
    this.hauls.push(fact);
    for (const line of haul.lines) {
      this.lines.push({
        line,
        haul: fact,
        at: line.at ?? at,
        authority: line.authority || own,
        person: line.person || haul.person || trip.leader,
        name: line.name,
        order: 0,
      });
    }
  }

  private sort(): void {
    this.hauls.sort((a, b) => a.at - b.at || byText(a.haul.id, b.haul.id));
    refuseTwice("haul", this.hauls, (fact) => fact.haul.id);
    for (const fact of this.hauls) for (const authority of fact.under) gather(this.haulsBy, authority, fact);
    this.lines.sort((a, b) => a.at - b.at || byText(a.haul.haul.id, b.haul.haul.id) || byText(a.line.id, b.line.id));
    refuseTwice("catch line", this.lines, (entry) => entry.line.id);
    this.lines.forEach((entry, order) => {
      entry.order = order;
      const named = this.linesUnder.get(entry.authority) ?? new Map<string, NamedLines>();
      this.linesUnder.set(entry.authority, named);
      const key = nameKey(entry.name);
      const lines = named.get(key) ?? { name: entry.name, lines: [] };
      named.set(key, lines);
      lines.lines.push(entry);
    });
  }

  authority(id: string): Authority {
    const found = this.book.authorities.find((one) => one.id === id);
    if (found === undefined) throw new RangeError(`the authority '${id}' is not on this phone`);
    return found;
  }

  haulsUnder(authority: string): readonly HaulFact[] {
    return this.haulsBy.get(authority) ?? [];
  }

  /** Give the lines under these authorities, gathered by the name they were given. */
  *linesOf(authorities: Iterable<string>): Iterable<NamedLines> {
    for (const authority of authorities) yield* this.linesUnder.get(authority)?.values() ?? [];
  }

  area(id: string): Area {
    const found = this.book.areas.get(id);
    if (found === undefined) throw new RangeError(`the area '${id}' is not on this phone`);
    return found;
  }

  /** Tell where a haul with a position lies to several areas joined into one. */
  placeTogether(fact: HaulFact, areas: readonly string[]): PathAnswer {
    const name = areas.join("|");
    const key = `${fact.haul.id}|${name}`;
    let answer = this.places.get(key);
    if (answer === undefined) {
      const area = this.joined.get(name) ?? together(areas.map((one) => this.area(one)));
      this.joined.set(name, area);
      answer = judgePath(area, fact.haul.fixes);
      this.places.set(key, answer);
    }
    return answer;
  }

  /**
   * Give the published totals of a shared quota in order of time, one for each moment.
   *
   * Two of one moment are one that may be either: the order in which they came decides nothing.
   */
  published(authority: string, number: string): SharedTotal[] {
    const at = new Map<Instant, SharedTotal>();
    for (const one of this.season.shared_totals) {
      if (one.authority !== authority || one.condition !== number) continue;
      const other = at.get(one.as_of);
      at.set(one.as_of, other === undefined ? one : { ...one, total: spanned(other.total, one.total) });
    }
    return [...at.values()].sort((a, b) => a.as_of - b.as_of);
  }
}

/** Give the local day of capture of a line or haul. */
export function dayIn(zone: string, caught: { readonly at: Instant }): Day {
  return localDay(caught.at, zone);
}

/** Order texts by their characters' numbers, alike on every phone. */
export function byText(first: string, second: string): number {
  return first < second ? -1 : first > second ? 1 : 0;
}

export function gather<Key, Value>(into: Map<Key, Value[]>, key: Key, value: Value): void {
  const found = into.get(key);
  if (found === undefined) into.set(key, [value]);
  else found.push(value);
}

function refuseTwice<One>(kind: string, all: readonly One[], idOf: (one: One) => string): void {
  const seen = new Set<string>();
  for (const one of all) {
    const id = idOf(one);
    if (seen.has(id)) throw clash(kind, id);
    seen.add(id);
  }
}

function clash(kind: string, id: string): RangeError {
  return new RangeError(`two ${kind} records bear the id '${id}'; give one of them an id of its own`);
}
