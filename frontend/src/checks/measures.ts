/**
 * Exact lengths, masses, volumes and counts. A limit stays in the unit it was printed in.
 *
 * Sources: NIST Handbook 44, Appendix C (inch 25.4 mm, pound 0.45359237 kg, gallon 231 in3, bushel 2150.42 in3,
 * heaped bushel 2747.715 in3); ASTM E29 for comparing (absolute method: the value as measured, never rounded first).
 */
import { Exact, exact, ONE, whole } from "./exact";

export type Dimension = "length" | "mass" | "volume" | "area" | "count";

/** One kind of unit: its symbol, what it measures, how many base units (mm, g, L, m2, one) one of it is. */
interface KnownUnit {
  readonly symbol: string;
  readonly dimension: Dimension;
  readonly factor: Exact;
  readonly spellings: readonly string[];
}

export interface Quantity {
  readonly value: Exact;
  readonly unit: string;
  readonly dimension: Dimension;
  /** The amount in the base unit. */
  readonly inBase: Exact;
}

const INCH = exact("25.4");
const CUBIC_INCH = INCH.over(whole(100)).times(INCH.over(whole(100))).times(INCH.over(whole(100)));
const SQUARE_FOOT = exact("0.3048").times(exact("0.3048"));
const POUND = exact("453.59237");
const GALLON = whole(231).times(CUBIC_INCH);
const BUSHEL = exact("2150.42").times(CUBIC_INCH);

function unit(symbol: string, dimension: Dimension, factor: Exact, ...spellings: string[]): KnownUnit {
  return { symbol, dimension, factor, spellings };
}

const UNITS: readonly KnownUnit[] = [
  unit("mm", "length", ONE, "millimetre", "millimeter"),
  unit("cm", "length", whole(10), "centimetre", "centimeter"),
  unit("m", "length", whole(1000), "metre", "meter"),
  unit("km", "length", whole(1_000_000), "kilometre", "kilometer"),
  unit("in", "length", INCH, "inch", "inches", '"', "\u2033"),
  unit("ft", "length", whole(12).times(INCH), "foot", "feet", "'", "\u2032"),
  unit("yd", "length", whole(36).times(INCH), "yard"),
  unit("mi", "length", whole(63_360).times(INCH), "mile"),
  unit("nmi", "length", whole(1_852_000), "nautical mile"),
  unit("mg", "mass", exact("1/1000"), "milligram"),
  unit("g", "mass", ONE, "gram", "gramme"),
  unit("kg", "mass", whole(1000), "kilogram", "kilo", "kilogramme"),
  unit("t", "mass", whole(1_000_000), "tonne", "metric ton"),
  unit("oz", "mass", POUND.over(whole(16)), "ounce"),
  unit("lb", "mass", POUND, "pound"),
  unit("mL", "volume", exact("1/1000"), "millilitre", "milliliter", "cc", "cm3", "cm\u00b3"),
  unit("L", "volume", ONE, "litre", "liter", "dm3"),
  unit("m3", "volume", whole(1000), "cubic metre", "cubic meter", "m\u00b3"),
  unit("in3", "volume", CUBIC_INCH, "cubic inch", "cubic inches", "cu in", "in\u00b3"),
  unit("ft3", "volume", whole(1728).times(CUBIC_INCH), "cubic foot", "cubic feet", "cu ft", "ft\u00b3"),
  unit("yd3", "volume", whole(46_656).times(CUBIC_INCH), "cubic yard", "cu yd", "yd\u00b3"),
  unit("fl oz", "volume", GALLON.over(whole(128)), "fluid ounce", "us fluid ounce"),
  unit("liquid pint", "volume", GALLON.over(whole(8)), "us liquid pint", "liquid pt"),
  unit("liquid quart", "volume", GALLON.over(whole(4)), "us liquid quart", "liquid qt"),
  unit("gal", "volume", GALLON, "gallon", "us gallon", "us gal", "liquid gallon"),
  unit("dry pint", "volume", BUSHEL.over(whole(64)), "us dry pint", "dry pt"),
  unit("dry quart", "volume", BUSHEL.over(whole(32)), "us dry quart", "dry qt"),
  unit("peck", "volume", BUSHEL.over(whole(4)), "us peck"),
  unit("US bushel", "volume", BUSHEL, "us struck bushel", "struck bushel", "us bu"),
  unit("US heaped bushel", "volume", exact("2747.715").times(CUBIC_INCH), "heaped bushel"),
  unit("m2", "area", ONE, "square metre", "square meter", "sq m", "m\u00b2"),
  unit("ft2", "area", SQUARE_FOOT, "square foot", "square feet", "sq ft", "ft\u00b2"),
  unit("yd2", "area", whole(9).times(SQUARE_FOOT), "square yard", "sq yd", "yd\u00b2"),
  unit("acre", "area", whole(43_560).times(SQUARE_FOOT), "ac"),
  unit("ha", "area", whole(10_000), "hectare"),
  unit("km2", "area", whole(1_000_000), "square kilometre", "square kilometer", "sq km", "km\u00b2"),
  unit("count", "count", ONE, "", "animal", "individual", "each"),
];

