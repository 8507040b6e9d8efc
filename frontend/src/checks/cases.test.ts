/** Every case in tests/cases against the phone's checks: the same files are run against the core. */
import { describe, expect, test } from "vitest";
import { asShown, corrected, fastBy, isWrong } from "./clocks";
import type { Condition } from "./conditions";
import { parseCount } from "./count_text";
import type { Count } from "./counts";
import { exact, UNKNOWN_AMOUNT } from "./exact";
import { Facts } from "./facts";
import type { Finding } from "./finding";
import { judge, LEFT_TO_THE_SERVER, RULES, TERM, type Judgement } from "./judge";
import { keepAtMost } from "./remaining";
import { named } from "./taxa";
import { bookOf, everyCase, momentOf, seasonIn, type Case } from "./testing/case_files";
import { CHECKS_LEFT_OUT } from "./testing/left_out";

type Json = Readonly<Record<string, unknown>>;

const CASES = everyCase();
const PICKING = ["authority", "number", "about", "label", "version"];
const HELD = ["outcome", "limit", "before", "after", "left", "records", "over", "near", "says", "settle"];

/** Give the kinds under which a number of an authority stands, in all its versions. */
function kindsOf(one: Case, expected: Json): string[] {
  const id = expected["authority"] ?? one.authorities[0]?.["id"];
  const number = expected["number"] ?? "1";
  if (number === TERM) return [TERM];
  const authority = one.authorities.find((candidate) => candidate["id"] === id);
  const amendments = (authority?.["amendments"] ?? []) as Json[];
  const conditions = [authority ?? {}, ...amendments].flatMap((holder) => (holder["conditions"] ?? []) as Condition[]);
  return conditions.filter((condition) => condition.number === number).map((condition) => condition.kind);
}

function isAnswered(one: Case, expected: Json): boolean {
  const kinds = kindsOf(one, expected);
  return kinds.length > 0 && kinds.every((kind) => kind === TERM || kind in RULES);
}

/** The expectations of a judged case that the phone answers. */
function answeredIn(one: Case): Json[] {
  return one.expect.filter((expected) => isAnswered(one, expected));
}

function withCheck(check: string): [string, Case][] {
  return CASES.filter((one) => one.check === check).map((one) => [one.name, one]);
}

const JUDGED = withCheck("judge").filter(([, one]) => answeredIn(one).length > 0);
const LEFT = withCheck("judge").filter(([, one]) => answeredIn(one).length === 0);

describe("the phone answers as the case expects", () => {
  test.each(JUDGED)("%s", (_name, one) => {
    const book = bookOf(one);
    const judgement = judge(book, seasonIn(one, book), momentOf(one, one.asOf));
    const matched = answeredIn(one).map((expected) => {
      const unknown = Object.keys(expected).filter((key) => !HELD.includes(key) && !PICKING.includes(key));
      expect(unknown, "words in what is expected that nobody reads").toEqual([]);
      const finding = theFinding(one, judgement, expected);
      expect(told(finding, expected), shown([finding])).toEqual(wanted(expected));
      return finding;
    });
    expect(judgement.unassigned).toEqual(one.raw["unassigned"] ?? []);
    if (one.raw["only_expected"] === true) {
      const others = judgement.findings.filter((finding) => finding.number !== TERM && !matched.includes(finding));
      expect(shown(others)).toBe("");
    }
  });
});

/** Give the one finding that an expectation speaks of. */
function theFinding(one: Case, judgement: Judgement, expected: Json): Finding {
  const authority = expected["authority"] ?? one.authorities[0]?.["id"];
  const number = expected["number"] ?? "1";
  let found = judgement.findings.filter(
    (finding) =>
      finding.authority === authority &&
      finding.number === number &&
      finding.about.includes(String(expected["about"] ?? "")) &&
      (expected["label"] ?? finding.label) === finding.label &&
      (expected["version"] ?? finding.version) === finding.version,
  );
  if (found.length > 1 && expected["records"] !== undefined) {
    found = found.filter((finding) => JSON.stringify(finding.records) === JSON.stringify(expected["records"]));
  }
  expect(found.length, `one finding wanted for ${JSON.stringify(expected)}, found:\n${shown(judgement.findings)}`).toBe(1);
  return found[0] as Finding;
}

/** Give what is expected of a finding, numbers made exact, beside what only picks it out. */
function wanted(expected: Json): Json {
  const entries = Object.entries(expected).filter(([key]) => !PICKING.includes(key));
  return Object.fromEntries(entries.map(([key, value]) => [key, wantedValue(key, value)]));
}

function wantedValue(key: string, value: unknown): unknown {
  if (key === "says" || key === "settle") return true;
  if (key === "limit") return amount(value);
  return ["before", "after", "left"].includes(key) ? (value as unknown[]).map(amount) : value;
}

function amount(written: unknown): string {
  return String(written === "unknown" ? UNKNOWN_AMOUNT : exact(written as string | number));
}

function bounds(count: Count | undefined): string[] | undefined {
  return count && [count.low, count.best, count.high].map(String);
}

/** Give the same things of a finding. */
function told(finding: Finding, expected: Json): Json {
  const { tally } = finding;
  const all: Json = {
    outcome: finding.outcome,
    limit: tally === null ? undefined : String(tally.limit),
    before: bounds(tally?.before),
    after: bounds(tally?.after),
    left: bounds(tally?.left),
    records: finding.records,
    over: finding.over,
    near: finding.near,
    says: holdsParts(finding.sentence, expected["says"]),
    settle: holdsParts(finding.settle, expected["settle"]),
  };
  return Object.fromEntries(Object.keys(wanted(expected)).map((key) => [key, all[key]]));
}

