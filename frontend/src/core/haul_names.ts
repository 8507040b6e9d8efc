/** What a haul is called on this phone: from the first time it is shown, whatever is added, lifted or sent later. */

export interface Unnamed {
  readonly id: string;
  /** "" until the server has given it one. */
  readonly code: string;
  readonly set: boolean;
}

/** Names by the ids of hauls. */
export type HaulNames = Readonly<Record<string, string>>;

const NUMBER = /(\d+)$/;

/**
 * Name what bears no name yet and leave the rest alone: what comes from elsewhere by its code, what was made here by the
 * next number of its trip. The number goes on from the highest there is, so that no two are called alike.
 */
export function withNames(known: HaulNames, hauls: readonly Unnamed[]): HaulNames {
  const numberIn = (text: string): number => Number(NUMBER.exec(text)?.[1] ?? 0);
  let highest = Math.max(0, ...Object.values(known).map(numberIn), ...hauls.map((one) => numberIn(one.code)));
  const names: Record<string, string> = { ...known };
  // Ids of a phone sort by the time at which they were made.
  for (const { id, code, set } of hauls.toSorted((a, b) => (a.id < b.id ? -1 : 1))) {
    if (names[id] !== undefined) continue;
    if (code === "") highest += 1;
    names[id] = code === "" ? `${set ? "Set" : "Haul"} ${highest}` : code;
  }
  return names;
}
