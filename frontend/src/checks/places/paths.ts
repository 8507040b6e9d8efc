/**
 * A haul against an area, judged along its whole length; and how far it kept from a feature.
 *
 * Between two fixes the haul is the straight line in longitude and latitude, the short way round, and its radius is the
 * larger of the two. A fix is inside only if its whole 95 % radius is inside, outside only if all of it is outside.
 */
import { contains, nearest, signedDistance, toPiece, type Area, type Piece } from "./areas";
import { probabilityInside } from "./chances";
import { meetings } from "./edges";
import { distanceInSpace, MEAN_RADIUS, radians, spacePoint, type Vector } from "./ellipsoid";
import type { Edge, Position } from "./polygons";
import { radius95, sigmaOf, type Fix } from "./positions";

export type Verdict = "inside" | "outside" | "cannot tell";

export interface PathAnswer {
  readonly whole: Verdict;
  /** The smallest and largest signed distance on the way, in metres, positive inside. */
  readonly least_m: number;
  readonly greatest_m: number;
  /** The largest 95 % radius; null where any fix has none. */
  readonly radius_m: number | null;
  /** At some point the whole radius is outside: a haul bound to stay inside has left. */
  readonly leaves_for_certain: boolean;
  /** At some point the whole radius is inside: a haul bound to stay out has entered. */
  readonly enters_for_certain: boolean;
  /** The chance at the point of least distance; null where any fix has no radius. */
  readonly probability_inside: number | null;
}

/** How far something is from a feature, in metres: at least, most likely, at most. Zero is at or in it. */
export interface Gap {
  readonly low_m: number | null;
  readonly best_m: number;
  readonly high_m: number | null;
}

interface Extreme {
  readonly metres: number;
  readonly lon: number;
  readonly lat: number;
}

/** A fix, or the line between two: its extremes and the 95 % radius there. */
interface Stretch {
  readonly least: Extreme;
  readonly greatest: Extreme;
  readonly radius: number | null;
}

/** Standard deviations from the boundary at which the chance is 0 or 1 to twelve digits. */
const NO_DOUBT = 8;

/** Judge a haul, its fixes in order, against an area; throws RangeError when there is no fix. */
export function judgePath(area: Area, fixes: readonly Fix[]): PathAnswer {
  const stretches = stretchesOf(area, fixes);
  const least = stretches.reduce((a, b) => (b.least.metres < a.least.metres ? b : a));
  const greatest = Math.max(...stretches.map((one) => one.greatest.metres));
  const known = stretches.flatMap((one) => (one.radius === null ? [] : [{ ...one, reach: one.radius + area.tolerance }]));
  const allKnown = known.length === stretches.length;
  const inside = known.every((one) => one.least.metres >= one.reach);
  const outside = known.every((one) => one.greatest.metres <= -one.reach);
  return {
    whole: !allKnown || inside === outside ? "cannot tell" : inside ? "inside" : "outside",
    least_m: least.least.metres,
    greatest_m: greatest,
    radius_m: allKnown ? Math.max(...fixes.map((fix) => radius95(fix) ?? 0)) : null,
    leaves_for_certain: known.some((one) => one.least.metres <= -one.reach),
    enters_for_certain: known.some((one) => one.greatest.metres >= one.reach),
    probability_inside: allKnown ? chanceAt(area, least.least, least.radius ?? 1) : null,
  };
}

function chanceAt(area: Area, { metres, lon, lat }: Extreme, radius: number): number {
  const sigma = sigmaOf(radius);
  if (Math.abs(metres) > NO_DOUBT * sigma) return metres > 0 ? 1 : 0;
  return probabilityInside(area, lon, lat, sigma);
}

/** Give the signed metres at the point that decides: the nearest to the edge, or the deepest outside. */
export function decidingDistance({ least_m, greatest_m }: PathAnswer): number {
  return greatest_m < 0 ? greatest_m : least_m;
}

