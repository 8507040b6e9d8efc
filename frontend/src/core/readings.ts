/** Water readings as they are read off: the unit is on the button, and nothing is converted in what is stored. */

export interface Quantity {
  readonly name: string;
  readonly units: readonly string[];
}

/** What is usually read at a haul; common practice, no source. */
export const QUANTITIES: readonly Quantity[] = [
  { name: "temperature", units: ["C", "F"] },
  { name: "salinity", units: ["psu", "SG"] },
  { name: "pH", units: ["pH"] },
  { name: "dissolved oxygen", units: ["mg/L", "%"] },
  { name: "depth", units: ["m", "ft"] },
  { name: "visibility", units: ["m", "ft"] },
];

/**
 * The same in the unit beside it, to be compared by eye while standing there: degrees Fahrenheit and feet exactly
 * (NIST SP 811, B.8). "" where there is no second unit or the reading is no number.
 */
export function otherUnit(value: string, unit: string): string {
  const number = Number(value);
  if (value === "" || !Number.isFinite(number)) return "";
  switch (unit) {
    case "F":
      return `${(((number - 32) * 5) / 9).toFixed(1)} °C`;
    case "C":
      return `${((number * 9) / 5 + 32).toFixed(1)} °F`;
    case "ft":
      return `${(number * 0.3048).toFixed(2)} m`;
    case "m":
      return `${(number / 0.3048).toFixed(1)} ft`;
    default:
      return "";
  }
}

export function unitWords(unit: string): string {
  return unit === "C" || unit === "F" ? `°${unit}` : unit;
}

export interface Reading {
  readonly quantity: string;
  readonly value: string;
  readonly unit: string;
  readonly at?: string;
}

interface Window {
  readonly low: number;
  readonly high: number;
}

/**
 * Within which a reading is believed without a question; the same as in api/domain/water.py, where it reckons with them:
 * temperature and salinity of the EOS-80 equation, pH 0 to 14, oxygen of natural water. Specific gravity is what a
 * hydrometer shows in any such water. How deep one wades and sees: common practice, no source.
 */
const WINDOWS: Readonly<Record<string, Window>> = {
  "temperature C": { low: -2, high: 40 },
  "temperature F": { low: 28.4, high: 104 },
  "salinity psu": { low: 0, high: 42 },
  "salinity SG": { low: 0.99, high: 1.04 },
  "pH pH": { low: 0, high: 14 },
  "dissolved oxygen mg/L": { low: 0, high: 60 },
  "dissolved oxygen %": { low: 0, high: 500 },
  "depth m": { low: 0, high: 100 },
  "depth ft": { low: 0, high: 330 },
  "visibility m": { low: 0, high: 100 },
  "visibility ft": { low: 0, high: 330 },
};

export interface Guess {
  readonly value: string;
  readonly unit: string;
}

export interface Doubt extends Window {
  /** What may have been meant, the likeliest first. */
  readonly guesses: readonly Guess[];
}

/** Ask about a reading that no water gives: in the wrong unit, or with its point in the wrong place. Null where it is likely. */
export function doubtOf({ name, units }: Quantity, value: string, unit: string): Doubt | null {
  const number = Number(value);
  const isLikely = (read: number, of: string): boolean => {
    const window = WINDOWS[`${name} ${of}`];
    return window === undefined || (window.low <= read && read <= window.high);
  };
  const window = WINDOWS[`${name} ${unit}`];
  if (window === undefined || isLikely(number, unit)) return null;
  const otherUnits = units.filter((one) => one !== unit && isLikely(number, one)).map((one) => ({ value, unit: one }));
  const shifted = [10, 100, 1000].map((by) => Number((number / by).toPrecision(12))).find((read) => isLikely(read, unit));
  const point = shifted === undefined || shifted === 0 ? [] : [{ value: String(shifted), unit }];
  const positive = number < 0 && isLikely(-number, unit) ? [{ value: String(-number), unit }] : [];
  return { ...window, guesses: [...otherUnits, ...point, ...positive] };
}

/** Leave out one entry of a list of plain values: the first that is alike. */
export function withoutOne<Entry>(list: readonly Entry[], one: Entry): Entry[] {
  const place = list.findIndex((entry) => JSON.stringify(entry) === JSON.stringify(one));
  return place < 0 ? [...list] : list.toSpliced(place, 1);
}
