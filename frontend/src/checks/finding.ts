/** The answer to one condition, with its proof: what was measured, against what, and from which records. */
import type { Count } from "./counts";
import type { Exact } from "./exact";
import type { Clause } from "./permits";
import type { Operator, Outcome } from "./vocabulary";

export interface Tally {
  readonly limit: Exact;
  readonly operator: Operator;
  readonly unit: string;
  readonly before: Count;
  readonly here: Count;
  readonly after: Count;
  /** What may still be taken: its low when the most was taken. */
  readonly left: Count;
}

export interface Finding {
  readonly authority: string;
  readonly number: string;
  readonly kind: string;
  readonly version: number;
  readonly outcome: Outcome;
  /** The record or period it speaks of. */
  readonly about: string;
  /** One plain sentence. */
  readonly sentence: string;
  /** What would settle an open finding; "" for every other. */
  readonly settle: string;
  /** The ids it rests on, and those of them that went over. */
  readonly records: readonly string[];
  readonly over: readonly string[];
  readonly near: boolean;
  readonly tally: Tally | null;
  readonly label: string;
  /** Further numbers, by name. */
  readonly measured: readonly (readonly [name: string, value: string])[];
}

type Rest = Partial<Pick<Finding, "settle" | "records" | "over" | "near" | "tally" | "label" | "measured">>;

/** Build a finding under a clause. An open finding, and only an open one, says what would settle it. */
export function findingFor(clause: Clause, outcome: Outcome, about: string, sentence: string, rest: Rest = {}): Finding {
  if ((outcome === "open") !== ((rest.settle ?? "") !== "")) {
    throw new RangeError(`an open finding, and only an open one, says what would settle it: ${sentence}`);
  }
  return {
    authority: clause.authority.id,
    number: clause.condition.number,
    kind: clause.condition.kind,
    version: clause.version.number,
    outcome,
    about,
    sentence,
    settle: "",
    records: [],
    over: [],
    near: false,
    tally: null,
    label: "",
    measured: [],
    ...rest,
  };
}