/** A plural in -s is understood, save for single letters: "ms" are milliseconds to most people. */
const BY_SPELLING: ReadonlyMap<string, KnownUnit> = new Map(
  UNITS.flatMap((one) =>
    [one.symbol, ...one.spellings].flatMap((spelling) => {
      const plain = spelling.toLowerCase();
      const plural = /^\p{L}+$/u.test(spelling.slice(1)) || spelling.includes(" ");
      const forms = plural ? [plain, `${plain}s`] : [plain];
      return forms.map((form): [string, KnownUnit] => [form, one]);
    }),
  ),
);

/** Words that name more than one measure. The writer is asked; a guess would be wrong for somebody. */
const AMBIGUOUS: ReadonlyMap<string, string> = new Map(
  [
    ["quart", "is it a dry or a liquid quart? Write 'dry quart' (1.101 L) or 'liquid quart' (0.946 L)"],
    ["qt", "is it a dry or a liquid quart? Write 'dry quart' (1.101 L) or 'liquid quart' (0.946 L)"],
    ["pint", "is it a dry or a liquid pint? Write 'dry pint' (0.551 L) or 'liquid pint' (0.473 L)"],
    ["pt", "is it a dry or a liquid pint? Write 'dry pint' (0.551 L) or 'liquid pint' (0.473 L)"],
    ["bushel", "which bushel? Write 'US struck bushel' (35.24 L) or 'US heaped bushel' (45.03 L)"],
    ["bu", "which bushel? Write 'US struck bushel' (35.24 L) or 'US heaped bushel' (45.03 L)"],
    ["ton", "which ton? Write 'tonne' (1000 kg), or the mass in kilograms or pounds"],
    ...["tub", "basket", "bucket", "barrel", "bag", "sack"].map((word) => [
      word,
      "a container has no fixed size; give it a name and its litres, and count containers",
    ]),
  ].flatMap(([word, question]) => [
    [word ?? "", question ?? ""],
    [`${word}s`, question ?? ""],
  ]) as [string, string][],
);

const VULGAR: ReadonlyMap<string, string> = new Map([
  ["\u00bc", "1/4"],
  ["\u00bd", "1/2"],
  ["\u00be", "3/4"],
  ["\u215b", "1/8"],
  ["\u215c", "3/8"],
  ["\u215d", "5/8"],
  ["\u215e", "7/8"],
]);
const LONGEST_TEXT = 60;
const QUANTITY =
  /^(?:(\d+)\s*[-\s]\s*(\d+)\s?\/\s?(\d+)|(\d+)\s?\/\s?(\d+)|(\d+(?:\.\d+)?|\.\d+))\s*([^0-9\s.,/+-][^0-9.,/+-]*[23]?)?$/;

/** Litres of the vessels that the handbook fixes. */
export const HANDBOOK_CONTAINERS: ReadonlyMap<string, Exact> = new Map([
  ["US struck bushel", BUSHEL],
  ["US heaped bushel", exact("2747.715").times(CUBIC_INCH)],
  ["US peck", BUSHEL.over(whole(4))],
  ["US dry quart", BUSHEL.over(whole(32))],
  ["US dry pint", BUSHEL.over(whole(64))],
  ["US gallon", GALLON],
  ["US liquid quart", GALLON.over(whole(4))],
  ["US liquid pint", GALLON.over(whole(8))],
]);

/** Find the unit a word stands for; throws RangeError that asks which one is meant where it may be several. */
export function findUnit(word: string): KnownUnit {
  const spelling = word.toLowerCase().split(/\s+/).filter(Boolean).join(" ");
  const found = BY_SPELLING.get(spelling);
  if (found !== undefined) return found;
  const question = AMBIGUOUS.get(spelling);
  throw new RangeError(
    question === undefined ? `unknown unit '${word.trim()}'; write mm, in, g, lb, L, or no unit for a count` : `'${word.trim()}': ${question}`,
  );
}

const READ = new Map<string, Quantity>();

/** Read "3 1/2 in", "63.5 mm", "2 US bushels" or "12": one number and one unit; no unit means a count. */
export function parseQuantity(text: string): Quantity {
  const known = READ.get(text);
  if (known !== undefined) return known;
  const [value, word] = split(text);
  const found = findUnit(word);
  if (found.dimension === "count" && !value.isWhole) {
    throw new RangeError(`a count is a whole number, got ${decimalText(value)}; if it is a measure, write its unit as well`);
  }
  const quantity = { value, unit: found.symbol, dimension: found.dimension, inBase: value.times(found.factor) };
  READ.set(text, quantity);
  return quantity;
}

/** Read a number without a unit, also a mixed one ("3 1/2"). */
export function exactNumber(written: string | number): Exact {
  if (typeof written === "number") return exact(written);
  const [value, word] = split(written);
  if (word !== "") throw new RangeError(`expected a number without a unit, got '${written}'`);
  return value;
}

