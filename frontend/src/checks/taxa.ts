/** Names at any rank, what stands below what, and names with doubt. */
import type { Doubt } from "./vocabulary";

export interface Taxon {
  readonly id: string;
  readonly rank: string;
  readonly parent?: string | null;
  readonly common?: string;
  readonly synonyms?: readonly string[];
}

/** What somebody called an animal: a name, its qualifier, or several names it may be. */
export interface Identification {
  readonly taxon: string;
  readonly doubt: Doubt;
  readonly one_of: readonly string[];
}

/** How something fits a description: for certain, by its most likely reading, possibly at all. */
export interface Fit {
  readonly certain: boolean;
  readonly likely: boolean;
  readonly possible: boolean;
}

export const YES: Fit = { certain: true, likely: true, possible: true };
export const PROBABLY: Fit = { certain: false, likely: true, possible: true };
export const MAYBE: Fit = { certain: false, likely: false, possible: true };
export const NO: Fit = { certain: false, likely: false, possible: false };

export function both(...fits: readonly Fit[]): Fit {
  return {
    certain: fits.every((fit) => fit.certain),
    likely: fits.every((fit) => fit.likely),
    possible: fits.every((fit) => fit.possible),
  };
}

export function either(...fits: readonly Fit[]): Fit {
  return {
    certain: fits.some((fit) => fit.certain),
    likely: fits.some((fit) => fit.likely),
    possible: fits.some((fit) => fit.possible),
  };
}

export function named(taxon: string): Identification {
  return { taxon, doubt: "", one_of: [] };
}

/** Give one text for one identification, to gather lines by. */
export function nameKey(name: Identification): string {
  return name.doubt === "" && name.one_of.length === 0 ? name.taxon : JSON.stringify([name.taxon, name.doubt, name.one_of]);
}

/** The names in use and their order. Throws RangeError for a parent that is not listed or a circle of parents. */
export class Taxa {
  private readonly names = new Map<string, string>();
  private readonly lines = new Map<string, readonly string[]>();
  private readonly fits = new Map<string, Fit>();
  readonly taxa: ReadonlyMap<string, Taxon>;

  constructor(taxa: Iterable<Taxon>) {
    const listed = [...taxa];
    this.taxa = new Map(listed.map((taxon) => [taxon.id, taxon]));
    for (const taxon of listed) {
      for (const name of [taxon.id, ...(taxon.synonyms ?? [])]) this.names.set(name.toLowerCase(), taxon.id);
    }
    for (const taxon of listed) this.lines.set(taxon.id, this.climb(taxon.id));
  }

  private climb(name: string): readonly string[] {
    const line: string[] = [];
    for (let here: string | null = name; here !== null; here = this.parentOf(here)) {
      if (line.includes(here)) throw new RangeError(`the parents of '${name}' run in a circle`);
      line.push(here);
    }
    return line;
  }

  private parentOf(name: string): string | null {
    const taxon = this.taxa.get(name);
    if (taxon === undefined) throw new RangeError(`'${name}' is not in the list of taxa`);
    return taxon.parent ?? null;
  }

  /** Give the accepted id for a name or synonym; throws RangeError. */
  resolve(name: string): string {
    const found = this.names.get(name.trim().toLowerCase());
    if (found === undefined) throw new RangeError(`'${name}' is not in the list of taxa`);
    return found;
  }

  rank(name: string): string {
    return this.taxa.get(name)?.rank ?? "";
  }

  /** Give the taxon and all above it, nearest first. */
  lineage(name: string): readonly string[] {
    const line = this.lines.get(name);
    if (line === undefined) throw new RangeError(`'${name}' is not in the list of taxa`);
    return line;
  }

  /** Tell how an animal so named fits a set of taxa (each covering all below it). */
  fit(name: Identification, members: readonly string[]): Fit {
    const key = `${nameKey(name)}|${members.join("|")}`;
    let found = this.fits.get(key);
    if (found === undefined) {
      found = this.judged(name, members);
      this.fits.set(key, found);
    }
    return found;
  }

  private judged(name: Identification, members: readonly string[]): Fit {
    if (name.one_of.length > 0) return this.oneOf(name, members);
    const sure = name.doubt === "" ? name.taxon : this.parentOf(name.taxon);
    const nominal = this.sureFit(name.taxon, members).certain;
    if (sure === null) return nominal ? PROBABLY : members.length > 0 ? MAYBE : NO;
    const fit = this.sureFit(sure, members);
    return name.doubt !== "" && !fit.certain && nominal ? PROBABLY : fit;
  }

  private oneOf(name: Identification, members: readonly string[]): Fit {
    const fits = name.one_of.map((taxon) => this.sureFit(taxon, members));
    const likely = name.one_of.includes(name.taxon) && this.sureFit(name.taxon, members).certain;
    const certain = fits.every((fit) => fit.certain);
    return { certain, likely: certain || likely, possible: fits.some((fit) => fit.possible) };
  }

  private sureFit(taxon: string, members: readonly string[]): Fit {
    const above = this.lineage(taxon);
    if (members.some((member) => above.includes(member))) return YES;
    return members.some((member) => this.lineage(member).includes(taxon)) ? MAYBE : NO;
  }
}
