/** Where one stands to every area that a permit speaks of: how far from its edge, and whether that can be told. */
import { areaOf, signedDistance } from "../checks/places/areas";
import { judgePath } from "../checks/places/paths";
import type { Clause } from "../checks/permits";
import type { Reading } from "../device/position";
import type { AreaGiven } from "../map/shapes";

export interface EdgeTold {
  readonly id: string;
  readonly name: string;
  /** What the permit makes of the area. */
  readonly what: "permitted" | "closed" | "keep away";
  readonly where: "inside" | "outside" | "cannot tell";
  /** Metres to the edge, whichever side. */
  readonly metres: number;
  /** The clauses that name it. */
  readonly numbers: readonly string[];
}

interface PlaceRule {
  readonly kind: string;
  readonly where: string;
  readonly areas: readonly string[];
}

const WHAT: Readonly<Record<string, EdgeTold["what"]>> = { inside: "permitted", outside: "closed" };

/** Tell every area that the clauses name, the nearest edge first. */
export function edgesAt(areas: readonly AreaGiven[], clauses: readonly Clause[], at: Reading): EdgeTold[] {
  const named = new Map<string, { what: EdgeTold["what"]; numbers: string[] }>();
  for (const { condition } of clauses) {
    if (condition.kind !== "area") continue;
    const rule = condition as unknown as PlaceRule;
    for (const id of rule.areas) {
      const known = named.get(id) ?? { what: WHAT[rule.where] ?? "keep away", numbers: [] };
      named.set(id, { ...known, numbers: [...known.numbers, condition.number] });
    }
  }
  const told = areas.flatMap((given) => {
    const rule = named.get(given.id);
    if (rule === undefined) return [];
    const area = areaOf(given.id, given.name, given.geometry);
    const fix = { lat: at.lat, lon: at.lon, radius_m: at.radius_m, confidence: 0.95 };
    const { whole } = judgePath(area, [fix]);
    const metres = Math.abs(signedDistance(area, at.lon, at.lat));
    return [{ id: given.id, name: given.name || given.id, ...rule, where: whole, metres }];
  });
  return told.sort((a, b) => a.metres - b.metres);
}
