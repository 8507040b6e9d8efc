/** What stands around a haul on this phone: earlier hauls, sites by name, drawn areas, cleanings. */
import { crossingOf, type Cleaned, type Crossing } from "../../core/cleaning";
import { knownGear, type GearUsed } from "../../core/gear";
import type { HaulNames } from "../../core/haul_names";
import type { Content } from "../../core/outbox";
import { askedSite, askedWater, keptAs, knownSites, type DrawnArea, type KnownSite, type PlaceKept, type SiteAsked, type Standing, type WaterAsked } from "../../core/where";
import type { StoredRecord } from "../../device/database";
import { namesOf } from "../naming";
import { phone } from "../phone.svelte";
import { live } from "../records.svelte";

/** What may be asked about the place of a haul. */
export interface PlaceAsked {
  readonly site: SiteAsked | null;
  readonly water: WaterAsked | null;
}

/** The beginning of the notes of places that were kept; what follows is the haul. */
const KEPT = "place kept of ";

export class Around {
  private readonly stored = live(() => phone.all("haul"), [] as StoredRecord[]);
  private readonly trips = live(() => phone.all("trip"), [] as StoredRecord[]);
  private readonly named = live(async () => new Map((await phone.all("site")).map((one) => [one.id, String(one.content["name"])])), new Map<string, string>());
  private readonly drawn = live(async () => (await phone.all("areas")).flatMap((one) => (one.content["areas"] as DrawnArea[] | undefined) ?? []), [] as DrawnArea[]);
  /** The places that somebody kept although the position speaks for another, by haul. */
  private readonly kept = live(async () => new Map((await phone.db.notes.where("name").startsWith(KEPT).toArray()).map((one) => [one.name.slice(KEPT.length), one.value as PlaceKept])), new Map<string, PlaceKept>());
  private readonly called = live(namesOf, {} as HaulNames);

  private contents(): Content[] {
    return this.stored.now.map((one) => one.content);
  }

  get gear(): GearUsed[] {
    return knownGear(this.contents());
  }

  get waters(): string[] {
    return [...new Set(this.contents().map((one) => String(one["waterbody"] ?? "")).filter(Boolean))].sort();
  }

  sites(except = ""): KnownSite[] {
    return knownSites(this.contents().filter((one) => one["id"] !== except));
  }

  /** Names that can be chosen for a site. */
  get siteNames(): string[] {
    return [...new Set([...this.named.now.values(), ...this.sites().map((one) => this.siteName(one.site))])].sort();
  }

  siteName(site: string): string {
    return this.named.now.get(site) ?? site;
  }

  /** The site that was meant by what was typed: by its name where one is known. */
  siteCalled(typed: string): string {
    const meant = typed.trim().toLowerCase();
    return [...this.named.now].find(([, name]) => name.toLowerCase() === meant)?.[0] ?? typed.trim();
  }

  nameOf(haul: string): string {
    return this.called.now[haul] ?? "";
  }

  /** The haul of the same trip before this one, from which gear, site and water were taken over: never a set for a haul. */
  before(haul: Content): Content | null {
    const trip = this.stored.now.find((one) => one.id === haul["id"])?.parent;
    const giving = (one: StoredRecord): boolean => haul["kind"] === "set" || one.content["kind"] !== "set";
    const earlier = this.stored.now.filter((one) => one.parent === trip && one.id < String(haul["id"]) && giving(one));
    return earlier.toSorted((a, b) => (a.id < b.id ? -1 : 1)).at(-1)?.content ?? null;
  }

  /** What the latest position of a haul asks about where it was noted to be; a haul without one asks nothing. */
  asked(haul: Content): PlaceAsked {
    const at = ((haul["fixes"] as Standing[] | undefined) ?? []).at(-1);
    if (at === undefined) return { site: null, water: null };
    const asks = (field: keyof PlaceKept): boolean => this.keptOf(haul)[field] !== keptAs(haul, field);
    return {
      site: asks("site") ? askedSite(this.sites(String(haul["id"])), String(haul["site"] ?? ""), at) : null,
      water: asks("waterbody") ? askedWater(this.drawn.now, this.waters, String(haul["waterbody"] ?? ""), at) : null,
    };
  }

  private keptOf(haul: Content): PlaceKept {
    return this.kept.now.get(String(haul["id"])) ?? {};
  }

  /** Keep site or water as it is noted: it is asked about again only once another is noted, or another position read. */
  async keep(haul: Content, field: keyof PlaceKept): Promise<void> {
    const value: PlaceKept = { ...this.keptOf(haul), [field]: keptAs(haul, field) };
    await phone.stored(() => phone.db.notes.put({ name: `${KEPT}${String(haul["id"])}`, value }));
  }

  /** The change of water before a haul for which no cleaning is noted. */
  crossing(haul: Content): Crossing | null {
    const cleanings = this.trips.now.flatMap((one) => (one.content["cleanings"] as Cleaned[] | undefined) ?? []);
    return crossingOf(haul, this.contents(), cleanings);
  }
}
