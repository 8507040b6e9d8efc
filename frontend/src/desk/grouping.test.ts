/** Records laid together. The season is a small invented one; what is expected follows from it. */
import { expect, test } from "vitest";
import type { AllotmentRead, BalanceRead, ChangedRead, FindingRead, LotRead, Outcome, RoomRead } from "./answers";
import {
  behind, byCondition, conditionsOf, countOutcomes, fullestTally, givenOf, gravest, gravestFirst, lotsByTrip, newestVersion, reconciled, unresolvedByCondition, usedOf,
} from "./grouping";
import { authorityOf, clauseAt, commonName, inOrder, isItalic, limitIssued, Pulled, seasonOf, wordingsOf, type Terms } from "./season";
import { spotsOf, tripOfSpot } from "./spots";

const change = (kind: string, id: string, parent: string, record: Record<string, unknown>): ChangedRead => ({
  seq: 1, kind, id, version: 1, trip: "", at: "2027-03-10T00:00:00Z", code: `${id}-code`, parent, record,
});
const line = (id: string, haul: string, more: Record<string, unknown> = {}): ChangedRead =>
  change("line", id, haul, { taxon: "Galaxias maculatus", count: { low: 4, best: 4, high: 4 }, fate: "kept", unit: "individuals", ...more });

const TERMS = {
  id: "permit",
  number: "9",
  title: "Permit",
  zone: "Australia/Hobart",
  first_day: "2027-01-01",
  last_day: "2027-12-31",
  conditions: [
    { number: "1", kind: "take limit", text: "Not more than 10.", page: "2" },
    { number: "2", kind: "season", text: "No collecting in May." },
  ],
  amendments: [
    { number: "A1", from_moment: "2027-04-01T00:00", conditions: [{ number: "1", kind: "take limit", text: "Not more than 20.", page: "1" }] },
    { number: "A2", from_moment: "2027-06-01T00:00", conditions: [] },
  ],
} as unknown as Terms;

const RECORDS: ChangedRead[] = [
  change("trip", "t1", "", { zone: "Australia/Hobart", leader: "ann", authority: "permit", status: "closed", depart: "2027-03-09T21:00:00Z" }),
  change("trip", "t2", "", { zone: "Australia/Hobart", leader: "ann", authority: "permit", status: "open", depart: "2027-03-11T21:00:00Z" }),
  change("haul", "h2", "t1", { start: "2027-03-09T23:00:00Z", kind: "set", gear: { gear: "trap" }, fixes: [] }),
  change("haul", "h1", "t1", {
    start: "2027-03-09T22:00:00Z", kind: "haul", gear: { gear: "seine" }, site: "spit",
    fixes: [{ lat: -42.3, lon: 153.6, radius_m: 10, confidence: 0.68 }, { lat: -42.31, lon: 153.6 }],
  }),
  change("haul", "h3", "t2", { start: "2027-03-11T22:00:00Z", kind: "haul", authority: "licence" }),
  line("l1", "h1"),
  line("l2", "h1", { fate: "released" }),
  line("l3", "h2", { unit: "L", count: { low: 2, best: 3, high: 4 }, taxon: "sand" }),
  line("l4", "h3"),
  change("authority", "permit", "", TERMS as unknown as Record<string, unknown>),
  change("taxa", "taxa", "", {
    taxa: [
      { id: "Galaxiidae", rank: "family", common: "galaxiids" },
      { id: "Galaxias", rank: "genus", parent: "Galaxiidae" },
      { id: "Galaxias maculatus", rank: "species", parent: "Galaxias", common: "common galaxias" },
      { id: "sand", rank: "material" },
    ],
  }),
];
const SEASON = seasonOf(RECORDS);

test("records hang together by id and are found by code", () => {
  expect(SEASON.hauledOn.get("t1")?.map((one) => one.id)).toEqual(["h1", "h2"]);
  expect(SEASON.linesByCode.get("l3-code")?.unit).toBe("L");
  expect(authorityOf(SEASON, SEASON.lines.get("l4") as never)).toBe("licence");
  expect(authorityOf(SEASON, SEASON.lines.get("l1") as never)).toBe("permit");
  expect(["K27-10", "K27-2"].sort(inOrder)).toEqual(["K27-2", "K27-10"]);
});

