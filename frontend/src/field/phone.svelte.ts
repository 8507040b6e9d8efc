/** This phone: who it belongs to, what it holds, what it still has to send. One for the whole app. */
import { liveQuery } from "dexie";
import { IdMaker } from "../core/ids";
import { OnceMore } from "../core/once_more";
import type { Content, EnteredFrom, Entry, RecordKind } from "../core/outbox";
import { PhoneClock, zoneHere } from "../device/clock";
import { PhoneDatabase, type StoredRecord } from "../device/database";
import { oneAtATime } from "../device/locks";
import { AnswerError, NoSignalError, Office, type Enrolled, type Who } from "../device/office";
import { serverAt } from "../device/server";
import { isFull } from "../device/storage";
import { Catching } from "../sync/catching";
import { sendPictures } from "../sync/photographing";
import { pullAll, PULLED_AT } from "../sync/pulling";
import { amend, CLOCK_COMPARED, compareClocks, keep, sendAgain, unsent, type Unsent } from "../sync/recording";
import { Sender, type Ended } from "../sync/sending";

interface Session {
  readonly token: string;
  readonly who: Who;
  readonly ends_at: string;
}

const NOTES = { session: "session", shift: "demo clock moved by", zone: "zone of the record" } as const;
const EVERY = 60_000;
const REST = 1_200;
const MAKE_ROOM = "Delete photos or other apps' data, or save a copy of what is unsent";
/** What is said of a phone without room. */
const FULL = {
  storing: `This phone has no room left: the last entry was NOT stored. ${MAKE_ROOM}, then enter it again.`,
  sending: `This phone has no room left, so nothing can be sent. What you entered before is stored. ${MAKE_ROOM}.`,
};

export class Phone {
  readonly db = new PhoneDatabase();
  readonly clock = new PhoneClock();
  private readonly ids = new IdMaker(this.clock.now, (bytes) => crypto.getRandomValues(bytes));
  readonly maker = { nextId: () => this.ids.next(), now: this.clock.now };
  readonly office = new Office("", () => this.session?.token ?? "");
  readonly catching = new Catching(this.db, this.maker);
  private readonly sender = new Sender(this.db, {
    server: serverAt("", () => this.session?.token ?? "", (address, request) => fetch(address, request)),
    oneAtATime: oneAtATime(),
    now: this.clock.now,
    chance: () => Math.random(),
    // Sent again as a whole: with the photos, and with what came of it on the screen.
    later: (_work, milliseconds) => {
      const timer = setTimeout(() => void this.send(), milliseconds);
      return () => clearTimeout(timer);
    },
  });

  session = $state<Session | null>(null);
  started = $state(false);
  demo = $state(false);
  /** Moves every half minute, so that ages on the screen are true. */
  now = $state(0);
  unsent = $state<Unsent & { readonly pictures: number }>({ number: 0, refused: 0, oldest: null, pictures: 0 });
  lastSend = $state<Ended | "">("");
  sending = $state(false);
  pulledAt = $state<string | null>(null);
  pulled = $state(0);
  clockAhead = $state<number | null>(null);
  clockSteppedBy = $state(0);
  /** The zone that the record's days are told in, wherever this phone believes to be. */
  zone = $state(zoneHere());
  /** What went wrong last, in words; "" where nothing did. */
  trouble = $state("");
  names = $state<readonly StoredRecord[]>([]);
  /** Why a closed trip is being mended: goes with every change until the screen that asked for it is left. */
  why = $state("");

