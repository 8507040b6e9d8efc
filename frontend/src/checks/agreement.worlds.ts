/**
 * The phone beside the core, on whole seasons that the core has judged: every finding on a kind that both judge is the
 * same, word for word and number for number. The worlds are written by tests/frontend/worlds.py.
 */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { instant } from "./calendar";
import type { Count } from "./counts";
import type { Finding } from "./finding";
import { judge } from "./judge";
import { withAcceptedNames, type Authority } from "./permits";
import { areaOf, type Geometry } from "./places/areas";
import { Reader, type Raw } from "./records";
import { Taxa, type Taxon } from "./taxa";

interface Told {
  readonly authority: string;
  readonly number: string;
  readonly version: number;
  readonly kind: string;
  readonly label: string;
  readonly outcome: string;
  readonly about: string;
  readonly sentence: string;
  readonly settle: string;
  readonly records: readonly string[];
  readonly over: readonly string[];
  readonly near: boolean;
  readonly measured: readonly (readonly string[])[];
  readonly tally: unknown;
}

interface World {
  readonly name: string;
  readonly authorities: Authority[];
  readonly taxa: Taxon[];
  readonly areas: { id: string; name: string; tolerance: number; geometry: Geometry }[];
  readonly season: Raw;
  readonly as_of: string;
  readonly findings: Told[];
}

const WORLDS = readFileSync(process.env["CREEKLEDGER_WORLDS"] ?? "", "utf-8")
  .split("\n")
  .filter(Boolean)
  .map((line) => JSON.parse(line) as World);

test.each(WORLDS.map((world) => [world.name, world] as const))("%s", (_name, world) => {
  const taxa = new Taxa(world.taxa);
  const authorities = world.authorities.map((one) => withAcceptedNames(one, taxa));
  const areas = new Map(world.areas.map((one) => [one.id, areaOf(one.id, one.name, one.geometry, one.tolerance)]));
  const season = new Reader(taxa, authorities).season(world.season);
  const { findings } = judge({ authorities, taxa, areas }, season, instant(world.as_of, "UTC"));
  const keys = (all: readonly Told[]): string[] => all.map((one) => keyed(one)).sort();
  expect(keys(findings.map(told))).toEqual(keys(world.findings));
  compareMetres(findings.map(told), world.findings);
});

/** How far two measurements of one place may differ, in the unit told: both are rounded to the last digit shown. */
const APART: Readonly<Record<string, number>> = { m: 0.11, "": 0.011 };
let compared = 0;

/** Hold the phone's distances and chances to the core's, wherever the core measured one. */
function compareMetres(phone: readonly Told[], core: readonly Told[]): void {
  for (const one of core.filter((finding) => finding.kind === "area")) {
    const own = phone.filter((other) => [other.authority, other.number, other.version, other.about].join() === [one.authority, one.number, one.version, one.about].join());
    for (const [name, value] of one.measured) {
      // Far from every edge the core tells what it surely is away, "over 480 m", and measures nothing. And where a haul
      // but touches an edge, the last digit decides which end of it is told.
      const touches = name?.startsWith("signed") === true && Math.abs(Number.parseFloat(value ?? "")) < 0.05;
      if (value?.startsWith("over") === true || touches) continue;
      const [number, unit] = (value ?? "").split(" ");
      const mine = own[0]?.measured.find(([other]) => other === name)?.[1] ?? "none";
      expect(Math.abs(Number.parseFloat(mine) - Number(number)), `${one.about}: ${name} ${mine}, the core ${value}`).toBeLessThan(APART[unit ?? ""] ?? 0);
      compared += 1;
    }
  }
}

test("there were worlds to judge, with findings in them", () => {
  const findings = WORLDS.flatMap((world) => world.findings);
  const kinds = new Map<string, number>();
  for (const { kind, outcome } of findings) kinds.set(`${kind}: ${outcome}`, (kinds.get(`${kind}: ${outcome}`) ?? 0) + 1);
  console.info(`worlds ${WORLDS.length}, findings ${findings.length}: ${JSON.stringify(Object.fromEntries(kinds))}`);
  console.info(`distances, radii and chances compared: ${compared}`);
  expect(compared).toBeGreaterThan(0);
  expect(WORLDS.length).toBeGreaterThan(0);
  expect(findings.length).toBeGreaterThan(WORLDS.length);
});

/** Give a finding as one text; what the two may say differently is taken out of both. */
function keyed(one: Told): string {
  const { sentence, measured, settle, outcome, ...rest } = one;
  const names = [...Object.keys(one), ...KEYS].sort();
  // Distances are held by themselves, within what rounding may do.
  if (one.kind === "area") return JSON.stringify({ ...rest, outcome, open: settle !== "" }, [...names, "open"]);
  return JSON.stringify(one, names);
}

const KEYS = ["limit", "operator", "unit", "before", "here", "after", "left"];

function told(one: Finding): Told {
  const { tally, ...rest } = one;
  return {
    ...rest,
    tally: tally && {
      limit: String(tally.limit),
      operator: tally.operator,
      unit: tally.unit,
      before: bounds(tally.before),
      here: bounds(tally.here),
      after: bounds(tally.after),
      left: bounds(tally.left),
    },
  };
}

function bounds(count: Count): string[] {
  return [count.low, count.best, count.high].map(String);
}
