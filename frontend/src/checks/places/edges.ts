/** The edges that are boundary: seams at the antimeridian and edges between areas that are joined are none. */
import { isIn, type Edge, type Polygon, type Position } from "./polygons";

/** What edges are joined of: the polygons of an area and their edges. */
interface Outlined {
  readonly parts: readonly (readonly Polygon[])[];
  readonly edges: readonly Edge[];
}

/** Leave out the poles' "edges" and what of the antimeridian has the area on both of its sides. */
export function withoutSeams(edges: readonly Edge[]): Edge[] {
  const kept: Edge[] = [];
  const upright: Edge[] = [];
  for (const edge of edges) {
    const [[x1, y1], [x2, y2]] = edge;
    if (Math.abs(y1) === 90 && y1 === y2) continue;
    if (Math.abs(x1) === 180 && x1 === x2) upright.push(edge);
    else kept.push(edge);
  }
  return [...kept, ...oneSided(upright)];
}

const SEAM_CRUMB = 1e-9;

/** Give the stretches of the antimeridian that edges cover on one side only. */
function oneSided(edges: readonly Edge[]): Edge[] {
  const marks = [...new Set(edges.flatMap(([[, y1], [, y2]]) => [y1, y2]))].sort((a, b) => a - b);
  const found: Edge[] = [];
  for (let place = 1; place < marks.length; place++) {
    const [low, high] = [marks[place - 1] ?? 0, marks[place] ?? 0];
    const covering = edges.filter(([[, y1], [, y2]]) => Math.min(y1, y2) <= low && Math.max(y1, y2) >= high);
    const east = covering.some(([[x]]) => x > 0);
    const west = covering.some(([[x]]) => x < 0);
    if (east === west || high - low <= SEAM_CRUMB) continue;
    // The area stays on the left hand: northward along its eastern edge, southward along its western.
    const from: Position = east ? [180, low] : [-180, high];
    const to: Position = east ? [180, high] : [-180, low];
    found.push([from, to]);
  }
  return found;
}

/** Degrees below which two edges are one: about a hundredth of a millimetre. */
const SAME = 1e-10;

/** Give the edges of several areas as one: what lies within another of them, and what two of them share, is none. */
export function joinedEdges(areas: readonly Outlined[]): Edge[] {
  return areas.flatMap((area, place) =>
    area.edges.flatMap((edge) => splitAt(edge, areas.flatMap((other) => (other === area ? [] : other.edges)))
      .filter((part) => areas.every((other, rank) => other === area || isOutside(part, other, place < rank)))),
  );
}

/** Tell whether a part of an edge is still boundary beside another area; of one that both share, the first has it. */
function isOutside(part: Edge, other: Outlined, first: boolean): boolean {
  const polygons = other.parts.flat();
  if (polygons.length === 0) return true;
  const middle: Position = [(part[0][0] + part[1][0]) / 2, (part[0][1] + part[1][1]) / 2];
  const along = other.edges.find((edge) => isAlong(middle, part, edge));
  if (along !== undefined) return first && isSameWay(part, along);
  return isIn(polygons, middle[0], middle[1]) === "outside";
}

function isAlong([x, y]: Position, part: Edge, [[x1, y1], [x2, y2]]: Edge): boolean {
  const length = Math.hypot(x2 - x1, y2 - y1);
  const own = Math.hypot(part[1][0] - part[0][0], part[1][1] - part[0][1]);
  if (length === 0 || own === 0) return false;
  const off = Math.abs((x2 - x1) * (y - y1) - (y2 - y1) * (x - x1)) / length;
  const share = ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / (length * length);
  const turn = Math.abs((x2 - x1) * (part[1][1] - part[0][1]) - (y2 - y1) * (part[1][0] - part[0][0])) / length;
  return off < SAME && turn < SAME && share >= 0 && share <= 1;
}

function isSameWay([[a, b], [c, d]]: Edge, [[x1, y1], [x2, y2]]: Edge): boolean {
  return (c - a) * (x2 - x1) + (d - b) * (y2 - y1) > 0;
}

/** Cut an edge wherever one of the others meets it. */
function splitAt(edge: Edge, others: readonly Edge[]): Edge[] {
  const shares = [...new Set([0, ...others.flatMap((other) => meetings(edge, other)), 1])].sort((a, b) => a - b);
  const at = (share: number): Position =>
    share === 0 ? edge[0] : share === 1 ? edge[1] : [edge[0][0] + (edge[1][0] - edge[0][0]) * share, edge[0][1] + (edge[1][1] - edge[0][1]) * share];
  return shares.slice(1).map((share, place): Edge => [at(shares[place] ?? 0), at(share)]);
}

/** Give at which shares of the first edge the second meets it; along it: where its ends lie. */
export function meetings([[x1, y1], [x2, y2]]: Edge, [[x3, y3], [x4, y4]]: Edge): number[] {
  if (Math.max(x1, x2) < Math.min(x3, x4) - SAME || Math.max(x3, x4) < Math.min(x1, x2) - SAME) return [];
  if (Math.max(y1, y2) < Math.min(y3, y4) - SAME || Math.max(y3, y4) < Math.min(y1, y2) - SAME) return [];
  const [dx, dy, ex, ey] = [x2 - x1, y2 - y1, x4 - x3, y4 - y3];
  const square = dx * dx + dy * dy;
  if (square === 0) return [];
  const found: number[] = [];
  for (const [x, y] of [[x3, y3], [x4, y4]] as const) {
    const off = Math.abs(dx * (y - y1) - dy * (x - x1)) / Math.sqrt(square);
    if (off < SAME) found.push(((x - x1) * dx + (y - y1) * dy) / square);
  }
  const cross = dx * ey - dy * ex;
  if (cross !== 0) {
    const share = ((x3 - x1) * ey - (y3 - y1) * ex) / cross;
    const other = ((x3 - x1) * dy - (y3 - y1) * dx) / cross;
    if (other >= 0 && other <= 1) found.push(share);
  }
  return found.filter((share) => share > 0 && share < 1);
}
