/** The closed word lists, spelled as the server spells them. */
export type Outcome = "met" | "broken" | "open" | "not used";
export type Fate = "kept" | "released" | "dead" | "lost";
export type Basis = "kept" | "kept and dead" | "handled";
export type Period =
  | "haul"
  | "trip"
  | "day"
  | "rolling days"
  | "month"
  | "calendar year"
  | "permit year"
  | "season"
  | "term"
  | "held";
export type Holder = "permit" | "person" | "site" | "area" | "waterbody" | "container" | "everybody";
export type Operator = "at most" | "fewer than";
export type Doubt = "" | "cf." | "aff." | "?";
export type Method = "counted" | "by eye" | "by volume" | "by weight" | "raised";
export type Unit = "individuals" | "L" | "g";

export const BASIS_FATES: Readonly<Record<Basis, ReadonlySet<Fate>>> = {
  kept: new Set<Fate>(["kept"]),
  "kept and dead": new Set<Fate>(["kept", "dead"]),
  handled: new Set<Fate>(["kept", "released", "dead", "lost"]),
};

/** The ways in which what is held grows without take from the wild. */
export const GAINS: ReadonlySet<string> = new Set(["born", "given", "found"]);

const GRAVITY: readonly Outcome[] = ["broken", "open", "met", "not used"];

/** Give the gravest of several outcomes: broken, then open, then met; none at all is not used. */
export function worst(outcomes: readonly Outcome[]): Outcome {
  return GRAVITY.find((one) => outcomes.includes(one)) ?? "not used";
}

/** Tell which of two outcomes is graver: negative for the first. */
export function byGravity(first: Outcome, second: Outcome): number {
  return GRAVITY.indexOf(first) - GRAVITY.indexOf(second);
}
