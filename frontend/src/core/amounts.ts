/**
 * What stands in catch lines, summed for reading: animals, and apart from them what is measured (shell, sand), each in
 * the unit in which it was measured. Nothing is converted; what cannot be summed is told as it was written.
 */
import { exact, type Exact } from "../checks/exact";
import { decimalText } from "../checks/measures";
import type { Content } from "./outbox";
import { animalsOf, countWords, FATES, isInAnimals, sum, type Fate, type Row } from "./tally";

const WORDED = /^(about |~\s*)?(\d+(?:\.\d+)?) ([^\d].*)$/;

/** Words for the fates of what is no animal: it is taken or put back. */
export const MATERIAL_FATES: Readonly<Record<Fate, string>> = { kept: "taken", released: "put back", dead: "dead", lost: "lost" };

interface Part {
  readonly about: boolean;
  readonly amount: Exact;
  readonly unit: string;
}

/** Read one measured amount; null where it is written in another way. */
function partOf(line: Content): Part | null {
  const { count, unit, measured_as: worded } = line;
  const text = typeof worded === "string" && worded !== "" ? worded : count;
  if (typeof text === "string") {
    const found = WORDED.exec(text.trim());
    if (found !== null) return { about: found[1] !== undefined, amount: exact(found[2] ?? "0"), unit: found[3] ?? "" };
    return typeof unit === "string" ? amountIn(text, unit) : null;
  }
  return amountIn(count, String(unit ?? ""));
}

function amountIn(count: unknown, unit: string): Part | null {
  const told = typeof count === "object" && count !== null ? (count as Record<string, unknown>) : { low: count, best: count, high: count };
  try {
    const [low, best, high] = ["low", "best", "high"].map((bound) => exact(told[bound] as string | number));
    return best === undefined ? null : { about: low?.equals(high ?? best) !== true, amount: best, unit };
  } catch {
    return null;
  }
}

/** Say what of these lines is measured: "2 shell crate", "2 shell crate + 3.5 L"; "" where nothing is. */
export function measuredWords(lines: readonly Content[]): string {
  const sums = new Map<string, Part>();
  const others: string[] = [];
  for (const line of lines) {
    if (isInAnimals(line)) continue;
    const part = partOf(line);
    if (part === null) {
      others.push(typeof line["count"] === "string" ? line["count"] : "?");
      continue;
    }
    // What was taken back stands as nothing.
    if (part.amount.isZero) continue;
    const before = sums.get(part.unit);
    sums.set(part.unit, before === undefined ? part : { ...part, about: part.about || before.about, amount: part.amount.plus(before.amount) });
  }
  const told = [...sums.values()].map(({ about, amount, unit }) => `${about ? "about " : ""}${decimalText(amount)} ${unit}`);
  return [...told, ...others].join(" + ");
}

/** Say what stands in lines of one fate: the animals, or the amount where it is material: "12", "2 shell crate". */
export function amountWords(lines: readonly (Content | undefined)[]): string {
  const there = lines.filter((line) => line !== undefined);
  const animals = sum(there.map(animalsOf));
  const measured = measuredWords(there);
  if (measured === "") return countWords(animals);
  return animals.high === 0 ? measured : `${countWords(animals)} + ${measured}`;
}

/** Whether a row holds nothing but material. */
export function isMeasured(row: Row): boolean {
  const lines = Object.values(row.cells);
  return lines.length > 0 && lines.every((line) => !isInAnimals(line));
}

/** Say what material stands in rows, kind by kind: "sand: 3.5 L taken, 1 L put back"; none where there is none. */
export function materialWords(rows: readonly Row[]): string[] {
  const names = [...new Set(rows.filter(isMeasured).map((row) => row.written || row.taxon))];
  return names.flatMap((name) => {
    const own = rows.filter((row) => (row.written || row.taxon) === name);
    const told = FATES.flatMap((fate) => {
      const words = measuredWords(own.flatMap((row) => row.cells[fate] ?? []));
      return words === "" ? [] : [`${words} ${MATERIAL_FATES[fate]}`];
    });
    return told.length === 0 ? [] : [`${name}: ${told.join(", ")}`];
  });
}
