/**
 * Areas, and their boundary cut into short pieces so that a distance to it is quick and right to centimetres.
 *
 * An edge is the straight line between its two corners in longitude and latitude (RFC 7946, 3.1.1), not the geodesic.
 * Long edges are cut so short that the straight chord through space leaves the edge by about a centimetre at most.
 */
import { joinedEdges, withoutSeams } from "./edges";
import { geodesic, MEAN_RADIUS, radians, spacePoint, type Vector } from "./ellipsoid";
import { edgesOf, isIn, orientedRings, type Edge, type Polygon, type Position, type Ring } from "./polygons";

export type Geometry =
  | { readonly type: "Polygon"; readonly coordinates: Polygon }
  | { readonly type: "MultiPolygon"; readonly coordinates: readonly Polygon[] }
  | { readonly type: "LineString"; readonly coordinates: Ring }
  | { readonly type: "MultiLineString"; readonly coordinates: readonly Ring[] }
  | { readonly type: "Point"; readonly coordinates: Position }
  | { readonly type: "MultiPoint"; readonly coordinates: Ring };

/** A named area, ready to be measured against. */
export interface Area {
  readonly id: string;
  readonly name: string;
  /** By how much the drawn edge itself may be off. */
  readonly tolerance: number;
  /** What it is made of: polygons by area, so that several can be joined. */
  readonly parts: readonly (readonly Polygon[])[];
  readonly edges: readonly Edge[];
  readonly pieces: readonly Piece[];
}

/** A short straight piece of boundary, in degrees and in space. */
export interface Piece {
  readonly start: Position;
  readonly end: Position;
  readonly origin: Vector;
  readonly step: Vector;
  readonly inverseSquare: number;
}

/** Where a boundary comes nearest. */
export interface Nearest {
  readonly metres: number;
  readonly lon: number;
  readonly lat: number;
}

const SAG = 0.005;
const LONGEST_PIECE = 500;
const SHORTEST_PIECE = 5;
const MOST_PIECES = 400_000;

/** Make an area ready; throws RangeError for a geometry without corners or with corners that are no degrees. */
export function areaOf(id: string, name: string, geometry: Geometry, tolerance = 0): Area {
  const polygons = polygonsOf(geometry).map(orientedRings);
  const edges = polygons.length > 0 ? withoutSeams(polygons.flatMap((polygon) => polygon.flatMap(edgesOf))) : linesOf(geometry);
  if (edges.length === 0 && polygons.length === 0) throw new RangeError(`the area '${id}' is empty: draw it or leave it out`);
  return made(id, name, tolerance, polygons.length > 0 ? [polygons] : [], edges);
}

/** Join several areas into one whose inner edges no longer count; its tolerance is the largest of its parts. */
export function together(areas: readonly Area[]): Area {
  const [first] = areas;
  if (first === undefined) throw new RangeError("there is no area to join; name at least one");
  if (areas.length === 1) return first;
  return made(
    areas.map((area) => area.id).join("+"),
    areas.map((area) => area.name).join(", "),
    Math.max(...areas.map((area) => area.tolerance)),
    areas.flatMap((area) => area.parts),
    joinedEdges(areas),
  );
}

function made(id: string, name: string, tolerance: number, parts: Area["parts"], edges: readonly Edge[]): Area {
  for (const [lon, lat] of edges.flat()) {
    if (!(Math.abs(lon) <= 540 && Math.abs(lat) <= 90)) {
      throw new RangeError(`the area '${id}' has a corner that is no longitude and latitude in degrees`);
    }
  }
  return { id, name, tolerance, parts, edges, pieces: cut(edges) };
}

function polygonsOf(geometry: Geometry): readonly Polygon[] {
  if (geometry.type === "Polygon") return [geometry.coordinates];
  return geometry.type === "MultiPolygon" ? geometry.coordinates : [];
}

function linesOf(geometry: Geometry): Edge[] {
  switch (geometry.type) {
    case "Point":
      return [[geometry.coordinates, geometry.coordinates]];
    case "MultiPoint":
      return geometry.coordinates.map((point): Edge => [point, point]);
    case "LineString":
      return edgesOf(geometry.coordinates);
    case "MultiLineString":
      return geometry.coordinates.flatMap(edgesOf);
    default:
      return [];
  }
}

