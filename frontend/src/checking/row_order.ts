/** The order of the rows for a trip, the same on the phone and on the printed field sheet. */
import type { Facts } from "../checks/facts";
import { holdsAt } from "../checks/permits";

/** Give taxa: those most often caught first (ties: the newest, then by name), then those that the permit's conditions name. */
export function rowOrder(facts: Facts, authority: string, at: number): string[] {
  const seen = new Map<string, { lines: number; newest: number }>();
  for (const entry of facts.lines) {
    if (entry.at > at) continue;
    const known = seen.get(entry.name.taxon) ?? { lines: 0, newest: 0 };
    seen.set(entry.name.taxon, { lines: known.lines + 1, newest: Math.max(known.newest, entry.at) });
  }
  const caught = [...seen].sort(([a, x], [b, y]) => y.lines - x.lines || y.newest - x.newest || (a < b ? -1 : 1)).map(([taxon]) => taxon);
  const clauses = [...(facts.clauses.get(authority)?.values() ?? [])].flat().filter((clause) => holdsAt(clause, at));
  const named = clauses.flatMap(({ condition }) => ("taxa" in condition ? ((condition.taxa as readonly string[] | undefined) ?? []) : []));
  return [...new Set([...caught, ...named])];
}
