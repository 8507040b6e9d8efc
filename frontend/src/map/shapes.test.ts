/** What areas look like on a map. */
import { expect, test } from "vitest";
import type { Geometry } from "../checks/places/areas";
import { groundOf, LEGEND, type AreaGiven } from "./shapes";

const SQUARE: Geometry = { type: "Polygon", coordinates: [[[0, 0], [1, 0], [1, 1], [0, 0]]] };
const POINT: Geometry = { type: "Point", coordinates: [0, 0] };
const area = (id: string, kind: string, geometry: Geometry = SQUARE): AreaGiven => ({ id, name: id, kind, geometry });

test("conditions decide what an area is, its kind where none names it, and what is neither is left out", () => {
  const areas = [
    area("bay", "feature"), area("creek", "permitted"), area("marsh", "closed"), area("roost", "feature"), area("pipe", "feature", POINT),
    area("coast", "shoreline"), area("sea", "water"), area("survey", "boundary"), area("weir", "closed"),
  ];
  const looks = groundOf(areas, [
    { kind: "area", where: "inside", areas: ["bay"] },
    { kind: "area", where: "outside", areas: ["marsh"], dates: [{ first: "09-01", last: "03-31" }] },
    { kind: "area", where: "keep away", areas: ["roost", "pipe"] },
    { kind: "take limit", areas: ["sea"] },
  ]);
  expect(Object.fromEntries(looks.map((one) => [one.id, one.look]))).toEqual({
    bay: "permitted", creek: "permitted", marsh: "conditional", roost: "conditional", pipe: "feature", coast: "land", sea: "water", weir: "closed",
  });
});

test("the legend has words for every look but plain water, each once", () => {
  const keys = LEGEND.map(([look]) => look);
  expect(new Set(keys).size).toBe(keys.length);
  for (const look of ["permitted", "closed", "conditional", "feature", "land"]) expect(keys).toContain(look);
  expect(LEGEND.every(([, words]) => words.length > 3)).toBe(true);
});
