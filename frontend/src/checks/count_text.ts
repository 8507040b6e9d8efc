/**
 * Counts as people write them: 12, "about 200", "180-240", "120 in 1/5", "2 round basket", "3.5 L".
 *
 * Numbers are exact; "about" is taken as a quarter either way, outward to whole animals.
 */
import { countOf, UNKNOWN, type Count } from "./counts";
import { Exact, exact, whole } from "./exact";
import { exactNumber, findUnit, HANDBOOK_CONTAINERS } from "./measures";
import type { Authority } from "./permits";
import { raised } from "./raising";
import type { Method, Unit } from "./vocabulary";

export interface CountText {
  readonly count: Count;
  readonly unit: Unit;
  readonly method: Method;
  readonly raw_counted?: number;
  readonly raw_share?: string;
  readonly measured_as?: string;
}

type Bounds = readonly [low: Amount, best: Amount, high: Amount];
type WantedUnit = Unit | "any" | "";
type Amount = Exact;
type Litres = ReadonlyMap<string, Amount>;

const NUMBER = String.raw`(?:\d+[ -]\d+\/\d+|\d+\/\d+|\d+(?:\.\d+)?|\.\d+)`;
const TO = String.raw`\s*(?:-|\u2013|to)\s*`;
const RAISED = new RegExp(String.raw`^(\d+)\s+in\s+(${NUMBER})\s*(%?)$`, "i");
const NUMBER_AND_NAME = new RegExp(String.raw`^(${NUMBER})\s+(.+)$`);
const AMOUNT = new RegExp(
  String.raw`^(?<about>about\s+|~\s*|c\.\s*|ca\.?\s+)?(?<first>${NUMBER})(?:${TO}(?<last>${NUMBER}))?` +
    String.raw`(?:\s*\(\s*(?<low>${NUMBER})${TO}(?<high>${NUMBER})\s*\))?` +
    String.raw`\s*(?<unit>[^\d\s().,\/~-][^().,\/~]*)?` +
    String.raw`(?:\s*\(\s*(?<low_after>${NUMBER})${TO}(?<high_after>${NUMBER})\s*\))?$`,
  "i",
);
const ANIMALS = new Set(["individuals", "individual", "animals", "animal", "ind", "count", "each", "fish"]);
const HOW = "write 12, 'about 200', '180-240', '120 in 1/5', '3.5 L' or '2' and the name of a container";
const LARGEST = whole(1_000_000_000);
const QUARTER = Exact.of(1n, 4n);
const ONE = whole(1);
const TWO = whole(2);

/** Give the litres of every container that counts may name: the handbook's and the authorities' own. */
export function containersOf(authorities: Iterable<Authority>): Litres {
  const litres = new Map<string, Amount>();
  const doubtful = new Set<string>();
  for (const authority of authorities) {
    for (const container of authority.containers ?? []) {
      const size = exact(container.litres);
      const known = litres.get(container.name);
      // A name to which two authorities give different litres is left out: nobody could say which is meant.
      if (known !== undefined && !known.equals(size)) doubtful.add(container.name);
      else litres.set(container.name, size);
    }
  }
  return new Map([...HANDBOOK_CONTAINERS, ...[...litres].filter(([name]) => !doubtful.has(name))]);
}

/** Read a count as written: text, a number, or an object with low, best and high; throws RangeError. */
export function parseCount(written: unknown, containers: Litres, unit: WantedUnit = ""): CountText {
  if (typeof written === "number") {
    const amount = exact(written);
    return plain([amount, amount, amount], unit);
  }
  if (typeof written === "string") return worded(written.trim(), containers, unit);
  if (typeof written === "object" && written !== null) return three(written as Record<string, unknown>, unit);
  throw new RangeError(`a count is wanted; ${HOW}`);
}

function worded(text: string, containers: Litres, unit: WantedUnit): CountText {
  if (text.toLowerCase() === "unknown") return { count: UNKNOWN, unit: bare(unit), method: "by eye" };
  const share = RAISED.exec(text);
  if (share !== null) return raisedText(Number(share[1]), `${share[2]}${share[3]}`, text, unit);
  const found = AMOUNT.exec(text)?.groups;
  if (found === undefined) return oddContainer(text, containers, unit);
  const bounds = boundsOf(found, text);
  const word = (found["unit"] ?? "").trim();
  if ((word === "" || ANIMALS.has(word.toLowerCase())) && (unit === "" || unit === "individuals")) {
    for (const name of ["first", "last", "low", "high", "low_after", "high_after"]) {
      const one = found[name];
      if (one !== undefined) sized(number(one), "individuals");
    }
  }
  if (word !== "") return measured(bounds, word, text, containers, unit);
  return plain(bounds, unit, found["about"] !== undefined || !bounds[0].equals(bounds[2]) ? "by eye" : undefined);
}

function number(written: string): Amount {
  return exactNumber(written.replace(/(\d) *- *(\d+\/)/, "$1 $2"));
}

function boundsOf(found: Record<string, string | undefined>, text: string): Bounds {
  const first = number(found["first"] ?? "");
  const low = found["low"] ?? found["low_after"];
  const high = found["high"] ?? found["high_after"];
  if (found["last"] !== undefined) {
    const last = number(found["last"]);
    if (found["about"] !== undefined || low !== undefined || last.compare(first) < 0) {
      throw new RangeError(`the count '${text}' cannot be read; write a range as '180-240'`);
    }
    return [first, first.plus(last).over(TWO), last];
  }
  if (low !== undefined && high !== undefined) return [number(low), first, number(high)];
  if (found["about"] === undefined) return [first, first, first];
  return [first.times(ONE.minus(QUARTER)), first, first.times(ONE.plus(QUARTER))];
}

