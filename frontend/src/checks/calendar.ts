/**
 * Days, months, permit years and ranges of dates, in the authority's own zone.
 *
 * An instant is milliseconds since 1970 in UTC; a day is a local date, as the number of days since 1970-01-01. A clock
 * change loses and doubles no hour, since the local date of an instant is unambiguous.
 */
export type Instant = number;
export type Day = number;

export const MINUTE = 60_000;
export const HOUR = 60 * MINUTE;
const DAY_LENGTH = 24 * HOUR;
const QUARTER = 15 * MINUTE;

export const WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"] as const;
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const LONG_MONTHS = [
  "January",
  "February",
  "March",
  "April",
  "May",
  "June",
  "July",
  "August",
  "September",
  "October",
  "November",
  "December",
];

interface Zone {
  readonly clock: Intl.DateTimeFormat;
  readonly offsets: Map<number, number>;
}

const ZONES = new Map<string, Zone>();

function zoneNamed(name: string): Zone {
  let zone = ZONES.get(name);
  if (zone === undefined) {
    try {
      const clock = new Intl.DateTimeFormat("en-US", {
        timeZone: name,
        calendar: "gregory",
        numberingSystem: "latn",
        hourCycle: "h23",
        year: "numeric",
        month: "numeric",
        day: "numeric",
        hour: "numeric",
        minute: "numeric",
        second: "numeric",
        era: "short",
      });
      zone = { clock, offsets: new Map() };
    } catch {
      throw new RangeError(`'${name}' is not a time zone; write one as in 'Pacific/Auckland' or 'UTC'`);
    }
    ZONES.set(name, zone);
  }
  return zone;
}

/** Give by how many milliseconds a zone's clocks stood ahead of UTC at an instant. */
export function offsetAt(at: Instant, name: string): number {
  const zone = zoneNamed(name);
  // Clocks have changed on a quarter of an hour everywhere since long before anything that is recorded here.
  const quarter = Math.floor(at / QUARTER);
  let offset = zone.offsets.get(quarter);
  if (offset === undefined) {
    offset = readClock(zone.clock, quarter * QUARTER) - quarter * QUARTER;
    zone.offsets.set(quarter, offset);
  }
  return offset;
}

function readClock(clock: Intl.DateTimeFormat, at: Instant): number {
  const read: Record<string, string> = {};
  for (const part of clock.formatToParts(at)) read[part.type] = part.value;
  const part = (name: string): number => Number(read[name]);
  return Date.UTC(part("year"), part("month") - 1, part("day"), part("hour"), part("minute"), part("second"));
}

export function localDay(at: Instant, zone: string): Day {
  return Math.floor((at + offsetAt(at, zone)) / DAY_LENGTH);
}

const TIME = /^(\d{4}-\d\d-\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?)?(Z|[+-]\d\d:?\d\d(?::\d\d)?)?$/;

interface WrittenTime {
  readonly wall: number;
  readonly offset: number | null;
}

/** Read a date and time as it is written: where a clock would stand, and its offset if one is given. */
export function writtenTime(text: string): WrittenTime {
  const found = TIME.exec(text.trim());
  const [hours, minutes, seconds] = [found?.[2], found?.[3], found?.[4]].map((part) => Number(part ?? 0));
  if (found?.[1] === undefined || (hours ?? 0) > 23 || (minutes ?? 0) > 59 || (seconds ?? 0) > 59) {
    throw new RangeError(`'${text}' is not a date and time; write 2027-06-11T21:30`);
  }
  const wall =
    parseDay(found[1]) * DAY_LENGTH +
    (hours ?? 0) * HOUR +
    (minutes ?? 0) * MINUTE +
    (seconds ?? 0) * 1000 +
    Number(`0.${found[5] ?? "0"}`) * 1000;
  return { wall, offset: found[6] === undefined ? null : readOffset(found[6]) };
}

function readOffset(text: string): number {
  if (text === "Z") return 0;
  const digits = text.slice(1).replaceAll(":", "");
  const size =
    Number(digits.slice(0, 2)) * HOUR + Number(digits.slice(2, 4)) * MINUTE + Number(digits.slice(4, 6) || 0) * 1000;
  return text.startsWith("-") ? -size : size;
}

/**
 * Read a local date and time or one with an offset.
 *
 * Throws RangeError for a local time that a clock change skipped, and for one that came twice (an offset settles it).
 */
export function instant(text: string, zone: string): Instant {
  const { wall, offset } = writtenTime(text);
  if (offset !== null) return wall - offset;
  const candidates = instantsOf(wall, zone);
  if (candidates.length === 0) {
    throw new RangeError(`'${text}' did not exist in ${zone}: clocks were put forward; correct the time`);
  }
  if (candidates.length > 1) {
    throw new RangeError(`'${text}' came twice in ${zone} when clocks were put back; write it with its offset`);
  }
  return candidates[0] ?? 0;
}

/** Give every instant at which a zone's clocks stood at `wall`, in order: none, one or two. */
function instantsOf(wall: number, zone: string): Instant[] {
  const offsets = new Set([offsetAt(wall - DAY_LENGTH, zone), offsetAt(wall + DAY_LENGTH, zone)]);
  return [...offsets]
    .map((offset) => wall - offset)
    .filter((at) => at + offsetAt(at, zone) === wall)
    .sort((first, second) => first - second);
}

