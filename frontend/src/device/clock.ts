/** This phone's clock; on a demo server, whose season is invented, moved to the demo's day. */

/** A jump of the system clock beside a clock that only runs forward is noticed within this many milliseconds. */
const STEP = 2_000;

export class PhoneClock {
  private shift = 0;
  private readonly began = { wall: Date.now(), steady: performance.now() };

  /** Now, in milliseconds since 1970, as this phone's clock shows it. */
  readonly now = (): number => Date.now() + this.shift;

  /** Show the demo's day from here on. */
  moveBy(milliseconds: number): void {
    this.shift = milliseconds;
  }

  /** By how many milliseconds the system's clock was set since the app was opened; 0 for less than two seconds. */
  steppedBy(): number {
    const step = Date.now() - this.began.wall - (performance.now() - this.began.steady);
    return Math.abs(step) < STEP ? 0 : step;
  }
}

/** The time zone that this phone is set to, as the IANA names it. */
export function zoneHere(): string {
  return Intl.DateTimeFormat().resolvedOptions().timeZone;
}
