/** What is sent from a form or a button at the desk: whether it is under way, and what went wrong with it. */
import { desk } from "./desk.svelte";

/** What a form lacks: the field, by its `data-field`, and the words that say so. Null where nothing is missing. */
export type Missing = readonly [field: string, words: string] | null;

export class Sending {
  busy = $state(false);
  /** What is missing or went wrong, in words; "" where nothing is. */
  problem = $state("");
  /** What went wrong, as it was thrown. */
  failed = $state.raw<unknown>(null);

  /** Do something that asks the server; what goes wrong is kept to be shown. */
  async go(work: () => Promise<unknown>, words: (failed: unknown) => string = (failed) => desk.problem(failed)): Promise<void> {
    this.busy = true;
    this.problem = "";
    this.failed = null;
    try {
      await work();
    } catch (failed) {
      this.problem = words(failed);
      this.failed = failed;
    } finally {
      this.busy = false;
    }
  }

  /** Send a form, or say what it lacks and go to that field. */
  async submit(event: SubmitEvent, lacking: Missing, work: () => Promise<unknown>): Promise<void> {
    event.preventDefault();
    if (lacking === null) return this.go(work);
    this.lack(lacking, event.currentTarget as HTMLFormElement);
  }

  /** Say what is missing, and go to its field. */
  lack([field, words]: NonNullable<Missing>, within: ParentNode | undefined): void {
    this.problem = words;
    within?.querySelector<HTMLElement>(`[data-field="${CSS.escape(field)}"]`)?.focus();
  }

  /** Forget what went wrong. */
  clear(): void {
    this.problem = "";
    this.failed = null;
  }
}
