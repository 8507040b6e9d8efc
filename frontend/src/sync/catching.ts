/** The catch as it is tallied: each touch is one transaction, and each can be taken back. */
import type { Content } from "../core/outbox";
import { rowKey, rowsOf, type Fate, type Line, type Row, type RowName } from "../core/tally";
import type { PhoneDatabase, Step, StoredRecord } from "../device/database";
import { keep, keepOver, type Maker } from "./recording";
import { typedNote } from "./typed";

/** What a touch is about: a cell of a haul. */
export interface Cell {
  readonly haul: string;
  readonly name: RowName;
  readonly fate: Fate;
  /** The row's own key, where two lines of one haul bear one name. */
  readonly row?: string;
}

export interface Touch extends Cell {
  /** What was done, as the button that takes it back will say. */
  readonly words: string;
  /** The line after the touch, from the one that stands; `make` gives a new one. */
  readonly change: (line: Line | null, make: () => Line) => Line;
  readonly why?: string;
  /** Whether it enters what was typed on the keypad. */
  readonly typed?: boolean;
  /** A photo that waits in the haul and is given to the line. */
  readonly picture?: string;
}

export class Catching {
  constructor(
    private readonly db: PhoneDatabase,
    private readonly maker: Maker,
  ) {}

  /** Do a touch: the line, its way to the server and the step are on the disk when this answers. Gives the line. */
  async touch(touch: Touch): Promise<Line> {
    const { db } = this;
    return db.transaction("rw", [db.records, db.outbox, db.notes, db.steps, db.pictures], async () => {
      // Digits that were typed for this touch are entered with it, or stay typed.
      if (touch.typed === true) await db.notes.delete(typedNote(touch.haul));
      // All that stands of the haul in one question: a slow phone waits for each question anew.
      const [records, entries] = await Promise.all([
        db.records.where("parent").equals(touch.haul).toArray(),
        db.outbox.where("parent").equals(touch.haul).sortBy("seq"),
      ]);
      const key = touch.row ?? rowKey(touch.name);
      const before = rowsOf(linesAmong(records)).find((row) => row.key === key)?.cells[touch.fate] ?? null;
      const line = touch.change(before, () => newLine(this.maker.nextId(), touch));
      const step = db.steps.add({ haul: touch.haul, words: touch.words, line: line.id, before });
      const change = { kind: "line", content: line, parent: touch.haul, why: touch.why ?? "" } as const;
      const held = records.find((one) => one.kind === "line" && one.id === line.id);
      const queued = entries.filter((one) => one.kind === "line" && one.record === line.id);
      await Promise.all([step, keepOver(db, this.maker, change, held, queued)]);
      if (touch.picture !== undefined) await this.give(touch.picture, line.id);
      return line;
    });
  }

  /** Give a photo that waits in the haul to a line. */
  async give(picture: string, line: string): Promise<void> {
    await this.db.pictures.update(picture, { of_kind: "line", of_record: line });
  }

  /** Take the last step of a haul back, and no photo with it; gives what was taken back, null where there is nothing. */
  async undo(haul: string, why = ""): Promise<Step | null> {
    const { db } = this;
    return db.transaction("rw", [db.records, db.outbox, db.notes, db.steps, db.pictures], async () => {
      const step = await db.steps.where("haul").equals(haul).last();
      if (step === undefined) return null;
      await db.steps.delete(step.seq);
      if (step.before !== null) await this.write(haul, step.before as Line, why);
      else await this.unmake(haul, step.line, why);
      return step;
    });
  }

  private async write(haul: string, line: Line, why = ""): Promise<void> {
    await keep(this.db, this.maker, { kind: "line", content: line, parent: haul, why });
  }

  /** A line that never left this phone goes, and its photos wait in the haul; one that the server may have stands with nothing in it. */
  private async unmake(haul: string, id: string, why: string): Promise<void> {
    const { db } = this;
    const entries = await db.outbox.where("[kind+record]").equals(["line", id]).toArray();
    const held = await db.records.get(["line", id]);
    if (held === undefined) return;
    if (held.version === null && entries.every((entry) => !entry.offered)) {
      await db.outbox.bulkDelete(entries.map((entry) => entry.seq));
      await db.records.delete(["line", id]);
      await db.pictures.where("of_record").equals(id).modify({ of_kind: "haul", of_record: haul });
      return;
    }
    // The words of a measured amount would still tell what was taken back.
    const { measured_as: _, ...rest } = held.content;
    const content: Content = { ...rest, count: 0, method: "counted", measurements: [] };
    await this.write(haul, content as Line, why);
  }
}

/** Give the lines of a haul, oldest first: ids of this phone sort by time. */
export async function linesOf(db: PhoneDatabase, haul: string): Promise<Line[]> {
  return linesAmong(await db.records.where("parent").equals(haul).toArray());
}

function linesAmong(records: readonly StoredRecord[]): Line[] {
  return records.filter((one) => one.kind === "line").map((one) => one.content as Line);
}

export async function rowsIn(db: PhoneDatabase, haul: string): Promise<Row[]> {
  return rowsOf(await linesOf(db, haul));
}

function newLine(id: string, { name, fate }: Cell): Line {
  const { taxon, doubt, written, stage, sex } = name;
  const told = Object.entries({ doubt, name_as_written: written, stage, sex }).filter(([, value]) => value !== "");
  return { id, taxon, fate, unit: "individuals", method: "counted", count: 0, ...Object.fromEntries(told) };
}
