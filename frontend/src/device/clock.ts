/** This phone's clock; on a demo server, whose season is invented, moved to the demo's day. */

/** A jump of the system clock beside a clock that only runs forward is noticed within this many milliseconds. */
const STEP = 2_000;

export class PhoneClock {
  private shift = 0;
  private began: { readonly wall: number; readonly steady: number };
  /** What was off when the app went out of sight; null while it is in sight. */
  private whenAway: number | null = null;

  /** `steady` only runs forward; on some phones it stands still while they sleep. */
  constructor(
    private readonly wall: () => number = () => Date.now(),
    private readonly steady: () => number = () => performance.now(),
  ) {
    this.began = { wall: wall(), steady: steady() };
  }

  /** Now, in milliseconds since 1970, as this phone's clock shows it. */
  readonly now = (): number => this.wall() + this.shift;

  /** Show the demo's day from here on. */
  moveBy(milliseconds: number): void {
    this.shift = milliseconds;
  }

  /** By how many milliseconds the system's clock was set since it was last known; 0 for less than two seconds. */
  steppedBy(): number {
    const step = this.step();
    return Math.abs(step) < STEP ? 0 : step;
  }

  wentAway(): void {
    this.whenAway ??= this.step();
  }

  /** What the clock ran ahead meanwhile was sleep, as far as anybody can tell; a clock that went back was set. */
  cameBack(): void {
    if (this.whenAway === null) return;
    const slept = this.step() - this.whenAway;
    this.whenAway = null;
    if (slept > 0) this.began = { ...this.began, wall: this.began.wall + slept };
  }

  /** It was held against the server's: what is off from here on counts anew. */
  wasCompared(): void {
    this.began = { wall: this.wall(), steady: this.steady() };
    if (this.whenAway !== null) this.whenAway = 0;
  }

  private step(): number {
    return this.wall() - this.began.wall - (this.steady() - this.began.steady);
  }
}

/** The time zone that this phone is set to, as the IANA names it. */
export function zoneHere(): string {
  return Intl.DateTimeFormat().resolvedOptions().timeZone;
}
