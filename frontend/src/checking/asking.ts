/** The screen's side of the checks' thread: the newest question counts, answers to older ones are passed over. */
import type { HaulAnswer, Question } from "./answers";
import type { Answered, Asked } from "./thread";

/**
 * How long questions are gathered before the newest is asked, in ms: at five touches a second the thread would otherwise
 * reckon without rest, and the next touch would share the processor and the database with it.
 */
const GATHERED = 200;

export class Asking {
  private readonly worker = new Worker(new URL("./worker.ts", import.meta.url), { type: "module" });
  private last = 0;
  private busy = false;
  private asked: Question | null = null;
  private waiting: Question | null = null;
  private timer: ReturnType<typeof setTimeout> | undefined;

  constructor(private readonly tell: (answer: HaulAnswer, question: Question) => void) {
    this.worker.addEventListener("message", (event: MessageEvent<Answered>) => this.take(event.data));
    this.worker.addEventListener("error", () => this.take(null));
  }

  /** Ask. The first question goes at once; of those that follow within a moment, or while an answer is made, the newest. */
  ask(question: Question): void {
    this.waiting = question;
    if (this.busy) return;
    if (this.last === 0) this.go();
    else this.gather();
  }

  stop(): void {
    clearTimeout(this.timer);
    this.worker.terminate();
  }

  private gather(): void {
    this.timer ??= setTimeout(() => this.go(), GATHERED);
  }

  private go(): void {
    this.timer = undefined;
    const question = this.waiting;
    if (question === null) return;
    this.waiting = null;
    this.busy = true;
    this.asked = question;
    this.last += 1;
    this.worker.postMessage({ ask: this.last, question: structuredCloneable(question) } satisfies Asked);
  }

  private take(answered: Answered | null): void {
    this.busy = false;
    if (answered !== null && answered.ask === this.last && this.asked !== null) this.tell(answered.answer, this.asked);
    if (this.waiting !== null) this.gather();
  }
}

/** A screen's reactive values cannot go to another thread as they are. */
function structuredCloneable(question: Question): Question {
  return JSON.parse(JSON.stringify(question)) as Question;
}
