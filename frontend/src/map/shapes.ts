/** What a map is made of, without the library that draws it. */
import type { Geometry } from "../checks/places/areas";
import type { Geometry as GeoJsonGeometry } from "geojson";

/** How an area looks: permitted, closed, closed at times or under a condition, something to keep away from, land, water. */
export type Look = "permitted" | "closed" | "conditional" | "feature" | "land" | "water";

export interface Ground {
  readonly id: string;
  readonly name: string;
  readonly look: Look;
  readonly geometry: GeoJsonGeometry;
}

/** A place where something was done. `radius` in metres holds 95 % of readings; null: none was recorded. */
export interface Spot {
  readonly id: string;
  readonly lat: number;
  readonly lon: number;
  readonly radius: number | null;
  readonly shape: "round" | "square";
  readonly words: string;
}

export interface Own {
  readonly lat: number;
  readonly lon: number;
  readonly radius: number | null;
}

/** An area as it was pulled. */
export interface AreaGiven {
  readonly id: string;
  readonly name: string;
  readonly kind: string;
  readonly geometry: Geometry;
}

/** A condition on places, of all that an authority's terms hold. */
export interface PlaceCondition {
  readonly kind: string;
  readonly where?: string;
  readonly areas?: readonly string[];
  readonly dates?: unknown;
}

const BY_KIND: Readonly<Record<string, Look>> = {
  permitted: "permitted",
  closed: "closed",
  feature: "feature",
  shoreline: "land",
  land: "land",
  island: "land",
  water: "water",
};

/**
 * Give every area its look: what the conditions make of it, else what kind it is of. As the season report draws them:
 * closed with dates is closed at times, and so is a polygon to keep away from.
 */
export function groundOf(areas: readonly AreaGiven[], conditions: readonly PlaceCondition[]): readonly Ground[] {
  const looks = new Map<string, Look>();
  const geometries = new Map(areas.map((one) => [one.id, one.geometry.type]));
  for (const one of conditions) {
    if (one.kind !== "area") continue;
    for (const area of one.areas ?? []) looks.set(area, lookBy(one, geometries.get(area) ?? ""));
  }
  return areas.flatMap((one) => {
    const look = looks.get(one.id) ?? BY_KIND[one.kind];
    return look === undefined ? [] : [{ id: one.id, name: one.name, look, geometry: one.geometry as unknown as GeoJsonGeometry }];
  });
}

function lookBy(condition: PlaceCondition, geometry: string): Look {
  const dated = Array.isArray(condition.dates) && condition.dates.length > 0;
  if (condition.where === "outside") return dated ? "conditional" : "closed";
  if (condition.where === "keep away") return geometry.endsWith("Polygon") ? "conditional" : "feature";
  return "permitted";
}

/** What the legend explains, in its order, with the words for each. */
export const LEGEND: readonly (readonly [look: Look | "round" | "square" | "doubt" | "chosen" | "own", words: string])[] = [
  ["permitted", "Permitted area"],
  ["closed", "Closed area"],
  ["conditional", "Closed at times, or to keep away from"],
  ["feature", "Place to keep away from"],
  ["land", "Land and drying sand"],
  ["round", "Haul"],
  ["square", "Set, as a trap"],
  ["doubt", "Circle within which it lies (95 %)"],
  ["chosen", "Chosen trip"],
  ["own", "Where this device is"],
];
