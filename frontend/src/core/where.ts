/** Where a haul seems to be, from earlier hauls and the drawn areas: always a question, never a correction. */
import { areaOf, signedDistance, type Geometry } from "../checks/places/areas";
import { geodesic } from "../checks/places/ellipsoid";
import type { Content } from "./outbox";

export interface Standing {
  readonly lat: number;
  readonly lon: number;
  readonly radius_m: number;
}

/** A site as earlier hauls know it. */
export interface KnownSite {
  readonly site: string;
  /** The water of its latest haul. */
  readonly waterbody: string;
  readonly spots: readonly { readonly lat: number; readonly lon: number }[];
}

/** Give the sites of earlier hauls with the positions read there. */
export function knownSites(hauls: readonly Content[]): KnownSite[] {
  const found = new Map<string, KnownSite>();
  for (const haul of hauls.toSorted((a, b) => Date.parse(String(b["start"])) - Date.parse(String(a["start"])))) {
    const site = String(haul["site"] ?? "");
    if (site === "") continue;
    const known = found.get(site) ?? { site, waterbody: "", spots: [] };
    const spots = (haul["fixes"] as Standing[] | undefined) ?? [];
    found.set(site, { site, waterbody: known.waterbody || String(haul["waterbody"] ?? ""), spots: [...known.spots, ...spots] });
  }
  return [...found.values()];
}

/** What was kept as it is noted although the position speaks for another, each with how many positions did. */
export interface PlaceKept {
  readonly site?: string;
  readonly waterbody?: string;
}

/** What an answer "keep it" is about: another note or another position is another question. */
export function keptAs(haul: Content, field: keyof PlaceKept): string {
  return JSON.stringify([haul[field] ?? "", ((haul["fixes"] as Standing[] | undefined) ?? []).length]);
}

export interface SiteAsked {
  readonly site: string;
  readonly waterbody: string;
  /** How far it is to the site that is asked about, and to the one that is noted (null where none is). */
  readonly metres: number;
  readonly noted: number | null;
}

/** As far as people would still call it the same beach, in metres; common practice, no source. */
const SAME_BEACH = 150;

function far(site: KnownSite, at: Standing): number {
  return Math.min(...site.spots.map((spot) => geodesic(at.lon, at.lat, spot.lon, spot.lat)));
}

/**
 * Ask about another site where the position lies clearly nearer to it: less than half as far even with its radius, and
 * further from the one noted than one beach is long. Where none is noted, the one at which one stands. Else null.
 */
export function askedSite(sites: readonly KnownSite[], noted: string, at: Standing): SiteAsked | null {
  const own = sites.find((one) => one.site === noted);
  if (noted !== "" && (own === undefined || own.spots.length === 0)) return null;
  const others = sites.filter((one) => one.site !== noted && one.spots.length > 0).map((one) => ({ site: one.site, waterbody: one.waterbody, metres: far(one, at) }));
  const nearest = others.toSorted((a, b) => a.metres - b.metres)[0];
  if (nearest === undefined) return null;
  if (own === undefined) return nearest.metres + at.radius_m <= SAME_BEACH ? { ...nearest, noted: null } : null;
  const away = far(own, at);
  return away - at.radius_m > SAME_BEACH && nearest.metres + at.radius_m < away / 2 ? { ...nearest, noted: away } : null;
}

export interface DrawnArea {
  readonly id: string;
  readonly name: string;
  readonly geometry: Geometry;
}

export interface WaterAsked {
  /** How far the position lies outside the water that is noted. */
  readonly metres: number;
  /** The water in which it lies; "" where that is not drawn. */
  readonly instead: string;
}

/** Areas that bear a water's name: "Heron Arm", "Kelloran Inlet and the inner bar". Only what encloses water can say where one is. */
function areasOf(areas: readonly DrawnArea[], water: string): DrawnArea[] {
  const start = water.toLowerCase();
  return areas.filter(({ name, geometry }) => {
    const rest = name.toLowerCase();
    return geometry.type.endsWith("Polygon") && rest.startsWith(start) && !/^[\p{L}\p{N}]/u.test(rest.slice(start.length));
  });
}

/** Metres outside a water as drawn: 0 or less within it; null where it is not drawn. */
function outsideOf(areas: readonly DrawnArea[], water: string, at: Standing): number | null {
  const own = water === "" ? [] : areasOf(areas, water);
  return own.length === 0 ? null : -Math.max(...own.map((one) => signedDistance(areaOf(one.id, one.name, one.geometry), at.lon, at.lat)));
}

/** A drawn edge is no shore: so far outside is not yet another water, in metres; common practice, no source. */
const SHORE = 50;

/** Ask about the water where the position lies outside the one noted, by more than its radius and the width of a shore. */
export function askedWater(areas: readonly DrawnArea[], waters: readonly string[], noted: string, at: Standing): WaterAsked | null {
  const metres = outsideOf(areas, noted, at);
  if (metres === null || metres <= at.radius_m + SHORE) return null;
  const instead = waters.find((one) => one !== noted && (outsideOf(areas, one, at) ?? 1) <= -at.radius_m) ?? "";
  return { metres, instead };
}

/** A distance for people: "40 m", "1.2 km". */
export function metresWords(metres: number): string {
  return metres < 1000 ? `${Math.max(10, Math.round(metres / 10) * 10)} m` : `${(metres / 1000).toFixed(1)} km`;
}
