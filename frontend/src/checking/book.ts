/** What is stored on this phone, laid out for the checks. A record that cannot be read is named and left out. */
import { areaOf, exact, Reader, Taxa, withAcceptedNames, type Allotment, type Area, type Authority, type Book, type Season } from "../checks/checks";
import type { Geometry } from "../checks/places/areas";
import type { Haul, Line, Trip } from "../checks/records";
import type { Content } from "../core/outbox";
import type { StoredRecord } from "../device/database";

export interface Shelf {
  readonly book: Book;
  readonly reader: Reader;
  readonly allotments: ReadonlyMap<string, readonly Allotment[]>;
  readonly problems: readonly string[];
}

const LEFT_OUT = "left out of what this phone can tell";

/** Read permits, names, areas and allotments. */
export function shelfOf(records: readonly StoredRecord[]): Shelf {
  const problems: string[] = [];
  const taxa = new Taxa(listOf(records, "taxa", "taxa") as never[]);
  const authorities = kept(contents(records, "authority"), problems, "The permit", (one) =>
    withAcceptedNames(one as unknown as Authority, taxa),
  );
  const areas = kept(listOf(records, "areas", "areas"), problems, "The area", areaFrom);
  const allotments = new Map<string, Allotment[]>();
  for (const one of contents(records, "allotment")) {
    if (one["state"] !== "open") continue;
    const trip = String(one["trip"]);
    allotments.set(trip, [...(allotments.get(trip) ?? []), allotmentFrom(one)]);
  }
  const book = { authorities, taxa, areas: new Map(areas.map((area) => [area.id, area])) };
  return { book, reader: new Reader(taxa, authorities), allotments, problems };
}

function kept<Read>(raw: readonly Content[], problems: string[], what: string, read: (one: Content) => Read): Read[] {
  return raw.flatMap((one) => {
    try {
      return [read(one)];
    } catch (error) {
      problems.push(`${what} ${String(one["name"] ?? one["number"] ?? one["id"])} is ${LEFT_OUT}: ${(error as Error).message}.`);
      return [];
    }
  });
}

function areaFrom(one: Content): Area {
  const geometry = one["geometry"] as Geometry;
  return areaOf(String(one["id"]), String(one["name"] ?? ""), geometry, Number(one["edge_tolerance_m"] ?? 0));
}

function allotmentFrom(one: Content): Allotment {
  const text = (name: string): string => String(one[name] ?? "");
  const amount = exact(one["amount"] as string | number);
  return { authority: text("authority"), number: text("number"), label: text("label"), name: text("name"), unit: text("unit"), amount };
}

/** A trip as the checks read it, with what could not be read. */
export interface TripRead {
  readonly trip: Trip | null;
  readonly problems: readonly string[];
}

/** Read one trip from its records: hauls and lines that cannot be read are named and left out. */
export function tripRead(trip: Content, hauls: readonly StoredRecord[], lines: readonly StoredRecord[], shelf: Shelf, zone: string): TripRead {
  const problems: string[] = [];
  const { reader } = shelf;
  const own = String(trip["zone"] ?? "") || zone;
  const above = String(trip["authority"] ?? "");
  const linesOf = (haul: Content): Line[] => {
    const authority = String(haul["authority"] ?? "") || above;
    const written = lines.filter((one) => one.parent === haul["id"]).map((one) => one.content);
    return kept(written, problems, "The catch line", (line) => reader.line(line, own, authority));
  };
  const read = kept(hauls.map((one) => one.content), problems, "The haul", (haul): Haul => {
    return { ...reader.haul({ ...haul, lines: [] }, own, above), lines: linesOf(haul) };
  });
  const [shell] = kept([trip], problems, "The trip", (one) => reader.trip({ ...one, hauls: [] }, zone));
  return { trip: shell === undefined ? null : { ...shell, hauls: read }, problems };
}

/** Give the papers around the trips: movements, incidents, published totals, names of people and sites. */
export function seasonAround(records: readonly StoredRecord[], shelf: Shelf, zone: string): { season: Season; problems: string[] } {
  const problems: string[] = [];
  const [papers] = contents(records, "papers");
  const readable = (field: string, written: readonly Content[]): Content[] =>
    kept(written, problems, "The record", (one) => {
      shelf.reader.season({ zone, [field]: [one] });
      return one;
    });
  const named = (kind: string): Record<string, string> =>
    Object.fromEntries(contents(records, kind).map((one) => [String(one["id"]), String(one["name"])]));
  const season = shelf.reader.season({
    zone,
    trips: [],
    movements: readable("movements", contents(records, "movement")),
    incidents: readable("incidents", contents(records, "incident")),
    shared_totals: readable("shared_totals", (papers?.["shared_totals"] as Content[] | undefined) ?? []),
    people: named("person"),
    sites: named("site"),
  });
  return { season, problems };
}

export function contents(records: readonly StoredRecord[], kind: string): Content[] {
  return records.filter((one) => one.kind === kind).map((one) => one.content);
}

function listOf(records: readonly StoredRecord[], kind: string, field: string): Content[] {
  return contents(records, kind).flatMap((one) => (one[field] as Content[] | undefined) ?? []);
}
