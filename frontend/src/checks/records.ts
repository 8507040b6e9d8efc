/** What happened, from the fields of the trips file: trips, hauls, catch lines, and what the checks need around them. */
import { instant, type Instant } from "./calendar";
import { containersOf, parseCount } from "./count_text";
import type { Count } from "./counts";
import { exact, type Exact } from "./exact";
import { millimetres, tenths } from "./measures";
import type { Authority } from "./permits";
import type { Fix } from "./places/positions";
import { raised } from "./raising";
import type { Identification, Taxa } from "./taxa";
import type { Doubt, Fate, Method, Unit } from "./vocabulary";

/** A run of lengths (tenths of a millimetre) or weights (tenths of a gram) under one named measure. */
export interface Measurement {
  readonly measure: string;
  readonly variant: string;
  readonly values: readonly number[];
}

export interface Line {
  readonly id: string;
  readonly name: Identification;
  readonly count: Count;
  readonly unit: Unit;
  readonly fate: Fate;
  readonly method: Method;
  readonly stage: string;
  readonly sex: string;
  readonly authority: string;
  readonly person: string;
  readonly container: string;
  readonly weight: Count | null;
  readonly measurements: readonly Measurement[];
  readonly at: Instant | null;
}

export interface GearUse {
  readonly gear: string;
  readonly length_mm: Exact | null;
  readonly mesh_mm: Exact | null;
  readonly opening_mm: Exact | null;
  readonly number: number;
  readonly marked: boolean | null;
}

export interface Haul {
  readonly id: string;
  readonly kind: "haul" | "set";
  readonly start: Instant;
  readonly end: Instant | null;
  readonly gear: GearUse | null;
  readonly site: string;
  readonly waterbody: string;
  readonly fixes: readonly Fix[];
  readonly authority: string;
  readonly also_under: readonly string[];
  readonly person: string;
  readonly lines: readonly Line[];
  readonly checks: readonly Instant[];
  readonly lost: boolean;
}

export interface Trip {
  readonly id: string;
  readonly leader: string;
  readonly authority: string;
  readonly hauls: readonly Haul[];
}

export interface Movement {
  readonly id: string;
  readonly at: Instant;
  readonly what: string;
  readonly count: Count;
  readonly line: string;
  readonly taxon: string;
  readonly authority: string;
}

export interface Incident {
  readonly authority: string;
  readonly about: readonly string[];
  readonly to: string;
  readonly told: Instant | null;
}

export interface SharedTotal {
  readonly authority: string;
  readonly condition: string;
  readonly as_of: Instant;
  readonly total: Count;
}

export interface Season {
  readonly trips: readonly Trip[];
  readonly movements: readonly Movement[];
  readonly incidents: readonly Incident[];
  readonly shared_totals: readonly SharedTotal[];
  readonly people: Readonly<Record<string, string>>;
  readonly sites: Readonly<Record<string, string>>;
}

export type Raw = Readonly<Record<string, unknown>>;

/** Reads records as they are written; what is wrong with one is thrown as a RangeError that says so. */
export class Reader {
  private readonly litres = new Map<string, ReadonlyMap<string, Exact>>();

  constructor(
    private readonly taxa: Taxa,
    private readonly authorities: readonly Authority[],
  ) {}

  season(raw: Raw): Season {
    const zone = text(raw["zone"]);
    return {
      trips: list(raw["trips"]).map((one) => this.trip(one, zone)),
      movements: list(raw["movements"]).map((one) => this.movement(one, zone)),
      incidents: list(raw["incidents"]).map((one) => incident(one, zone)),
      shared_totals: list(raw["shared_totals"]).map((one) => this.sharedTotal(one, zone)),
      people: (raw["people"] ?? {}) as Record<string, string>,
      sites: (raw["sites"] ?? {}) as Record<string, string>,
    };
  }

  trip(raw: Raw, zoneAround: string): Trip {
    const zone = text(raw["zone"]) || zoneAround;
    const authority = text(raw["authority"]);
    const hauls = list(raw["hauls"]).map((one) => this.haul(one, zone, authority));
    return { id: text(raw["id"]), leader: text(raw["leader"]), authority, hauls };
  }

  haul(raw: Raw, zone: string, above: string): Haul {
    const authority = text(raw["authority"]);
    const start = instant(text(raw["start"]), zone);
    const end = moment(raw["end"], zone);
    if (end !== null && end < start) throw new RangeError("the haul ends before it starts; correct one of the times");
    return {
      id: text(raw["id"]),
      kind: raw["kind"] === "set" ? "set" : "haul",
      start,
      end,
      gear: gearUse(raw["gear"]),
      site: text(raw["site"]),
      waterbody: text(raw["waterbody"]),
      fixes: list(raw["fixes"]).map(fix),
      authority,
      also_under: texts(raw["also_under"]),
      person: text(raw["person"]),
      lines: list(raw["lines"]).map((one) => this.line(one, zone, authority || above)),
      checks: texts(raw["checks"]).map((one) => instant(one, zone)),
      lost: raw["lost"] === true,
    };
  }