  /** Read what is stored, and begin to watch it. */
  async start(): Promise<void> {
    try {
      const [session, shift, zone, pulled] = await this.db.notes.bulkGet([NOTES.session, NOTES.shift, NOTES.zone, PULLED_AT]);
      this.pulledAt = (pulled?.value as string | undefined) ?? null;
      this.zone = (zone?.value as string | undefined) ?? zoneHere();
      this.session = (session?.value as Session | undefined) ?? null;
      if (shift !== undefined) this.showDemo(Number(shift.value));
      this.watch();
    } catch (error) {
      this.tell(error);
    }
    this.now = this.clock.now();
    this.started = true;
    setInterval(() => this.tick(), 15_000);
    addEventListener("online", () => void this.send());
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.clock.cameBack();
      else this.clock.wentAway();
      this.tick();
      if (document.visibilityState === "visible") void this.send();
    });
    setInterval(() => void this.send(), EVERY);
    void this.send();
  }

  private tick(): void {
    this.now = this.clock.now();
    this.clockSteppedBy = this.clock.steppedBy();
  }

  private watch(): void {
    const failed = (error: unknown): void => this.tell(error);
    liveQuery(async () => ({ ...(await unsent(this.db)), pictures: await this.db.pictures.count() })).subscribe({
      next: (found) => (this.unsent = found),
      error: failed,
    });
    let comparedAt: string | null | undefined;
    liveQuery(() => this.db.notes.bulkGet([PULLED_AT, CLOCK_COMPARED, NOTES.session, NOTES.zone])).subscribe({
      next: ([pulled, clock, session, zone]) => {
        this.pulledAt = (pulled?.value as string | undefined) ?? null;
        this.zone = (zone?.value as string | undefined) ?? zoneHere();
        const compared = (clock?.value ?? { ahead_s: null, known_at: null }) as { ahead_s: number | null; known_at: string | null };
        this.clockAhead = compared.ahead_s;
        if (comparedAt !== undefined && comparedAt !== compared.known_at) this.clock.wasCompared();
        comparedAt = compared.known_at;
        this.clockSteppedBy = this.clock.steppedBy();
        this.session = (session?.value as Session | undefined) ?? null;
      },
      error: failed,
    });
  }

  private showDemo(shift: number): void {
    this.demo = true;
    this.clock.moveBy(shift);
    this.now = this.clock.now();
  }

  /** Show what went wrong; what a full phone could not store is said so. */
  tell(error: unknown, full = FULL.storing): void {
    // That an entry was not stored outweighs that nothing can be sent, until somebody has seen it.
    if (isFull(error) && full === FULL.sending && this.trouble === FULL.storing) return;
    this.trouble = isFull(error) ? full : `Something went wrong: ${(error as Error).message}`;
  }

  /** Do something that stores; gives whether it was stored. What went wrong is shown. */
  async stored(work: () => Promise<unknown>): Promise<boolean> {
    try {
      await work();
      if (Object.values(FULL).includes(this.trouble)) this.trouble = "";
    } catch (error) {
      this.tell(error);
      return false;
    }
    this.sendSoon();
    return true;
  }

  /** Send once the hand rests: a tally of many touches then goes as one change, and none waits for the sending. */
  private sendSoon(): void {
    clearTimeout(this.resting);
    this.resting = setTimeout(() => void this.send(), REST);
  }

  private resting: ReturnType<typeof setTimeout> | undefined;

  /** Keep a record made or changed here. */
  keep(kind: RecordKind, content: Content & { readonly id: string }, parent = "", more: { why?: string; entered_from?: EnteredFrom } = {}): Promise<boolean> {
    return this.stored(() => keep(this.db, this.maker, { kind, content, parent, why: this.why, ...more }));
  }

  /** Change a record that stands here, from what it is at that moment. */
  amend(kind: RecordKind, id: string, change: (content: Content) => Content, more: { why?: string; entered_from?: EnteredFrom } = {}): Promise<boolean> {
    const { why } = this;
    return this.stored(() => amend(this.db, this.maker, kind, id, change, { why, ...more }));
  }

  /** Send again what the server refused for want of a reason. */
  sendAgain(entries: readonly Entry[], why: string): Promise<boolean> {
    return this.stored(() => sendAgain(this.db, this.maker, entries.map((one) => one.seq), why));
  }

  async enrol(code: string, name: string): Promise<void> {
    const enrolled: Enrolled = await this.office.enrol(code, name);
    const { token, who, ends_at } = enrolled;
    await this.db.notes.put({ name: NOTES.session, value: { token, who, ends_at } satisfies Session });
    this.session = { token, who, ends_at };
  }

  /** Forget who the phone belongs to; what is unsent stays. */
  async signOut(): Promise<void> {
    await this.db.notes.delete(NOTES.session);
    this.session = null;
  }

  /** Send all that waits, then the photos. Calls that come while one runs are one more call. */
  async send(): Promise<Ended | ""> {
    return this.session === null ? "" : this.sends.run();
  }

  private readonly sends = new OnceMore(() => this.sendNow(), (ended) => ended === "all answered" || ended === "some refused");

  private async sendNow(): Promise<Ended> {
    this.sending = true;
    try {
      this.lastSend = await this.sender.send();
      if (this.lastSend === "all answered" || this.lastSend === "some refused") await sendPictures(this.db, this.office);
    } catch (error) {
      // Sending writes down what it is about to send; what was entered before is stored all the same.
      if (!(error instanceof NoSignalError)) this.tell(error, FULL.sending);
      this.lastSend = "not reached";
    } finally {
      this.sending = false;
    }
    return this.lastSend;
  }

  /** Send, then pull all that is new and the papers. Throws NoSignalError or AnswerError, whose words can be shown. */
  async getReady(): Promise<void> {
    await this.askAboutTheServer();
    await this.send();
    this.pulled = 0;
    await pullAll({ db: this.db, office: this.office, now: this.clock.now, progress: (records) => (this.pulled = records) });
    await this.fetchNames();
    await this.fetchPapers();
  }

  private async fetchNames(): Promise<void> {
    for (const [kind, path] of [["person", "people"], ["site", "sites"]] as const) {
      const named = (await this.office.names(path)).map(({ id, name }) => ({ kind, id, parent: "", content: { id, name }, version: 1, code: "", conflict: "" }));
      const known = await this.db.records.bulkGet(named.map((one) => [kind, one.id] as [string, string]));
      await this.db.records.bulkPut(named.filter((_, place) => known[place] === undefined));
    }
  }

  /** The zone of the record, and this phone's clock beside the server's; a demo's day is taken over first. */
  private async askAboutTheServer(): Promise<void> {
    const { zone, demo, server_time } = await this.office.organisation();
    await this.db.notes.put({ name: NOTES.zone, value: zone });
    if (demo) {
      const shift = Date.parse(server_time) - Date.now();
      await this.db.notes.put({ name: NOTES.shift, value: shift });
      this.showDemo(shift);
    }
    await compareClocks(this.db, this.clock.now(), server_time);
  }

  private async fetchPapers(): Promise<void> {
    const documents = await this.db.records.where("[kind+id]").between(["document", ""], ["document", "\uffff"]).toArray();
    for (const one of documents) {
      const sha256 = String(one.content["sha256"]);
      if ((await this.db.papers.get(sha256)) !== undefined) continue;
      await this.db.papers.put({ sha256, bytes: await this.office.paper(sha256) });
    }
  }

  /** The records of a kind, as they stand now. */
  async all(kind: string): Promise<StoredRecord[]> {
    return this.db.records.where("[kind+id]").between([kind, ""], [kind, "\uffff"]).toArray();
  }
}

/** What to say of an error while the server was asked. */
export function askedWords(error: unknown): string {
  if (error instanceof NoSignalError) return `${error.message} Try again where there is signal.`;
  if (error instanceof AnswerError && error.status === 401) return "This phone is signed out. Enrol it anew with a code from the office.";
  return (error as Error).message;
}

export const phone = new Phone();
