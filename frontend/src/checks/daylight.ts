/**
 * Sunrise and sunset for a place, its own date and its own zone.
 *
 * The sun's centre at 90 deg 50' from the zenith (34' refraction, 16' radius: US Naval Observatory, Almanac for
 * Computers 1990), by the same low-precision solar equations as the server (Meeus, as the NOAA calculator uses them), so
 * that both answer alike. Almanacs, hills and the air of the day differ by a minute or so, hence `MARGIN`.
 */
import { HOUR, localDay, MINUTE, startOfDay, type Day, type Instant } from "./calendar";
import { degrees, radians } from "./places/ellipsoid";

/** How near to sunrise or sunset a moment may be before it is too close to call. */
export const MARGIN = 2 * MINUTE;

const HORIZON = -(50 / 60);
const SUN_RADIUS = 32 / 120;
/** The degrees by which the air lifts the sun when its centre is half its width below the horizon (Meeus's formula). */
const REFRACTION = ((h) => (1735 + h * (-518.2 + h * (103.4 + h * (-12.79 + h * 0.711)))) / 3600)(-SUN_RADIUS);
const STEEPEST = 89.8;
const DAY_MINUTES = 1440;

export interface Daylight {
  readonly sunrise: Instant | null;
  readonly sunset: Instant | null;
  readonly state: "rises and sets" | "never sets" | "never rises";
}

/** Give the sun's events of a local date at a place in degrees; null where the event does not happen. */
export function daylight(lat: number, lon: number, day: Day, zone: string): Daylight {
  const sunrise = eventOn(lat, lon, day, zone, 1);
  const sunset = eventOn(lat, lon, day, zone, -1);
  const state = sunrise === null && sunset === null ? unbroken(lat, lon, day, zone) : "rises and sets";
  return { sunrise, sunset, state };
}

/** Give the event of the local date: of the UTC day of that date, or of a neighbour where the zone moves it. */
function eventOn(lat: number, lon: number, day: Day, zone: string, direction: 1 | -1): Instant | null {
  const first = transit(lat, lon, day, direction);
  if (first === null) return null;
  const found = localDay(first, zone);
  if (found === day) return first;
  const second = transit(lat, lon, found < day ? day + 1 : day - 1, direction);
  return second !== null && localDay(second, zone) === day ? second : null;
}

/** Give when the sun's upper edge crosses the horizon on a UTC day, to about a minute; null where it does not. */
function transit(lat: number, lon: number, day: Day, direction: 1 | -1): Instant | null {
  const latitude = radians(Math.min(Math.max(lat, -STEEPEST), STEEPEST));
  const zenith = radians(90 + SUN_RADIUS + REFRACTION);
  let minutes = 0;
  for (let round = 0; round < 2; round++) {
    const century = centuryOf(day + minutes / DAY_MINUTES);
    const declination = radians(declinationAt(century));
    const turn =
      (Math.cos(zenith) - Math.sin(latitude) * Math.sin(declination)) / (Math.cos(latitude) * Math.cos(declination));
    if (Math.abs(turn) > 1) return null;
    let offset = (-lon - degrees(direction * Math.acos(turn))) * 4 - equationOfTime(century);
    if (offset < -DAY_MINUTES / 2) offset += DAY_MINUTES;
    minutes = DAY_MINUTES / 2 + offset;
  }
  return day * DAY_MINUTES * MINUTE + minutes * MINUTE;
}

/** Tell polar day from polar night by the sun's height at each hour of the local date. */
function unbroken(lat: number, lon: number, day: Day, zone: string): Daylight["state"] {
  const start = startOfDay(day, zone);
  const up = Array.from({ length: 24 }, (_none, hour) => heightAt(lat, lon, start + hour * HOUR) > HORIZON);
  if (up.every(Boolean)) return "never sets";
  return up.some(Boolean) ? "rises and sets" : "never rises";
}

/** Give the height of the sun's centre above the horizon in degrees, without refraction. */
export function heightAt(lat: number, lon: number, at: Instant): number {
  const day = Math.floor(at / MINUTE / DAY_MINUTES);
  const minutes = at / MINUTE - day * DAY_MINUTES;
  const century = centuryOf(at / MINUTE / DAY_MINUTES);
  const hourAngle = radians((minutes + equationOfTime(century) + 4 * lon) / 4 - 180);
  const latitude = radians(Math.min(Math.max(lat, -STEEPEST), STEEPEST));
  const declination = radians(declinationAt(century));
  const sine =
    Math.cos(latitude) * Math.cos(declination) * Math.cos(hourAngle) + Math.sin(latitude) * Math.sin(declination);
  return degrees(Math.asin(Math.min(Math.max(sine, -1), 1)));
}

/** Give Julian centuries since 2000 of a time in days since 1970 (which began at Julian day 2440587.5). */
function centuryOf(days: number): number {
  return (days + 2_440_587.5 - 2_451_545) / 36_525;
}

function meanLongitude(century: number): number {
  const found = (280.46646 + century * (36000.76983 + 0.0003032 * century)) % 360;
  return found < 0 ? found + 360 : found;
}

function meanAnomaly(century: number): number {
  return 357.52911 + century * (35999.05029 - 0.0001537 * century);
}

function obliquity(century: number): number {
  const seconds = 21.448 - century * (46.815 + century * (0.00059 - century * 0.001813));
  const mean = 23 + (26 + seconds / 60) / 60;
  return mean + 0.00256 * Math.cos(radians(125.04 - 1934.136 * century));
}

function declinationAt(century: number): number {
  const anomaly = radians(meanAnomaly(century));
  const centre =
    Math.sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century)) +
    Math.sin(2 * anomaly) * (0.019993 - 0.000101 * century) +
    Math.sin(3 * anomaly) * 0.000289;
  const apparent =
    meanLongitude(century) + centre - 0.00569 - 0.00478 * Math.sin(radians(125.04 - 1934.136 * century));
  return degrees(Math.asin(Math.sin(radians(obliquity(century))) * Math.sin(radians(apparent))));
}

/** Give by how many minutes the sun is ahead of a clock that runs even. */
function equationOfTime(century: number): number {
  const longitude = radians(meanLongitude(century));
  const anomaly = radians(meanAnomaly(century));
  const orbit = 0.016708634 - century * (0.000042037 + 0.0000001267 * century);
  const y = Math.tan(radians(obliquity(century)) / 2) ** 2;
  const found =
    y * Math.sin(2 * longitude) -
    2 * orbit * Math.sin(anomaly) +
    4 * orbit * y * Math.sin(anomaly) * Math.cos(2 * longitude) -
    0.5 * y * y * Math.sin(4 * longitude) -
    1.25 * orbit * orbit * Math.sin(2 * anomaly);
  return degrees(found) * 4;
}