/** Give how far a haul is from a feature (area, line or point): as near as its nearest stretch. */
export function distanceTo(area: Area, fixes: readonly Fix[]): Gap {
  // Signed distances grow inward, so the nearest approach to a feature is the greatest of them.
  const gaps = stretchesOf(area, fixes).map((one) => ({ gap: -one.greatest.metres, radius: one.radius }));
  const best = Math.max(0, Math.min(...gaps.map((one) => one.gap)));
  const known = gaps.flatMap(({ gap, radius }) => (radius === null ? [] : [{ gap, reach: radius + area.tolerance }]));
  if (known.length < gaps.length) return { low_m: null, best_m: best, high_m: null };
  return {
    low_m: Math.max(0, Math.min(...known.map((one) => one.gap - one.reach))),
    best_m: best,
    high_m: Math.max(0, Math.min(...known.map((one) => one.gap + one.reach))),
  };
}

/** Give each fix with its own radius, and each line between two with the larger of theirs. */
function stretchesOf(area: Area, fixes: readonly Fix[]): Stretch[] {
  if (fixes.length === 0) throw new RangeError("the haul has no position; record at least one");
  const stretches: Stretch[] = fixes.map((fix) => {
    const here = extremeAt(area, fix.lon, fix.lat);
    return { least: here, greatest: here, radius: radius95(fix) };
  });
  fixes.slice(1).forEach((end, place) => {
    const start = fixes[place] ?? end;
    if (start.lon === end.lon && start.lat === end.lat) return;
    const [first, second] = [radius95(start), radius95(end)];
    const radius = first === null || second === null ? null : Math.max(first, second);
    stretches.push({ ...extremes(area, start, end), radius });
  });
  return stretches;
}

function extremeAt(area: Area, lon: number, lat: number): Extreme {
  return { metres: signedDistance(area, lon, lat), lon, lat };
}

/** Give the least and the greatest signed distance on the line between two fixes. */
function extremes(area: Area, start: Fix, end: Fix): { least: Extreme; greatest: Extreme } {
  const parts = partsOf(area, start, end);
  const oneSide = new Set(parts.map((part) => part.inside)).size < 2;
  const spots = parts.flatMap(({ points }) => [
    farthest(area, points),
    // All on one side: the nearest point is an extreme too.
    ...(oneSide ? [closest(area, points)] : []),
  ]);
  const found = [...spots, [start.lon, start.lat] as const, [end.lon, end.lat] as const]
    .map(([lon, lat]) => extremeAt(area, lon, lat))
    .sort((a, b) => a.metres - b.metres);
  const [least, greatest] = [found[0], found.at(-1)];
  if (least === undefined || greatest === undefined) throw new RangeError("the line between two fixes has no place");
  return { least, greatest };
}

interface PathPart {
  readonly inside: boolean;
  readonly points: readonly Position[];
}

/** Split the line between two fixes where it meets the boundary. */
function partsOf(area: Area, start: Fix, end: Fix): PathPart[] {
  const apart = end.lon - start.lon;
  const turn = Math.abs(apart) <= 180 ? apart : ((((apart + 180) % 360) + 360) % 360) - 180;
  const line: Edge = [
    [start.lon, start.lat],
    [start.lon + turn, end.lat],
  ];
  const shares = new Set([0, 1]);
  // A line that is crossed is met there, too: from no end of either piece would that be seen.
  for (const shift of [0, 360, -360]) {
    const moved: Edge = [
      [line[0][0] + shift, line[0][1]],
      [line[1][0] + shift, line[1][1]],
    ];
    for (const edge of area.edges) for (const share of meetings(moved, edge)) shares.add(share);
  }
  // The ends are where the fixes are, to the last digit: one may lie on the very edge.
  const last: Position = turn === apart ? [end.lon, end.lat] : line[1];
  const at = (share: number): Position =>
    share === 1 ? last : [start.lon + turn * share, start.lat + (end.lat - start.lat) * share];
  const ordered = [...shares].sort((a, b) => a - b);
  return ordered.slice(1).map((share, place) => {
    const before = ordered[place] ?? 0;
    const middle = at((before + share) / 2);
    return { inside: contains(area, middle[0], middle[1]), points: sampled(at(before), at(share)) };
  });
}

const STEP = 400;
const MOST_STEPS = 2000;

/** Put points on a line so that neighbours are no farther apart than a chord stays true for. */
function sampled(from: Position, to: Position): Position[] {
  const reach = MEAN_RADIUS * (Math.abs(radians(to[0] - from[0])) + Math.abs(radians(to[1] - from[1])));
  const count = Math.min(Math.max(Math.ceil(reach / STEP), 1), MOST_STEPS);
  return Array.from({ length: count + 1 }, (_none, place): Position => {
    const share = place / count;
    return [from[0] * (1 - share) + to[0] * share, from[1] * (1 - share) + to[1] * share];
  });
}

