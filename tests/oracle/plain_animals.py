"""Share limits, sizes, stages, prohibited taxa and stops: plain loops over lines."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

from tests.oracle.plain_world import (
    MOST,
    Catch,
    Key,
    Rule,
    World,
    amount_of,
    both,
    number_of,
    verdict,
    year_start,
)

FATES = {
    "kept": ("kept",),
    "kept and dead": ("kept", "dead"),
    "handled": ("kept", "released", "dead", "lost"),
}


def own_catches(world: World, rule: Rule) -> list[tuple[Catch, str]]:
    """The lines under the rule's authority that may fit its narrowing, with how they fit."""
    found = []
    for catch in world.catches:
        if catch.authority == rule.authority.id and catch.line.count.high > 0:
            only = rule.condition.only
            fits = both(world.fits_catch(only, catch, rule.authority), world.has_size(catch.line, only.size))
            if fits != "no":
                found.append((catch, fits))
    return found


def _amount(world: World, catch: Catch, by: str) -> tuple:
    line = catch.line
    if by == "number":
        return (line.count.low, line.count.high) if line.unit == "individuals" else (0, MOST)
    if line.unit == "g":
        return line.count.low, line.count.high
    return (0, MOST) if line.weight is None else (line.weight.low, line.weight.high)


def _group(world: World, rule: Rule, per: str, catch: Catch) -> object:
    at = catch.at
    if rule.condition.kind == "encounter and stop":  # deaths are summed haul by haul
        at = catch.haul.end or catch.haul.start
    day = world.day(at, rule.authority)
    return {
        "haul": catch.haul.id,
        "trip": catch.trip.id,
        "site": catch.haul.site,
        "day": day,
        "permit year": year_start(day, rule.authority.year_starts),
        "term": "term",
    }[per]


def grouped(world: World, rule: Rule, rows: list[tuple]) -> dict[object, list[tuple]]:
    """Rows (catch, fit, ...) by haul, trip, site, day, year or term; a haul at no recorded site may be at each."""
    found: dict[object, list[tuple]] = {}
    per = rule.condition.per
    for row in rows:
        found.setdefault(_group(world, rule, per, row[0]), []).append(row)
    if per == "site" and "" in found:
        loose = [(row[0], "maybe", *row[2:]) for row in found[""]]
        for site, own in found.items():
            found[site] = loose if site == "" else sorted([*own, *loose], key=lambda row: row[0].order)
    return found


# --- shares --------------------------------------------------------------------------------------------------


def judge_share(world: World, rule: Rule) -> list[Key]:
    """Each line may be part, rest or neither, low or high; the share is tried in every such world."""
    condition = rule.condition
    rows = []
    for catch, narrowed in own_catches(world, rule):
        if catch.line.fate not in condition.whole_fates:
            continue
        if condition.by == "number" and catch.line.unit != "individuals":
            continue
        fits = both(narrowed, world.named(catch.line, condition.taxa)) if condition.taxa else narrowed
        if fits == "no":
            continue
        part = verdict([catch.line.fate in condition.part_fates])
        if condition.part_taxa:
            part = both(part, world.named(catch.line, condition.part_taxa))
        rows.append((catch, fits, part))
    found = []
    for group in grouped(world, rule, rows).values():
        here = [row for row in group if rule.ends is None or row[0].at < rule.ends]
        if any(rule.holds(row[0].at) for row in here):
            outcome = _share(world, rule, here)
            found.append(rule.key(outcome, frozenset(catch.line.id for catch, _, _ in here)))
    return found


def _share(world: World, rule: Rule, rows: list) -> str:
    """In each world: the share, the sample, and whether any of the part was caught while the version held."""
    condition = rule.condition
    worlds = {(0, 0, 0, 0)}  # part, rest, animals, and the part caught while the version held
    for catch, fits, part in rows:
        options = {(0, 0, 0, 0)} if fits == "maybe" else set()
        for amount, animals in _cases(world, catch, condition.by, fits):
            for own, others in _splits(amount, part, whole=condition.by == "weight"):
                options.add((own, others, animals, own if rule.holds(catch.at) else 0))
        worlds = {tuple(map(sum, zip(one, other, strict=True))) for one in worlds for other in options}
    limit = number_of(condition.percent)
    answers = []
    for part, rest, sample, own in worlds:
        if sample < condition.smallest_sample or own == 0:
            answers.append("small" if sample < condition.smallest_sample else False)
            continue
        if part == MOST and rest == MOST:
            answers += [limit <= 0, limit < 100]  # any share but 0 and 100 themselves
            continue
        if part == MOST and rest > 0:
            answers.append(limit < 100)  # as near to 100 as one likes
            continue
        if rest == MOST:
            answers.append(limit <= 0)  # as near to 0 as one likes
            continue
        share = Fraction(100) if part == MOST else Fraction(part) * 100 / (part + rest)
        answers.append(share > limit if condition.operator == "at most" else share >= limit)
    if all(answer == "small" for answer in answers):
        return "not used"
    hits = [answer is True for answer in answers]
    if all(hits):
        return "broken"
    return "open" if any(hits) else "met"


def _splits(amount, part: str, *, whole: bool) -> list[tuple]:
    """How an amount may fall to the part and to the rest; each animal of a doubtful name may be either."""
    if part == "yes":
        return [(amount, 0)]
    if part == "no":
        return [(0, amount)]
    return [(0, amount), (amount, 0)] if whole else [(n, amount - n) for n in range(int(amount) + 1)]


