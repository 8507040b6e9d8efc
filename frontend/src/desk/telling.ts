/** What records say beyond the row that names them: how a set stands, every field in words, who entered it, its papers. */
import { fieldsOf, type FieldTold, type Naming } from "../core/versions";
import type { ChangedRead, CorrectionRead, CountRead, EntryRead, HistoryRead } from "./answers";
import { countFrom, type Haul, type Line, type Raw, type Season, type Trip } from "./season";
import { capital, rangeOf, timeOf } from "./words";

// --- how a haul or set stands

/** Say how a haul stands that has not simply ended: still out, lost, or without an end; "" for every other. */
export function standingOf(season: Season, haul: Haul, zone: string): string {
  if (haul.lost) return `lost, ${reportedWords(season, haul, zone)}`;
  if (haul.end !== null) return "";
  if (haul.kind === "haul") return "no end recorded";
  const last = haul.looks[haul.looks.length - 1];
  const looked = last === undefined ? "not looked in yet" : `last looked in ${timeOf(last, zone)}`;
  return `still out since ${timeOf(haul.start, zone)}, ${looked}`;
}

function reportedWords(season: Season, haul: Haul, zone: string): string {
  const told = incidentsAbout(season, new Set([haul.id, haul.code])).flatMap((one) => (text(one.record?.["told"]) ? [one] : []))[0];
  if (told === undefined) return "no report of it is in the record";
  return `reported ${timeOf(text(told.record?.["told"]), zone)} to ${text(told.record?.["to"]) || "somebody not named"}`;
}

/** Say what stands where a haul has no catch line. */
export function emptyWords(haul: Haul): string {
  if (haul.lost) return "What was in it is not known.";
  if (haul.end === null && haul.kind === "set") return "It has not been lifted; nothing is entered of it yet.";
  return haul.end === null ? "Nothing is entered yet." : "Nothing caught.";
}

// --- every field

/** What a row or a heading shows already, by the kind of record. */
const SHOWN: Readonly<Record<string, ReadonlySet<string>>> = {
  trip: new Set(["status", "depart", "back", "leader", "crew", "authority", "note", "attestations", "cleanings", "zone"]),
  haul: new Set(["kind", "note", "lost"]),
  line: new Set(["taxon", "doubt", "one_of", "count", "unit", "fate", "note"]),
};

/** What says nothing, since it is so wherever nothing else is written. */
const USUAL: Readonly<Record<string, string>> = { method: "counted", papers: "none", crew: "none", fixes: "none" };

/** Give every field of a record that no row or heading shows, in words; what nobody recorded is left out. */
export function beyond(season: Season, kind: string, id: string, naming: Naming): readonly FieldTold[] {
  const content = season.held.get(`${kind} ${id}`)?.record;
  if (!content) return [];
  return fieldsOf(content, naming).filter(({ field, words }) => !SHOWN[kind]?.has(field) && words !== USUAL[field]);
}

// --- who entered it

/** Who entered a record first, and who amended it since, each in words; [] where nobody told. */
export function enteredWords(history: HistoryRead, record: string, zone: string): readonly string[] {
  const own = history.entries.filter((one) => one.record === record);
  return own.map((one, place) => `${place === 0 && one.version === 1 ? "Entered" : "Amended"} by ${byWords(one, zone)}`);
}

function byWords(one: EntryRead, zone: string): string {
  const where = one.device === "" ? "" : ` on ${one.device}`;
  const paper = one.entered_from === "paper" ? ", from paper" : "";
  const at = one.device_at === null ? timeOf(one.at, zone) : `${timeOf(one.device_at, zone)} by the phone, received ${timeOf(one.at, zone)}`;
  return `${one.by_name || one.by}${where}${paper}, ${at}`;
}

export function correctionsOf(history: HistoryRead, record: string): readonly CorrectionRead[] {
  return history.corrections.filter((one) => one.record === record);
}

/** Say a correction in a sentence: what it was, what it is, who, when and why. */
export function correctionWords(one: CorrectionRead, zone: string): string {
  return `${capital(one.field)} was ${one.old}, is ${one.new}: ${one.by_name}, ${timeOf(one.at, zone)}. Reason: ${one.why}`;
}

// --- papers

/** Something sent, told or moved, that hangs on a trip: in words, with what else it says. */
export interface PaperTold {
  readonly kind: "notice" | "incident" | "movement";
  readonly id: string;
  readonly words: string;
  readonly more: string;
}

