/** Animals and material, each where counts stand: no amount is shown as nothing, and none as animals. */
import { describe, expect, test } from "vitest";
import { amountWords, isMeasured, materialWords, measuredWords } from "./amounts";
import { rowsOf, type Line } from "./tally";

const line = (more: object): Line => ({ id: String(Math.random()), taxon: "sand", fate: "kept", ...more });
const animals = (count: unknown, more: object = {}): Line => line({ taxon: "Palaemon serenus", unit: "individuals", count, ...more });

describe("what stands in lines", () => {
  test.each([
    [[line({ count: "2 shell crate" })], "2 shell crate"],
    [[line({ count: "2 shell crate" }), line({ count: "1 shell crate" }), line({ count: "3.5 L" })], "3 shell crate + 3.5 L"],
    // Exact: floating point would say 0.30000000000000004.
    [[line({ count: "0.1 L" }), line({ count: "0.2 L" })], "0.3 L"],
    // As it comes back from the server: litres, with the words it was measured in beside them.
    [[line({ count: 48, unit: "L", measured_as: "2 shell crate" }), line({ count: "1 shell crate" })], "3 shell crate"],
    [[line({ count: { low: "7/2", best: "7/2", high: "7/2" }, unit: "L" })], "3.5 L"],
    [[line({ count: { low: 3, best: 4, high: 5 }, unit: "L" })], "about 4 L"],
    [[line({ count: "about 2 L" }), line({ count: "500 g" })], "about 2 L + 500 g"],
    // Written in a way that is not summed here: told as it is.
    [[line({ count: "2-3 L" }), line({ count: "1 L" })], "1 L + 2-3 L"],
    [[animals(3), animals({ low: 30, best: 40, high: 50 })], "about 43"],
    [[animals(3), line({ count: "500 g" })], "3 + 500 g"],
    [[animals(0), line({ count: "500 g" }), undefined], "500 g"],
    // Taken back after it was sent: the line stands with nothing in it.
    [[line({ count: 0, unit: "L" }), line({ count: "1 L" })], "1 L"],
    [[line({ count: 0, unit: "L" })], "0"],
    [[undefined], "0"],
    [[], "0"],
  ] as [(Line | undefined)[], string][])("%j reads “%s”", (lines, words) => expect(amountWords(lines)).toBe(words));

  test("of animals nothing is measured", () => {
    expect(measuredWords([animals(3)])).toBe("");
    expect([isMeasured(rowsOf([animals(3)])[0]!), isMeasured(rowsOf([line({ count: "1 L" })])[0]!)]).toEqual([false, true]);
  });

  test("material is told kind by kind, as taken and put back", () => {
    const rows = rowsOf([
      animals(3),
      line({ count: "1 L" }),
      line({ count: "2.5 L" }),
      line({ count: "1 L", fate: "released" }),
      line({ taxon: "shell, clean", count: "2 shell crate" }),
    ]);
    expect(materialWords(rows)).toEqual(["sand: 3.5 L taken, 1 L put back", "shell, clean: 2 shell crate taken"]);
    expect(materialWords(rowsOf([animals(3), line({ count: 0, unit: "L" })]))).toEqual([]);
  });
});
