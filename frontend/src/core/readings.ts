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
