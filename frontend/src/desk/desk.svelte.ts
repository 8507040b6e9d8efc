/** What all screens of the desk share: who is here, where we are, the season's records, and what was last said. */
import { tick } from "svelte";
import type { Naming } from "../core/versions";
import type { AuthorityRead, OperationSent, OrganisationRead, PersonRead, WhoRead } from "./answers";
import { IdMaker } from "../core/ids";
import { amendmentOf, checkAnswer, type Change } from "./amending";
import { Office, RefusedError, sentenceOf } from "./office";
import { Pulled, type Season } from "./season";

export const SCREENS = ["gate", "balance", "trips", "versions", "people", "report"] as const;
export type ScreenName = (typeof SCREENS)[number];

const HOME = `${import.meta.env.BASE_URL}desk`;
const SIGNING_OUT = "Sign in again to go on; what you typed is still here.";

/** What stands behind every screen. */
export interface Books {
  readonly season: Season;
  readonly organisation: OrganisationRead;
  /** When the organisation answered, by this machine's clock. */
  readonly askedAt: number;
  readonly authorities: readonly AuthorityRead[];
  readonly people: ReadonlyMap<string, PersonRead>;
  readonly sites: ReadonlyMap<string, string>;
}

class Desk {
  readonly office = new Office();
  /** undefined: not asked yet; null: nobody. */
  who = $state.raw<WhoRead | null | undefined>(undefined);
  /** Why somebody has to sign in again though a screen is open; "" while the session stands. */
  ended = $state("");
  said = $state("");
  screen = $state<ScreenName>("gate");
  asked = $state.raw(new URLSearchParams());
  /** Counts visits: each begins its screen anew. */
  visit = $state(0);
  /** How many records wait with two versions; null while that is not known. */
  twoVersions = $state<number | null>(null);

  private pulled = new Pulled();
  private books: Promise<Books> | null = null;
  private readonly ids = new IdMaker(Date.now, (bytes) => crypto.getRandomValues(bytes));
  /** What was sent without an answer: it may have come, so it goes again as it was, and is stored once. */
  private unanswered: { readonly said: string; readonly operation: OperationSent } | null = null;

  may(...roles: readonly string[]): boolean {
    return this.who?.roles.some((role) => roles.includes(role)) ?? false;
  }

  /** Say something to everybody who looks or listens. */
  say(text: string): void {
    this.said = text;
  }

  // --- the address

  /** Read the screen and what it is asked to show from the address. */
  follow(): void {
    const named = location.pathname.slice(HOME.length).split("/").filter(Boolean)[0] ?? "";
    this.screen = SCREENS.find((one) => one === named) ?? this.firstScreen();
    this.asked = new URLSearchParams(location.search);
  }

  /** Show what the address says as a new visit. */
  arrive(): void {
    this.follow();
    this.visit += 1;
  }

  private firstScreen(): ScreenName {
    return this.may("curator") || this.who === null ? "gate" : "balance";
  }

  addressOf(screen: ScreenName, asked: Readonly<Record<string, string>> = {}): string {
    const query = new URLSearchParams(Object.entries(asked).filter(([, value]) => value !== "")).toString();
    return `${HOME}/${screen}${query ? `?${query}` : ""}`;
  }

  /** Go to a screen; its heading takes the focus, as that of a new page would. */
  async go(address: string): Promise<void> {
    history.pushState(null, "", address);
    this.said = "";
    this.arrive();
    await tick();
    window.scrollTo(0, 0);
    document.querySelector<HTMLElement>("main h1")?.focus();
  }

  /** Write what a screen shows into the address, so that it can be kept and sent on; nothing else moves. */
  note(asked: Readonly<Record<string, string>>): void {
    history.replaceState(null, "", this.addressOf(this.screen, asked));
    this.asked = new URLSearchParams(location.search);
  }

  // --- who

  async begin(): Promise<void> {
    this.who = await this.office.me();
    this.follow();
  }

  async signIn(login: string, password: string): Promise<void> {
    const before = this.who;
    const now = await this.office.signIn(login, password);
    if (before && before.person !== now.person) this.forget();
    this.who = now;
    // Over an open screen nothing moves: what is typed there stays.
    if (this.ended === "") this.follow();
    this.ended = "";
  }

  async signOut(): Promise<void> {
    try {
      await this.office.signOut();
    } catch (problem) {
      if (!(problem instanceof RefusedError && problem.signedOut)) throw problem;
    }
    this.forget();
    this.who = null;
    this.ended = "";
    this.said = "";
    history.replaceState(null, "", HOME);
    this.follow();
  }

