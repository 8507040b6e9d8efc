/**
 * Exact numbers: a limit is never compared by a binary float, in which 3.5 x 25.4 falls short of 88.9.
 *
 * An amount is a fraction of two whole numbers; one that nobody recorded is `UNKNOWN_AMOUNT`, above every number.
 */
export class Exact {
  private constructor(
    readonly top: bigint,
    readonly bottom: bigint,
  ) {}

  /** Give `top / bottom` in lowest terms; a bottom of 0 is the amount that nobody knows. */
  static of(top: bigint, bottom: bigint = 1n): Exact {
    if (bottom === 0n) return UNKNOWN_AMOUNT;
    if (bottom === 1n) return new Exact(top, 1n);
    const sign = bottom < 0n ? -1n : 1n;
    const shared = commonDivisor(top < 0n ? -top : top, bottom * sign) * sign;
    return new Exact(top / shared, bottom / shared);
  }

  /** The one value that is no number. Made here, since nothing else may make it. */
  static unknown(): Exact {
    return new Exact(1n, 0n);
  }

  get isKnown(): boolean {
    return this.bottom !== 0n;
  }

  get isWhole(): boolean {
    return this.bottom === 1n;
  }

  get isZero(): boolean {
    return this.top === 0n;
  }

  plus(other: Exact): Exact {
    if (!this.isKnown || !other.isKnown) return UNKNOWN_AMOUNT;
    if (this.isWhole && other.isWhole) return new Exact(this.top + other.top, 1n);
    return Exact.of(this.top * other.bottom + other.top * this.bottom, this.bottom * other.bottom);
  }

  /** Give the difference of two known amounts; what is left once an unknown amount is taken off is told by `room`. */
  minus(other: Exact): Exact {
    if (!other.isKnown) throw new RangeError("an unknown amount cannot be taken off");
    return this.plus(new Exact(-other.top, other.bottom));
  }

  times(other: Exact): Exact {
    if (!this.isKnown || !other.isKnown) return UNKNOWN_AMOUNT;
    return Exact.of(this.top * other.top, this.bottom * other.bottom);
  }

  over(other: Exact): Exact {
    if (other.isZero) throw new RangeError("nothing can be divided by zero");
    return Exact.of(this.top * other.bottom, this.bottom * other.top);
  }

  /** Give -1, 0 or 1 as this is below, at or above the other; an unknown amount is above every known one. */
  compare(other: Exact): -1 | 0 | 1 {
    if (!this.isKnown || !other.isKnown) return this.isKnown ? -1 : other.isKnown ? 1 : 0;
    const left = this.top * other.bottom;
    const right = other.top * this.bottom;
    return left < right ? -1 : left > right ? 1 : 0;
  }

  equals(other: Exact): boolean {
    return this.top === other.top && this.bottom === other.bottom;
  }

  floor(): Exact {
    if (!this.isKnown) return this;
    const whole = this.top / this.bottom;
    return new Exact(this.top < 0n && whole * this.bottom !== this.top ? whole - 1n : whole, 1n);
  }

  ceil(): Exact {
    if (!this.isKnown) return this;
    const below = this.floor();
    return below.equals(this) ? below : below.plus(ONE);
  }

  /** Give the nearest binary number: for printing and for the sun, never for a limit. */
  toNumber(): number {
    return this.isKnown ? Number(this.top) / Number(this.bottom) : Number.POSITIVE_INFINITY;
  }

  toString(): string {
    if (!this.isKnown) return "unknown";
    return this.isWhole ? `${this.top}` : `${this.top}/${this.bottom}`;
  }
}

export const UNKNOWN_AMOUNT: Exact = Exact.unknown();
export const ZERO: Exact = Exact.of(0n);
export const ONE: Exact = Exact.of(1n);

const DECIMAL = /^([+-]?)(\d*)(?:\.(\d*))?(?:e([+-]?\d+))?$/i;
const FRACTION = /^([+-]?\d+)\s*\/\s*(\d+)$/;
const LARGEST_POWER = 400;

/** Give a whole number as an exact one. */
export function whole(value: number): Exact {
  return Exact.of(BigInt(value));
}

/**
 * Read a number as it is written: "12", "2.5", "1/3"; a number counts as its shortest decimal text, so 0.1 is one tenth.
 *
 * Throws RangeError for text that is no number.
 */
export function exact(written: string | number): Exact {
  const text = typeof written === "number" ? String(written) : written.trim();
  const fraction = FRACTION.exec(text);
  if (fraction !== null && BigInt(fraction[2] ?? "0") !== 0n) {
    return Exact.of(BigInt(fraction[1] ?? "0"), BigInt(fraction[2] ?? "1"));
  }
  const decimal = DECIMAL.exec(text);
  const digits = decimal === null ? "" : `${decimal[2] ?? ""}${decimal[3] ?? ""}`;
  const power = Number(decimal?.[4] ?? 0) - (decimal?.[3] ?? "").length;
  if (decimal === null || digits === "" || Math.abs(power) > LARGEST_POWER) {
    throw new RangeError(`'${text}' is not a number; write 12 or 2.5`);
  }
  const size = BigInt(digits) * (decimal[1] === "-" ? -1n : 1n);
  return power >= 0 ? Exact.of(size * 10n ** BigInt(power)) : Exact.of(size, 10n ** BigInt(-power));
}

export function least(first: Exact, second: Exact): Exact {
  return first.compare(second) <= 0 ? first : second;
}

export function greatest(first: Exact, second: Exact): Exact {
  return first.compare(second) >= 0 ? first : second;
}

/** Give what is left of `limit` once `taken` is gone: never below zero, and nothing where nobody knows what was taken. */
export function room(limit: Exact, taken: Exact): Exact {
  return taken.isKnown ? greatest(ZERO, limit.minus(taken)) : ZERO;
}

function commonDivisor(first: bigint, second: bigint): bigint {
  let [a, b] = [first, second];
  while (b !== 0n) [a, b] = [b, a % b];
  return a === 0n ? 1n : a;
}
