/** Polygons in degrees of longitude and latitude, edges straight in degrees (RFC 7946). */
import { wrapped } from "./ellipsoid";

export type Position = readonly [lon: number, lat: number, ...rest: number[]];
export type Ring = readonly Position[];
export type Polygon = readonly Ring[];
export type Edge = readonly [Position, Position];

export function edgesOf(ring: Ring): Edge[] {
  return ring.slice(1).map((end, place): Edge => [ring[place] ?? end, end]);
}

/** Turn shells counterclockwise and holes clockwise, so that an area stays on the left hand of its edges. */
export function orientedRings(polygon: Polygon): Polygon {
  return polygon.map((ring, place) => (signedArea(ring) > 0 === (place === 0) ? ring : [...ring].reverse()));
}

function signedArea(ring: Ring): number {
  const [x0, y0] = ring[0] ?? [0, 0];
  let twice = 0;
  for (let place = 1; place < ring.length; place++) {
    const [x1, y1] = ring[place - 1] ?? [0, 0];
    const [x2, y2] = ring[place] ?? [0, 0];
    twice += (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0);
  }
  return twice / 2;
}

/** Tell where a place lies to polygons in degrees, counted around the earth as they may be. */
export function isIn(polygons: readonly Polygon[], lon: number, lat: number): "inside" | "on" | "outside" {
  let found: "inside" | "on" | "outside" = "outside";
  for (const turn of [0, 360, -360]) {
    for (const polygon of polygons) {
      const side = sideOf(polygon, wrapped(lon) + turn, lat);
      if (side === "inside") return side;
      if (side === "on") found = side;
    }
  }
  return found;
}

function sideOf(polygon: Polygon, x: number, y: number): "inside" | "on" | "outside" {
  let inside = false;
  for (const ring of polygon) {
    for (let place = 1; place < ring.length; place++) {
      const [x1, y1] = ring[place - 1] ?? [0, 0];
      const [x2, y2] = ring[place] ?? [0, 0];
      const cross = (x2 - x1) * (y - y1) - (y2 - y1) * (x - x1);
      const within = Math.min(x1, x2) <= x && x <= Math.max(x1, x2) && Math.min(y1, y2) <= y && y <= Math.max(y1, y2);
      if (cross === 0 && within) return "on";
      if (y1 > y !== y2 > y && cross > 0 === y2 > y1) inside = !inside;
    }
  }
  return inside ? "inside" : "outside";
}
