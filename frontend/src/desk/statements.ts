/** Conditions that no machine can judge, and what people stated on them: for a trip, or once for the whole term. */
import type { Instant } from "../checks/calendar";
import { clausesAt } from "../core/permit_lists";
import type { Raw, Season, Trip } from "./season";

export interface StatementTold {
  readonly person: string;
  readonly kept: string;
  readonly at: string;
  readonly reason: string;
}

/** A condition to be stated on, with what was stated of it. */
export interface Attested {
  readonly authority: string;
  readonly number: string;
  readonly text: string;
  readonly wholeTerm: boolean;
  readonly stated: readonly StatementTold[];
}

/** Give the authorities under which a trip, its hauls or its lines stand. */
export function authoritiesOn(season: Season, trip: Trip): readonly string[] {
  const hauls = season.hauledOn.get(trip.id) ?? [];
  const lines = hauls.flatMap((haul) => season.linesOf.get(haul.id) ?? []);
  return [...new Set([trip, ...hauls, ...lines].map((one) => one.authority).filter(Boolean))];
}

/** Give the conditions to be stated on for a trip, in the words in force when it departed, with what was stated. */
export function attestedOn(season: Season, trip: Trip, now: Instant): readonly Attested[] {
  return authoritiesOn(season, trip).flatMap((authority) => {
    const terms = season.terms.get(authority);
    if (terms === undefined) return [];
    const clauses = clausesAt(terms as unknown as Raw, trip.depart ?? now).filter(({ condition }) => condition.kind === "attested");
    return clauses.map(({ condition }) => {
      const { number, text, per } = condition as unknown as { number: string; text: string; per?: string };
      const wholeTerm = per === "term";
      const trips = wholeTerm ? [...season.trips.values()] : [trip];
      const stated = trips.flatMap((one) => statedOn(season, one, authority, number));
      return { authority, number, text, wholeTerm, stated: stated.sort((first, second) => Date.parse(first.at) - Date.parse(second.at)) };
    });
  });
}

function statedOn(season: Season, trip: Trip, authority: string, number: string): readonly StatementTold[] {
  const every = (season.held.get(`trip ${trip.id}`)?.record?.["attestations"] ?? []) as readonly Raw[];
  return every
    .filter((one) => one["authority"] === authority && one["condition"] === number)
    .map((one) => ({ person: text(one["person"]), kept: text(one["kept"]), at: text(one["at"]), reason: text(one["reason"]) }));
}

function text(value: unknown): string {
  return typeof value === "string" ? value : "";
}
