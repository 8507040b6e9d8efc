import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { HaulAnswer, Question } from "./answers";
import { Asking } from "./asking";
import type { Asked } from "./thread";

const NOTHING: HaulAnswer = { left: {}, told: [], often: [], problems: [] };
const about = (haul: string): Question => ({ trip: "trip", haul, names: {}, at: 0 });

/** A thread that answers when it is told to. */
class Thread {
  static made: Thread;
  readonly asked: Asked[] = [];
  stopped = false;
  private heard: Record<string, (event: { data: unknown }) => void> = {};

  constructor() {
    Thread.made = this;
  }

  addEventListener(kind: string, hear: (event: { data: unknown }) => void): void {
    this.heard[kind] = hear;
  }

  postMessage(asked: Asked): void {
    this.asked.push(asked);
  }

  terminate(): void {
    this.stopped = true;
  }

  answer(ask: number): void {
    this.heard["message"]?.({ data: { ask, answer: NOTHING } });
  }

  fail(): void {
    this.heard["error"]?.({ data: null });
  }
}

let told: string[] = [];
let asking: Asking;
beforeEach(() => {
  vi.useFakeTimers();
  vi.stubGlobal("Worker", Thread);
  told = [];
  asking = new Asking((_answer, question) => told.push(question.haul));
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

const asked = (): string[] => Thread.made.asked.map((one) => one.question.haul);

test("the first question goes at once", () => {
  asking.ask(about("first"));
  expect(asked()).toEqual(["first"]);
});

test("of the questions while an answer is made only the newest is asked, a moment later", () => {
  asking.ask(about("first"));
  asking.ask(about("second"));
  asking.ask(about("third"));
  Thread.made.answer(1);
  expect(told).toEqual(["first"]);
  expect(asked()).toEqual(["first"]);
  vi.advanceTimersByTime(300);
  expect(asked()).toEqual(["first", "third"]);
});

test("quick touches are one question, asked within a quarter of a second, not put off by each touch", () => {
  asking.ask(about("first"));
  Thread.made.answer(1);
  for (const touch of ["a", "b", "c"]) {
    asking.ask(about(touch));
    vi.advanceTimersByTime(80);
  }
  expect(asked()).toEqual(["first", "c"]);
});

test("after a failure of the thread the next question is asked all the same", () => {
  asking.ask(about("first"));
  asking.ask(about("second"));
  Thread.made.fail();
  vi.advanceTimersByTime(300);
  expect(told).toEqual([]);
  expect(asked()).toEqual(["first", "second"]);
});

test("a screen that is left asks nothing any more", () => {
  asking.ask(about("first"));
  Thread.made.answer(1);
  asking.ask(about("second"));
  asking.stop();
  vi.advanceTimersByTime(300);
  expect(asked()).toEqual(["first"]);
  expect(Thread.made.stopped).toBe(true);
});
