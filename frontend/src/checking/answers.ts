/** What the checks say of the haul in hand, as plain values that go from the checking thread to the screen. */
import { amountWords, exact, Facts, judgeFacts, keepAtMost, type Allotment, type Allowance, type Answer, type Exact, type Finding, type Season } from "../checks/checks";
import type { Trip } from "../checks/records";
import type { Identification } from "../checks/taxa";
import type { RowName } from "../core/tally";
import type { Shelf } from "./book";
import { plainWords } from "./plain_words";
import { rowOrderFor } from "../checks/row_order";
import type { Unit } from "../checks/vocabulary";

/** What is left of one kind of animal or material. */
export interface Left {
  /** How much more may be kept; null where no limit covers it. */
  readonly more: number | null;
  /** Of material, what it is told in: "L", "shell crate"; "" for animals, which are told in whole ones. */
  readonly unit: string;
  /** The clause that binds: "2.3"; "" where there is none. */
  readonly number: string;
  readonly authority: string;
  readonly by: "limit" | "allotment" | "prohibition" | "";
  /** As a sentence. */
  readonly words: string;
}

export interface Told {
  readonly authority: string;
  readonly number: string;
  readonly kind: string;
  readonly outcome: "broken" | "open" | "met" | "not used";
  readonly sentence: string;
  /** The sentence as a screen shows it: short, and each record by what people call it. */
  readonly plain: string;
  readonly settle: string;
  /** The clause in the words as issued. */
  readonly text: string;
  readonly near: boolean;
  /** The records for which it is broken. */
  readonly over: readonly string[];
  readonly records: readonly string[];
}

export interface HaulAnswer {
  readonly left: Readonly<Record<string, Left>>;
  readonly told: readonly Told[];
  /** The taxa that a crew would look for first, in the order of the field sheet's rows. */
  readonly often: readonly string[];
  readonly problems: readonly string[];
}

export interface Question {
  readonly trip: string;
  readonly haul: string;
  /** The rows to be told of, by their keys. */
  readonly names: Readonly<Record<string, RowName>>;
  readonly at: number;
}

const NO_LIMIT: Left = { more: null, unit: "", number: "", authority: "", by: "", words: "No limit on this phone counts it." };

/** Answer for one haul of a season. */
export function answerFor(shelf: Shelf, season: Season, question: Question): HaulAnswer {
  const facts = new Facts(shelf.book, season, question.at);
  const trip = season.trips.find((one) => one.id === question.trip);
  const haul = trip?.hauls.find((one) => one.id === question.haul);
  const problems: string[] = [];
  const left: Record<string, Left> = {};
  if (trip !== undefined && haul !== undefined) {
    const authority = haul.authority || trip.authority;
    for (const [key, name] of Object.entries(question.names)) {
      try {
        left[key] = leftOf(facts, shelf, authority, name, trip, question);
      } catch (error) {
        problems.push((error as Error).message);
      }
    }
  }
  const often = trip === undefined ? [] : rowOrderFor(facts, trip.authority, question.at);
  return { left, told: toldOf(facts, question), often, problems: [...new Set(problems)] };
}

function leftOf(facts: Facts, shelf: Shelf, authority: string, row: RowName, trip: Trip, { at, haul }: Question): Left {
  const known = facts.book.authorities.some((one) => one.id === authority);
  if (!known) return { ...NO_LIMIT, words: "The haul stands under no permit that is on this phone." };
  const name: Identification = { taxon: facts.book.taxa.resolve(row.taxon), doubt: row.doubt as Identification["doubt"], one_of: [] };
  const here = trip.hauls.find((one) => one.id === haul);
  if (here === undefined) return NO_LIMIT;
  const own: readonly Allotment[] = shelf.allotments.get(trip.id) ?? [];
  const situation = { at, trip, haul: here, stage: row.stage, sex: row.sex };
  const units: readonly Unit[] = facts.book.taxa.rank(name.taxon) === "material" ? ["L", "g"] : ["individuals"];
  const found = units.map((unit) => keepAtMost(facts, authority, name, { ...situation, unit }, own));
  // Of two units the one of which nothing is left decides.
  const told = found.filter(({ binding }) => binding !== null).sort((one, other) => Number(other.more?.isZero) - Number(one.more?.isZero));
  return told[0] === undefined ? NO_LIMIT : leftIn(told[0], authority);
}

const TENTHS = exact(10);
const BY = { limit: "of", allotment: "of this trip's allotment under", prohibition: "" } as const;

function leftIn({ more, binding }: Allowance, authority: string): Left {
  if (more === null || binding === null) return NO_LIMIT;
  const { number, by, label, limit, unit, vessel } = binding;
  if (by === "prohibition") return { more: 0, unit: "", number, authority, by, words: `Not to be kept: ${number}.` };
  const told = (amount: Exact): string => (vessel === null ? amountWords(amount, unit) : amountWords(amount.over(vessel.litres), vessel.name));
  // Less is told rather than more: whole animals, tenths of what is measured.
  const measured = vessel === null ? more : more.over(vessel.litres);
  const rest = unit === "individuals" ? Math.floor(more.toNumber()) : measured.times(TENTHS).floor().toNumber() / 10;
  const words = `${unit === "individuals" ? rest : told(more)} left ${BY[by]} ${number}${label === "" ? "" : ` (${label})`}, ${told(limit)} in all.`;
  return { more: rest, unit: unit === "individuals" ? "" : (vessel?.name ?? unit), number, authority, by, words };
}

/** Give what is broken or cannot be told about this haul and its lines, the gravest first. */
function toldOf(facts: Facts, { haul }: Question): Told[] {
  const own = new Set([haul, ...facts.lines.filter((entry) => entry.haul.haul.id === haul).map((entry) => entry.line.id)]);
  const touches = (finding: Finding): boolean => {
    const records = finding.outcome === "broken" ? finding.over : finding.records;
    return records.some((record) => own.has(record));
  };
  const found = judgeFacts(facts).answers.flatMap((answer) => answer.findings.filter(touches).map((one) => toldFrom(answer, one, plainWords(facts, answer, one, haul))));
  const gravity = { broken: 0, open: 1, met: 2, "not used": 3 };
  return found.filter((one) => one.outcome !== "not used").sort((a, b) => gravity[a.outcome] - gravity[b.outcome]);
}

function toldFrom(answer: Answer, finding: Finding, plain: string): Told {
  const { authority, number, kind, outcome, sentence, settle, near, over, records } = finding;
  return { authority, number, kind, outcome, sentence, plain, settle, near, over, records, text: answer.text };
}
