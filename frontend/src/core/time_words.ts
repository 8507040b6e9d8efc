/** Times and ages as people read them. */

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** How long ago, or how long: "less than a minute", "4 min", "3 h 10 min", "2 days". */
export function ageWords(milliseconds: number): string {
  const age = Math.max(0, milliseconds);
  if (age < MINUTE) return "less than a minute";
  if (age < HOUR) return `${Math.floor(age / MINUTE)} min`;
  if (age < DAY) {
    const minutes = Math.floor((age % HOUR) / MINUTE);
    return minutes === 0 ? `${Math.floor(age / HOUR)} h` : `${Math.floor(age / HOUR)} h ${minutes} min`;
  }
  const days = Math.floor(age / DAY);
  return days === 1 ? "1 day" : `${days} days`;
}

/** The time of day in a zone: "06:40". */
export function clockWords(at: number, zone: string): string {
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(at);
}

/** The day in a zone: "14 July 2028". */
export function dayWords(at: number, zone: string): string {
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "long", year: "numeric" }).format(at);
}

/** The day in a zone as permits write it: "2028-07-14". */
export function dayText(at: number, zone: string): string {
  return new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short" }).format(at);
}

/** By how much a clock is off: "3 h fast", "40 s slow"; "" within five seconds. */
export function clockOffWords(aheadSeconds: number | null): string {
  if (aheadSeconds === null || Math.abs(aheadSeconds) < 5) return "";
  const size = Math.abs(aheadSeconds);
  const words = size < 60 ? `${size} s` : ageWords(size * 1000);
  return `${words} ${aheadSeconds > 0 ? "fast" : "slow"}`;
}

/** A moment as a field of date and time holds it, in a zone: "2028-07-14T06:40". */
export function localTime(at: number, zone: string): string {
  return new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short", timeStyle: "short" }).format(at).replace(" ", "T");
}