/** Give the notices, reports and movements that hang on a trip, its hauls and lines, by their time. */
export function papersOn(season: Season, trip: Trip): readonly PaperTold[] {
  const own = ownNames(season, trip);
  const notices = every(season, "notice").filter((one) => own.has(text(one.record?.["trip"])));
  const movements = every(season, "movement").filter((one) => own.has(text(one.record?.["line"])));
  return [...notices, ...incidentsAbout(season, own), ...movements]
    .sort((first, second) => timeIn(first) - timeIn(second))
    .map((one) => ({ kind: one.kind as PaperTold["kind"], id: one.id, words: paperWords(season, one, trip.zone), more: paperMore(one) }));
}

/** Give what left a line or joined it since it was caught, by its time. */
export function movementsOf(season: Season, line: Line, zone: string): readonly { readonly id: string; readonly words: string }[] {
  return every(season, "movement")
    .filter((one) => [line.id, line.code].includes(text(one.record?.["line"])))
    .sort((first, second) => timeIn(first) - timeIn(second))
    .map(({ id, record }) => ({
      id,
      words: `${rangeOf(countFrom(record?.["count"] as CountRead | undefined), line.unit)} ${text(record?.["what"])}, ${timeOf(text(record?.["at"]), zone)}`,
    }));
}

/** Give the ids and codes of a trip, its hauls and its lines. */
function ownNames(season: Season, trip: Trip): ReadonlySet<string> {
  const hauls = season.hauledOn.get(trip.id) ?? [];
  const lines = hauls.flatMap((haul) => season.linesOf.get(haul.id) ?? []);
  return new Set([trip, ...hauls, ...lines].flatMap((one) => [one.id, one.code]));
}

function every(season: Season, kind: string): readonly ChangedRead[] {
  return [...season.held.values()].filter((one) => one.kind === kind && one.record !== null);
}

function incidentsAbout(season: Season, names: ReadonlySet<string>): readonly ChangedRead[] {
  return every(season, "incident").filter((one) => ((one.record?.["about"] ?? []) as readonly string[]).some((name) => names.has(name)));
}

function timeIn({ record }: ChangedRead): number {
  return Date.parse(text(record?.["sent"] ?? record?.["told"] ?? record?.["at"]));
}

/** Name a notice, report, movement or filing as people do: what it is, of what, when. */
function paperWords(season: Season, one: ChangedRead, zone: string): string {
  const record = one.record ?? {};
  const to = text(record["to"]);
  switch (one.kind) {
    case "notice":
      return `${record["cancels"] === true ? "called off" : "notice"} to ${to}, ${timeOf(text(record["sent"]), zone)}`;
    case "incident":
      return `report to ${to}${text(record["told"]) ? `, ${timeOf(text(record["told"]), zone)}` : ", not told yet"}`;
    case "movement":
      return movementWords(season, record, zone);
    case "filing":
      return `report handed in, ${timeOf(text(record["filed"]), zone)}`;
    default:
      return one.kind;
  }
}

function movementWords(season: Season, record: Raw, zone: string): string {
  const line = season.lines.get(text(record["line"])) ?? season.linesByCode.get(text(record["line"]));
  const count = rangeOf(countFrom(record["count"] as CountRead | undefined), line?.unit);
  const name = line === undefined ? text(record["taxon"]) : line.taxon;
  const of = line === undefined ? "" : ` of ${line.code}`;
  const to = text(record["to"]) ? ` to ${text(record["to"])}` : "";
  return `${count} ${name}${of} ${text(record["what"])}${to}, ${timeOf(text(record["at"]), zone)}`;
}

const MORE: readonly (readonly [field: string, name: string])[] = [
  ["channel", "by"],
  ["proof", "proof"],
  ["text", "said"],
  ["consent", "consent"],
  ["reason", "reason"],
];

function paperMore({ record }: ChangedRead): string {
  return MORE.flatMap(([field, name]) => (text(record?.[field]) ? [`${name}: ${text(record?.[field])}`] : [])).join("; ");
}

/** Name whatever a finding rests on that is no trip, haul or line; the code stays where nothing is known of it. */
export function otherWords(season: Season, name: string, zone: string): string {
  const found = ["notice", "incident", "movement", "filing"].map((kind) => season.held.get(`${kind} ${name}`)).find((one) => one?.record);
  return found === undefined ? name : paperWords(season, found, zone);
}

/** Say what a finding is about: a movement is named by the server with its id, which nobody would know. */
export function aboutPlainly(season: Season, about: string, zone: string): string {
  const [kind = "", name = ""] = about.split(" ");
  return kind === "movement" ? otherWords(season, name, zone) : about;
}

function text(value: unknown): string {
  return typeof value === "string" ? value : "";
}
