/** Finding an animal by the first letters of its scientific, common or older names. */
import type { RowName } from "./tally";

export interface NamedTaxon {
  readonly id: string;
  readonly rank: string;
  readonly common?: string;
  readonly synonyms?: readonly string[];
}

const BROADER = new Set(["genus", "family", "order", "class", "phylum", "kingdom", "group"]);

/**
 * Give the taxa of which every typed part begins a word: "ga ma", "jolly". Names caught before come first, in their
 * order, then species, then broader names, each by the alphabet.
 */
export function findNames(typed: string, taxa: readonly NamedTaxon[], before: readonly string[], most: number): NamedTaxon[] {
  const parts = wordsOf(typed);
  if (parts.length === 0) return [];
  const place = new Map(before.map((name, at) => [name, at]));
  const found = taxa.filter((taxon) => {
    const words = wordsOf([taxon.id, taxon.common ?? "", ...(taxon.synonyms ?? [])].join(" "));
    return parts.every((part) => words.some((word) => word.startsWith(part)));
  });
  const order = (taxon: NamedTaxon): number => place.get(taxon.id) ?? (BROADER.has(taxon.rank) ? 1e6 + 1 : 1e6);
  return found.sort((a, b) => order(a) - order(b) || (a.id < b.id ? -1 : 1)).slice(0, most);
}

/** Split into words without accents, brackets or case. */
function wordsOf(text: string): string[] {
  const plain = text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  return plain.split(/[^a-z0-9]+/).filter((word) => word !== "");
}

/** Whether a name of this rank stands in italics: genera and what is below them (ICZN, general recommendation B6; from memory). */
export function isItalic(rank: string | undefined): boolean {
  return rank === "genus" || rank === "species" || rank === "subspecies";
}

export function plainName(taxon: string): RowName {
  return { taxon, doubt: "", written: "", stage: "", sex: "" };
}
