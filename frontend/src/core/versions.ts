/**
 * Two versions of one record, laid side by side in plain words: the same on the phone and at the desk.
 *
 * Nothing is rounded, so that two values that differ also read otherwise. What no rule here knows is shown as it came.
 */
import { spokenTime } from "../checks/calendar";
import { exact } from "../checks/exact";
import { decimalText } from "../checks/measures";
import { lengthWords } from "./gear";
import type { Content } from "./outbox";

/** How ids are named and in which zone times are told: the trip's. */
export interface Naming {
  readonly zone: string;
  readonly people: ReadonlyMap<string, string>;
  readonly sites: ReadonlyMap<string, string>;
  readonly authorities: ReadonlyMap<string, string>;
}

/** A field of a record, by the name that people call it, and its value in words. */
export interface FieldTold {
  readonly field: string;
  readonly name: string;
  readonly words: string;
}

/** A field that reads otherwise in the version that was offered. */
export interface Difference {
  readonly field: string;
  readonly name: string;
  readonly stands: string;
  readonly offered: string;
}

export const NOTHING = "not recorded";

/** Fields that a record leaves out where they stand at their default, and what they say then. */
const ABSENT: Readonly<Record<string, string>> = { lost: "no", paper_record: "no", clock_fast_s: "0 s" };

/** What names the record, or is a record of its own: no version of it. */
const BESIDE = new Set(["id", "hauls", "lines"]);

/** What is looked for first stands first; the rest follows by the alphabet. */
const FIRST = [
  "status", "kind", "taxon", "doubt", "one_of", "name_as_written", "count", "unit", "fate", "method", "weight", "measurements", "stage", "sex",
  "depart", "arrived", "start", "at", "end", "back", "checks", "site", "waterbody", "gear", "fixes", "person", "leader", "crew", "authority",
];

const NAMES: Readonly<Record<string, string>> = {
  also_under: "also under",
  arrived: "stood as it began",
  at: "caught at",
  attestations: "statements",
  back: "back at",
  checks: "looked at",
  clock_fast_s: "phone clock ahead",
  depart: "departed",
  device_start: "start by the phone clock",
  doubt: "doubt in the name",
  fixes: "place",
  in_sight: "holder in sight",
  kind: "kind",
  may_stand_under: "may stand under",
  measured_as: "measured as",
  measurements: "measured",
  name_as_written: "name as written",
  one_of: "one of",
  paper_record: "entered from paper",
  raw_counted: "counted in a part",
  raw_share: "part counted",
  swept_m: "length swept",
};

function nameOf(field: string): string {
  const name = NAMES[field] ?? field.replaceAll("_", " ");
  return name.charAt(0).toUpperCase() + name.slice(1);
}

/** Give the fields that differ, each with both values in words. */
export function differences(stands: Content, offered: Content, naming: Naming): Difference[] {
  return fieldsIn(stands, offered)
    .map((field) => ({ field, name: nameOf(field), stands: wordsOf(field, stands, naming), offered: wordsOf(field, offered, naming) }))
    .filter((one) => one.stands !== one.offered);
}

/** Give every field of one version that says something. */
export function fieldsOf(content: Content, naming: Naming): FieldTold[] {
  return fieldsIn(content)
    .map((field) => ({ field, name: nameOf(field), words: wordsOf(field, content, naming) }))
    .filter((one) => one.words !== NOTHING);
}

/** Give what a line counts, in words: "6", "8–11, best 9", "2 L". */
export function countOf(content: Content, naming: Naming): string {
  return wordsOf("count", content, naming);
}

function fieldsIn(...contents: readonly Content[]): string[] {
  const rank = (field: string): number => (FIRST.includes(field) ? FIRST.indexOf(field) : FIRST.length);
  const every = new Set(contents.flatMap((one) => Object.keys(one)).filter((field) => !BESIDE.has(field)));
  return [...every].sort((a, b) => rank(a) - rank(b) || (a < b ? -1 : 1));
}