def _cases(world: World, catch: Catch, by: str, fits: str) -> list[tuple]:
    """Every amount a line may be, with the number of animals it is then."""
    line = catch.line
    if by == "number":
        low = 0 if fits == "maybe" else int(line.count.low)
        return [(count, count) for count in range(low, int(line.count.high) + 1)]
    weights = _amount(world, catch, by)
    animals = (line.count.low, line.count.high)
    if line.unit != "individuals":
        animals = (1 if weights[0] > 0 else 0, MOST)
    return [(weight, number) for weight in weights for number in animals]


# --- sizes ---------------------------------------------------------------------------------------------------


def judge_size(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    groups: dict[object, list] = {}
    for catch, narrowed in own_catches(world, rule):
        fits = both(narrowed, world.named(catch.line, condition.taxa))
        if fits == "no" or catch.line.fate not in FATES[condition.counts] or not rule.holds(catch.at):
            continue
        groups.setdefault(_group(world, rule, condition.per, catch), []).append((catch, fits))
    return [
        rule.key(_sizes(condition, rows), frozenset(catch.line.id for catch, _ in rows)) for rows in groups.values()
    ]


def _sizes(condition, rows: list) -> str:
    """Count who is surely outside, who may be, and who was never measured."""
    sure = perhaps = measured = unmeasured = 0
    for catch, fits in rows:
        runs = [_run(rule, catch.line) for rule in condition.rules]
        animals, half = max(len(run) for run in runs), 0
        for n in range(animals):
            answers = []
            for rule, run in zip(condition.rules, runs, strict=True):
                answers.append(_passes(rule, run[n]) if n < len(run) else None)
            if True in answers:
                continue
            if None in answers:
                half += 1  # outside by one measure, and the other that could save it was not taken
            elif fits == "yes":
                sure += 1
            else:
                perhaps += 1
        most = catch.line.count.high if catch.line.unit == "individuals" else MOST
        measured += animals - half
        unmeasured += half + max(0, most - animals)
    if sure > condition.tolerated:
        return "broken"
    if measured == 0 and unmeasured <= condition.tolerated:
        return "met"
    if sure + perhaps > condition.tolerated or measured == 0:
        return "open"
    if condition.measure_all and sure + perhaps + unmeasured > condition.tolerated:
        return "open"
    return "met"


def _run(rule, line) -> list[int]:
    values: list[int] = []
    for run in line.measurements:
        if run.measure == rule.measure and rule.variant in ("", run.variant):
            values += run.values
    return values


def _passes(rule, tenths: int) -> bool:
    value = Fraction(tenths, 10)
    fine = True
    if rule.smallest:
        bound = amount_of(rule.smallest)[0]
        fine = fine and (value >= bound if rule.smallest_operator == "at least" else value > bound)
    if rule.largest:
        bound = amount_of(rule.largest)[0]
        fine = fine and (value <= bound if rule.largest_operator == "at most" else value < bound)
    return fine if rule.inside else not fine


# --- stages --------------------------------------------------------------------------------------------------


def judge_stage(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    found = []
    for catch, narrowed in own_catches(world, rule):
        fits = both(narrowed, world.named(catch.line, condition.taxa))
        if fits == "no" or catch.line.fate not in FATES[condition.counts] or not rule.holds(catch.at):
            continue
        there = verdict([catch.line.count.low > 0, catch.line.count.high > 0])
        wrong = []
        for recorded, named in ((catch.line.stage, condition.stages), (catch.line.sex, condition.sexes)):
            if named and recorded:
                wrong.append(verdict([recorded in named]))
            elif named:
                wrong.append("maybe" if condition.when_not_recorded == "may be" else "no")
        answer = both(fits, there, *wrong)
        outcome = {"yes": "broken", "maybe": "open", "no": "met"}[answer]
        found.append(rule.key(outcome, f"line {catch.line.id}"))
    return found


# --- prohibited ----------------------------------------------------------------------------------------------


def judge_prohibited(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    found = []
    for catch, narrowed in own_catches(world, rule):
        fits = both(narrowed, world.covers(rule, catch.line))
        if fits == "no" or not rule.holds(catch.at):
            continue
        there = verdict([catch.line.count.low > 0, catch.line.count.high > 0])
        counted = verdict([catch.line.fate in FATES[condition.counts]])
        answer = both(fits, there, counted)
        outcome = {"yes": "broken", "maybe": "open", "no": "met"}[answer]
        found.append(rule.key(outcome, f"line {catch.line.id}"))
        if condition.report_within_hours and there != "no":
            found.append(rule.key(_encounter(world, rule, catch, both(fits, there)), f"report of line {catch.line.id}"))
    return found


def _encounter(world: World, rule: Rule, catch: Catch, fits: str) -> str:
    due = catch.at + dt.timedelta(hours=rule.condition.report_within_hours)
    told = [
        one.told
        for one in world.season.incidents
        if one.told is not None
        and one.told <= world.as_of
        and one.authority == rule.authority.id
        and one.to == rule.condition.report_to
        and {catch.line.id, catch.haul.id, catch.trip.id} & set(one.about)
    ]
    return told_in_time(world, told, due, fits)


def told_in_time(world: World, told: list[dt.datetime], due: dt.datetime, fits: str) -> str:
    if any(moment <= due for moment in told):
        return "met"
    if told or world.as_of > due:
        return "broken" if fits == "yes" else "open"
    return "open"
