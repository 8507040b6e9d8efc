/** The count at the door as it is typed: read, or told what is wrong with it. */
import type { Count } from "../checks/counts";
import { exact, room, type Exact } from "../checks/exact";

export interface DoorCount {
  /** What was counted, null where nobody counted or it cannot be read. */
  readonly count: Exact | null;
  /** The number as it is sent, "" where nobody counted. */
  readonly written: string;
  /** What is wrong with what was typed, "" where nothing is. */
  readonly problem: string;
}

const PLAIN = /^\d{1,9}(?:\.\d{1,6})?$/; // what the server's column holds: at most a billion, six decimals
const NOBODY: DoorCount = { count: null, written: "", problem: "" };

/** Read what was typed; a comma may stand for the point, and animals are counted whole. */
export function doorCount(typed: string, unit: string): DoorCount {
  const clean = typed.trim().replace(",", ".");
  if (clean === "") return NOBODY;
  if (!PLAIN.test(clean)) return wrong("The count at the door is a number, as 12" + (unit === "individuals" ? "." : " or 2.5."));
  const count = exact(clean);
  if (unit === "individuals" && !count.isWhole) return wrong("Animals are counted whole; write 12.");
  return { count, written: clean, problem: "" };
}

function wrong(problem: string): DoorCount {
  return { ...NOBODY, problem };
}

/** Give what should be alive at the door where some died on the way; never below nothing. */
export function besideTheDead(onHand: Count, died: Exact): Count {
  return { low: room(onHand.low, died), best: room(onHand.best, died), high: room(onHand.high, died) };
}
