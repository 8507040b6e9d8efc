/** No sentence on a screen names a record by its id. */
import { expect, test } from "vitest";
import { namesOf, withNames, type Nameable } from "./record_names";

const [TRIP, FIRST, SECOND, SENT, LINE, STRANGER] = [1, 2, 3, 4, 5, 6].map((one) => `01ae0c5e-0000-7000-8000-00000000000${one}`) as [string, string, string, string, string, string];

const record = (kind: string, id: string, content: object, more: Partial<Nameable> = {}): Nameable => ({ kind, id, parent: TRIP, code: "", content: { id, ...content }, ...more });

const names = namesOf([
  record("trip", TRIP, { depart: "2028-07-13T22:00:00Z", zone: "Australia/Hobart" }),
  record("haul", SECOND, { start: "2028-07-14T01:00:00Z" }),
  record("haul", FIRST, { start: "2028-07-14T00:00:00Z" }),
  record("haul", SENT, { start: "2028-07-13T23:00:00Z" }, { code: "K28-10-1", parent: "another trip" }),
  record("line", LINE, { taxon: "Palaemon serenus", fate: "kept" }),
]);

test.each([
  [`Haul ${FIRST}: within the area.`, "Haul 1: within the area."],
  [`Haul ${SECOND} on 14 July is outside the term.`, "Haul 2 on 14 July is outside the term."],
  [`Haul ${SENT}, seine: as permitted.`, "Haul K28-10-1, seine: as permitted."],
  // 08:00 on 14 July at the creek, ten hours ahead of UTC (IANA time zone database).
  [`3 measured, 1 outside (trip ${TRIP}).`, "3 measured, 1 outside (the trip of 14 July 2028)."],
  [`The catch line ${LINE} is left out.`, "The catch line “Palaemon serenus, kept” is left out."],
  [`It was entered under the haul '${FIRST}', and stays there.`, "It was entered under the haul 1, and stays there."],
  [`It hangs on ${STRANGER}, trip ${STRANGER}.`, "It hangs on a record that is not on this phone, a trip that is not on this phone."],
  ["Haul K27-05-2: no id here.", "Haul K27-05-2: no id here."],
])("%s", (text, told) => expect(withNames(text, names)).toBe(told));

test("the haul in hand is called so", () => {
  const own = new Map([...names, [FIRST, "this haul"]]);
  expect([withNames(`Haul ${FIRST}: dark.`, own), withNames(`in haul ${FIRST}`, own)]).toEqual(["This haul: dark.", "in this haul"]);
});
