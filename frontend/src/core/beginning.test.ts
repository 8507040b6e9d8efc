/** What is said before a trip starts. */
import { expect, test } from "vitest";
import { warningsOf, type BeginningWith } from "./beginning";

const all: BeginningWith = { crew: 2, permits: 1, papers: { wanted: 1, here: 1 }, left: [] };

test.each([
  [{}, []],
  [{ crew: 1 }, ["You are alone."]],
  [{ crew: 0 }, ["You are alone."]],
  [{ permits: 0, papers: { wanted: 0, here: 0 } }, ["No permit is on this phone"]],
  [{ papers: { wanted: 3, here: 1 } }, ["1 of 3 papers of this permit are on this phone."]],
  [{ papers: { wanted: 0, here: 0 } }, ["The permit's own papers are not on this phone"]],
  [{ left: ["notice", "list of named persons"] }, ["Not ticked as carried: notice, list of named persons."]],
  [{ crew: 1, permits: 0, left: ["notice"] }, ["You are alone.", "No permit", "Not ticked"]],
] as [Partial<BeginningWith>, string[]][])("with %o it says %o", (less, starts) => {
  const told = warningsOf({ ...all, ...less });
  expect(told).toHaveLength(starts.length);
  starts.forEach((start, place) => expect(told[place]).toMatch(new RegExp(`^${start}`)));
});

test("whoever is alone is told to say when they will be back, and whose rules come first", () => {
  const [alone] = warningsOf({ ...all, crew: 1 });
  expect(alone).toContain("the time you will be back");
  expect(alone).toContain("rules of the place come first");
});