function cut(edges: readonly Edge[]): Piece[] {
  const wanted = edges.map(cutsNeeded);
  const total = wanted.reduce((sum, one) => sum + one, 0);
  // An outline of continents: coarser, but it ends.
  const share = total > MOST_PIECES + edges.length ? MOST_PIECES / total : 1;
  return edges.flatMap((edge, place) => piecesOf(edge, Math.max(Math.floor((wanted[place] ?? 1) * share), 1)));
}

function cutsNeeded([[x1, y1], [x2, y2]]: Edge): number {
  const steepest = Math.min(Math.max(Math.abs(y1), Math.abs(y2)), 89.999);
  const flattest = y1 * y2 < 0 ? 0 : Math.min(Math.abs(y1), Math.abs(y2));
  const length = MEAN_RADIUS * Math.hypot(radians(x2 - x1) * Math.cos(radians(flattest)), radians(y2 - y1));
  // An edge of length L leaves its chord by no more than L^2 tan(lat) / 4R sideways.
  const bend = Math.max(Math.tan(radians(steepest)), 1);
  const longest = Math.min(Math.max(Math.sqrt((4 * MEAN_RADIUS * SAG) / bend), SHORTEST_PIECE), LONGEST_PIECE);
  return Math.max(Math.ceil(length / longest), 1);
}

function piecesOf([from, to]: Edge, count: number): Piece[] {
  // Both ends of an edge come out exactly as they were drawn.
  const at = (place: number): Position =>
    place === count ? to : [from[0] * (1 - place / count) + to[0] * (place / count), from[1] * (1 - place / count) + to[1] * (place / count)];
  return Array.from({ length: count }, (_none, place) => pieceOf(place === 0 ? from : at(place), at(place + 1)));
}

function pieceOf(start: Position, end: Position): Piece {
  const origin = spacePoint(start[0], start[1]);
  const tip = spacePoint(end[0], end[1]);
  const step: Vector = [tip[0] - origin[0], tip[1] - origin[1], tip[2] - origin[2]];
  const square = step[0] ** 2 + step[1] ** 2 + step[2] ** 2;
  return { start, end, origin, step, inverseSquare: square > 0 ? 1 / square : 0 };
}

/** Give which share of a piece is nearest to a point in space, and the straight metres to it. */
export function toPiece(point: Vector, { origin, step, inverseSquare }: Piece): readonly [metres: number, share: number] {
  const [x, y, z] = [point[0] - origin[0], point[1] - origin[1], point[2] - origin[2]];
  const share = Math.min(Math.max((x * step[0] + y * step[1] + z * step[2]) * inverseSquare, 0), 1);
  return [Math.hypot(x - share * step[0], y - share * step[1], z - share * step[2]), share];
}

/** Give the geodesic metres to the boundary and its nearest point; an area without any boundary is infinitely far. */
export function nearest(area: Area, lon: number, lat: number): Nearest {
  const point = spacePoint(lon, lat);
  let best = Number.POSITIVE_INFINITY;
  let at: Nearest = { metres: Number.POSITIVE_INFINITY, lon, lat };
  for (const piece of area.pieces) {
    const [metres, share] = toPiece(point, piece);
    if (metres >= best) continue;
    best = metres;
    const { start, end } = piece;
    at = { metres, lon: start[0] + (end[0] - start[0]) * share, lat: start[1] + (end[1] - start[1]) * share };
  }
  return area.pieces.length === 0 ? at : { ...at, metres: geodesic(lon, lat, at.lon, at.lat) };
}

/** Give the geodesic metres to the boundary, positive inside. Lines and points have no inside. */
export function signedDistance(area: Area, lon: number, lat: number): number {
  const { metres } = nearest(area, lon, lat);
  return contains(area, lon, lat) ? metres : -metres;
}

/** Tell whether a place lies in an area or on its boundary; never for lines and points. */
export function contains(area: Area, lon: number, lat: number): boolean {
  return area.parts.some((polygons) => isIn(polygons, lon, lat) !== "outside");
}
