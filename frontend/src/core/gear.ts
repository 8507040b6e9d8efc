/** Gear as it is used: its sizes, what the permit bounds of them, and the nets and traps that were used before. */
import { exact, whole } from "../checks/exact";
import { decimalText, millimetres } from "../checks/measures";
import type { Clause } from "../checks/permits";
import type { Content } from "./outbox";

/** The gear of a haul as the record holds it; lengths as they were typed, with their unit. */
export interface GearUsed extends Content {
  readonly gear?: string;
  /** The name or number that stands on it. */
  readonly tag?: string;
  readonly length_mm?: string;
  readonly mesh_mm?: string;
  readonly opening_mm?: string;
  readonly number?: number;
  readonly marked?: boolean;
}

export type SizeField = "length_mm" | "mesh_mm" | "opening_mm";

export interface Size {
  readonly field: SizeField;
  readonly word: string;
  readonly units: readonly string[];
}

/** What is measured on a net or trap, with the units that tapes and net makers use; common practice, no source. */
export const SIZES: readonly Size[] = [
  { field: "length_mm", word: "length", units: ["m", "ft"] },
  { field: "mesh_mm", word: "mesh", units: ["mm", "in"] },
  { field: "opening_mm", word: "opening", units: ["mm", "cm", "in"] },
];

interface GearEntry {
  readonly gear: string;
  readonly length_max?: string;
  readonly mesh_min?: string;
  readonly mesh_max?: string;
  readonly opening_max?: string;
  readonly together?: number;
  readonly soak_hours?: string | number;
  readonly check_hours?: string | number;
  readonly marked?: boolean;
}

interface Numbered {
  readonly number: string;
  readonly entry: GearEntry;
}

function entriesOf(clauses: readonly Clause[]): Numbered[] {
  return clauses.flatMap(({ condition }) =>
    condition.kind === "gear" ? (condition.gear as unknown as readonly GearEntry[]).map((entry) => ({ number: condition.number, entry })) : [],
  );
}

const same = (one: string, other: string): boolean => one.toLowerCase() === other.toLowerCase();

/** The kinds of gear that the permit names, each once. */
export function gearOf(clauses: readonly Clause[]): string[] {
  return [...new Set(entriesOf(clauses).map(({ entry }) => entry.gear))];
}

/** How many hours a set of a gear may stand; null where no condition says. */
export function soakHours(clauses: readonly Clause[], gear: string): number | null {
  const hours = entriesOf(clauses).flatMap(({ entry }) => (same(entry.gear, gear) && entry.soak_hours ? [Number(entry.soak_hours)] : []));
  return hours.length === 0 ? null : Math.min(...hours);
}

const STANDING = /\b(traps?|pots?|creels?|fykes?|set nets?|gill ?nets?|set lines?|long ?lines?|trot ?lines?)\b/i;

/** Gear that is set and left to stand: whatever the permit gives a soak, looks or a number at once, or is called so. */
export function standingGear(clauses: readonly Clause[]): string[] {
  const left = entriesOf(clauses).filter(({ entry }) => Boolean(entry.soak_hours || entry.check_hours || entry.together) || STANDING.test(entry.gear));
  return [...new Set(left.map(({ entry }) => entry.gear))];
}

/** What the permit bounds of a kind of gear: "at most 15 m (4.1)"; "" where it says nothing of that size. */
export function boundWords(clauses: readonly Clause[], gear: string, field: SizeField): string {
  const told = entriesOf(clauses).flatMap(({ number, entry }) => {
    if (!same(entry.gear, gear)) return [];
    const [least, most] = { length_mm: ["", entry.length_max], mesh_mm: [entry.mesh_min, entry.mesh_max], opening_mm: ["", entry.opening_max] }[field];
    const words = [least ? `at least ${least}` : "", most ? `at most ${most}` : ""].filter(Boolean);
    return words.length === 0 ? [] : [`${words.join(", ")} (${number})`];
  });
  return [...new Set(told)].join("; or ");
}

