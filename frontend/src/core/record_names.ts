/** Records by what people call them, in sentences that name them by their ids. */
import type { Content } from "./outbox";
import { dayWords } from "./time_words";

/** What of a record tells its name. */
export interface Nameable {
  readonly kind: string;
  readonly id: string;
  readonly parent: string;
  readonly code: string;
  readonly content: Content;
}

export type RecordNames = ReadonlyMap<string, string>;

/** Give the names of trips, hauls and lines: their codes, or what screens call them until the server has given one. */
export function namesOf(records: readonly Nameable[]): Map<string, string> {
  const names = new Map<string, string>();
  const begun = (one: Nameable): string => String(one.content["start"] ?? "");
  const placeIn = new Map<string, number>();
  const hauls = records.filter((one) => one.kind === "haul").toSorted((a, b) => Date.parse(begun(a)) - Date.parse(begun(b)));
  for (const haul of hauls) {
    const place = (placeIn.get(haul.parent) ?? 0) + 1;
    placeIn.set(haul.parent, place);
    names.set(haul.id, haul.code || `haul ${place}`);
  }
  for (const { kind, id, code, content } of records) {
    if (kind === "trip") names.set(id, code || tripWords(content));
    if (kind === "line") names.set(id, code || `“${String(content["name_as_written"] ?? "") || String(content["taxon"])}, ${String(content["fate"])}”`);
  }
  return names;
}

function tripWords(content: Content): string {
  const at = Date.parse(String(content["depart"]));
  return Number.isNaN(at) ? "the new trip" : `the trip of ${dayWords(at, String(content["zone"] ?? "UTC"))}`;
}

const NAMED = /(?:\b(haul|set|trip|line|record)\s+)?['“]?([0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12})['”]?/gi;

/** Put names for ids: "Haul 0189…" becomes "Haul 2", or "Haul K28-10-2"; of what is not here only that. */
export function withNames(text: string, names: RecordNames): string {
  return text.replace(NAMED, (_all, kind: string | undefined, id: string) => {
    const name = names.get(id.toLowerCase()) ?? `a ${kind?.toLowerCase() ?? "record"} that is not on this phone`;
    if (kind === undefined) return name;
    // The name says by itself what it is.
    if (!name.toLowerCase().includes(kind.toLowerCase())) return `${kind} ${name}`;
    return kind[0] === kind[0]?.toUpperCase() ? name.charAt(0).toUpperCase() + name.slice(1) : name;
  });
}
