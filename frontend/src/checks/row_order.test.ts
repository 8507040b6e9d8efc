/** The order of rows against the cases that the core's own test reads. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { instant } from "./calendar";
import type { Condition } from "./conditions";
import { namedIn, rowOrder } from "./row_order";
import { Taxa } from "./taxa";

interface Case {
  readonly name: string;
  readonly taxa: Record<string, string | null>;
  readonly lines: { taxon: string; at: string }[];
  readonly groups: Record<string, string[]>;
  readonly conditions: Condition[];
  readonly order: string[];
}

const file = join(import.meta.dirname, "../../../tests/domain/row_order_cases.json");
const cases = (JSON.parse(readFileSync(file, "utf-8")) as { cases: Case[] }).cases;

describe("rows come in the order worked out by hand", () => {
  test.each(cases)("$name", ({ taxa, lines, groups, conditions, order }) => {
    const tree = new Taxa(Object.entries(taxa).map(([id, parent]) => ({ id, rank: "species", parent })));
    const named = namedIn(conditions, new Map(Object.entries(groups).map(([id, names]) => [id, { taxa: names }])));
    const caught = lines.map(({ taxon, at }) => ({ taxon, at: instant(at, "UTC") }));
    expect(rowOrder((taxon) => tree.lineage(taxon), caught, named)).toEqual(order);
  });
  test("there are cases", () => expect(cases.length).toBeGreaterThan(5));
});