/** Say in a few words what a record is about: "Galaxias maculatus, 12 kept"; "haul of 14 Jul 2028 09:20, North arm". */
export function aboutWords(kind: string, content: Content, naming: Naming): string {
  const told = (field: string): string => (content[field] === undefined ? "" : wordsOf(field, content, naming));
  const parts = {
    line: [told("name_as_written") || told("taxon"), [told("count"), told("fate")].filter(Boolean).join(" ")],
    haul: [`${told("kind") || "haul"} of ${told("start")}`, told("site")],
    trip: [`trip of ${told("depart")}`, told("status")],
  }[kind] ?? [kind];
  return parts.filter(Boolean).join(", ");
}

// --- values

function wordsOf(field: string, content: Content, naming: Naming): string {
  const value = content[field];
  if (value === undefined || value === null || value === "") return ABSENT[field] ?? NOTHING;
  return WRITERS[field]?.(value, naming, content) ?? flat(value);
}

/** Writes a value of its field; null for a value of another shape, which is then shown as it came. */
type Writer = (value: unknown, naming: Naming, content: Content) => string | null;

/** Write any value without its brackets. */
function flat(value: unknown): string {
  if (Array.isArray(value)) return value.map(flat).join("; ") || "none";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (!isObject(value)) return String(value ?? NOTHING);
  return inOrder(value).map(([key, each]) => partWords(key, each)).join(", ");
}

/** Parts in the order in which people say them; what the writing of a record happens to put first says nothing. */
const SAID_FIRST = ["gear", "length_mm", "quantity", "value", "unit", "authority", "condition", "kept", "method", "at", "person"];

function inOrder(value: Readonly<Record<string, unknown>>): [string, unknown][] {
  const rank = (key: string): number => (SAID_FIRST.includes(key) ? SAID_FIRST.indexOf(key) : SAID_FIRST.length);
  return Object.entries(value).sort(([a], [b]) => rank(a) - rank(b) || (a < b ? -1 : 1));
}

function partWords(key: string, value: unknown): string {
  return `${(PARTS[key] ?? key).replaceAll("_", " ")} ${key in PARTS ? lengthWords(flat(value)) : flat(value)}`;
}

const PARTS: Readonly<Record<string, string>> = { length_mm: "length", mesh_mm: "mesh", opening_mm: "opening" };

function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function text(value: unknown): string {
  return typeof value === "string" ? value : "";
}

/** Write an exact amount, a whole number or a fraction as text, as a decimal number where one ends. */
function number(value: unknown): string {
  const written = typeof value === "number" ? value : text(value);
  try {
    const amount = exact(written);
    const decimal = decimalText(amount);
    return exact(decimal).equals(amount) ? decimal : String(written);
  } catch {
    return String(value);
  }
}

/** Write a length as a record holds it, "127/20 mm": 6.35 mm. */
function length(value: unknown): string {
  const [amount = "", ...unit] = flat(value).split(" ");
  return [number(amount), ...unit].join(" ");
}

/** Write a count: "12", "136–147, best 140", "at least 5", "unknown". */
function count(value: unknown, unit: string): string | null {
  const mark = unit === "" || unit === "individuals" ? "" : ` ${unit}`;
  if (typeof value === "number") return `${number(value)}${mark}`;
  if (!isObject(value)) return null;
  const [low, best, high] = [number(value["low"]), number(value["best"]), number(value["high"])];
  if (low === high) return `${low}${mark}`;
  if (high === "unknown" && low === best) return low === "0" ? "unknown" : `at least ${low}${mark}`;
  const range = high === "unknown" ? `at least ${low}` : `${low}\u2013${high}`;
  return `${range}${mark}, best ${best}`;
}

const OFFSET = /(?:Z|[+-]\d\d:\d\d)$/;

/** Tell a time that has its offset in the trip's zone, to the second where seconds were recorded; others as they stand. */
function time(value: unknown, { zone }: Naming): string | null {
  const written = text(value);
  const at = OFFSET.test(written) ? Date.parse(written) : Number.NaN;
  if (Number.isNaN(at)) return null;
  const seconds = /T\d\d:\d\d:(\d\d(?:\.\d+)?)/.exec(written)?.[1] ?? "00";
  return `${spokenTime(at, zone)}${Number(seconds) === 0 ? "" : `:${seconds}`}`;
}

