/**
 * Reads the case files that the core is held to as well (tests/cases, see its README): fills in defaults and ids.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { instant, type Instant } from "../calendar";
import type { Book } from "../facts";
import { withAcceptedNames, type Authority } from "../permits";
import { areaOf, type Area, type Geometry } from "../places/areas";
import { Reader, type Raw, type Season } from "../records";
import { Taxa, type Taxon } from "../taxa";

/** Where the cases lie: beside the frontend, or where a copy of the checks is tried out. */
const FOLDER = process.env["CREEKLEDGER_CASES"] ?? join(import.meta.dirname, "../../../../tests/cases");

type Json = { readonly [key: string]: unknown };

/** One case with everything filled in, still as written. */
export interface Case {
  readonly file: string;
  readonly name: string;
  readonly check: string;
  readonly raw: Json;
  readonly authorities: readonly Json[];
  readonly season: Json;
  readonly asOf: string;
  readonly expect: readonly Json[];
}

/** Where the records of a season's lists take their ids from, and under which name their defaults stand. */
const LISTS: readonly (readonly [key: string, what: string, letter: string])[] = [
  ["notices", "notice", "N"],
  ["incidents", "incident", "I"],
  ["movements", "movement", "M"],
  ["filings", "filing", "F"],
  ["shared_totals", "shared_total", ""],
  ["corrections", "correction", ""],
];

function read(name: string): Json {
  return JSON.parse(readFileSync(join(FOLDER, name), "utf-8")) as Json;
}

const EVERYWHERE = read("defaults.json");
export const taxa = new Taxa(read("taxa.json")["taxa"] as Taxon[]);
export const areas: ReadonlyMap<string, Area> = new Map(
  (read("areas.geojson")["features"] as { properties: Json; geometry: Geometry }[]).map(({ properties, geometry }) => {
    const id = String(properties["id"]);
    const tolerance = Number(properties["edge_tolerance_m"] ?? 0);
    return [id, areaOf(id, String(properties["name"] ?? ""), geometry, tolerance)];
  }),
);

export function everyCase(): Case[] {
  return readdirSync(FOLDER)
    .filter((name) => name.endsWith(".json") && name !== "defaults.json" && name !== "taxa.json")
    .sort()
    .flatMap((name) => {
      const document = read(name);
      return (document["cases"] as Json[]).map((raw) => filled(name.replace(/\.json$/, ""), document, raw));
    });
}

type Fill = (what: string, record: Json) => Json;

function filled(file: string, document: Json, raw: Json): Case {
  const own = (document["defaults"] ?? {}) as Json;
  const fill: Fill = (what, record) => ({ ...(EVERYWHERE[what] as Json), ...(own[what] as Json), ...record });
  return {
    file,
    name: `${file}: ${String(raw["name"])}`,
    check: String(raw["check"] ?? "judge"),
    raw,
    authorities: authoritiesOf(fill, String(document["kind"] ?? ""), raw),
    season: seasonOf(fill, raw),
    asOf: String(raw["as_of"] ?? own["as_of"] ?? EVERYWHERE["as_of"]),
    expect: raw["expect"] as Json[],
  };
}

/** One authority with the case's conditions, or those that the case lists; conditions are numbered from 1. */
function authoritiesOf(fill: Fill, kind: string, raw: Json): Json[] {
  const single = { ...(raw["authority"] as Json), conditions: raw["conditions"] ?? [] };
  return ((raw["authorities"] ?? [single]) as Json[]).map((entry) => {
    const conditions = ((entry["conditions"] ?? []) as Json[]).map((condition, place) => ({
      number: String(place + 1),
      kind,
      ...fill("condition", condition),
    }));
    return fill("authority", { ...entry, conditions });
  });
}

/** The season, or one made of the case's trips, hauls or lines; records are numbered T1, H1, L1 and so on. */
function seasonOf(fill: Fill, raw: Json): Json {
  const own: Record<string, unknown> = { ...(raw["season"] as Json) };
  if ("hauls" in raw || "lines" in raw) own["trips"] = [{ hauls: raw["hauls"] ?? [{ lines: raw["lines"] }] }];
  else if ("trips" in raw) own["trips"] = raw["trips"];
  const season: Record<string, unknown> = { zone: EVERYWHERE["zone"], ...fill("season", own) };
  const numbers = { hauls: 0, lines: 0 };
  const line = (one: Json): Json => ({ id: `L${++numbers.lines}`, ...fill("line", one) });
  const haul = (one: Json): Json => {
    const made = fill("haul", { id: `H${++numbers.hauls}`, ...one });
    return { ...made, lines: listed(made["lines"]).map(line) };
  };
  season["trips"] = listed(season["trips"]).map((one, place) => {
    const trip = fill("trip", { id: `T${place + 1}`, ...one });
    return { ...trip, hauls: listed(trip["hauls"]).map(haul) };
  });
  for (const [key, what, letter] of LISTS) {
    season[key] = listed(season[key]).map((one, place) => ({
      ...(letter === "" ? {} : { id: `${letter}${place + 1}` }),
      ...fill(what, one),
    }));
  }
  return season;
}

function listed(value: unknown): readonly Json[] {
  return (value ?? []) as Json[];
}

export function bookOf(one: Case): Book {
  const authorities = one.authorities.map((raw) => withAcceptedNames(raw as unknown as Authority, taxa));
  return { authorities, taxa, areas };
}

export function seasonIn(one: Case, book: Book): Season {
  return new Reader(book.taxa, book.authorities).season(one.season as Raw);
}

/** A moment of the case: with an offset, or local to the first authority. */
export function momentOf(one: Case, text: string): Instant {
  return instant(text, String(one.authorities[0]?.["zone"] ?? "UTC"));
}
