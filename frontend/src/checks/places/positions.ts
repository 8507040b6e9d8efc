/**
 * A position and how far it may be off.
 *
 * A device's "accuracy" is a radius with a claimed confidence, and the claims differ: a browser's is a 95 % figure (W3C
 * Geolocation), some phones' own apps give 68 %, a handheld's about 50 % (Chapman & Wieczorek 2020). All are brought to
 * 95 % under one model: the error is circular normal, so the distance from the true place follows the Rayleigh
 * distribution.
 */
const JUDGED_CONFIDENCE = 0.95;

export interface Fix {
  readonly lat: number;
  readonly lon: number;
  /** null means that no radius was recorded, which is not a radius of zero. */
  readonly radius_m: number | null;
  readonly confidence: number;
}

/** Give the radius that holds 95 % of readings, or null where none was recorded. */
export function radius95(fix: Fix): number | null {
  if (fix.radius_m === null) return null;
  return fix.radius_m * Math.sqrt(Math.log1p(-JUDGED_CONFIDENCE) / Math.log1p(-fix.confidence));
}

/** Give the standard deviation along each axis of the circular normal error of a 95 % radius. */
export function sigmaOf(radius: number): number {
  return radius / Math.sqrt(-2 * Math.log1p(-JUDGED_CONFIDENCE));
}
