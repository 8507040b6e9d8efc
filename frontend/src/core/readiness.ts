/** Whether this phone can go where there is no signal: what it holds, with its age. */

export interface Item {
  readonly what: string;
  readonly there: boolean;
  /** It could be here, but there is none: nothing is wrong, and nothing is ticked. */
  readonly none: boolean;
  /** What is there, or what is missing and what to do. */
  readonly words: string;
}

export interface Held {
  readonly app: boolean;
  readonly appWords: string;
  readonly numbers: Readonly<Record<string, number>>;
  readonly papersWanted: number;
  readonly papers: number;
  readonly shoreline: boolean;
  readonly plannedTrips: number;
  readonly allotments: number;
}

/** Give what has to be on the phone, and whether it is. */
export function itemsOf(held: Held): Item[] {
  const number = (kind: string): number => held.numbers[kind] ?? 0;
  const item = (what: string, there: boolean, words: string, missing: string, none = false): Item => ({ what, there, none: there && none, words: there ? words : missing });
  const many = (count: number, one: string, more = `${one}s`): string => `${count} ${count === 1 ? one : more}`;
  return [
    item("The app itself", held.app, held.appWords, held.appWords),
    item("Permits and licences", number("authority") > 0, `${many(number("authority"), "authority", "authorities")}, every condition as issued.`, "None here yet."),
    item(
      "Their papers",
      held.papers >= held.papersWanted,
      held.papersWanted === 0 ? "The office has put none in." : `${many(held.papers, "document")}.`,
      `${held.papers} of ${held.papersWanted} are here.`,
      held.papersWanted === 0,
    ),
    item("Names of animals", number("taxa") > 0, "The list of names in use.", "None here yet."),
    item("Areas", number("areas") > 0, "Permitted and closed areas, with their edges.", "None here yet."),
    item("Shoreline", held.shoreline || number("areas") > 0, held.shoreline ? "For the map." : "The office has put none in.", "None here yet.", !held.shoreline),
    item("People", number("person") > 0, many(number("person"), "person", "people"), "None here yet."),
    item("Plan", number("authority") > 0, held.plannedTrips === 0 ? "No trip is planned." : many(held.plannedTrips, "planned trip"), "None here yet.", held.plannedTrips === 0),
    item("Allotment", number("authority") > 0, held.allotments === 0 ? "Nothing is set aside for a trip." : many(held.allotments, "allotment"), "None here yet.", held.allotments === 0),
  ];
}

export function isReady(items: readonly Item[]): boolean {
  return items.every((one) => one.there);
}
