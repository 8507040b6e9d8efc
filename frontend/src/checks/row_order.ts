/** The order of a trip's taxon rows, the same on this screen and on the printed sheet; the core's row_order.py tells the rule. */
import type { Condition } from "./conditions";
import { byText, type Facts } from "./facts";
import { holdsAt, type NamedGroup } from "./permits";
import type { Instant } from "./calendar";

export interface Caught {
  readonly taxon: string;
  readonly at: Instant;
}

/** Give the taxa in the order of their rows, each once; `lineage` gives a taxon and all above it. */
export function rowOrder(lineage: (taxon: string) => readonly string[], caught: Iterable<Caught>, named: Iterable<string>): string[] {
  const seen = new Map<string, { number: number; newest: Instant }>();
  for (const { taxon, at } of caught) {
    const known = seen.get(taxon) ?? { number: 0, newest: at };
    seen.set(taxon, { number: known.number + 1, newest: Math.max(known.newest, at) });
  }
  const rows = [...seen].sort(([a, x], [b, y]) => y.number - x.number || y.newest - x.newest || byText(a, b)).map(([taxon]) => taxon);
  for (const taxon of named) {
    if (!rows.some((row) => lineage(row).includes(taxon))) rows.push(taxon);
  }
  return rows;
}

/** Give the taxa that conditions name, in their order; a name may come several times. */
export function* namedIn(conditions: Iterable<Condition>, groups: ReadonlyMap<string, Pick<NamedGroup, "taxa">>): Iterable<string> {
  for (const condition of conditions) {
    switch (condition.kind) {
      case "take limit":
      case "prohibited taxon":
        yield* (condition.group ?? "") === "" ? (condition.taxa ?? []) : (groups.get(condition.group ?? "")?.taxa ?? []);
        break;
      case "size limit":
      case "stage and sex":
        yield* condition.taxa ?? [];
    }
    if (condition.kind === "take limit") for (const part of condition.parts ?? []) yield* part.taxa ?? [];
  }
}

/** Give the order for a trip under an authority, as the season stands at a moment. */
export function rowOrderFor(facts: Facts, authority: string, at: Instant): string[] {
  const caught = facts.lines.filter((entry) => entry.at <= at).map((entry) => ({ taxon: entry.name.taxon, at: entry.at }));
  const clauses = [...(facts.clauses.get(authority)?.values() ?? [])].flat().filter((clause) => holdsAt(clause, at));
  const groups = clauses[0]?.version.groups ?? new Map<string, NamedGroup>();
  return rowOrder((taxon) => facts.book.taxa.lineage(taxon), caught, namedIn(clauses.map((clause) => clause.condition), groups));
}
