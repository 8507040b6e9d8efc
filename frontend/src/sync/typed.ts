/** Digits that were typed on a haul's keypad and not entered: kept on the disk, so that none is lost with the app. */
import type { Fate, RowName } from "../core/tally";
import type { PhoneDatabase } from "../device/database";

export interface Typed {
  readonly fate: Fate;
  /** The measure of a length or weight; "" for a number or an amount. */
  readonly measure: string;
  readonly digits: string;
}

/** With the row that they were typed for. */
export interface TypedIn extends Typed {
  readonly row: RowName & { readonly key: string };
}

export function typedNote(haul: string): string {
  return `typed in ${haul}`;
}

/** Keep what is typed; no digits, no note. The touch that enters them takes the note away in its own transaction. */
export async function holdTyped(db: PhoneDatabase, haul: string, typed: TypedIn): Promise<void> {
  const name = typedNote(haul);
  await (typed.digits === "" ? db.notes.delete(name) : db.notes.put({ name, value: typed }));
}

export async function typedIn(db: PhoneDatabase, haul: string): Promise<TypedIn | null> {
  return ((await db.notes.get(typedNote(haul)))?.value as TypedIn | undefined) ?? null;
}