test("a record that is pulled again takes the place of the one before", () => {
  const pulled = new Pulled();
  pulled.take(RECORDS, 11);
  pulled.take([line("l1", "h1", { fate: "dead" })], 12);
  expect(pulled.cursor).toBe(12);
  expect(pulled.season().lines.get("l1")?.fate).toBe("dead");
  expect(pulled.season().lines.size).toBe(4);
});

test("a record that cannot be read hides no other", () => {
  const season = seasonOf([
    ...RECORDS,
    line("l9", "h1", { count: { low: 5, best: 4, high: 3 } }),
    change("haul", "h9", "t1", { start: "some day" }),
    change("haul", "h8", "t1", { start: "2027-03-09T23:30:00Z", fixes: [{ lat: "unknown", lon: 153.6 }, { lat: -42, lon: 153 }] }),
  ]);
  expect([season.lines.size, season.lines.has("l9"), season.hauls.has("h9")]).toEqual([4, false, false]);
  expect(season.hauls.get("h8")?.places).toHaveLength(1);
});

test("the records behind a figure stand by trip and haul, and what is none of them is named", () => {
  const found = behind(SEASON, ["l1-code", "l3-code", "l1-code", "h1-code", "t2-code", "N-01"]);
  expect(found.trips.map((one) => [one.code, one.hauls.map((haul) => [haul.code, haul.lines.map((each) => each.code)])])).toEqual([
    ["t1-code", [["h1-code", ["l1-code"]], ["h2-code", ["l3-code"]]]],
    ["t2-code", []],
  ]);
  expect(found.others).toEqual(["N-01"]);
  expect(found.lineCount).toBe(2);
});

test("a clause is the one in force at the moment; an amendment that left it alone brings no new words", () => {
  expect(clauseAt(TERMS, "1", Date.parse("2027-03-10T00:00:00Z"))).toMatchObject({ text: "Not more than 10.", amendment: "", page: "2" });
  expect(clauseAt(TERMS, "1", Date.parse("2027-07-01T00:00:00Z"))).toMatchObject({ text: "Not more than 20.", amendment: "A1" });
  expect(clauseAt(TERMS, "2", null)).toMatchObject({ text: "No collecting in May.", amendment: "" });
  expect(clauseAt(TERMS, "term", null)).toBeNull();
  expect(wordingsOf(TERMS, "1").map((one) => one.text)).toEqual(["Not more than 20.", "Not more than 10."]);
  expect(wordingsOf(TERMS, "2")).toHaveLength(1);
  expect(wordingsOf(undefined, "1")).toEqual([]);
});

test("a limit of which nothing is taken is told as issued", () => {
  const terms = {
    ...TERMS,
    conditions: [
      { number: "1", kind: "take limit", text: "", limits: [{ amount: "60", period: "day" }, { amount: "360", period: "permit year" }] },
      { number: "2", kind: "take limit", text: "", limits: [{ amount: "100 L", operator: "fewer than", period: "permit year" }] },
      { number: "3", kind: "take limit", text: "", holder: "everybody", limits: [{ amount: "3", container: "shell crate", period: "permit year" }] },
      { number: "4", kind: "season", text: "" },
    ],
    amendments: [],
  } as unknown as Terms;
  expect(limitIssued(terms, "1")).toEqual({ amounts: ["60", "360"], shared: false });
  expect(limitIssued(terms, "2")).toEqual({ amounts: ["under 100 L"], shared: false });
  expect(limitIssued(terms, "3")).toEqual({ amounts: ["3 shell crate"], shared: true });
  expect(limitIssued(terms, "4")).toEqual({ amounts: [], shared: false });
  expect(limitIssued(undefined, "1").amounts).toEqual([]);
});

