/** What the lists on this phone tell of a kind of animal: the clauses that speak of it, its stages, a caution. */
import type { Prohibited } from "../checks/conditions";
import { fitNamed, membersOf } from "../checks/fitting";
import { withAcceptedNames, type Clause } from "../checks/permits";
import { named, Taxa, type Taxon } from "../checks/taxa";
import type { Content } from "./outbox";
import { clausesAt, permitOf, stagesOf } from "./permit_lists";

/** A clause under which a kind is not to be kept or handled, in the words as issued. */
export interface Caution {
  readonly number: string;
  readonly text: string;
}

/** Ranks so broad that some prohibited kind lies in nearly each: no caution is told of them. */
const BROAD = new Set(["order", "class", "phylum", "kingdom"]);

/** Crabs, shrimps and their like carry eggs under the tail ("berried"); common practice, no source. */
const CARRY_EGGS = ["Crustacea", "Malacostraca", "Decapoda", "Brachyura"];

export class Kinds {
  private readonly taxa: Taxa;

  constructor(list: readonly Taxon[]) {
    this.taxa = taxaOf(list);
  }

  /** Give the clauses of a permit in force, its names as they are accepted today. */
  clausesAt(permit: Content, at: number): Clause[] {
    try {
      return clausesAt(withAcceptedNames(permitOf(permit), this.taxa) as unknown as Content, at);
    } catch {
      // It names a kind that no list here has: what it says is shown all the same.
      return clausesAt(permit, at);
    }
  }

  /** Give the kind and all above it, nearest first. */
  private lineage(taxon: string): readonly string[] {
    return this.taxa.taxa.has(taxon) ? this.taxa.lineage(taxon) : [taxon];
  }

  /** Give the clauses that name a kind, or that name none. */
  clausesFor(clauses: readonly Clause[], taxon: string): Clause[] {
    const lineage = this.lineage(taxon);
    return clauses.filter((clause) => {
      const { taxa, group } = clause.condition as { taxa?: readonly string[]; group?: string };
      if (taxa === undefined && group === undefined) return true;
      return membersOf(clause, taxa, group).some((one) => lineage.includes(one));
    });
  }

  /** Give the stages to be offered: those that its clauses name, and the usual ones as far as they fit. */
  stagesFor(clauses: readonly Clause[], taxon: string): string[] {
    return stagesOf(this.clausesFor(clauses, taxon)).filter((stage) => stage !== "berried" || this.mayCarryEggs(taxon));
  }

  /** Nothing is left out of what the lists do not tell: of an animal whose phylum nobody knows, anything may be. */
  private mayCarryEggs(taxon: string): boolean {
    const lineage = this.lineage(taxon);
    if (lineage.some((one) => CARRY_EGGS.includes(one))) return true;
    const known = lineage.filter((one) => ["class", "phylum"].includes(this.taxa.rank(one)));
    return known.every((one) => one === "Arthropoda");
  }

  /** Give the clauses under which a kind, or one within it, is not to be kept or handled. */
  cautionsFor(clauses: readonly Clause[], taxon: string): Caution[] {
    if (!this.taxa.taxa.has(taxon)) return [];
    return clauses.flatMap((clause) => {
      const { condition } = clause;
      if (condition.kind !== "prohibited taxon") return [];
      return this.isUnder(clause as Clause<Prohibited>, taxon) ? [{ number: condition.number, text: condition.text }] : [];
    });
  }

  private isUnder(clause: Clause<Prohibited>, taxon: string): boolean {
    try {
      const fit = fitNamed(this.taxa, clause, named(taxon));
      return fit.certain || (fit.possible && !BROAD.has(this.taxa.rank(taxon)));
    } catch {
      // It names others that no list here has.
      const { taxa, group } = clause.condition;
      return membersOf(clause, taxa, group).some((one) => this.lineage(taxon).includes(one));
    }
  }
}

/** Lay the names out; where one hangs on a parent that is not listed, each stands for itself. */
function taxaOf(list: readonly Taxon[]): Taxa {
  try {
    return new Taxa(list);
  } catch {
    return new Taxa(list.map((one) => ({ ...one, parent: null })));
  }
}
