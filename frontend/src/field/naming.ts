/** The names of hauls on this phone, as its screens ask for them. */
import type { HaulNames } from "../core/haul_names";
import { givenNames, giveNames } from "../device/haul_names";
import { phone } from "./phone.svelte";

export function namesOf(): Promise<HaulNames> {
  return givenNames(phone.db);
}

export function nameHauls(trip: string): Promise<void> {
  return giveNames(phone.db, trip);
}
