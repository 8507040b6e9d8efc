/** What a permit lists that a screen offers for choosing: people, gear, papers, measures, stages, attested conditions. */
import { clausesOf, holdsAt, type Authority, type Clause } from "../checks/permits";
import type { Content } from "./outbox";

export interface ListedPerson {
  readonly id: string;
  readonly name: string;
  readonly role: string;
}

interface Permit extends Authority {
  readonly people?: readonly ListedPerson[];
  readonly kind: string;
  readonly title: string;
}

export function permitOf(content: Content): Permit {
  return content as unknown as Permit;
}

/** Give the clauses in force at a moment, in the permit's own order. */
export function clausesAt(content: Content, at: number): Clause[] {
  return [...clausesOf(permitOf(content)).values()].flatMap((versions) => versions.filter((clause) => holdsAt(clause, at)).slice(-1));
}

export function isInTerm(content: Content, day: string): boolean {
  const { first_day, last_day } = permitOf(content);
  return first_day <= day && day <= last_day;
}

export function peopleOf(content: Content): readonly ListedPerson[] {
  return permitOf(content).people ?? [];
}

export function papersOf(clauses: readonly Clause[]): string[] {
  const carried = clauses.flatMap(({ condition }) => (condition as { carried?: readonly string[] }).carried ?? []);
  return [...new Set(carried)];
}

/** The measures that size conditions name, the trade's most usual ones behind them. */
export function measuresOf(clauses: readonly Clause[]): string[] {
  const named = clauses.flatMap(({ condition }) => {
    const { rules, only, parts } = condition as { rules?: { measure: string }[]; only?: { size?: { measure: string } }; parts?: { size?: { measure: string } }[] };
    return [...(rules ?? []), ...(only?.size ? [only.size] : []), ...(parts ?? []).flatMap((part) => (part.size ? [part.size] : []))].map((one) => one.measure);
  });
  return [...new Set([...named, "total length", "fork length", "carapace width", "shell length", "weight"])];
}

/** The stages that conditions speak of, the usual ones behind them. */
export function stagesOf(clauses: readonly Clause[]): string[] {
  const named = clauses.flatMap(({ condition }) => {
    const { stages, only } = condition as { stages?: readonly string[]; only?: { stages?: readonly string[] } };
    return [...(stages ?? []), ...(only?.stages ?? [])];
  });
  return [...new Set([...named, "juvenile", "adult", "berried", "larva"])];
}

/** Conditions that a person answers when a trip is closed. */
export function attestedPerTrip(clauses: readonly Clause[]): Clause[] {
  return clauses.filter(({ condition }) => condition.kind === "attested" && ((condition as { per?: string }).per ?? "trip") === "trip");
}
