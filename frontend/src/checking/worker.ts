/** The entry of the checks' thread. */
import { PhoneDatabase } from "../device/database";
import { Checker, type Answered, type Asked } from "./thread";

const checker = new Checker(new PhoneDatabase());
let line: Promise<unknown> = Promise.resolve();

self.addEventListener("message", (event: MessageEvent<Asked>) => {
  // One after the other: two answers at once would read the season twice.
  line = line.then(() => reply(event.data));
});

async function reply({ ask, question }: Asked): Promise<void> {
  const told: Answered = { ask, answer: await checker.answer(question).catch(failed) };
  self.postMessage(told);
}

function failed(error: unknown): Answered["answer"] {
  const what = `The checks cannot answer: ${(error as Error).message}. What you enter is stored all the same.`;
  return { left: {}, told: [], often: [], problems: [what] };
}