  private forget(): void {
    this.books = null;
    this.pulled = new Pulled();
    this.twoVersions = null;
    this.unanswered = null;
    drafts.clear();
    reasons.clear();
  }

  /** Give a problem as a sentence, and ask to sign in again where the session has ended. */
  problem(problem: unknown): string {
    if (problem instanceof RefusedError && problem.signedOut) {
      this.ended = SIGNING_OUT;
      return "Your session has ended. Sign in again, then try this once more.";
    }
    return sentenceOf(problem);
  }

  // --- the season

  /** Give the season as pulled so far, or pull it. */
  open(): Promise<Books> {
    this.books ??= this.load();
    // What failed is asked for again the next time.
    this.books.catch(() => (this.books = null));
    return this.books;
  }

  /** Ask for what is new, and give the season with it. */
  refresh(): Promise<Books> {
    this.books = null;
    return this.open();
  }

  /**
   * Change a record as it stands now, with the reason; `said` tells one thing meant from another.
   *
   * Throws RefusedError with the server's words where it was not taken.
   */
  async amend(kind: string, id: string, change: Change, why: string, said: string): Promise<void> {
    let operation = this.unanswered?.said === said ? this.unanswered.operation : null;
    if (operation === null) {
      const held = (await this.refresh()).season.held.get(`${kind} ${id}`);
      if (!held?.record) throw new RefusedError(404, `This ${kind} is not in the record any more. Look again.`);
      operation = amendmentOf(held, change, why, this.ids.next());
    }
    this.unanswered = { said, operation };
    const told = await this.office.push(operation).catch((problem: unknown) => {
      if (!(problem instanceof RefusedError && problem.status === 0)) this.unanswered = null;
      throw problem;
    });
    this.unanswered = null;
    checkAnswer(told);
  }

  /** Count the records that wait with two versions; where that fails, no number is shown. */
  async countTwoVersions(): Promise<void> {
    this.twoVersions = await this.office.conflicts().then(
      (every) => every.length,
      () => null,
    );
  }

  private async load(): Promise<Books> {
    const [organisation, authorities, people, sites] = await Promise.all([
      this.office.organisation(),
      this.office.authorities(),
      this.office.people(),
      this.office.sites(),
      this.pull(),
    ]);
    return {
      season: this.pulled.season(),
      organisation,
      askedAt: Date.now(),
      authorities,
      people: new Map(people.map((one) => [one.id, one])),
      sites: new Map(sites.map((one) => [one.id, one.name])),
    };
  }

  private async pull(): Promise<void> {
    const into = this.pulled;
    for (let more = true; more; ) {
      const page = await this.office.pull(into.cursor);
      into.take(page.changes, page.cursor);
      more = page.more;
    }
  }
}

export const desk = new Desk();

/** What is typed at a lot, kept until it is decided: closing the lot or looking elsewhere loses nothing. */
export interface Typed {
  choice: "" | "accept" | "hold" | "decline";
  door: string;
  died: string;
  reason: string;
  onward: string;
}

export const drafts = new Map<string, Typed>();

/** Reasons typed beside two versions of a record, by conflict, kept until they are settled. */
export const reasons = new Map<string, string>();

/** Give the server's time now: on a demo it stands in the sample's own year. */
export function nowOf(books: Books): number {
  return Date.parse(books.organisation.server_time) + (Date.now() - books.askedAt);
}

/** Give a person's name by id, the id where nobody is listed under it. */
export function nameOf(books: Books, person: string): string {
  return books.people.get(person)?.name ?? person;
}

/** Say how ids are named, and in which zone times are told. */
export function namingIn(books: Books, zone: string): Naming {
  return {
    zone,
    people: new Map([...books.people].map(([id, one]) => [id, one.name])),
    sites: books.sites,
    authorities: new Map(books.authorities.map((one) => [one.id, one.number])),
  };
}

/** Something that is asked for: on its way, here, or failed with the reason; it can be asked for again. */
export class Asking<Value> {
  value = $state.raw<Value | null>(null);
  problem = $state("");
  busy = $state(false);
  private turn = 0;

  constructor(private readonly question: () => Promise<Value>) {}

  /** Ask; of several questions on their way only the last is heard. */
  async ask(): Promise<void> {
    const turn = ++this.turn;
    this.busy = true;
    this.problem = "";
    try {
      const value = await this.question();
      if (turn === this.turn) this.value = value;
    } catch (problem) {
      if (turn === this.turn) this.problem = desk.problem(problem);
    } finally {
      if (turn === this.turn) this.busy = false;
    }
  }
}
