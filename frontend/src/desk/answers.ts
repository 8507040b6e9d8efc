/** What the server answers and takes, as the contract has it; office.test.ts holds these shapes to the contract. */
import type { Told as ToldRead } from "../core/outbox";

export type { Problem as FaultRead, Told as ToldRead } from "../core/outbox";

export type Outcome = "met" | "broken" | "open" | "not used";
export type Role = "collector" | "curator" | "administrator" | "inspector";
export type Figure = number | string;

/** Low, best and high; fractions as text, "unknown" for no bound. */
export interface CountRead {
  readonly low: Figure;
  readonly best: Figure;
  readonly high: Figure;
}

export interface WhoRead {
  readonly person: string;
  readonly name: string;
  readonly login: string;
  readonly roles: readonly string[];
  readonly session: string;
  readonly device: string;
}

export interface OrganisationRead {
  readonly name: string;
  readonly zone: string;
  readonly own_catch_approved: boolean;
  readonly demo: boolean;
  /** The server's clock as it answers: on a demo it stands in the sample's own year. */
  readonly server_time: string;
}

export interface AuthorityRead {
  readonly id: string;
  readonly kind: string;
  readonly number: string;
  readonly title: string;
  readonly issuer: string;
  readonly holder: string;
  readonly zone: string;
  readonly first_day: string;
  readonly last_day: string;
  readonly outcome: Outcome;
}

export interface RestsRead {
  readonly authority: string;
  readonly number: string;
  readonly outcome: Outcome;
  readonly about: string;
  readonly sentence: string;
}

export type LotState = "waiting" | "on hold" | "accepted" | "declined";

export interface LotRead {
  readonly id: string;
  readonly state: LotState;
  readonly version: number;
  readonly accession: string;
  readonly line: string;
  readonly haul: string;
  readonly trip: string;
  readonly taxon: string;
  readonly authority: string;
  readonly unit: string;
  readonly field_count: CountRead;
  readonly on_hand: CountRead;
  readonly door_count: Figure | null;
  readonly decided_at: string | null;
  readonly decided_by: string;
  readonly decided_by_name: string;
  readonly reason: string;
  readonly onward: string;
  readonly collectors: readonly string[];
  readonly wanted: number;
  readonly amended: boolean;
  readonly findings: readonly RestsRead[];
  readonly of_haul: readonly RestsRead[];
  readonly of_trip: readonly RestsRead[];
}

export interface StateCount {
  readonly state: LotState;
  readonly lots: number;
}

export interface TripCount {
  readonly trip: string;
  readonly lots: number;
}

export interface LotsRead {
  readonly total: number;
  readonly lots: readonly LotRead[];
  readonly states: readonly StateCount[];
  readonly trips: readonly TripCount[];
}

export interface HoldSent {
  readonly expected_version: number;
  readonly reason: string;
}

export interface AcceptSent extends HoldSent {
  readonly door_count: string | null;
  readonly died: string | null;
}

export interface DeclineSent extends AcceptSent {
  readonly onward: string;
}

export interface TallyRead {
  readonly limit: Figure;
  readonly operator: "at most" | "fewer than";
  readonly unit: string;
  readonly before: CountRead;
  readonly here: CountRead;
  readonly after: CountRead;
  readonly left: CountRead;
  readonly used_low: number | null;
  readonly used_high: number | null;
}

export interface FindingRead {
  readonly authority: string;
  readonly number: string;
  readonly kind: string;
  readonly version: number;
  readonly outcome: Outcome;
  readonly about: string;
  readonly label: string;
  readonly sentence: string;
  readonly settle: string;
  readonly near: boolean;
  readonly records: readonly string[];
  readonly over: readonly string[];
  readonly tally: TallyRead | null;
}

export interface FindingsRead {
  readonly total: number;
  readonly findings: readonly FindingRead[];
}

export interface AllottedRead {
  readonly trip: string;
  readonly label: string;
  readonly name: string;
  readonly first_day: string;
  readonly unit: string;
  readonly amount: number;
}

export interface AllotmentRead {
  readonly id: string;
  readonly trip: string;
  readonly code: string;
  readonly authority: string;
  readonly number: string;
  readonly label: string;
  readonly name: string;
  readonly first_day: string;
  readonly unit: string;
  readonly amount: number;
  readonly state: "open" | "returned" | "reclaimed";
  readonly granted_at: string;
  readonly granted_by: string;
  readonly ended_at: string | null;
  readonly why: string;
}

/** A tally that a trip may be given from, with what the trip took of it at most. */
export interface RoomRead {
  readonly authority: string;
  readonly number: string;
  readonly label: string;
  readonly name: string;
  readonly about: string;
  readonly unit: string;
  readonly limit: number;
  readonly left: number;
  readonly short: boolean;
  readonly held: number;
  readonly used: Figure;
}

export interface PendingRead {
  readonly conflict: string;
  readonly kind: string;
  readonly record: string;
  readonly trip: string;
}

