/** One reading of the phone's position; never a track, which would cost the battery. */

export interface Reading {
  readonly lat: number;
  readonly lon: number;
  /** The radius that holds 95 % of readings, in metres (W3C Geolocation). */
  readonly radius_m: number;
}

export type Found = { readonly at: Reading; readonly problem: "" } | { readonly at: null; readonly problem: string };

const PATIENCE = 15_000;
const PROBLEMS: Record<number, string> = {
  1: "This phone does not let the app read its position. Allow it in the browser's settings for this page.",
  2: "The phone could not find its position. Try again under open sky.",
  3: "The position took too long. Try again under open sky, or go on without.",
};

/** Ask once. Gives the reason in words where there is none: work goes on without a position. */
export function findPosition(patience = PATIENCE): Promise<Found> {
  if (!("geolocation" in navigator)) return Promise.resolve({ at: null, problem: "This browser gives no position." });
  return new Promise((resolve) => {
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const at = { lat: rounded(coords.latitude), lon: rounded(coords.longitude), radius_m: Math.max(1, Math.ceil(coords.accuracy)) };
        resolve({ at, problem: "" });
      },
      (error) => resolve({ at: null, problem: PROBLEMS[error.code] ?? "The phone gave no position." }),
      { enableHighAccuracy: true, timeout: patience, maximumAge: 10_000 },
    );
  });
}

/** A millionth of a degree is a tenth of a metre: more figures would only pretend. */
function rounded(degrees: number): number {
  return Math.round(degrees * 1e6) / 1e6;
}
