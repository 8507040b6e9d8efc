/** Authorities as issued, their versions, and the clauses in force at a moment. An amendment lists only what changes. */
import { endOfDay, instant, parseDay, startOfDay, type Instant } from "./calendar";
import type { Condition, Only, Part } from "./conditions";
import type { Taxa } from "./taxa";

export interface NamedGroup {
  readonly id: string;
  readonly title: string;
  readonly taxa: readonly string[];
}

export interface Amendment {
  readonly number: string;
  readonly from_moment: string;
  readonly conditions?: readonly Condition[];
  readonly withdrawn?: readonly string[];
  readonly groups?: readonly NamedGroup[];
}

export interface Authority {
  readonly id: string;
  readonly zone: string;
  readonly first_day: string;
  readonly last_day: string;
  readonly year_starts?: string;
  readonly reference_lat?: number | null;
  readonly reference_lon?: number | null;
  readonly conditions: readonly Condition[];
  readonly groups?: readonly NamedGroup[];
  readonly containers?: readonly { readonly name: string; readonly litres: string | number }[];
  readonly amendments?: readonly Amendment[];
}

export interface Version {
  readonly number: number;
  readonly begins: Instant | null;
  readonly conditions: ReadonlyMap<string, Condition>;
  readonly groups: ReadonlyMap<string, NamedGroup>;
}

/** One condition in one version of an authority, with the span in which it holds (its end excluded). */
export interface Clause<Kind extends Condition = Condition> {
  readonly authority: Authority;
  readonly version: Version;
  readonly condition: Kind;
  readonly begins: Instant | null;
  readonly ends: Instant | null;
}

export function holdsAt(clause: Clause, at: Instant): boolean {
  return (clause.begins === null || at >= clause.begins) && (clause.ends === null || at < clause.ends);
}

export function termOf(authority: Authority): readonly [Instant, Instant] {
  return [
    startOfDay(parseDay(authority.first_day), authority.zone),
    endOfDay(parseDay(authority.last_day), authority.zone),
  ];
}

/** Give every version, oldest first. */
export function versionsOf(authority: Authority): readonly Version[] {
  let conditions = new Map(authority.conditions.map((one) => [one.number, one]));
  let groups = new Map((authority.groups ?? []).map((one) => [one.id, one]));
  const versions: Version[] = [{ number: 1, begins: null, conditions, groups }];
  for (const amendment of authority.amendments ?? []) {
    conditions = new Map(conditions);
    for (const one of amendment.conditions ?? []) conditions.set(one.number, one);
    for (const number of amendment.withdrawn ?? []) conditions.delete(number);
    groups = new Map([...groups, ...(amendment.groups ?? []).map((one): [string, NamedGroup] => [one.id, one])]);
    const begins = instant(amendment.from_moment, authority.zone);
    versions.push({ number: versions.length + 1, begins, conditions, groups });
  }
  return versions;
}

/** Give each condition number's clauses in the authority's own order, one per version that holds it. */
export function clausesOf(authority: Authority): ReadonlyMap<string, readonly Clause[]> {
  const versions = versionsOf(authority);
  const order = new Map<string, Clause[]>();
  versions.forEach((version, place) => {
    const ends = versions[place + 1]?.begins ?? null;
    for (const [number, condition] of version.conditions) {
      const clauses = order.get(number) ?? [];
      clauses.push({ authority, version, condition, begins: version.begins, ends });
      order.set(number, clauses);
    }
  });
  return order;
}

/** Put the accepted id for every name that an authority writes. Throws RangeError for a name nobody lists. */
export function withAcceptedNames(authority: Authority, taxa: Taxa): Authority {
  const accepted = (names: readonly string[]): string[] => [...new Set(names.map((name) => taxa.resolve(name)))];
  const groups = (given: readonly NamedGroup[] | undefined): NamedGroup[] =>
    (given ?? []).map((group) => ({ ...group, taxa: accepted(group.taxa) }));
  const conditions = (given: readonly Condition[] | undefined): Condition[] =>
    (given ?? []).map((condition) => renamed(condition, accepted));
  return {
    ...authority,
    conditions: conditions(authority.conditions),
    groups: groups(authority.groups),
    amendments: (authority.amendments ?? []).map((one) => ({
      ...one,
      conditions: conditions(one.conditions),
      groups: groups(one.groups),
    })),
  };
}

function renamed(condition: Condition, accepted: (names: readonly string[]) => string[]): Condition {
  const changes: { taxa?: string[]; only?: Only; parts?: Part[] } = {};
  if ("taxa" in condition && condition.taxa !== undefined) changes.taxa = accepted(condition.taxa);
  if (condition.only?.taxa !== undefined) changes.only = { ...condition.only, taxa: accepted(condition.only.taxa) };
  if (condition.kind === "take limit" && condition.parts !== undefined) {
    changes.parts = condition.parts.map((part) => (part.taxa === undefined ? part : { ...part, taxa: accepted(part.taxa) }));
  }
  return { ...condition, ...changes } as Condition;
}