function split(text: string): [Exact, string] {
  if (text.length > LONGEST_TEXT) throw new RangeError(`expected one number and one unit, got ${text.length} characters`);
  if (text.includes(",")) throw new RangeError(`'${text}' has a comma; write 1.5 with a point and 1500 without a mark`);
  // Printed rules write one glyph for a half or an eighth, and points in the country's name.
  const spelled = [...text].map((mark) => (VULGAR.has(mark) ? ` ${VULGAR.get(mark)}` : mark)).join("");
  const plain = spelled.trim().replaceAll("U.S.", "US");
  if (/^[-\u2212]/.test(plain)) throw new RangeError(`'${text}' is below zero; write an amount of zero or more`);
  const found = QUANTITY.exec(plain);
  if (found === null) throw new RangeError(`cannot read '${text}'; write one number and one unit, as in '3 1/2 in' or '63.5 mm'`);
  return [valueOf(found, text), (found[7] ?? "").trim()];
}

function valueOf(found: RegExpExecArray, text: string): Exact {
  if (found[6] !== undefined) return exact(found[6]);
  const top = BigInt(found[2] ?? found[4] ?? "0");
  const bottom = BigInt(found[3] ?? found[5] ?? "0");
  if (bottom === 0n) throw new RangeError(`'${text}' divides by zero`);
  if (found[1] === undefined) return Exact.of(top, bottom);
  if (top >= bottom) throw new RangeError(`'${text}': after a whole number the fraction must be below one, as in '3 1/2'`);
  return Exact.of(BigInt(found[1])).plus(Exact.of(top, bottom));
}

const TEN = whole(10);
const BARE_NUMBER = /^[-\d. /]+$/;

/**
 * Give a measured length (mm unless a unit is written) or weight (g) in whole tenths, the form in which both are kept.
 *
 * Throws RangeError for anything finer than a tenth: rounding could change the verdict at a limit (ASTM E29).
 */
export function tenths(measure: string, written: string | number): number {
  const [base, dimension] = measure === "weight" ? ["g", "mass"] : ["mm", "length"];
  const bare = typeof written === "number" || BARE_NUMBER.test(written.trim());
  const quantity = parseQuantity(bare ? `${exactNumber(written)} ${base}` : written);
  if (quantity.dimension !== dimension) {
    throw new RangeError(`a ${measure} needs a unit of ${dimension}, but '${written}' was found`);
  }
  const found = quantity.inBase.times(TEN);
  if (!found.isWhole || found.isZero) {
    throw new RangeError(
      `${written} is ${decimalText(quantity.inBase)} ${base}, no whole number of tenths above 0; ` +
        `give it as read in ${base}, with one decimal at most`,
    );
  }
  return Number(found.top);
}

/** Say whether a measured length (whole tenths of a mm) is below (-1), at (0) or above (1) a limit. Exact. */
export function compareLength(measured: number, limit: Quantity): -1 | 0 | 1 {
  if (limit.dimension !== "length") throw new RangeError(`a length cannot be compared with a ${limit.dimension}`);
  return Exact.of(BigInt(measured), 10n).compare(limit.inBase);
}

/** Write a value with so many decimals for print, half to the even digit (ASTM E29, from memory). */
export function formatExact(value: Exact, places: number): string {
  const scaled = halfToEven(value.times(Exact.of(10n ** BigInt(places))));
  const size = (scaled < 0n ? -scaled : scaled).toString().padStart(places + 1, "0");
  const sign = scaled < 0n ? "-" : "";
  return places > 0 ? `${sign}${size.slice(0, -places)}.${size.slice(-places)}` : `${sign}${size}`;
}

function halfToEven(value: Exact): bigint {
  const below = value.floor().top;
  const rest = value.minus(Exact.of(below)).compare(Exact.of(1n, 2n));
  return rest < 0 || (rest === 0 && below % 2n === 0n) ? below : below + 1n;
}

/** Write a value in full where its decimals end, else rounded to six places; no trailing zeros. */
export function decimalText(value: Exact): string {
  const twos = power(value.bottom, 2n);
  const fives = power(value.bottom, 5n);
  const ends = value.bottom === 2n ** BigInt(twos) * 5n ** BigInt(fives);
  const text = formatExact(value, ends ? Math.max(twos, fives) : 6);
  const short = text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
  return short === "-0" ? "0" : short;
}

function power(number: bigint, prime: bigint): number {
  let [rest, times] = [number, 0];
  while (rest > 0n && rest % prime === 0n) [rest, times] = [rest / prime, times + 1];
  return times;
}

/** Read a length with its unit, or a bare number in millimetres. */
export function millimetres(written: string | number): Exact {
  if (typeof written === "number" || BARE_NUMBER.test(written.trim())) return exactNumber(written);
  const quantity = parseQuantity(written);
  if (quantity.dimension !== "length") throw new RangeError(`a length is wanted, but '${written}' was found`);
  return quantity.inBase;
}

