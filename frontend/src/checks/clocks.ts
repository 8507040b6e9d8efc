/** A phone whose clock was wrong: the time as shown, the time as it was, and how far they lay apart. */
import { atWall, MINUTE, writtenTime, type Instant } from "./calendar";

const NOTICEABLE = 2 * MINUTE;

/** Give how far a clock ran ahead, in seconds; negative where it ran behind. */
export function fastBy(shown: Instant, known: Instant): number {
  return (shown - known) / 1000;
}

/** Tell whether the difference is more than clocks and fixes have anyway. */
export function isWrong(shown: Instant, known: Instant): boolean {
  return Math.abs(shown - known) >= NOTICEABLE;
}

/** Give what a phone set to a zone meant by a local time; of a time that came twice the first. */
export function asShown(local: string, zone: string): Instant {
  return atWall(writtenTime(local).wall, zone);
}

/** Give the true time of what a clock that ran so many seconds fast showed. */
export function corrected(shown: Instant, fastS: number): Instant {
  return shown - fastS * 1000;
}
