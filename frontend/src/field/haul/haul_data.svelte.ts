/** What stands on this phone of one haul, watched: itself, its trip, its lines and photos, and the permit it is under. */
import { Kinds } from "../../core/kinds";
import type { NamedTaxon } from "../../core/finding_names";
import type { Entry } from "../../core/outbox";
import type { Line } from "../../core/tally";
import { isOpen, type Made } from "../../core/trip_records";
import { wantsReason } from "../../sync/recording";
import { phone } from "../phone.svelte";
import { childrenOf, live } from "../records.svelte";

const UNITS = ["L", "g", "kg"];

export class HaulData {
  private readonly stored;
  private readonly parent;
  private readonly step;
  private readonly lists;
  private readonly entries;
  /** The lines as they stand on the disk, and when they were asked for. */
  readonly lines;
  /** All photos on this phone. */
  readonly pictures;

  constructor(readonly id: string) {
    this.stored = live(async () => (await phone.db.records.get(["haul", id])) ?? null, null);
    this.parent = live(async () => {
      const parent = (await phone.db.records.get(["haul", id]))?.parent ?? "";
      return (await phone.db.records.get(["trip", parent])) ?? null;
    }, null);
    this.lines = live(
      async () => {
        const asked = performance.now();
        return { asked, lines: (await childrenOf(id, "line")).map((one) => one.content as Line) };
      },
      { asked: 0, lines: [] as Line[] },
    );
    this.step = live(async () => (await phone.db.steps.where("haul").equals(id).last()) ?? null, null);
    this.lists = live(async () => ({ taxa: await phone.all("taxa"), permits: await phone.all("authority") }), { taxa: [], permits: [] });
    this.pictures = live(() => phone.db.pictures.toArray(), []);
    this.entries = live(async () => {
      const [own, below] = await Promise.all([
        phone.db.outbox.where("[kind+record]").equals(["haul", id]).toArray(),
        phone.db.outbox.where("parent").equals(id).toArray(),
      ]);
      return [...own, ...below];
    }, [] as Entry[]);
  }

  readonly came = $derived.by(() => this.stored.came);
  readonly content = $derived.by(() => this.stored.now?.content as Made | undefined);
  readonly trip = $derived.by(() => this.parent.now);
  readonly zone = $derived(String(this.trip?.content["zone"] ?? "UTC"));
  readonly open = $derived(this.content !== undefined && isOpen(this.content));
  readonly fromPaper = $derived(this.trip?.content["paper_record"] === true);
  /** What was done last, which can be taken back. */
  readonly last = $derived.by(() => this.step.now ?? undefined);

  /** What was refused for want of a reason: the trip was closed elsewhere, as far as this phone knows it is open. */
  readonly refused = $derived.by(() => this.entries.now.filter(wantsReason));
  readonly closedTrip = $derived(this.trip?.content["status"] === "closed" || this.refused.length > 0);

  /** Photos that no row has, of animals whose fate nobody has told yet. */
  readonly loose = $derived.by(() => this.pictures.now.filter((one) => one.of_kind === "haul" && one.of_record === this.id));

  readonly taxa = $derived.by(() => (this.lists.now.taxa[0]?.content["taxa"] as NamedTaxon[] | undefined) ?? []);
  readonly common = $derived(new Map(this.taxa.map((one) => [one.id, one.common ?? ""])));
  readonly ranks = $derived(new Map(this.taxa.map((one) => [one.id, one.rank])));
  readonly kinds = $derived(new Kinds(this.taxa));
  readonly permits = $derived.by(() => this.lists.now.permits);
  readonly permit = $derived(this.permits.find((one) => one.id === (this.content?.["authority"] ?? this.trip?.content["authority"])));
  readonly clauses = $derived(this.permit === undefined ? [] : this.kinds.clausesAt(this.permit.content, phone.now));
  /** What material is measured in. */
  readonly containers = $derived([...((this.permit?.content["containers"] as { name: string }[] | undefined) ?? []).map((one) => one.name), ...UNITS]);

  isMaterial(taxon: string): boolean {
    return this.ranks.get(taxon) === "material";
  }

  /** What an animal is called that nobody can name. */
  readonly unnamed = $derived(this.taxa.find((one) => one.rank === "kingdom")?.id ?? "Animalia");
}
