/** The chance that the true place lies inside an area, for a circular normal error. */
import { contains, toPiece, type Area } from "./areas";
import { onPlane, spacePoint, type Vector } from "./ellipsoid";

/** Standard deviations beyond which an edge adds nothing (less than 1e-13). */
const REACH = 8;
const TOLERANCE = 1e-12;
const DEEPEST = 40;
/** In standard deviations: how near is on a corner, and how far one steps aside from it. */
const CORNER = 1e-6;
const ASIDE: Plane = [5.4e-5, 8.4e-5];
const NOWHERE: Plane = [0, 0];

/** A place on the plane that touches the ellipsoid, in metres. */
type Plane = readonly [east: number, north: number];

/**
 * Integrate a circular normal error of `sigma` metres about a place over an area: 0 to 1.
 *
 * Seen from the place, each edge shuts off the part of the error that falls beyond it within the angle it spans: the
 * integral of exp(-r^2 / 2) over that angle, r being how far the edge is in its direction. The sum over all edges is
 * right but for whole turns, which the side of the boundary settles.
 */
export function probabilityInside(area: Area, lon: number, lat: number, sigma: number): number {
  const inside = contains(area, lon, lat) ? 1 : 0;
  const point = spacePoint(lon, lat);
  const near = area.pieces.filter((piece) => toPiece(point, piece)[0] <= REACH * sigma);
  if (near.length === 0) return inside;
  const edges = near.map(({ origin, step }) => {
    const tip: Vector = [origin[0] + step[0], origin[1] + step[1], origin[2] + step[2]];
    return [onPlane(lon, lat, origin), onPlane(lon, lat, tip)] as const;
  });
  // Exactly on a corner the sum has no single value, though the chance has: step aside by nothing that counts.
  const aside = edges.some(([start]) => Math.hypot(...start) < CORNER * sigma) ? ASIDE : NOWHERE;
  const moved = ([east, north]: Plane): Plane => [east - aside[0] * sigma, north - aside[1] * sigma];
  const beyond = edges.reduce((sum, [start, end]) => sum + shutOff(moved(start), moved(end), sigma), 0);
  const share = ((-beyond % 1) + 1) % 1;
  return Math.min(share, 1 - share) < 1e-9 ? inside : share;
}

/** Give the part of the error beyond one edge; positive where the area's inside lies on this side of it. */
function shutOff(start: Plane, end: Plane, sigma: number): number {
  const along = [end[0] - start[0], end[1] - start[1]] as const;
  const length = Math.hypot(...along);
  if (length === 0) return 0;
  const across = (start[0] * end[1] - start[1] * end[0]) / length / sigma;
  const first = (start[0] * along[0] + start[1] * along[1]) / length / sigma;
  const last = (end[0] * along[0] + end[1] * along[1]) / length / sigma;
  const height = Math.max(Math.abs(across), 1e-12);
  const swept = integral(height, Math.atan2(first, height), Math.atan2(last, height));
  return (across >= 0 ? swept : -swept) / (2 * Math.PI);
}

/** Integrate exp(-(height / cos t)^2 / 2) from one angle to another (adaptive Simpson). */
function integral(height: number, from: number, to: number): number {
  const value = (angle: number): number => Math.exp(-0.5 * (height / Math.cos(angle)) ** 2);
  const simpson = (a: number, fa: number, fm: number, b: number, fb: number): number => ((b - a) / 6) * (fa + 4 * fm + fb);
  const refine = (a: number, fa: number, m: number, fm: number, b: number, fb: number, whole: number, deep: number): number => {
    const [left, right] = [(a + m) / 2, (m + b) / 2];
    const [fl, fr] = [value(left), value(right)];
    const [one, two] = [simpson(a, fa, fl, m, fm), simpson(m, fm, fr, b, fb)];
    if (deep === 0 || Math.abs(one + two - whole) < TOLERANCE) return one + two + (one + two - whole) / 15;
    return refine(a, fa, left, fl, m, fm, one, deep - 1) + refine(m, fm, right, fr, b, fb, two, deep - 1);
  };
  const middle = (from + to) / 2;
  const [fa, fm, fb] = [value(from), value(middle), value(to)];
  return refine(from, fa, middle, fm, to, fb, simpson(from, fa, fm, to, fb), DEEPEST);
}
