/**
 * The kinds of condition that the phone judges, in the fields of the authority file, which the server has checked.
 *
 * What each field means is told where the server defines it. A field that is not there says nothing.
 */
import type { DateRange } from "./calendar";
import type { Basis, Holder, Operator, Period } from "./vocabulary";

export interface SizeClass {
  readonly measure: string;
  readonly smallest?: string;
  readonly largest?: string;
  readonly variant?: string;
  readonly smallest_included?: boolean;
  readonly largest_included?: boolean;
}

/** Narrows a condition; every list that is given must fit. What is not recorded may fit. */
export interface Only {
  readonly taxa?: readonly string[];
  readonly stages?: readonly string[];
  readonly sexes?: readonly string[];
  readonly size?: SizeClass | null;
  readonly gear?: readonly string[];
  readonly areas?: readonly string[];
  readonly waters?: readonly string[];
  readonly sites?: readonly string[];
  readonly persons?: readonly string[];
  readonly dates?: readonly DateRange[];
}

interface Common {
  readonly number: string;
  readonly text: string;
  readonly page?: string;
  readonly only?: Only;
}

export interface Bound {
  readonly amount: string;
  readonly period: Period;
  readonly operator?: Operator;
  readonly container?: string;
  readonly times?: string;
  readonly days?: number;
  readonly dates?: DateRange | null;
  readonly years?: number;
}

export interface Part {
  readonly label: string;
  readonly amount: string;
  readonly operator?: Operator;
  readonly taxa?: readonly string[];
  readonly stages?: readonly string[];
  readonly sexes?: readonly string[];
  readonly size?: SizeClass | null;
}

export interface Trigger {
  readonly amount: string;
  readonly period: "calendar year" | "permit year" | "term";
}

/** How a take limit or a prohibition names its animals. */
export interface Naming {
  readonly taxa?: readonly string[];
  readonly group?: string;
  readonly unlisted?: boolean;
}

export interface TakeLimit extends Common, Naming {
  readonly kind: "take limit";
  readonly each?: boolean;
  readonly counts?: Basis;
  readonly holder?: Holder;
  readonly limits: readonly Bound[];
  readonly parts?: readonly Part[];
  readonly crew_cap?: string;
  readonly in_common_with?: readonly string[];
  readonly after?: Trigger | null;
}

export interface SizeRule {
  readonly measure: string;
  readonly variant?: string;
  readonly smallest?: string;
  readonly largest?: string;
  readonly smallest_operator?: "at least" | "more than";
  readonly largest_operator?: "at most" | "less than";
  readonly inside?: boolean;
}

export interface SizeLimit extends Common {
  readonly kind: "size limit";
  readonly taxa: readonly string[];
  readonly rules: readonly SizeRule[];
  readonly counts?: Basis;
  readonly tolerated?: number;
  readonly per?: "haul" | "trip" | "day";
  readonly measure_all?: boolean;
}

export interface StageRule extends Common {
  readonly kind: "stage and sex";
  readonly taxa: readonly string[];
  readonly stages?: readonly string[];
  readonly sexes?: readonly string[];
  readonly counts?: Basis;
  readonly when_not_recorded?: "may be" | "is not";
}

export interface Prohibited extends Common, Naming {
  readonly kind: "prohibited taxon";
  readonly counts?: Basis;
  readonly report_within_hours?: number;
  readonly report_to?: string;
}

export interface GearAllowed {
  readonly gear: string;
  readonly length_max?: string;
  readonly mesh_min?: string;
  readonly mesh_max?: string;
  readonly opening_max?: string;
  readonly together?: number;
  readonly soak_hours?: string;
  readonly check_hours?: string;
  readonly marked?: boolean;
}

export interface GearRule extends Common {
  readonly kind: "gear";
  readonly gear: readonly GearAllowed[];
}

export interface AreaRule extends Common {
  readonly kind: "area";
  readonly where: "inside" | "outside" | "keep away";
  readonly areas: readonly string[];
  readonly distance?: string;
  readonly dates?: readonly DateRange[];
}

export interface SeasonRule extends Common {
  readonly kind: "season";
  readonly open?: readonly DateRange[];
  readonly closed?: readonly DateRange[];
  readonly closed_weekdays?: readonly string[];
  readonly except_dates?: readonly string[];
  readonly ends_before?: string | null;
  readonly ends_before_what?: string;
}

export interface Hours {
  readonly start: string;
  readonly end: string;
  readonly months?: readonly number[];
  readonly gear?: readonly string[];
}

export interface TimeOfDay extends Common {
  readonly kind: "time of day";
  readonly hours: readonly Hours[];
}

/** A kind that the phone does not judge: it is shown in its own words, and the server answers it. */
export interface OtherCondition extends Common {
  readonly kind:
    | "share limit"
    | "people"
    | "notice"
    | "encounter and stop"
    | "disposition"
    | "cleaning"
    | "report"
    | "papers"
    | "holding"
    | "attested";
}

export type JudgedCondition =
  | TakeLimit
  | SizeLimit
  | StageRule
  | Prohibited
  | GearRule
  | AreaRule
  | SeasonRule
  | TimeOfDay;
export type Condition = JudgedCondition | OtherCondition;

export interface HourEnd {
  readonly by: "clock" | "sunrise" | "sunset";
  readonly minutes: number;
}

const SUN = /^(sunrise|sunset)(?:([+-]\d+))?$/;
const CLOCK = /^(\d+):(\d\d)$/;

/** Read one end of hours: "06:30", "sunrise", "sunset-30"; throws RangeError. */
export function readHour(text: string): HourEnd {
  const plain = text.trim().toLowerCase().replaceAll(" ", "");
  const sun = SUN.exec(plain);
  if (sun !== null) return { by: sun[1] as "sunrise" | "sunset", minutes: Number(sun[2] ?? 0) };
  const clock = CLOCK.exec(plain);
  const minutes = Number(clock?.[1] ?? 99) * 60 + Number(clock?.[2] ?? 0);
  if (clock !== null && minutes <= 24 * 60 && Number(clock[2]) < 60) return { by: "clock", minutes };
  throw new RangeError(`'${text}' is not an hour; write '06:30', 'sunrise' or 'sunset-30' (minutes)`);
}

/** Tell whether an `only` narrows anything at all. */
export function narrows(only: Only | undefined): only is Only {
  if (only === undefined) return false;
  return Object.values(only).some((value) => (Array.isArray(value) ? value.length > 0 : value != null));
}
