/** The lines of the haul in hand as they are tallied: each touch is on the disk before it is shown. */
import { rowsOf, withMore, withValue, type Fate, type Line, type Row, type RowName, type Triple } from "../../core/tally";
import { soundStop } from "../../device/sound";
import type { CatchState } from "./catch_state.svelte";
import type { HaulData } from "./haul_data.svelte";
import { phone } from "../phone.svelte";

/** A row by its name and its own key: two lines of one haul may bear one name. */
export type Named = RowName & { readonly key: string };
export type LineChange = (line: Line | null, make: () => Line) => Line;

/** What a row is called in a sentence. */
export function labelOf(name: RowName): string {
  return [name.written === "" ? name.taxon : name.written, name.stage, name.sex].filter(Boolean).join(", ");
}

export class Tallying {
  /** What was done last, to be read aloud. */
  said = $state("");
  // What a touch has brought to the disk is shown at once, until a query that was asked after it has answered.
  private fresh = $state.raw<readonly { readonly line: Line; readonly at: number }[]>([]);

  /** `isTyped` tells whether a number stands on the keypad, which a touch enters. */
  constructor(
    private readonly here: HaulData,
    private readonly shown: CatchState,
    private readonly isTyped: () => boolean,
  ) {}

  readonly lines = $derived.by((): readonly Line[] => {
    const stored = this.here.lines.now;
    const newer = this.fresh.filter((one) => one.at >= stored.asked).map((one) => one.line);
    const others = stored.lines.filter((line) => !newer.some((one) => one.id === line.id));
    return [...others, ...newer].toSorted((one, other) => (one.id < other.id ? -1 : 1));
  });
  readonly rows = $derived(rowsOf(this.lines));
  /** Whether anything is counted at all. */
  readonly counted = $derived(this.rows.length > 0 && this.lines.some((line) => line["count"] !== 0));

  /** Change a row's line of one fate; what binds at nothing left is said and heard, and the truth is stored all the same. */
  async change({ key, ...name }: Named, fate: Fate, words: string, change: LineChange, picture?: string): Promise<void> {
    const touch = { haul: this.here.id, name, row: key, fate, words: `${words} ${labelOf(name)}`, change, why: phone.why, typed: this.isTyped(), ...(picture === undefined ? {} : { picture }) };
    const stored = await phone.stored(async () => {
      const line = await phone.catching.touch(touch);
      this.fresh = [...this.fresh.filter((one) => one.line.id !== line.id), { line, at: performance.now() }];
    });
    if (!stored) return;
    this.said = touch.words;
    const more = this.shown.moreOf(key, this.rows);
    if (fate === "kept" && more !== null && more <= 0) {
      soundStop();
      this.said = `Stop. Nothing is left of ${labelOf(name)}: ${this.shown.leftOf(key)?.words ?? ""} What you enter is stored as it is.`;
    }
  }

  add(name: Named, fate: Fate, more: Triple, words: string, picture?: string): Promise<void> {
    return this.change(name, fate, words, (line, make) => withMore(line, make, more), picture);
  }

  measure(name: Named, fate: Fate, measure: string, value: string): Promise<void> {
    return this.change(name, fate, `${value} ${measure},`, (line, make) => withValue(line, make, measure, value));
  }

  /** Take the last step back. */
  async undo(): Promise<void> {
    this.fresh = [];
    const { last } = this.here;
    const taken = await phone.stored(() => phone.catching.undo(this.here.id, phone.why));
    if (taken && last !== undefined) this.said = `Taken back: ${last.words}`;
  }

  /** Give all lines of a row another name. */
  async rename(row: Row, taxon: string): Promise<void> {
    for (const line of Object.values(row.cells)) {
      await phone.stored(() =>
        phone.catching.touch({ haul: this.here.id, name: row, row: row.key, fate: line["fate"] as Fate, words: `name of ${labelOf(row)}`, change: (now, make) => ({ ...(now ?? make()), taxon }), why: phone.why }),
      );
    }
  }
}