/** Give the name behind an id; where two share it, both bear their ids, or the two would read alike. */
function named(names: ReadonlyMap<string, string>, value: unknown): string {
  const id = text(value);
  const name = names.get(id);
  if (name === undefined) return id;
  const alike = [...names.values()].filter((one) => one === name).length > 1;
  return alike ? `${name} (${id})` : name;
}

function several(one: Writer, between = "; "): Writer {
  return (value, naming, content) =>
    Array.isArray(value) ? value.map((each) => one(each, naming, content) ?? flat(each)).join(between) || "none" : null;
}

/** Write one run of measurements: "total length 41 mm, 38.5 mm". */
const run: Writer = (value) => {
  if (!isObject(value) || !Array.isArray(value["values"])) return null;
  const variant = text(value["variant"]);
  return `${text(value["measure"])}${variant === "" ? "" : ` (${variant})`} ${value["values"].map(flat).join(", ")}`;
};

const fix: Writer = (value) => {
  if (!isObject(value)) return null;
  const { lat, lon, radius_m, confidence, source, ...more } = value;
  const sure = typeof confidence === "number" ? `${Number((confidence * 100).toFixed(9))} % sure` : "";
  const within = radius_m === undefined || radius_m === null ? "" : `within ${flat(radius_m)} m`;
  const rest = Object.keys(more).length === 0 ? "" : flat(more);
  return [`${flat(lat)}, ${flat(lon)}`, within, sure, text(source), rest].filter(Boolean).join(", ");
};

const member: Writer = (value, naming) =>
  isObject(value) ? `${named(naming.people, value["person"])} (${text(value["role"])})` : null;

const gear: Writer = (value) => {
  if (!isObject(value)) return null;
  const { gear: kind, ...more } = value;
  return [flat(kind), ...inOrder(more).map(([key, each]) => partWords(key, each))].join(", ");
};

/** Write a reading: "salinity 12 psu, 1 Aug 2027 09:00". */
const reading: Writer = (value, naming, content) => {
  if (!isObject(value)) return null;
  const { quantity, value: read, unit, ...more } = value;
  const said = [quantity, read, unit].filter((each) => each !== undefined && each !== "").map(flat).join(" ");
  return [said, told(more, naming, content)].filter(Boolean).join(", ");
};

/** Write what has a time, a person or an authority in it, each in words. */
const told: Writer = (value, naming) => {
  if (!isObject(value)) return null;
  return inOrder(value)
    .map(([key, each]) => {
      if (key === "at") return time(each, naming) ?? flat(each);
      if (key === "person") return named(naming.people, each);
      if (key === "authority") return named(naming.authorities, each);
      return ["method", "condition", "kept"].includes(key) ? flat(each) : partWords(key, each);
    })
    .join(", ");
};

const person: Writer = (value, { people }) => named(people, value);
const authority: Writer = (value, { authorities }) => named(authorities, value);

const TIMES = ["at", "back", "depart", "device_start", "end", "filed", "replied", "sent", "start", "told"];

const WRITERS: Readonly<Record<string, Writer>> = {
  ...Object.fromEntries(TIMES.map((field) => [field, time])),
  count: (value, _naming, content) => count(value, text(content["unit"])),
  weight: (value) => count(value, "g"),
  measurements: several(run),
  person,
  leader: person,
  by: person,
  authority,
  also_under: several(authority, ", "),
  may_stand_under: several(authority, ", "),
  site: (value, { sites }) => named(sites, value),
  crew: several(member, ", "),
  checks: several(time, ", "),
  arrived: fix,
  fixes: several(fix),
  gear,
  cleanings: several(told),
  readings: several(reading),
  attestations: several(told),
  swept_m: length,
  clock_fast_s: (value) => `${number(value)} s`,
};
