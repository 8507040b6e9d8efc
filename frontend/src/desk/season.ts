/** The season's records as the desk shows them, made of what was pulled: trips, hauls, catch lines, names, areas, clauses. */
import { instant, type Instant } from "../checks/calendar";
import { countOf, UNKNOWN, type Count } from "../checks/counts";
import { exact, UNKNOWN_AMOUNT } from "../checks/exact";
import { clausesOf, holdsAt, type Authority } from "../checks/permits";
import type { Geometry } from "../checks/places/areas";
import { radius95 } from "../checks/places/positions";
import { Taxa, type Taxon } from "../checks/taxa";
import type { ChangedRead, CountRead, Figure } from "./answers";

export interface CrewMember {
  readonly person: string;
  readonly role: string;
}

export interface Trip {
  readonly id: string;
  readonly code: string;
  readonly zone: string;
  readonly leader: string;
  readonly authority: string;
  readonly status: string;
  readonly depart: Instant | null;
  readonly back: Instant | null;
  readonly crew: readonly CrewMember[];
  readonly note: string;
}

export interface Place {
  readonly lat: number;
  readonly lon: number;
  /** The radius that holds 95 % of readings, null where none was recorded. */
  readonly radius: number | null;
}

export interface Haul {
  readonly id: string;
  readonly code: string;
  readonly trip: string;
  readonly kind: "haul" | "set";
  readonly gear: string;
  readonly site: string;
  readonly waterbody: string;
  readonly authority: string;
  readonly start: Instant | null;
  readonly end: Instant | null;
  readonly places: readonly Place[];
  /** When a set was looked into, in order of time. */
  readonly looks: readonly Instant[];
  readonly lost: boolean;
  readonly note: string;
}

export interface Line {
  readonly id: string;
  readonly code: string;
  readonly haul: string;
  readonly taxon: string;
  readonly doubt: string;
  readonly oneOf: readonly string[];
  readonly asWritten: string;
  readonly count: Count;
  readonly unit: string;
  readonly fate: string;
  readonly method: string;
  readonly stage: string;
  readonly sex: string;
  readonly authority: string;
  readonly note: string;
}

export interface DrawnArea {
  readonly id: string;
  readonly name: string;
  readonly kind: string;
  readonly source: string;
  readonly geometry: Geometry;
}

/** A condition in the words as issued, with the amendment that brought them ("" for the first issue). */
export interface Clause {
  readonly number: string;
  readonly text: string;
  readonly page: string;
  readonly amendment: string;
  readonly version: number;
}

/** An authority's terms: what the checks read of them, and what people do. */
export interface Terms extends Authority {
  readonly number: string;
  readonly title: string;
  readonly certification?: string;
}

export interface Season {
  readonly trips: ReadonlyMap<string, Trip>;
  readonly hauls: ReadonlyMap<string, Haul>;
  readonly lines: ReadonlyMap<string, Line>;
  readonly tripsByCode: ReadonlyMap<string, Trip>;
  readonly haulsByCode: ReadonlyMap<string, Haul>;
  readonly linesByCode: ReadonlyMap<string, Line>;
  readonly hauledOn: ReadonlyMap<string, readonly Haul[]>;
  readonly linesOf: ReadonlyMap<string, readonly Line[]>;
  readonly areas: readonly DrawnArea[];
  readonly taxa: Taxa;
  readonly terms: ReadonlyMap<string, Terms>;
  /** Every record as it was pulled, under its kind and id. */
  readonly held: ReadonlyMap<string, ChangedRead>;
}

/** Everything pulled so far, each record as it stands, under its kind and id. */
export class Pulled {
  private readonly held = new Map<string, ChangedRead>();
  cursor = 0;

  take(changes: readonly ChangedRead[], cursor: number): void {
    for (const one of changes) this.held.set(`${one.kind} ${one.id}`, one);
    this.cursor = cursor;
  }

  season(): Season {
    return seasonOf([...this.held.values()]);
  }
}

