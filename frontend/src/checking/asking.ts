/** The screen's side of the checks' thread: the newest question counts, answers to older ones are passed over. */
import type { HaulAnswer, Question } from "./answers";
import type { Answered, Asked } from "./thread";

export class Asking {
  private readonly worker = new Worker(new URL("./worker.ts", import.meta.url), { type: "module" });
  private last = 0;
  private busy = false;
  private waiting: Question | null = null;

  constructor(private readonly tell: (answer: HaulAnswer, question: Question) => void) {
    this.worker.addEventListener("message", (event: MessageEvent<Answered>) => this.take(event.data));
    this.worker.addEventListener("error", () => this.take(null));
  }

  private asked: Question | null = null;

  /** Ask. While an answer is being made only the newest question waits. */
  ask(question: Question): void {
    if (this.busy) {
      this.waiting = question;
      return;
    }
    this.busy = true;
    this.asked = question;
    this.last += 1;
    this.worker.postMessage({ ask: this.last, question: structuredCloneable(question) } satisfies Asked);
  }

  stop(): void {
    this.worker.terminate();
  }

  private take(answered: Answered | null): void {
    this.busy = false;
    const { asked, waiting } = this;
    this.waiting = null;
    if (answered !== null && answered.ask === this.last && asked !== null) this.tell(answered.answer, asked);
    if (waiting !== null) this.ask(waiting);
  }
}

/** A screen's reactive values cannot go to another thread as they are. */
function structuredCloneable(question: Question): Question {
  return JSON.parse(JSON.stringify(question)) as Question;
}