test("names are set in italics from the genus down", () => {
  expect(["Galaxiidae", "Galaxias", "Galaxias maculatus", "sand", "nobody"].map((name) => isItalic(SEASON.taxa, name))).toEqual([
    false, true, true, false, false,
  ]);
  expect(commonName(SEASON.taxa, "Galaxias maculatus")).toBe("common galaxias");
  expect(commonName(SEASON.taxa, "Galaxias")).toBe("");
});

const finding = (number: string, outcome: Outcome, more: Partial<FindingRead> = {}): FindingRead => ({
  authority: "permit", number, kind: "season", version: 1, outcome, about: "", label: "", sentence: "", settle: "", near: false, records: [],
  over: [], tally: null, ...more,
});
const taken = (outcome: Outcome, high: number | string, version: number, limit = 10): FindingRead => {
  const count = { low: 0, best: 0, high };
  return finding("1", outcome, {
    version, kind: "take limit", about: `${outcome} ${high} v${version}`,
    tally: { limit, operator: "at most", unit: "individuals", before: count, here: count, after: count, left: count, used_low: null, used_high: null },
  });
};
const balance = (...tallies: FindingRead[]): BalanceRead => ({
  number: "1", text: "", kind: "take limit", outcome: gravest(tallies.map((one) => one.outcome)), tallies, fullest: [], allotted: [], pending: [],
});

test("outcomes: the gravest, in order, counted", () => {
  expect(gravest(["met", "open", "not used"])).toBe("open");
  expect(gravest([])).toBe("not used");
  expect(gravestFirst([finding("a", "met"), finding("b", "broken"), finding("c", "met")]).map((one) => one.number)).toEqual(["b", "a", "c"]);
  expect(countOutcomes([finding("a", "met"), finding("b", "met")]).get("met")).toBe(2);
});

test("a row shows the tally that the server says stands for the condition", () => {
  const [first, second] = [taken("met", 3, 2), taken("met", 7, 1)];
  expect(fullestTally({ ...balance(first, second), fullest: [1, 0] })?.about).toBe("met 7 v1");
  expect(fullestTally(balance())).toBeNull();
  expect(newestVersion([balance(taken("met", 1, 1)), balance(taken("met", 1, 3))])).toBe(3);
  expect(newestVersion([])).toBe(1);
});

test("findings and balances stand by condition in the authority's order", () => {
  const limit = balance(taken("open", 4, 1));
  const every = conditionsOf([limit], [finding("term", "met"), ...limit.tallies, finding("2", "met"), finding("2", "open")], []);
  expect(every.map((one) => [one.number, one.outcome, one.balance !== null])).toEqual([
    ["term", "met", false],
    ["1", "open", true],
    ["2", "open", false],
  ]);
});

test("a limit of which nothing is taken is whole, and says what trips were given of it", () => {
  const given = (number: string, label: string, amount: number): AllotmentRead => ({
    id: number + label, trip: "t", code: "T-1", authority: "permit", number, label, name: "", first_day: "", unit: "individuals", amount,
    state: "open", granted_at: "", granted_by: "", ended_at: null, why: "",
  });
  const own = [given("1", "females", 3), given("1", "", 5), given("9", "", 7)];
  const [limit] = conditionsOf([], [finding("1", "not used", { kind: "take limit" })], own);
  expect(limit?.balance).toMatchObject({ number: "1", tallies: [], fullest: [], pending: [], outcome: "not used" });
  expect(limit?.balance?.allotted.map((one) => [one.trip, one.label, one.amount])).toEqual([["T-1", "females", 3], ["T-1", "", 5]]);
  const shown = limit?.balance as BalanceRead;
  expect(givenOf(shown, null)).toEqual({ amount: 8, elsewhere: false });
  expect(givenOf(shown, finding("1", "met", { label: "females" }))).toEqual({ amount: 3, elsewhere: true });
  expect(conditionsOf([], [finding("2", "not used")], own)[0]?.balance).toBeNull();
});

const lot = (own: string, count: number, more: Partial<LotRead> = {}): LotRead => ({
  id: own, state: "waiting", version: 1, accession: "", line: `${own}-code`, haul: "", trip: "t1-code", taxon: "", authority: "permit",
  unit: "individuals", field_count: { low: count, best: count, high: count }, on_hand: { low: count, best: count, high: count },
  door_count: null, decided_at: null, decided_by: "", decided_by_name: "", reason: "", onward: "", collectors: [], wanted: 0, amended: false,
  findings: [], of_haul: [], of_trip: [], ...more,
});

