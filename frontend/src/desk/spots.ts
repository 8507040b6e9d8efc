/** The season's hauls as spots on the map: one for each position of a haul. */
import type { Spot } from "../map/shapes";
import type { Season } from "./season";
import { dayOf } from "./words";

/** Give a spot for every position; what the spot says names the haul, the day, the gear and how good the position is. */
export function spotsOf(season: Season, sites: ReadonlyMap<string, string>): readonly Spot[] {
  return [...season.hauls.values()].flatMap((haul) =>
    haul.places.map((place, at) => {
      const zone = season.trips.get(haul.trip)?.zone ?? "UTC";
      const good = place.radius === null ? "no radius recorded" : `good to ${Math.ceil(place.radius)} m`;
      const where = sites.get(haul.site) ?? haul.site;
      const words = [haul.code, dayOf(haul.start, zone), haul.gear, where, good].filter(Boolean).join(", ");
      return { id: `${haul.code} ${at}`, ...place, shape: haul.kind === "set" ? "square" : "round", words } as const;
    }),
  );
}

/** Give the code of the trip that a spot belongs to, "" for none. */
export function tripOfSpot(season: Season, spot: string): string {
  const haul = season.haulsByCode.get(spot.slice(0, spot.lastIndexOf(" ")));
  return haul === undefined ? "" : (season.trips.get(haul.trip)?.code ?? "");
}
