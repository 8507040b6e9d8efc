/** A server and a network in memory, for the outbox: it answers as api/operations/syncing.py does, and loses what it may. */
import type { Delivered, Server } from "../../core/delivering";
import type { OperationSent, Told } from "../../core/outbox";


interface Held {
  readonly kind: string;
  readonly parent: string;
  readonly content: string;
  readonly version: number;
}

const ABOVE: Readonly<Record<string, string>> = { haul: "trip", line: "haul" };

/** Keeps records and receipts; a record whose content bears `wrong` is refused. */
export class SimulatedServer {
  readonly records = new Map<string, Held>();
  readonly receipts = new Map<string, { mark: string; answer: Told }>();
  readonly kept: { record: string; offered: string }[] = [];
  /** How often each record was really written: once for each of its versions. */
  writes = 0;

  take(operation: OperationSent): Told {
    const mark = JSON.stringify(operation);
    const before = this.receipts.get(operation.id);
    if (before !== undefined && before.mark !== mark) {
      return this.refused(operation, "This operation came before with another content; the first one stands.");
    }
    if (before !== undefined && before.answer.answer !== "refused") {
      const answer = before.answer.answer === "stored" ? "already had" : before.answer.answer;
      return { ...before.answer, answer };
    }
    const answer = this.carryOut(operation);
    this.receipts.set(operation.id, { mark, answer });
    return answer;
  }

  private carryOut({ id, kind, record, parent, based_on }: OperationSent): Told {
    const own = String(record["id"]);
    const above = ABOVE[kind];
    if (above !== undefined && this.records.get(parent)?.kind !== above) {
      return this.refused({ id }, `The ${above} that it belongs to is not here.`);
    }
    if (record["wrong"] !== undefined) return this.refused({ id }, "It cannot be read.");
    const held = this.records.get(own);
    const content = JSON.stringify(record);
    if (held === undefined && based_on !== null) return this.refused({ id }, "There is no such record here to amend.");
    if (held?.content === content) return this.told(id, "stored", held.version);
    if (held !== undefined && based_on !== held.version) {
      this.kept.push({ record: own, offered: content });
      return { ...this.told(id, "conflict", held.version), conflict: `conflict of ${own}` };
    }
    const version = (held?.version ?? 0) + 1;
    this.records.set(own, { kind, parent, content, version });
    this.writes += 1;
    return this.told(id, "stored", version);
  }

  /** Somebody at the office changes a record. */
  change(record: string, content: object): void {
    const held = this.records.get(record);
    if (held === undefined) throw new Error(`no record ${record}`);
    this.records.set(record, { ...held, content: JSON.stringify(content), version: held.version + 1 });
  }

  private told(id: string, answer: Told["answer"], version: number | null): Told {
    return { id, answer, version, code: "T28-001", problems: [], conflict: "" };
  }

  private refused({ id }: { id: string }, what: string): Told {
    return { ...this.told(id, "refused", null), problems: [{ where: "record", what, mend: "Mend it." }] };
  }
}

export type Fate = "arrives" | "request lost" | "answer lost" | "part of the answer lost";

/** A network between the two whose fate is drawn for each batch. */
export function networkTo(server: SimulatedServer, fate: () => Fate): Server & { batches: OperationSent[][] } {
  const batches: OperationSent[][] = [];
  return {
    batches,
    async push(operations): Promise<Delivered> {
      const sent = structuredClone(operations) as OperationSent[];
      batches.push(sent);
      const drawn = fate();
      await Promise.resolve();
      if (drawn === "request lost") throw new TypeError("Failed to fetch");
      const answers = sent.map((one) => server.take(one));
      if (drawn === "answer lost") throw new TypeError("Failed to fetch");
      const shown = drawn === "part of the answer lost" ? answers.slice(0, Math.floor(answers.length / 2)) : answers;
      return { what: "answered", answers: shown, server_time: "2027-03-10T10:00:00Z" };
    },
  };
}

/** A small generator of chance: the same for the same seed, on every machine (mulberry32, public domain, from memory). */
export function dice(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}