test("lots stand by trip in their order", () => {
  const groups = lotsByTrip([lot("a", 1), lot("b", 1, { trip: "t2-code" }), lot("c", 1)]);
  expect(groups.map((one) => [one.trip, one.lots.map((each) => each.id)])).toEqual([
    ["t1-code", ["a", "c"]],
    ["t2-code", ["b"]],
  ]);
});

test("what was kept on closed trips ties with the gate, unit by unit, or says where it does not", () => {
  const litres = lot("l3", 0, { unit: "L", field_count: { low: 2, best: 3, high: 4 } });
  const tied = reconciled(SEASON, [lot("l1", 4), litres], "permit");
  expect(tied.ties.map((one) => [one.unit, one.ties])).toEqual([["individuals", true], ["L", true]]);
  expect([tied.without, tied.differing]).toEqual([[], []]);
  const off = reconciled(SEASON, [lot("l1", 3)], "permit");
  expect(off.ties.map((one) => one.ties)).toEqual([false, false]);
  expect([off.without, off.differing]).toEqual([["l3-code"], ["l1-code"]]);
  // The open trip's line is not yet at the gate, so nothing is held against it.
  expect(reconciled(SEASON, [], "licence").ties).toEqual([]);
});

test("what is unresolved stands by condition, the broken first", () => {
  const one = (condition: string, outcome: "broken" | "open") => ({ condition, outcome, sentence: "", settle: "" });
  const groups = unresolvedByCondition([one("2", "open"), one("4", "open"), one("2", "broken"), one("", "open")]);
  expect(groups.map((each) => [each.condition, each.outcome, each.told.length])).toEqual([["2", "broken", 2], ["4", "open", 1], ["", "open", 1]]);
});

test("every position is a spot with its circle at 95 %, round for a haul and square for a set", () => {
  const spots = spotsOf(SEASON, new Map([["spit", "The Spit"]]));
  expect(spots.map((one) => [one.id, one.shape])).toEqual([["h1-code 0", "round"], ["h1-code 1", "round"]]);
  // 68 % to 95 % under the Rayleigh distribution: 10 m x sqrt(ln 0.05 / ln 0.32) = 16.2 m (reckoned by hand).
  expect(spots[0]?.radius).toBeCloseTo(16.2, 1);
  expect(spots[0]?.words).toBe("h1-code, 10 Mar 2027, seine, The Spit, good to 17 m");
  expect(spots[1]?.words).toContain("no radius recorded");
  expect(tripOfSpot(SEASON, "h1-code 1")).toBe("t1-code");
  expect(tripOfSpot(SEASON, "nowhere 0")).toBe("");
});

test("findings lie together by condition, the gravest first, and the order stays otherwise", () => {
  const one = (number: string, outcome: Outcome, sentence: string): FindingRead => ({ authority: "permit", number, outcome, sentence }) as FindingRead;
  const groups = byCondition([one("2", "met", "a"), one("1", "open", "b"), one("2", "broken", "c"), one("3", "open", "d"), one("1", "open", "e")]);
  expect(groups.map((group) => [group.number, group.outcome, group.findings.map((each) => each.sentence).join("")])).toEqual([
    ["2", "broken", "ca"], ["1", "open", "be"], ["3", "open", "d"],
  ]);
});

test("what a trip used of an allotment is the server's figure for the same tally", () => {
  const room = (number: string, label: string, used: number): RoomRead => ({ authority: "permit", number, label, name: "", used }) as RoomRead;
  const rooms = [room("1", "", 7), room("1", "females", 3), room("2", "", 9)];
  const allotment = { authority: "permit", number: "1", label: "females", name: "" } as AllotmentRead;
  expect(usedOf(allotment, rooms)?.used).toBe(3);
  expect(usedOf({ ...allotment, number: "3" }, rooms)).toBeNull();
});
