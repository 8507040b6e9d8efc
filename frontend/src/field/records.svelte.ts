/** What stands on this phone, watched by the screens that show it. */
import { liveQuery } from "dexie";
import { isOpen } from "../core/trip_records";
import type { StoredRecord } from "../device/database";
import { phone } from "./phone.svelte";

/** Watch a query; what it gives changes as the database does, also by another tab. */
export function live<Value>(query: () => Promise<Value>, first: Value): { readonly now: Value; readonly came: boolean } {
  let now = $state.raw(first);
  let came = $state(false);
  $effect(() => {
    const watching = liveQuery(query).subscribe({
      next: (value) => {
        now = value;
        came = true;
      },
      error: (error) => phone.tell(error),
    });
    return () => watching.unsubscribe();
  });
  return {
    get now() {
      return now;
    },
    get came() {
      return came;
    },
  };
}

export async function childrenOf(id: string, kind: string): Promise<StoredRecord[]> {
  return (await phone.db.records.where("parent").equals(id).toArray()).filter((one) => one.kind === kind);
}

/** The address to open the app at: an open haul, an open trip, the list of trips, or what is missing. */
export async function openNow(): Promise<string[]> {
  const trips = (await phone.all("trip")).filter((one) => one.content["status"] === "open");
  const trip = newest(trips, "depart");
  if (trip === undefined) return [phone.pulledAt === null ? "ready" : "trips"];
  const inTheField = trips.filter((one) => one.content["paper_record"] !== true).map((one) => one.id);
  const hauls = (await phone.all("haul")).filter(
    (one) => inTheField.includes(one.parent) && one.content["kind"] !== "set" && isOpen(one.content),
  );
  const haul = newest(hauls, "start");
  return haul === undefined ? ["trip", trip.id] : ["haul", haul.id];
}

function newest(records: readonly StoredRecord[], field: string): StoredRecord | undefined {
  const when = (one: StoredRecord): number => Date.parse(String(one.content[field])) || 0;
  return records.toSorted((a, b) => when(a) - when(b)).at(-1);
}

/** What a person is called. */
export async function namesOfPeople(): Promise<ReadonlyMap<string, string>> {
  return new Map((await phone.all("person")).map((one) => [one.id, String(one.content["name"])]));
}

/** The zone in which a record's times are told: its trip's. */
export async function zoneOf(record: StoredRecord): Promise<string> {
  if (record.kind === "trip") return String(record.content["zone"] ?? phone.zone);
  const above = record.kind === "line" ? "haul" : "trip";
  const parent = await phone.db.records.get([above, record.parent]);
  return parent === undefined ? phone.zone : zoneOf(parent);
}

export function codeOf(record: StoredRecord | undefined, otherwise: string): string {
  return record?.code || otherwise;
}
