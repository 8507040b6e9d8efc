/**
 * Sending: the outbox to the server, one sender at a time across all tabs, until all is answered or there is no getting
 * on. Nothing is taken out of the outbox but by an answer that names it.
 */
import { deedFor, nextBatch, operationOf, waitAfter, type Entry, type Told } from "../core/outbox";
import type { Delivered, OneAtATime, Server } from "../core/delivering";
import type { PhoneDatabase } from "../device/database";
import { compareClocks, ownVersionOf } from "./recording";

export interface Surroundings {
  readonly server: Server;
  readonly oneAtATime: OneAtATime;
  readonly now: () => number;
  readonly chance: () => number;
  /** Do something later; gives what calls it off. */
  readonly later: (work: () => void, milliseconds: number) => () => void;
}

/** How a round of sending ended. */
export type Ended = "all answered" | "some refused" | "not reached" | "signed out" | "app too old" | "another tab sends";

const MOST_IN_A_BATCH = 200;
const ANOTHER_TAB = 2_000;
/** Rounds that a single call makes at most: each takes something out of the queue, or the call ends. */
const MOST_ROUNDS = 1000;

export class Sender {
  private failures = 0;
  private callOff: () => void = () => undefined;
  private most = MOST_IN_A_BATCH;
  /** How long the server asked to be left alone, in milliseconds. */
  private asked = 0;

  constructor(
    private readonly db: PhoneDatabase,
    private readonly around: Surroundings,
  ) {}

  /**
   * Send all that waits: at the start, when signal comes back, after each record, by the button, and again by itself
   * after a failure. `onLine` is not asked: it does not say whether the server can be reached.
   */
  async send(): Promise<Ended> {
    this.callOff();
    const ended = (await this.around.oneAtATime.run(() => this.rounds())) ?? "another tab sends";
    if (ended === "not reached") this.again(Math.max(this.asked, waitAfter(this.failures, this.around.chance())));
    // Whatever came in while the other tab was about to end waits no longer than that.
    if (ended === "another tab sends") this.again(ANOTHER_TAB);
    return ended;
  }

  /** Forget the next try, as when the app is closed. */
  stop(): void {
    this.callOff();
  }

  private again(milliseconds: number): void {
    this.callOff = this.around.later(() => void this.send(), milliseconds);
  }

  private async rounds(): Promise<Ended> {
    for (let round = 0; round < MOST_ROUNDS; round++) {
      const batch = await this.offer();
      if (batch.length === 0) break;
      const ended = await this.deliver(batch);
      if (ended !== null) return ended;
    }
    const refused = this.db.outbox.filter((entry) => entry.state === "refused");
    return (await refused.count()) > 0 ? "some refused" : "all answered";
  }

  /**
   * Choose the next batch and write down that it is offered, and on which version it is based, before it leaves.
   *
   * What was offered before goes again as it was: its answer may have been lost.
   */
  private async offer(): Promise<Entry[]> {
    const { records, outbox } = this.db;
    return this.db.transaction("rw", records, outbox, async () => {
      const batch = nextBatch(await outbox.toArray(), this.most);
      const held = await records.bulkGet(batch.map((entry) => [entry.kind, entry.record]));
      const offered = batch.map((entry, place) =>
        entry.offered ? entry : { ...entry, offered: true, based_on: held[place]?.version ?? null },
      );
      await outbox.bulkPut(offered);
      return offered;
    });
  }

  /** Hand a batch over and do what the answer says; null where there is more to do. */
  private async deliver(batch: readonly Entry[]): Promise<Ended | null> {
    const found = await this.handOver(batch);
    switch (found.what) {
      case "answered":
        return this.takeAnswers(batch, found.answers, found.server_time);
      case "too large":
      case "not read":
        return this.inParts(batch, found.what === "not read" ? found.detail : "The record is too large for the server.");
      case "wait":
      case "not reached":
        this.failures += 1;
        this.asked = found.what === "wait" ? found.seconds * 1000 : 0;
        return "not reached";
      case "signed out":
      case "app too old":
        return found.what;
    }
  }

  private async handOver(batch: readonly Entry[]): Promise<Delivered> {
    try {
      return await this.around.server.push(batch.map(operationOf), new Date(this.around.now()).toISOString());
    } catch {
      return { what: "not reached" };
    }
  }

  /** A batch that is not taken as a whole goes in halves; a single record that is not taken is refused. */
  private async inParts(batch: readonly Entry[], detail: string): Promise<Ended | null> {
    const [only] = batch;
    if (batch.length > 1) {
      this.most = Math.max(1, Math.floor(batch.length / 2));
    } else if (only !== undefined) {
      await this.refuse(only, [{ where: "", what: detail, mend: "Open the record and correct it." }]);
      this.most = MOST_IN_A_BATCH;
    }
    return null;
  }

  /** Keep what was refused, with the reason; where it was changed meanwhile, the change goes in its place. */
  private async refuse(entry: Entry, problems: Entry["problems"]): Promise<void> {
    await this.db.transaction("rw", this.db.outbox, async () => {
      const own = await this.db.outbox.where("[kind+record]").equals([entry.kind, entry.record]).toArray();
      if (own.some((other) => other.seq > entry.seq)) await this.db.outbox.delete(entry.seq);
      else await this.db.outbox.update(entry.seq, { state: "refused", problems });
    });
  }

  private async takeAnswers(batch: readonly Entry[], answers: readonly Told[], serverTime: string): Promise<Ended | null> {
    const told = new Map(answers.map((one) => [one.id, one]));
    const answered = batch.filter((entry) => told.has(entry.id));
    await this.db.transaction("rw", this.db.records, this.db.outbox, this.db.notes, async () => {
      for (const entry of answered) await this.takeAnswer(entry, told.get(entry.id) as Told);
      await compareClocks(this.db, this.around.now(), serverTime);
    });
    this.most = MOST_IN_A_BATCH;
    if (answered.length === 0) {
      // An answer that names nothing that was asked is none.
      this.failures += 1;
      return "not reached";
    }
    this.failures = 0;
    return null;
  }

  private async takeAnswer(entry: Entry, told: Told): Promise<void> {
    const deed = deedFor(told);
    if (deed.what === "stay refused") {
      await this.refuse(entry, deed.problems);
      return;
    }
    await this.db.outbox.delete(entry.seq);
    const held = await this.db.records.get([entry.kind, entry.record]);
    if (held !== undefined) {
      const { version, code, conflict } = deed;
      // What was pulled meanwhile may be newer than the answer to what went out before.
      const newest = version === null || held.version === null ? (version ?? held.version) : Math.max(version, held.version);
      await this.db.records.put({ ...held, version: newest, code: code || held.code, conflict: conflict || held.conflict });
      // The next pull brings the version that stands; what was entered here is still to be seen beside it.
      if (conflict !== "") {
        await this.db.notes.delete(ownVersionOf(held.conflict));
        await this.db.notes.put({ name: ownVersionOf(conflict), value: entry.content });
      }
    }
    // What was refused because it hung on this record may be taken now.
    await this.db.outbox
      .where("parent")
      .equals(entry.record)
      .and((other) => other.state === "refused")
      .modify({ state: "waiting", problems: [] });
  }
}
