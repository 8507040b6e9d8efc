/** A clock that is set is noticed; a phone that merely slept is not taken for one (FIELD.md, 6). */
import { beforeEach, expect, test } from "vitest";
import { PhoneClock } from "./clock";

const HOUR = 3_600_000;
let wall: number;
let steady: number;
let clock: PhoneClock;

beforeEach(() => {
  [wall, steady] = [Date.parse("2027-03-10T10:00:00Z"), 500];
  clock = new PhoneClock(() => wall, () => steady);
});

function pass(milliseconds: number): void {
  wall += milliseconds;
  steady += milliseconds;
}

test("time that merely passes is no step, nor is a second's trimming", () => {
  pass(9 * HOUR);
  wall += 1_500;
  expect(clock.steppedBy()).toBe(0);
});

test.each([3 * HOUR, -3 * HOUR])("a clock set by %d ms is noticed", (by) => {
  pass(HOUR);
  wall += by;
  expect(clock.steppedBy()).toBe(by);
  expect(clock.now()).toBe(wall);
});

test("a night in the pocket is sleep where the steady clock stood still", () => {
  pass(HOUR);
  clock.wentAway();
  wall += 8 * HOUR;
  clock.cameBack();
  expect(clock.steppedBy()).toBe(0);
  wall += HOUR;
  expect(clock.steppedBy()).toBe(HOUR);
});

test("a clock that was set back while the app was out of sight is noticed", () => {
  clock.wentAway();
  wall -= 2 * HOUR;
  clock.cameBack();
  expect(clock.steppedBy()).toBe(-2 * HOUR);
});

test("what was noticed before the app went out of sight stays, and coming back twice changes nothing", () => {
  wall += HOUR;
  clock.wentAway();
  wall += HOUR;
  clock.cameBack();
  clock.cameBack();
  expect(clock.steppedBy()).toBe(HOUR);
});

test("held against the server's, it counts anew", () => {
  wall += HOUR;
  clock.wasCompared();
  expect(clock.steppedBy()).toBe(0);
  wall -= HOUR;
  expect(clock.steppedBy()).toBe(-HOUR);
});

test("a demo's day is shown without being a step", () => {
  clock.moveBy(400 * 24 * HOUR);
  expect(clock.now()).toBe(wall + 400 * 24 * HOUR);
  expect(clock.steppedBy()).toBe(0);
});