export interface BalanceRead {
  readonly number: string;
  readonly text: string;
  readonly kind: string;
  readonly outcome: Outcome;
  readonly tallies: readonly FindingRead[];
  readonly fullest: readonly number[];
  readonly allotted: readonly AllottedRead[];
  readonly pending: readonly PendingRead[];
}

export interface OfferingRead {
  readonly person: string;
  readonly device: string;
  readonly device_name: string;
}

export interface ConflictRead {
  readonly id: string;
  readonly kind: string;
  readonly record: string;
  readonly stands: Readonly<Record<string, unknown>>;
  readonly offered: Readonly<Record<string, unknown>>;
  readonly base: Readonly<Record<string, unknown>> | null;
  readonly together: Readonly<Record<string, unknown>> | null;
  readonly offered_by: OfferingRead;
  readonly state: "open" | "ours" | "theirs" | "both" | "followed";
  readonly why: string;
  readonly made_at: string;
  readonly settled_at: string | null;
  readonly settled_by: string;
}

export interface SettlementSent {
  readonly take: "stands" | "offered" | "together";
  readonly why: string;
}

export interface PhotoRead {
  readonly id: string;
  readonly sha256: string;
  readonly of_kind: "trip" | "haul" | "line";
  readonly of_record: string;
  readonly media_type: string;
  readonly size: number;
  readonly received: number;
  readonly made_at: string | null;
  readonly begun_at: string;
  readonly begun_by: string;
  readonly whole_at: string | null;
}

export interface EntryRead {
  readonly kind: string;
  readonly record: string;
  readonly version: number;
  readonly by: string;
  readonly by_name: string;
  readonly device: string;
  readonly at: string;
  readonly device_at: string | null;
  readonly entered_from: "" | "screen" | "paper";
}

export interface CorrectionRead {
  readonly record: string;
  readonly field: string;
  readonly old: string;
  readonly new: string;
  readonly by: string;
  readonly by_name: string;
  readonly at: string;
  readonly why: string;
}

export interface HistoryRead {
  readonly entries: readonly EntryRead[];
  readonly corrections: readonly CorrectionRead[];
}

export interface RoleHeldRead {
  readonly authority: string;
  readonly role: string;
  readonly first_day: string;
  readonly last_day: string;
}

export interface PersonRead {
  readonly id: string;
  readonly name: string;
  readonly login: string;
  readonly roles: readonly string[];
  readonly held: readonly RoleHeldRead[];
}

export interface SiteRead {
  readonly id: string;
  readonly name: string;
}

export interface DeviceRead {
  readonly id: string;
  readonly name: string;
  readonly person: string;
  readonly person_name: string;
  readonly enrolled_at: string;
  readonly last_seen_at: string | null;
  readonly revoked_at: string | null;
  readonly clock_fast_s: number | null;
  readonly signed_in: boolean;
}

export interface EnrolmentRead {
  readonly code: string;
  readonly qr: string;
  readonly ends_at: string;
  readonly person: string;
  readonly login: string;
}

export interface UnresolvedRead {
  readonly condition: string;
  readonly outcome: "broken" | "open";
  readonly sentence: string;
  readonly settle: string;
}

export interface DraftRead {
  readonly authority: string;
  readonly as_of: string;
  readonly revision: number;
  readonly replaces: string;
  readonly conditions: readonly string[];
  readonly unresolved: readonly UnresolvedRead[];
  readonly changes: readonly string[];
}

export interface ReportRead {
  readonly id: string;
  readonly authority: string;
  readonly condition: string;
  readonly revision: number;
  readonly replaces: string;
  readonly filing: string;
  readonly snapshot_sha256: string;
  readonly pdf_sha256: string;
  readonly certified_name: string;
  readonly certified_title: string;
  readonly filed_by: string;
  readonly filed_by_name: string;
  readonly filed_at: string;
  readonly changes: string;
  readonly unresolved: readonly UnresolvedRead[];
  readonly affected: boolean;
  readonly since: readonly string[];
}

export interface ReportsRead {
  readonly total: number;
  readonly reports: readonly ReportRead[];
}

export interface CertifiedSent {
  readonly name: string;
  readonly title: string;
}

export interface FilingSent extends CertifiedSent {
  readonly condition: string;
}

export interface ChangedRead {
  readonly seq: number;
  readonly kind: string;
  readonly id: string;
  readonly version: number;
  readonly trip: string;
  readonly at: string;
  readonly code: string;
  readonly parent: string;
  readonly record: Readonly<Record<string, unknown>> | null;
}

export interface OperationSent {
  readonly id: string;
  readonly kind: string;
  readonly record: Readonly<Record<string, unknown>>;
  readonly parent: string;
  readonly based_on: number | null;
  readonly why: string;
  readonly device_clock: null;
  readonly entered_from: null;
}

export interface PushSent {
  readonly protocol: number;
  readonly operations: readonly OperationSent[];
  readonly device_time: null;
}

export interface PushRead {
  readonly answers: readonly ToldRead[];
  readonly server_time: string;
}

export interface PullRead {
  readonly changes: readonly ChangedRead[];
  readonly cursor: number;
  readonly more: boolean;
}