function holdsParts(text: string, parts: unknown): boolean {
  return [parts ?? ""].flat().every((part) => text.includes(String(part)));
}

function shown(findings: readonly Finding[]): string {
  return findings
    .map((one) => {
      const numbers = one.tally === null ? "" : ` ${one.tally.limit} before ${bounds(one.tally.before)} after ${bounds(one.tally.after)}`;
      return `${one.authority} ${one.number} v${one.version} [${one.label}] ${one.about}: ${one.outcome} - ${one.sentence} ${one.settle} records ${one.records} over ${one.over} near ${one.near}${numbers}`;
    })
    .join("\n");
}

describe("what cannot be recorded is refused in words", () => {
  test.each(withCheck("fault"))("%s", (_name, one) => {
    const book = bookOf(one);
    for (const expected of one.expect) {
      expect(() => seasonIn(one, book)).toThrow(String(expected["fault"]));
    }
  });
});

describe("keep at most names the limit that binds", () => {
  test.each(withCheck("keep_at_most"))("%s", (_name, one) => {
    const book = bookOf(one);
    const season = seasonIn(one, book);
    const facts = new Facts(book, season, momentOf(one, one.asOf));
    const trip = season.trips.at(-1);
    const haul = trip?.hauls.at(-1);
    if (trip === undefined || haul === undefined) throw new Error("the case has no haul");
    for (const expected of one.expect) {
      const person = String(expected["person"] ?? "");
      const situation = { at: momentOf(one, String(expected["at"])), trip, haul, person };
      const taxon = String(expected["taxon"]);
      const allowance = keepAtMost(facts, String(one.authorities[0]?.["id"]), named(taxon), situation);
      const more = expected["more"] == null ? null : amount(expected["more"]);
      expect(allowance.more === null ? null : String(allowance.more)).toBe(more);
      expect(allowance.binding?.number).toBe(expected["binding"]);
    }
  });
});

describe("counts are read as people write them", () => {
  test.each(withCheck("count_text"))("%s", (_name, one) => {
    for (const expected of one.expect) {
      const containers = Object.entries((expected["containers"] ?? {}) as Record<string, string>);
      const litres = new Map(containers.map(([name, text]) => [name, exact(text)]));
      const found = parseCount(expected["text"], litres);
      expect(bounds(found.count)).toEqual((expected["count"] as unknown[]).map(amount));
      for (const word of ["unit", "method", "raw_counted", "raw_share", "measured_as"] as const) {
        if (word in expected) expect(found[word]).toBe(expected[word]);
      }
    }
  });
});

describe("a wrong clock is put right by one offset", () => {
  test.each(withCheck("clock"))("%s", (_name, one) => {
    for (const expected of one.expect) {
      const zone = String(expected["phone_zone"]);
      const shownAt = asShown(String(expected["shown"]), zone);
      const known = momentOf(one, String(expected["known"]));
      expect(fastBy(shownAt, known)).toBe(expected["fast_s"]);
      expect(isWrong(shownAt, known)).toBe(expected["wrong"]);
      for (const [local, truth] of expected["moments"] as [string, string][]) {
        expect(corrected(asShown(local, zone), Number(expected["fast_s"]))).toBe(momentOf(one, truth));
      }
    }
  });
});

describe("nothing is left out in silence", () => {
  const checks = new Set(["judge", "fault", "keep_at_most", "count_text", "clock"]);
  const expectations = withCheck("judge").flatMap(([, one]) => one.expect.map((expected) => ({ one, expected })));

  test("every check is made here or says why not", () => {
    const asked = new Set(CASES.map((one) => one.check));
    expect([...checks, ...Object.keys(CHECKS_LEFT_OUT)].sort()).toEqual([...asked].sort());
    for (const reason of Object.values(CHECKS_LEFT_OUT)) expect(reason.length).toBeGreaterThan(30);
  });

  test("every kind of condition is judged here or says why not", () => {
    const kinds = new Set(expectations.flatMap(({ one, expected }) => kindsOf(one, expected)));
    kinds.delete(TERM);
    expect([...Object.keys(RULES), ...Object.keys(LEFT_TO_THE_SERVER)].sort()).toEqual([...kinds].sort());
    for (const reason of Object.values(LEFT_TO_THE_SERVER)) expect(reason.length).toBeGreaterThan(30);
  });

  test("an expectation is left out only for the kind of its condition", () => {
    for (const { one, expected } of expectations) {
      if (isAnswered(one, expected)) continue;
      const kinds = kindsOf(one, expected);
      expect(kinds.length, `${one.name}: no condition under that number`).toBeGreaterThan(0);
      expect(kinds.some((kind) => kind in LEFT_TO_THE_SERVER), one.name).toBe(true);
    }
  });

  test("run and left out are all there are, and as many are run as ever were", () => {
    const others = CASES.filter((one) => one.check !== "judge");
    const run = JUDGED.length + others.filter((one) => checks.has(one.check)).length;
    const left = LEFT.length + others.filter((one) => one.check in CHECKS_LEFT_OUT).length;
    const answered = expectations.filter(({ one, expected }) => isAnswered(one, expected)).length;
    console.info(`shared cases: ${run} run, ${left} left out; expectations: ${answered} of ${expectations.length} held`);
    expect(run + left).toBe(CASES.length);
    expect(run).toBeGreaterThanOrEqual(1);
    expect(answered).toBeGreaterThanOrEqual(1);
  });
});