function measured(bounds: Bounds, word: string, text: string, containers: Litres, unit: WantedUnit): CountText {
  if (ANIMALS.has(word.toLowerCase())) {
    agreed("individuals", unit, text);
    return plain(bounds, unit === "any" ? "any" : "individuals", bounds[0].equals(bounds[2]) ? undefined : "by eye");
  }
  const litres = containerOf(word, containers);
  if (litres !== undefined) {
    return { count: scaled(bounds, litres), unit: agreed("L", unit, text), method: "by volume", measured_as: text };
  }
  const known = findUnit(word);
  if (known.dimension !== "volume" && known.dimension !== "mass") {
    throw new RangeError(`'${text}' is no count of animals, volume or weight; ${HOW}`);
  }
  const [kind, method]: [Unit, Method] = known.dimension === "volume" ? ["L", "by volume"] : ["g", "by weight"];
  return { count: scaled(bounds, known.factor), unit: agreed(kind, unit, text), method };
}

/** Read a number of a container whose name holds figures or brackets ("2 fish box (small)"). */
function oddContainer(text: string, containers: Litres, unit: WantedUnit): CountText {
  const found = NUMBER_AND_NAME.exec(text);
  if (found?.[1] === undefined || containerOf(found[2] ?? "", containers) === undefined) {
    throw new RangeError(`the count '${text}' cannot be read; ${HOW}`);
  }
  const amount = number(found[1]);
  return measured([amount, amount, amount], found[2] ?? "", text, containers, unit);
}

/** Find a container by its name, in any case, singular or plural; the name as listed comes first. */
function containerOf(word: string, containers: Litres): Amount | undefined {
  const own = containers.get(word);
  if (own !== undefined) return own;
  const wanted = word.toLowerCase();
  for (const [name, litres] of containers) {
    const known = name.toLowerCase();
    if ([known, `${known}s`, `${known}es`].includes(wanted)) return litres;
  }
  return undefined;
}

function agreed(found: Unit, unit: WantedUnit, text: string): Unit {
  if (unit !== "" && unit !== "any" && unit !== found) {
    throw new RangeError(`'${text}' is in ${found}, but the unit is given as ${unit}; correct one of them`);
  }
  return found;
}

function bare(unit: WantedUnit): Unit {
  return unit === "L" || unit === "g" ? unit : "individuals";
}

function scaled([low, best, high]: Bounds, factor: Amount): Count {
  return countOf(low.times(factor), best.times(factor), high.times(factor));
}

/** Make a count of bare numbers: whole individuals (doubtful bounds outward), or exact litres or grams. */
function plain([low, best, high]: Bounds, unit: WantedUnit, method?: Method): CountText {
  const kind = bare(unit);
  const how = method ?? (kind === "L" ? "by volume" : kind === "g" ? "by weight" : "counted");
  countOf(low, best, high);
  const outward = kind === "individuals" && unit !== "any" && method !== undefined;
  const three: Bounds = outward ? [low.floor(), best.floor(), high.ceil()] : [low, best, high];
  const checked = unit === "any" ? unit : kind;
  const [first, second, third] = three.map((one) => sized(one, checked)) as [Amount, Amount, Amount];
  return { count: countOf(first, second, third), unit: kind, method: how };
}

/** Refuse a number that no count can be. */
function sized(amount: Amount, kind: string): Amount {
  if (!amount.isKnown) return amount;
  if (amount.compare(whole(0)) < 0) throw new RangeError("a count cannot be below 0; correct the number");
  if (amount.compare(LARGEST) > 0) throw new RangeError("the count is above a thousand million; correct the number");
  if (kind === "individuals" && !amount.isWhole) {
    throw new RangeError("a number of animals is whole; write a whole number, or a unit such as L or g behind it");
  }
  return amount;
}

function raisedText(counted: number, share: string, text: string, unit: WantedUnit): CountText {
  agreed("individuals", unit, text);
  sized(whole(counted), "individuals");
  return {
    count: raised(counted, share),
    unit: "individuals",
    method: "raised",
    raw_counted: counted,
    raw_share: share.replaceAll(" ", ""),
  };
}

/** Read {"low": ..., "best": ..., "high": ...}; the best may be left out. */
function three(written: Record<string, unknown>, unit: WantedUnit): CountText {
  const bound = (key: string): Amount => {
    const value = written[key];
    if (typeof value !== "number" && typeof value !== "string") {
      throw new RangeError('a count of three needs its bounds; write {"low": 180, "best": 200, "high": 240}');
    }
    return key === "high" && value === "unknown" ? UNKNOWN.high : exactNumber(value);
  };
  const [low, high] = [bound("low"), bound("high")];
  let best: Amount;
  if ("best" in written) best = bound("best");
  else best = high.isKnown ? low.plus(high).over(TWO) : low;
  // Bounds that somebody wrote down are kept as they are; only a best nobody wrote is rounded down.
  if (!("best" in written) && (unit === "" || unit === "individuals")) best = best.floor();
  const found = plain([low, best, high], unit);
  return low.equals(high) || found.method !== "counted" ? found : { ...found, method: "by eye" };
}
