/** The names that hauls bear on this phone, kept from the first time they are shown. */
import { withNames, type HaulNames } from "../core/haul_names";
import { phone } from "./phone.svelte";

const NAMES = "names of hauls";

/** Give every name that was given so far. */
export async function namesOf(): Promise<HaulNames> {
  const notes = await phone.db.notes.where("name").startsWith(`${NAMES} `).toArray();
  return Object.assign({}, ...notes.map((note) => note.value as HaulNames)) as HaulNames;
}

/** Name the hauls and sets of a trip that bear no name yet. */
export async function nameHauls(trip: string): Promise<void> {
  const { db } = phone;
  await db.transaction("rw", db.records, db.notes, async () => {
    const hauls = (await db.records.where("parent").equals(trip).toArray()).filter((one) => one.kind === "haul");
    const name = `${NAMES} ${trip}`;
    const known = ((await db.notes.get(name))?.value ?? {}) as HaulNames;
    const named = withNames(known, hauls.map(({ id, code, content }) => ({ id, code, set: content["kind"] === "set" })));
    if (Object.keys(named).length > Object.keys(known).length) await db.notes.put({ name, value: named });
  });
}
