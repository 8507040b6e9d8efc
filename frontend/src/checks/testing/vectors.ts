/** The published check values that the core is held to as well (tests/vectors). */
import { readFileSync } from "node:fs";
import { join } from "node:path";

export interface Vector {
  readonly id: string;
  readonly inputs: Readonly<Record<string, string | number>>;
  readonly expected: unknown;
  readonly tolerance: number | string;
  readonly source: string;
}

export function vectors(prefix: string): Vector[] {
  const file = join(import.meta.dirname, "../../../../tests/vectors/field.json");
  const all = JSON.parse(readFileSync(file, "utf-8")) as Vector[];
  return all.filter((one) => one.id.startsWith(prefix));
}
