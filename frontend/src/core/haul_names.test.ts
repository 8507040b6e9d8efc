/** A haul keeps the name it was first shown under. */
import { expect, test } from "vitest";
import { withNames, type Unnamed } from "./haul_names";

const haul = (id: string, code = ""): Unnamed => ({ id, code, set: false });
const set = (id: string, code = ""): Unnamed => ({ id, code, set: true });

test("the hauls of a trip are numbered in the order in which they were made", () => {
  expect(withNames({}, [haul("b"), set("c"), haul("a")])).toEqual({ a: "Haul 1", b: "Haul 2", c: "Set 3" });
});

test("a name stays when a haul is added, a set is lifted, or the server gives a code", () => {
  const first = withNames({}, [haul("a"), set("b")]);
  const later = withNames(first, [haul("a", "K28-10-2"), haul("b", "K28-10-1"), haul("c")]);
  expect(later).toEqual({ a: "Haul 1", b: "Set 2", c: "Haul 3" });
});

test("one of another phone that was made in between moves nothing, and is called by its code", () => {
  const first = withNames({}, [haul("a"), haul("c")]);
  expect(withNames(first, [haul("a"), haul("b", "K28-10-3"), haul("c"), haul("d")])).toEqual({ a: "Haul 1", b: "K28-10-3", c: "Haul 2", d: "Haul 4" });
});

test("a number that was given once is not given again when its haul is gone", () => {
  expect(withNames({ a: "Haul 1", gone: "Haul 2" }, [haul("a"), haul("z")])).toMatchObject({ z: "Haul 3" });
});