/** Whether the permit asks that a kind of gear bears its marking. */
export function marksWanted(clauses: readonly Clause[], gear: string): boolean {
  return entriesOf(clauses).some(({ entry }) => same(entry.gear, gear) && entry.marked === true);
}

/** What a permit asks of a gear and nobody has noted yet, in words: "length", "marking". */
export function missingOf(clauses: readonly Clause[], gear: GearUsed | undefined): string[] {
  const kind = gear?.gear;
  if (gear === undefined || kind === undefined) return [];
  const sizes = SIZES.filter(({ field }) => gear[field] === undefined && boundWords(clauses, kind, field) !== "").map(({ word }) => word);
  return marksWanted(clauses, kind) && gear.marked === undefined ? [...sizes, "marking"] : sizes;
}

const METRE = whole(1000);

/** A length for people: as typed where it bears its unit, from a metre on in metres what the server gives in millimetres. */
export function lengthWords(written: string): string {
  if (!/^(\d+(\.\d+)?|\d+\/[1-9]\d*) mm$/.test(written.trim())) return written;
  try {
    const length = millimetres(written);
    const [amount, unit] = length.compare(METRE) < 0 ? [length, "mm"] : [length.over(METRE), "m"];
    const decimal = decimalText(amount);
    // What no decimal tells exactly stands as it was written: two lengths that differ must not read alike.
    return exact(decimal).equals(amount) ? `${decimal} ${unit}` : written;
  } catch {
    return written;
  }
}

/** A gear in a few words: "seine S-1, length 12 m, mesh 1/4 in". */
export function gearWords(gear: GearUsed | undefined): string {
  if (gear?.gear === undefined) return "";
  const name = [gear.gear, gear.tag ?? ""].filter(Boolean).join(" ");
  const sizes = SIZES.flatMap(({ field, word }) => (gear[field] === undefined ? [] : [`${word} ${lengthWords(gear[field])}`]));
  const number = (gear.number ?? 1) > 1 ? [`${gear.number} of them`] : [];
  return [name, ...sizes, ...number].join(", ");
}

/** What tells one net from another: its kind and the name on it; where none is on it, its sizes. */
function markOf(gear: GearUsed): string {
  const sizes = SIZES.map(({ field }) => (gear[field] === undefined ? "" : millimetres(gear[field]).toNumber()));
  return JSON.stringify(gear.tag ? [gear.gear, gear.tag] : [gear.gear, "", ...sizes]);
}

export function sameNet(one: GearUsed | undefined, other: GearUsed): boolean {
  return one?.gear !== undefined && markOf(one) === markOf(other);
}

/**
 * The nets and traps of earlier hauls of which more is known than their kind, the latest first, each once and as it was
 * noted last: so that a size is typed once. One that cannot be read is passed over.
 */
export function knownGear(hauls: readonly Content[], most = 4): GearUsed[] {
  const found = new Map<string, GearUsed>();
  const when = (one: Content): number => Date.parse(String(one["start"]));
  for (const haul of hauls.toSorted((a, b) => when(b) - when(a))) {
    const gear = haul["gear"] as GearUsed | undefined;
    if (gear?.gear === undefined || !(gear.tag || SIZES.some(({ field }) => gear[field] !== undefined))) continue;
    try {
      const mark = markOf(gear);
      if (!found.has(mark)) found.set(mark, gear);
    } catch {
      continue;
    }
  }
  // One without a name that measures as one with a name is most likely that one.
  const named = new Set([...found.values()].filter((gear) => gear.tag).map((gear) => markOf({ ...gear, tag: "" })));
  return [...found.values()].filter((gear) => gear.tag || !named.has(markOf(gear))).slice(0, most);
}

/** The same size in the unit beside it, to be compared by eye: exactly, by the inch of 25.4 mm (NIST SP 811, B.8). */
export function inMetric(value: string, unit: string): string {
  const number = Number(value);
  if (value === "" || !(number > 0) || (unit !== "in" && unit !== "ft")) return "";
  return unit === "in" ? `${Number((number * 25.4).toFixed(2))} mm` : `${Number((number * 0.3048).toFixed(2))} m`;
}
