/** What is known of a kind on the phone, by the sample season's permit and names (sample_trips/STORY.md). */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import type { Taxon } from "../checks/taxa";
import { Kinds } from "./kinds";
import { measuresOf } from "./permit_lists";

const read = (name: string): never => JSON.parse(readFileSync(join(import.meta.dirname, "../../../sample_trips", name), "utf-8")) as never;
const LIST = (read("taxa.json") as { taxa: Taxon[] }).taxa;
const kinds = new Kinds(LIST);
const clauses = kinds.clausesAt(read("next-season/authority-3-collecting-permit.json"), Date.parse("2028-07-14T02:00:00Z"));

// "Blue-ringed octopuses are not to be handled" (3.9), "Listed fishes (Schedule 1) are not to be kept" (3.8).
test.each([
  ["Hapalochlaena maculosa", ["3.9"]],
  ["Hapalochlaena", ["3.9"]],
  ["Prototroctes maraena", ["3.8"]],
  ["Rhombosolea tapirina", []],
  ["sand", []],
  // Among all animals there are prohibited ones, and nobody learns anything from that.
  ["Animalia", []],
  ["no such name", []],
])("of %s the cautions are %j", (taxon, numbers) => {
  expect(kinds.cautionsFor(clauses, taxon).map((one) => one.number)).toEqual(numbers);
});

test("a caution has the words as issued", () => {
  expect(kinds.cautionsFor(clauses, "Hapalochlaena maculosa")[0]?.text).toBe("Blue-ringed octopuses are not to be handled.");
});

test.each([
  ["Paragrapsus gaimardii", true],
  ["Palaemon serenus", true],
  ["Rhombosolea tapirina", false],
  ["Ostrea angasi", false],
  // Nothing is known of it: anything may be.
  ["Animalia", true],
  ["no such name", true],
])("%s may be berried: %s", (taxon, may) => {
  expect(kinds.stagesFor(clauses, taxon).includes("berried")).toBe(may);
  expect(kinds.stagesFor(clauses, taxon)).toEqual(expect.arrayContaining(["juvenile", "adult"]));
});

test("an animal of which only its phylum is known may be berried where that phylum holds crabs", () => {
  expect(["Arthropoda", "Mollusca"].map((taxon) => kinds.stagesFor(clauses, taxon).includes("berried"))).toEqual([true, false]);
});

test("the measures of a kind are those of its own clauses first: a species under its genus, no other that begins alike", () => {
  // 3.3 is of Platycephalus, total length; 3.5 of Ovalipes australiensis, carapace width or weight.
  expect(measuresOf(kinds.clausesFor(clauses, "Ovalipes australiensis")).slice(0, 2)).toEqual(["carapace width", "weight"]);
  expect(measuresOf(kinds.clausesFor(clauses, "Rhombosolea tapirina"))[0]).toBe("total length");
});

test("a list in which a parent is missing still tells each kind for itself", () => {
  const alone = new Kinds([{ id: "Hapalochlaena", rank: "genus", parent: "Octopodidae" }]);
  expect(alone.cautionsFor(clauses, "Hapalochlaena").map((one) => one.number)).toEqual(["3.9"]);
});