/** Put the season together; records that cannot be read are left out, so that one of them hides no other. */
export function seasonOf(changes: readonly ChangedRead[]): Season {
  const of = (kind: string): readonly ChangedRead[] => changes.filter((one) => one.kind === kind && one.record !== null);
  const trips = readable(of("trip"), tripOf);
  const zones = new Map(trips.map((trip) => [trip.id, trip.zone]));
  const hauls = readable(of("haul"), (one) => haulOf(one, zones.get(one.parent) ?? "UTC"));
  const lines = readable(of("line"), lineOf);
  return {
    trips: byId(trips),
    hauls: byId(hauls),
    lines: byId(lines),
    tripsByCode: byCode(trips),
    haulsByCode: byCode(hauls),
    linesByCode: byCode(lines),
    hauledOn: gathered([...hauls].sort(inTime), (haul) => haul.trip),
    linesOf: gathered([...lines].sort((first, second) => inOrder(first.code, second.code)), (line) => line.haul),
    areas: of("areas").flatMap((one) => (one.record?.["areas"] ?? []) as DrawnArea[]),
    taxa: new Taxa(of("taxa").flatMap((one) => (one.record?.["taxa"] ?? []) as Taxon[])),
    terms: new Map(of("authority").map((one) => [one.id, one.record as unknown as Terms])),
    held: new Map(changes.map((one) => [`${one.kind} ${one.id}`, one])),
  };
}

function readable<One>(changes: readonly ChangedRead[], read: (one: ChangedRead) => One): One[] {
  return changes.flatMap((one) => {
    try {
      return [read(one)];
    } catch (problem) {
      if (problem instanceof RangeError) return [];
      throw problem;
    }
  });
}

/** Compare codes so that K27-2 comes before K27-10. */
export function inOrder(first: string, second: string): number {
  return first.localeCompare(second, "en", { numeric: true });
}

function inTime(first: Haul, second: Haul): number {
  return (first.start ?? 0) - (second.start ?? 0) || inOrder(first.code, second.code);
}

function byId<One extends { readonly id: string }>(every: readonly One[]): Map<string, One> {
  return new Map(every.map((one) => [one.id, one]));
}

function byCode<One extends { readonly code: string }>(every: readonly One[]): Map<string, One> {
  return new Map(every.map((one) => [one.code, one]));
}

function gathered<One>(every: readonly One[], keyOf: (one: One) => string): Map<string, One[]> {
  const found = new Map<string, One[]>();
  for (const one of every) {
    const key = keyOf(one);
    const held = found.get(key);
    if (held === undefined) found.set(key, [one]);
    else held.push(one);
  }
  return found;
}

export type Raw = Readonly<Record<string, unknown>>;

function text(value: unknown): string {
  return typeof value === "string" ? value : "";
}

function moment(value: unknown, zone: string): Instant | null {
  return typeof value === "string" && value !== "" ? instant(value, zone) : null;
}

function tripOf({ id, code, record }: ChangedRead): Trip {
  const raw = record ?? {};
  const zone = text(raw["zone"]) || "UTC";
  return {
    id,
    code: code || id,
    zone,
    leader: text(raw["leader"]),
    authority: text(raw["authority"]),
    status: text(raw["status"]) || "open",
    depart: moment(raw["depart"], zone),
    back: moment(raw["back"], zone),
    crew: ((raw["crew"] ?? []) as Raw[]).map((one) => ({ person: text(one["person"]), role: text(one["role"]) })),
    note: text(raw["note"]),
  };
}

function haulOf({ id, code, parent, record }: ChangedRead, zone: string): Haul {
  const raw = record ?? {};
  return {
    id,
    code: code || id,
    trip: parent,
    kind: raw["kind"] === "set" ? "set" : "haul",
    gear: text((raw["gear"] as Raw | undefined)?.["gear"]),
    site: text(raw["site"]),
    waterbody: text(raw["waterbody"]),
    authority: text(raw["authority"]),
    start: moment(raw["start"], zone),
    end: moment(raw["end"], zone),
    places: ((raw["fixes"] ?? []) as Raw[]).map(placeOf).filter((one) => Number.isFinite(one.lat) && Number.isFinite(one.lon)),
    looks: ((raw["checks"] ?? []) as unknown[]).flatMap((one) => moment(one, zone) ?? []).sort((first, second) => first - second),
    lost: raw["lost"] === true,
    note: text(raw["note"]),
  };
}

const CLAIMED = 0.95; // a browser's radius claims this much (W3C Geolocation); the reader of records takes the same

function placeOf(raw: Raw): Place {
  const radius = typeof raw["radius_m"] === "number" ? raw["radius_m"] : null;
  const confidence = typeof raw["confidence"] === "number" ? raw["confidence"] : CLAIMED;
  const fix = { lat: Number(raw["lat"]), lon: Number(raw["lon"]), radius_m: radius, confidence };
  return { lat: fix.lat, lon: fix.lon, radius: radius95(fix) };
}

