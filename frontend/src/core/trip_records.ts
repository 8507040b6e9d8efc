/** Trips and hauls as this phone writes them, with what is carried over from the one before. */
import type { GearUsed } from "./gear";
import type { Content } from "./outbox";

export interface Fix extends Content {
  readonly lat: number;
  readonly lon: number;
  readonly radius_m: number;
}

export interface Made extends Content {
  readonly id: string;
}

/** Write a moment as the record holds it: UTC, whole seconds. */
export function timeText(at: number): string {
  return `${new Date(Math.floor(at / 1000) * 1000).toISOString().slice(0, 19)}Z`;
}

export interface Beginning {
  readonly id: string;
  readonly at: number;
  readonly zone: string;
  readonly leader: string;
  readonly authority: string;
  readonly crew: readonly { readonly person: string; readonly role: string }[];
  readonly papers: readonly string[];
  /** Where the crew stands, where that is known yet. */
  readonly arrived: Fix | null;
  /** The trip as it was planned at the desk, where it was. */
  readonly planned?: Content;
}

export function begunTrip({ id, at, zone, leader, authority, crew, papers, arrived, planned }: Beginning): Made {
  return { ...planned, id, zone, leader, authority, status: "open", depart: timeText(at), crew, papers, ...(arrived === null ? {} : { arrived }) };
}

export interface Opening {
  readonly id: string;
  readonly at: number;
  readonly kind: "haul" | "set";
  readonly person: string;
  /** The haul before, whose gear, site and water are carried over; null for the first. */
  readonly before: Content | null;
  readonly gear?: GearUsed;
}

const CARRIED = ["gear", "site", "waterbody", "authority", "also_under"];

/** Open a haul or set a trap: time, person, and whatever stood in the last one. No count and no reading is carried over. */
export function openedHaul({ id, at, kind, person, before, gear }: Opening): Made {
  const carried = Object.fromEntries(CARRIED.flatMap((name) => (before?.[name] === undefined ? [] : [[name, before[name]]])));
  return { ...carried, ...(gear === undefined ? {} : { gear }), id, kind, start: timeText(at), person };
}

/** Add the place that the phone read; the first is where it began, the last where it ended. */
export function withFix(haul: Content, fix: Fix | null): Content {
  if (fix === null) return haul;
  const fixes = Array.isArray(haul["fixes"]) ? (haul["fixes"] as Fix[]) : [];
  return { ...haul, fixes: [...fixes, fix] };
}

export function endedHaul(haul: Content, at: number, fix: Fix | null): Content {
  return { ...withFix(haul, fix), end: timeText(at) };
}

/** Why a haul of a closed trip is changed: its gear was left in the water on purpose. */
export const LEFT_IN_THE_WATER = "Gear left in the water when the trip was closed";

/** Why a haul of a closed trip is changed: gear that was lost came up again. */
export const FOUND_AGAIN = "Gear that was lost is found again";

/** Sets that still stand although their trip is closed: they stay open until they are lifted. */
export function leftInTheWater<Stored extends { readonly parent: string; readonly content: Content }>(hauls: readonly Stored[], closedTrips: ReadonlySet<string>): Stored[] {
  return hauls.filter((one) => one.content["kind"] === "set" && isOpen(one.content) && closedTrips.has(one.parent));
}

export function isOpen(haul: Content): boolean {
  return haul["end"] === undefined && haul["lost"] !== true;
}

/** How long a set has stood, and how long it may: milliseconds; `most` null where no limit was typed. */
export interface Soak {
  readonly stood: number;
  readonly most: number | null;
  readonly over: boolean;
  /** Within the last hour before the limit. */
  readonly soon: boolean;
}

const HOUR = 3_600_000;

export function soakOf(set: Content, at: number, mostHours: number | null): Soak {
  const stood = at - Date.parse(String(set["start"]));
  const most = mostHours === null ? null : mostHours * HOUR;
  return { stood, most, over: most !== null && stood > most, soon: most !== null && stood <= most && stood > most - HOUR };
}
