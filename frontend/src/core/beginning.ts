/** What a trip begins with and should not: told once, never a reason to refuse. Usual caution; common practice, no source. */

export interface BeginningWith {
  readonly crew: number;
  /** How many permits and licences are on this phone. */
  readonly permits: number;
  /** The documents of the permit that was chosen: how many there are, and how many of them are on this phone. */
  readonly papers: { readonly wanted: number; readonly here: number };
  /** Papers that the permit asks to be carried and nobody has ticked. */
  readonly left: readonly string[];
}

export function warningsOf({ crew, permits, papers, left }: BeginningWith): string[] {
  const warnings: string[] = [];
  if (crew < 2) {
    warnings.push(
      "You are alone. Wading alone is dangerous: tell somebody ashore where you go and the time you will be back, and stay out of deep or fast water. Your safety plan and the rules of the place come first.",
    );
  }
  if (permits === 0) warnings.push("No permit is on this phone: it cannot say what is left or where the edges are. Get ready in signal, or carry the permit on paper.");
  else if (papers.here < papers.wanted) warnings.push(`${papers.here} of ${papers.wanted} papers of this permit are on this phone. Get ready in signal, or carry them on paper.`);
  else if (papers.wanted === 0) warnings.push("The permit's own papers are not on this phone; its conditions are. Carry it on paper if it must be shown.");
  if (left.length > 0) warnings.push(`Not ticked as carried: ${left.join(", ")}.`);
  return warnings;
}