  line(raw: Raw, zone: string, above: string): Line {
    const authority = text(raw["authority"]);
    const litres = this.litresUnder(authority || above);
    const written = text(raw["unit"]) as Unit | "";
    const count =
      raw["count"] == null
        ? { count: raised(Number(raw["raw_counted"]), text(raw["raw_share"])), unit: "individuals" as Unit, method: "raised" as Method }
        : parseCount(raw["count"], litres, written);
    return {
      id: text(raw["id"]),
      name: this.identification(raw),
      count: count.count,
      unit: written || count.unit,
      fate: (text(raw["fate"]) || "released") as Fate,
      method: (text(raw["method"]) || count.method) as Method,
      stage: text(raw["stage"]),
      sex: text(raw["sex"]),
      authority,
      person: text(raw["person"]),
      container: text(raw["container"]),
      weight: raw["weight"] == null ? null : parseCount(raw["weight"], litres, "g").count,
      measurements: list(raw["measurements"]).map(measurement),
      at: moment(raw["at"], zone),
    };
  }

  identification(raw: Raw): Identification {
    return {
      taxon: this.taxa.resolve(text(raw["taxon"])),
      doubt: text(raw["doubt"]) as Doubt,
      one_of: texts(raw["one_of"]).map((name) => this.taxa.resolve(name)),
    };
  }

  movement(raw: Raw, zone: string): Movement {
    const authority = text(raw["authority"]);
    const taxon = text(raw["taxon"]);
    return {
      id: text(raw["id"]),
      at: instant(text(raw["at"]), zone),
      what: text(raw["what"]),
      count: parseCount(raw["count"], this.litresUnder(""), "any").count,
      line: text(raw["line"]),
      taxon: taxon === "" ? "" : this.taxa.resolve(taxon),
      authority,
    };
  }

  private sharedTotal(raw: Raw, zone: string): SharedTotal {
    return {
      authority: text(raw["authority"]),
      condition: text(raw["condition"]),
      as_of: instant(text(raw["as_of"]), zone),
      total: parseCount(raw["total"], this.litresUnder(""), "any").count,
    };
  }

  /** Give the litres of the containers that the authority in force knows; where none is told, of all of them. */
  private litresUnder(authority: string): ReadonlyMap<string, Exact> {
    let found = this.litres.get(authority);
    if (found === undefined) {
      found = containersOf(this.authorities.filter((one) => authority === "" || one.id === authority));
      this.litres.set(authority, found);
    }
    return found;
  }
}

function incident(raw: Raw, zone: string): Incident {
  return {
    authority: text(raw["authority"]),
    about: texts(raw["about"]),
    to: text(raw["to"]),
    told: moment(raw["told"], zone),
  };
}

function gearUse(raw: unknown): GearUse | null {
  if (raw == null) return null;
  const own = raw as Raw;
  const length = (key: string): Exact | null => (own[key] == null ? null : millimetres(own[key] as string | number));
  return {
    gear: text(own["gear"]),
    length_mm: length("length_mm"),
    mesh_mm: length("mesh_mm"),
    opening_mm: length("opening_mm"),
    number: own["number"] == null ? 1 : Number(own["number"]),
    marked: typeof own["marked"] === "boolean" ? own["marked"] : null,
  };
}

function measurement(raw: Raw): Measurement {
  const measure = text(raw["measure"]);
  const values = (raw["values"] ?? []) as readonly (string | number)[];
  return { measure, variant: text(raw["variant"]), values: values.map((value) => tenths(measure, value)) };
}

function fix(raw: Raw): Fix {
  const share = raw["confidence"] ?? 0.95;
  const percent = typeof share === "string" && share.trim().endsWith("%");
  return {
    lat: exact(raw["lat"] as string | number).toNumber(),
    lon: exact(raw["lon"] as string | number).toNumber(),
    radius_m: raw["radius_m"] == null ? null : exact(raw["radius_m"] as string | number).toNumber(),
    confidence: percent ? Number.parseFloat(String(share)) / 100 : Number(share),
  };
}

function moment(value: unknown, zone: string): Instant | null {
  return value == null ? null : instant(text(value), zone);
}

function text(value: unknown): string {
  return typeof value === "string" ? value : typeof value === "number" ? String(value) : "";
}

function texts(value: unknown): string[] {
  return Array.isArray(value) ? value.map(text) : [];
}

function list(value: unknown): readonly Raw[] {
  return Array.isArray(value) ? (value as Raw[]) : [];
}

