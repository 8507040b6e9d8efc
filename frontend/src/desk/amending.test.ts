/** What the desk adds to records: the whole record as it stands, with one thing changed, as an operation. */
import { expect, test } from "vitest";
import { amendmentOf, checkAnswer, withCleaning, withConsent, withLook, withName, withStatement } from "./amending";
import type { ChangedRead, ToldRead } from "./answers";

const AT = Date.parse("2027-03-10T04:00:00Z");
const HELD: ChangedRead = {
  seq: 9, kind: "line", id: "l", version: 4, trip: "t", at: "", code: "K-1-a", parent: "h", record: { id: "l", taxon: "Gobiidae", note: "small" },
};

test("an operation bears the whole record, the version it is based on, its parent and the reason", () => {
  expect(amendmentOf(HELD, withName("Galaxias maculatus", ""), "fin rays", "op")).toEqual({
    id: "op", kind: "line", record: { id: "l", taxon: "Galaxias maculatus", note: "small" }, parent: "h", based_on: 4, why: "fin rays",
    device_clock: null, entered_from: null,
  });
});

test("a name takes the place of the one before with its doubt and its alternatives", () => {
  const before = { taxon: "Galaxias", doubt: "?", one_of: ["a", "b"], count: 2 };
  expect(withName("Galaxias maculatus", "")(before)).toEqual({ taxon: "Galaxias maculatus", count: 2 });
  expect(withName("Galaxias maculatus", "cf.")(before)).toEqual({ taxon: "Galaxias maculatus", count: 2, doubt: "cf." });
});

test("a statement, a look and a cleaning join those that are there", () => {
  const said = { authority: "permit", condition: "9", person: "ann", at: AT, kept: "kept", reason: "" } as const;
  expect(withStatement(said)({ id: "t", attestations: ["before"] })).toEqual({
    id: "t", attestations: ["before", { authority: "permit", condition: "9", person: "ann", at: "2027-03-10T04:00:00Z", kept: "kept" }],
  });
  expect(withLook(AT)({ checks: ["2027-03-10T05:00:00Z"] })).toEqual({ checks: ["2027-03-10T04:00:00Z", "2027-03-10T05:00:00Z"] });
  expect(withCleaning({ at: AT, done: true, method: "hot water", minutes: "", gear: "seine", person: "", note: "" })({})).toEqual({
    cleanings: [{ at: "2027-03-10T04:00:00Z", method: "hot water", done: true, gear: "seine" }],
  });
  expect(withConsent("letter 4")({ id: "m" })).toEqual({ id: "m", consent: "letter 4" });
});

test("an answer that is no yes is told in words", () => {
  const told: ToldRead = { id: "op", answer: "stored", version: 5, code: "", problems: [], conflict: "" };
  expect(() => checkAnswer(told)).not.toThrow();
  expect(() => checkAnswer({ ...told, answer: "already had" })).not.toThrow();
  const refused: ToldRead = { ...told, answer: "refused", problems: [{ where: "line", what: "there is no such name", mend: "choose one of the list." }] };
  expect(() => checkAnswer(refused)).toThrow("There is no such name. Choose one of the list.");
  expect(() => checkAnswer({ ...told, answer: "conflict", conflict: "c" })).toThrow("Both versions are kept");
});
