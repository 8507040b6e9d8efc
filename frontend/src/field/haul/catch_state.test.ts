/** The rows of a catch screen: each has one place, and nothing that comes in later moves it. */
import { beforeAll, expect, test } from "vitest";
import { rowKey, rowsOf, type Line } from "../../core/tally";
import { CatchState } from "./catch_state.svelte";

const CRAB = "Paragrapsus gaimardii";
const SHRIMP = "Palaemon serenus";

beforeAll(() => {
  // The checks' thread, which answers nothing here.
  globalThis.Worker = class {
    addEventListener(): void {}
    postMessage(): void {}
    terminate(): void {}
  } as unknown as typeof Worker;
});

const state = (): CatchState => new CatchState(() => undefined);
const keys = (of: CatchState): string[] => of.order.map((one) => one.key);
const line = (id: string, more: object = {}): Line => ({ id, taxon: CRAB, fate: "kept", count: 1, ...more });

test("a kind that had two rows before, as of both sexes, comes up once", () => {
  const shown = state();
  shown.suggest([CRAB, CRAB, SHRIMP]);
  expect(shown.order.map((one) => one.name.taxon)).toEqual([CRAB, SHRIMP]);
  expect(new Set(keys(shown)).size).toBe(2);
});

test("two lines of one name and fate, as two phones may write them, are two rows with a key each", () => {
  const shown = state();
  shown.place(rowsOf([line("a"), line("b")]));
  expect(new Set(keys(shown)).size).toBe(2);
});

test("a row that was touched stays where it is, and a new one comes on top", () => {
  const shown = state();
  shown.suggest([SHRIMP, CRAB]);
  shown.place(rowsOf([line("a")]));
  expect(shown.order.map((one) => one.name.taxon)).toEqual([SHRIMP, CRAB]);
  shown.place(rowsOf([line("a"), line("b", { sex: "female" })]));
  expect(shown.order.map((one) => [one.name.taxon, one.name.sex])).toEqual([[CRAB, "female"], [SHRIMP, ""], [CRAB, ""]]);
});

test("an empty row whose kind is told stays one row: stage and then sex are one animal's", () => {
  const shown = state();
  shown.place(rowsOf([line("a")]));
  const told = { ...shown.order[0]!.name, stage: "berried" };
  shown.putOnTop(told);
  shown.renameEmpty(rowKey(told), { ...told, sex: "female" });
  expect(shown.order.map((one) => [one.name.stage, one.name.sex])).toEqual([["berried", "female"], ["", ""]]);
  // Back to what stands already: the empty row goes.
  shown.renameEmpty(shown.order[0]!.key, { ...told, stage: "" });
  expect(shown.order.map((one) => [one.name.stage, one.name.sex])).toEqual([["", ""]]);
});