/** Give the instant of a local clock time: the first of two, and for one that was skipped by the clock before it. */
export function atWall(wall: number, zone: string): Instant {
  return instantsOf(wall, zone)[0] ?? wall - offsetAt(wall - DAY_LENGTH, zone);
}

export function atClock(day: Day, zone: string, sinceMidnight = 0): Instant {
  return atWall(day * DAY_LENGTH + sinceMidnight, zone);
}

export function startOfDay(day: Day, zone: string): Instant {
  return atClock(day, zone);
}

/** Give the instant at which the next local day begins (the day does not include it). */
export function endOfDay(day: Day, zone: string): Instant {
  return startOfDay(day + 1, zone);
}

export interface Civil {
  readonly year: number;
  readonly month: number;
  readonly day: number;
}

export function civil(day: Day): Civil {
  const date = new Date(day * DAY_LENGTH);
  return { year: date.getUTCFullYear(), month: date.getUTCMonth() + 1, day: date.getUTCDate() };
}

export function dayOf(year: number, month: number, day: number): Day {
  return Date.UTC(year, month - 1, day) / DAY_LENGTH;
}

const DATE = /^(\d{4})-(\d{2})-(\d{2})$/;

/** Read "YYYY-MM-DD"; throws RangeError. */
export function parseDay(text: string): Day {
  const found = DATE.exec(text);
  const day = found === null ? Number.NaN : dayOf(Number(found[1]), Number(found[2]), Number(found[3]));
  if (Number.isNaN(day) || isoDay(day) !== text) throw new RangeError(`'${text}' is not a date; write YYYY-MM-DD`);
  return day;
}

export function isoDay(day: Day): string {
  const { year, month, day: date } = civil(day);
  return `${String(year).padStart(4, "0")}-${String(month).padStart(2, "0")}-${String(date).padStart(2, "0")}`;
}

export function weekday(day: Day): (typeof WEEKDAYS)[number] {
  // 1970-01-01 was a Thursday.
  return WEEKDAYS[(((day + 3) % 7) + 7) % 7] ?? "Monday";
}

type MonthDay = readonly [month: number, day: number];
const MONTH_DAY = /^(\d{2})-(\d{2})$/;

/** Read "MM-DD"; throws RangeError. 29 February is allowed. */
export function parseMonthDay(text: string): MonthDay {
  const found = MONTH_DAY.exec(text);
  const [month, day] = [Number(found?.[1] ?? 0), Number(found?.[2] ?? 0)];
  const read = civil(dayOf(2024, month, day));
  if (read.month !== month || read.day !== day) throw new RangeError(`'${text}' is not a day of the year; write MM-DD, as 07-01`);
  return [month, day];
}

/** Give that day in a year; 29 February becomes 28 February where there is none. */
export function onDay([month, day]: MonthDay, year: number): Day {
  const found = dayOf(year, month, day);
  return civil(found).month === month ? found : found - 1;
}

export function permitYearStart(day: Day, starts: MonthDay): Day {
  const { year } = civil(day);
  const start = onDay(starts, year);
  return day >= start ? start : onDay(starts, year - 1);
}

/** Dates from one to another, each year ("MM-DD", also over the turn of the year) or once ("YYYY-MM-DD"). */
export interface DateRange {
  readonly first: string;
  readonly last: string;
  readonly first_included?: boolean;
  readonly last_included?: boolean;
  readonly name?: string;
}

/** Give the first and last day included of the occurrence that holds, or last began before, a day. */
export function spanOf(range: DateRange, day: Day): readonly [Day, Day] {
  let first: Day;
  let last: Day;
  if (MONTH_DAY.test(range.first)) {
    const [starts, ends] = [parseMonthDay(range.first), parseMonthDay(range.last)];
    first = permitYearStart(day, starts);
    last = onDay(ends, civil(first).year);
    if (last < first) last = onDay(ends, civil(first).year + 1);
  } else {
    [first, last] = [parseDay(range.first), parseDay(range.last)];
  }
  return [range.first_included === false ? first + 1 : first, range.last_included === false ? last - 1 : last];
}

export function holds(range: DateRange, day: Day): boolean {
  const [first, last] = spanOf(range, day);
  return first <= day && day <= last;
}

/** Give a date as people read it: 11 Jun 2027. */
export function spokenDay(day: Day): string {
  const { year, month, day: date } = civil(day);
  return `${date} ${MONTHS[month - 1]} ${year}`;
}

/** Give a month as people read it: June 2027. */
export function spokenMonth(day: Day): string {
  const { year, month } = civil(day);
  return `${LONG_MONTHS[month - 1]} ${year}`;
}

/** Give an instant as people read it in a zone: 11 Jun 2027 21:30. */
export function spokenTime(at: Instant, zone: string): string {
  const wall = at + offsetAt(at, zone);
  const minutes = Math.floor((wall - Math.floor(wall / DAY_LENGTH) * DAY_LENGTH) / MINUTE);
  const clock = `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
  return `${spokenDay(Math.floor(wall / DAY_LENGTH))} ${clock}`;
}
