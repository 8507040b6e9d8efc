/**
 * Animals counted in a part, raised to the whole: "120 in 1/5" gives 600, 95 % 504 to 696.
 *
 * Well mixed, each of N animals lands in the part independently (binomial). From thirty animals on the interval is
 * normal, rounded to the nearest animal; below it, exact.
 */
import { exactly, type Count } from "./counts";
import { Exact, exact, greatest, least, whole } from "./exact";
import { exactNumber } from "./measures";

const SMALL_COUNT = 30;
/** The two-sided 95 % point of the normal distribution (any table: 1.960). */
const NORMAL_95 = 1.959963984540054;
const TAIL = 0.025;
const HALF = Exact.of(1n, 2n);

/** Give the whole that animals counted in a share of it ("1/5", "20 %") stand for; throws RangeError. */
export function raised(counted: number, share: string): Count {
  const percent = share.trim().endsWith("%");
  const number = exactNumber(share.replace("%", "").trim());
  const part = percent ? number.over(whole(100)) : number;
  if (part.isZero || part.compare(whole(1)) > 0) {
    throw new RangeError(`the share '${share}' does not lie between 0 and 1; write the part that was counted, as in '120 in 1/5'`);
  }
  const factor = whole(1).over(part);
  if (factor.equals(whole(1))) return exactly(whole(counted));
  const best = whole(counted).times(factor).plus(HALF).floor();
  const [low, high] = counted < SMALL_COUNT ? exactBounds(counted, part.toNumber()) : normalBounds(counted, factor);
  return { low: least(low, best), best, high: greatest(high, best) };
}

function normalBounds(counted: number, factor: Exact): [Exact, Exact] {
  const reach = NORMAL_95 * Math.sqrt(counted * (1 - 1 / factor.toNumber())) * factor.toNumber();
  const middle = whole(counted).times(factor).toNumber();
  const [low, high] = [Math.floor(middle - reach + 0.5), Math.floor(middle + reach + 0.5)];
  return [whole(Math.max(low, counted)), exact(high)];
}

/** Give the smallest and largest N that make the count no rarer than the tails allow. */
function exactBounds(counted: number, chance: number): [Exact, Exact] {
  const enough = (animals: number): boolean => counted === 0 || 1 - atMost(counted - 1, animals, chance) >= TAIL;
  const tooMany = (animals: number): boolean => atMost(counted, animals, chance) < TAIL;
  return [whole(firstThat(counted, enough)), whole(Math.max(counted, firstThat(counted, tooMany) - 1))];
}

/** Give the chance of at most `counted` among so many animals, each with the same chance. */
function atMost(counted: number, animals: number, chance: number): number {
  if (counted >= animals) return 1;
  let term = Math.exp(animals * Math.log1p(-chance));
  let sum = term;
  for (let one = 1; one <= counted; one++) {
    term *= ((animals - one + 1) / one) * (chance / (1 - chance));
    sum += term;
  }
  return sum;
}

/** Find the first number from start on for which a condition holds that, once true, stays true. */
function firstThat(start: number, holds: (animals: number) => boolean): number {
  let step = 1;
  while (!holds(start + step - 1)) step *= 2;
  let [below, above] = [start - 1, start + step - 1];
  while (above - below > 1) {
    const middle = Math.floor((below + above) / 2);
    if (holds(middle)) above = middle;
    else below = middle;
  }
  return above;
}