const CLOSE_ENOUGH = 0.02;
const MOST_HALVINGS = 40;

interface Spot {
  readonly at: Position;
  readonly reached: Float64Array;
  readonly own: number;
}

/**
 * Give the place on a sampled line that is farthest from the boundary, to within two centimetres.
 *
 * On a stretch the distance cannot exceed the best, over all pieces, of the worse of its two ends: the distance to one
 * straight piece is convex. So stretches that cannot beat the best are left, and the others halved.
 */
function farthest(area: Area, points: readonly Position[]): Position {
  const pieces = piecesThatMatter(area, points);
  const spotAt = (at: Position): Spot => {
    const reached = distances(spacePoint(at[0], at[1]), pieces);
    return { at, reached, own: smallest(reached) };
  };
  const spots = points.map(spotAt);
  let best = spots.reduce((a, b) => (b.own > a.own ? b : a));
  let open = spots.slice(1).map((spot, place) => [spots[place] ?? spot, spot] as const);
  for (let round = 0; round < MOST_HALVINGS; round++) {
    open = open.filter(([a, b]) => ceilingOf(a, b) > best.own + CLOSE_ENOUGH);
    if (open.length === 0) break;
    open = open.flatMap(([a, b]) => {
      const middle = spotAt([(a.at[0] + b.at[0]) / 2, (a.at[1] + b.at[1]) / 2]);
      if (middle.own > best.own) best = middle;
      return [[a, middle] as const, [middle, b] as const];
    });
  }
  return best.at;
}

function ceilingOf(first: Spot, second: Spot): number {
  let found = Number.POSITIVE_INFINITY;
  first.reached.forEach((one, place) => {
    found = Math.min(found, Math.max(one, second.reached[place] ?? one));
  });
  return found;
}

function distances(point: Vector, pieces: readonly Piece[]): Float64Array {
  return Float64Array.from(pieces, (piece) => toPiece(point, piece)[0]);
}

function smallest(values: Float64Array): number {
  return values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
}

/**
 * Give the place on a sampled line that does not cross the boundary where it comes nearest to it.
 *
 * Of two straight pieces that do not cross, one end of one is nearest.
 */
function closest(area: Area, points: readonly Position[]): Position {
  const pieces = piecesThatMatter(area, points);
  const spots = points.map((point) => spacePoint(point[0], point[1]));
  let best = Number.POSITIVE_INFINITY;
  let at: Position = points[0] ?? [0, 0];
  const offer = (metres: number, place: Position): void => {
    if (metres < best) [best, at] = [metres, place];
  };
  spots.forEach((spot, place) => offer(smallest(distances(spot, pieces)), points[place] ?? at));
  const corners = pieces.flatMap((piece) => [piece.start, piece.end]).map((corner) => spacePoint(corner[0], corner[1]));
  for (let place = 1; place < points.length; place++) {
    const [from, to] = [points[place - 1] ?? at, points[place] ?? at];
    const leg = legOf(spots[place - 1] ?? [0, 0, 0], spots[place] ?? [0, 0, 0], from, to);
    for (const corner of corners) {
      const [metres, share] = toPiece(corner, leg);
      offer(metres, [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share]);
    }
  }
  return at;
}

function legOf(origin: Vector, tip: Vector, start: Position, end: Position): Piece {
  const step: Vector = [tip[0] - origin[0], tip[1] - origin[1], tip[2] - origin[2]];
  const square = step[0] ** 2 + step[1] ** 2 + step[2] ** 2;
  return { start, end, origin, step, inverseSquare: square > 0 ? 1 / square : 0 };
}

/** Give the pieces that can be nearest to any point of a line: others are too far from its middle. */
function piecesThatMatter(area: Area, points: readonly Position[]): Piece[] {
  const middle = points[Math.floor(points.length / 2)] ?? [0, 0];
  const centre = spacePoint(middle[0], middle[1]);
  const half = points.reduce((most, [lon, lat]) => Math.max(most, distanceInSpace(centre, spacePoint(lon, lat))), 0);
  const reach = nearest(area, middle[0], middle[1]).metres + 2 * half + 1;
  return area.pieces.filter((piece) => toPiece(centre, piece)[0] <= reach);
}