function lineOf({ id, code, parent, record }: ChangedRead): Line {
  const raw = record ?? {};
  return {
    id,
    code: code || id,
    haul: parent,
    taxon: text(raw["taxon"]),
    doubt: text(raw["doubt"]),
    oneOf: Array.isArray(raw["one_of"]) ? raw["one_of"].map(text) : [],
    asWritten: text(raw["name_as_written"]),
    count: countFrom(raw["count"] as CountRead | undefined),
    unit: text(raw["unit"]) || "individuals",
    fate: text(raw["fate"]),
    method: text(raw["method"]),
    stage: text(raw["stage"]),
    sex: text(raw["sex"]),
    authority: text(raw["authority"]),
    note: text(raw["note"]),
  };
}

/** Give a count of the wire as an exact one; one that is not recorded is unknown. */
export function countFrom(read: CountRead | undefined | null): Count {
  if (read === undefined || read === null) return UNKNOWN;
  return countOf(figureFrom(read.low), figureFrom(read.best), figureFrom(read.high));
}

export function figureFrom(figure: Figure): ReturnType<typeof exact> {
  return figure === "unknown" ? UNKNOWN_AMOUNT : exact(figure);
}

/** Give a condition's words in every version that holds it, oldest first; the term has none. */
export function clausesOfNumber(terms: Terms | undefined, number: string): readonly Clause[] {
  if (terms === undefined) return [];
  return (clausesOf(terms).get(number) ?? []).map((one) => ({
    number,
    text: one.condition.text,
    page: one.condition.page ?? "",
    amendment: issuedBy(terms, number, one.version.number),
    version: one.version.number,
  }));
}

/** Give the number of the newest amendment up to a version that names the condition, "" where none does. */
function issuedBy(terms: Terms, number: string, version: number): string {
  const issued = (terms.amendments ?? []).slice(0, version - 1).filter((one) => one.conditions?.some((each) => each.number === number));
  return issued[issued.length - 1]?.number ?? "";
}

/** Give a condition's different wordings, the newest first: an amendment that left the words alone brought none. */
export function wordingsOf(terms: Terms | undefined, number: string): readonly Clause[] {
  const every = clausesOfNumber(terms, number);
  return every.filter((one, place) => one.text !== every[place - 1]?.text).reverse();
}

/** A limit as it was entered with its newest words: its amounts, and whether others draw on it too. */
export interface LimitIssued {
  readonly amounts: readonly string[];
  readonly shared: boolean;
}

/** Give a limit as issued; a condition that is no limit on take has no amounts. */
export function limitIssued(terms: Terms | undefined, number: string): LimitIssued {
  const clauses = terms === undefined ? [] : (clausesOf(terms).get(number) ?? []);
  const condition = clauses[clauses.length - 1]?.condition;
  if (condition?.kind !== "take limit") return { amounts: [], shared: false };
  const amounts = condition.limits.map((one) => {
    const words = [one.operator === "fewer than" ? "under" : "", one.amount, one.container ?? ""];
    return words.filter(Boolean).join(" ");
  });
  return { amounts, shared: condition.holder === "everybody" };
}

/** Give the words in force at a moment, or the newest where none was then. */
export function clauseAt(terms: Terms | undefined, number: string, at: Instant | null): Clause | null {
  if (terms === undefined) return null;
  const every = clausesOfNumber(terms, number);
  const held = clausesOf(terms).get(number) ?? [];
  const place = at === null ? -1 : held.findIndex((one) => holdsAt(one, at));
  return every[place === -1 ? every.length - 1 : place] ?? null;
}

/** Give the authority that a catch line stands under: its own, else its haul's, else its trip's. */
export function authorityOf(season: Season, line: Line): string {
  const haul = season.hauls.get(line.haul);
  const trip = haul === undefined ? undefined : season.trips.get(haul.trip);
  return line.authority || haul?.authority || trip?.authority || "";
}

const ITALIC_RANKS: ReadonlySet<string> = new Set(["genus", "subgenus", "species", "subspecies"]);

/** Tell whether a name is set in italics: from the genus down, as the trade writes names (common practice, no source). */
export function isItalic(taxa: Taxa, name: string): boolean {
  return ITALIC_RANKS.has(taxa.rank(name));
}

/** Give what people call a taxon, "" where the list of names has nothing. */
export function commonName(taxa: Taxa, name: string): string {
  return taxa.taxa.get(name)?.common ?? "";
}
