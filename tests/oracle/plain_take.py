"""Take limits: which tallies there are, what stood before and what came, and how each is answered."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from fractions import Fraction

from api.domain.conditions import Bound, TakeLimit
from tests.oracle.plain_held import judge_held
from tests.oracle.plain_tallies import NAMES, Entry, entries_of, measured, names_of, outcome_in_worlds, under_name
from tests.oracle.plain_world import MOST, Catch, Key, Rule, World, amount_of, both, number_of, year_start

LONG = ("month", "calendar year", "permit year", "season", "term")


def judge_take(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    assert isinstance(condition, TakeLimit)
    found: list[Key] = []
    for place, bound in enumerate(condition.limits):
        unit, limit = _limit_of(rule, bound)
        if bound.period == "held":
            found += judge_held(world, rule, limit, bound.operator, unit)
            continue
        entries = entries_of(world, rule, unit)
        found += _tallies(world, rule, bound, entries, limit, bound.operator)
        if place == 0:
            for part in condition.parts:
                amount, unit_of_part = amount_of(part.amount)
                every = _triggered(world, rule, entries_of(world, rule, unit_of_part))
                tried = [_in_part(world, entry, part) for entry in every]
                inner = [entry for entry in tried if entry is not None]
                found += _tallies(world, rule, bound, inner, amount, part.operator, whole=True)
            if condition.crew_cap:
                cap, unit_of_cap = amount_of(condition.crew_cap)
                found += _crew(world, rule, bound, entries_of(world, rule, unit_of_cap), cap)
    return found


def _limit_of(rule: Rule, bound: Bound) -> tuple[str, Fraction]:
    if bound.container:
        litres = next(Fraction(one.litres) for one in rule.authority.containers if one.name == bound.container)
        unit, amount = "L", number_of(bound.amount) * litres
    else:
        amount, unit = amount_of(bound.amount)
    return unit, amount * (number_of(bound.times) if bound.times else 1) * bound.years


def _triggered(world: World, rule: Rule, entries: list[Entry]) -> list[Entry]:
    """Only what lies beyond the trigger's amount: of a line of 4 on top of 2, with a trigger of 3, 3 count."""
    after = rule.condition.after
    if after is None:
        return entries
    amount, unit = amount_of(after.amount)
    beyond = []
    for entry in entries:
        low = high = 0
        for other in entries:
            if other.catch.order < entry.catch.order and _key(world, rule, after.period, other.catch) == _key(
                world, rule, after.period, entry.catch
            ):
                least, most = measured(world, other.catch, unit, rule.condition.only.size)
                low += least if other.sure else 0
                high += most
        least, most = (
            max(0, min(entry.low, low + entry.low - amount)),
            max(0, min(entry.high, high + entry.high - amount)),
        )
        if most > 0:
            beyond.append(replace(entry, low=least, high=most))
    return beyond


def _in_part(world: World, entry: Entry, part) -> Entry | None:
    line = entry.catch.line
    fits = both(world.fits_animal(part.taxa, part.stages, part.sexes, line), world.has_size(line, part.size))
    if fits == "no":
        return None
    low, high = entry.low, entry.high
    if part.size is not None:
        sized = measured(world, entry.catch, amount_of(part.amount)[1], part.size)
        low, high = min(low, sized[0]), min(high, sized[1])
        fits = world.fits_animal(part.taxa, part.stages, part.sexes, line)
    return Entry(entry.catch, entry.sure and fits == "yes", low, high)


def _key(world: World, rule: Rule, period: str, catch: Catch, bound: Bound | None = None) -> object:
    day = world.day(catch.at, rule.authority)
    years = bound.years if bound else 1
    first_day = dt.date.fromisoformat(rule.authority.first_day)
    if period == "haul":
        return catch.haul.id
    if period == "trip":
        return catch.trip.id
    if period in ("day", "rolling days"):
        return day
    if period == "month":
        return day.year, day.month
    if period == "calendar year":
        return (day.year - first_day.year) // years
    if period == "permit year":
        starts = rule.authority.year_starts
        return (year_start(day, starts).year - year_start(first_day, starts).year) // years
    if period == "season":
        return world.in_dates(day, bound.dates)
    return "term"


def _by_period(world: World, rule: Rule, bound: Bound, entries: list[Entry]) -> dict[object, list[Entry]]:
    found: dict[object, list[Entry]] = {}
    for entry in entries:
        key = _key(world, rule, bound.period, entry.catch, bound)
        if key is not None:
            found.setdefault(key, []).append(entry)
    if bound.period == "rolling days":
        window = {}
        for day in found:
            days = [day - dt.timedelta(n) for n in range(bound.days)]
            window[day] = [entry for other in found if other in days for entry in found[other]]
        return window
    return found


def _holders(world: World, rule: Rule, entries: list[Entry]) -> dict[object, list[Entry]]:
    """The tally of each holder; a line whose holder nobody recorded may belong to each, and has one of its own."""
    holder = rule.condition.holder
    if holder in ("permit", "everybody"):
        return {"": entries}
    found: dict[object, list[Entry]] = {}
    if holder == "area":
        for area in rule.condition.only.areas:
            for entry in entries:
                lies = world.place(entry.catch.haul, (area,))
                if lies != "no":
                    found.setdefault(area, []).append(replace(entry, sure=entry.sure and lies == "yes"))
        return found
    for entry in entries:
        found.setdefault(NAMES[holder](entry.catch), []).append(entry)
    loose = [replace(entry, sure=False) for entry in found.pop("", [])]
    found = {name: sorted([*own, *loose], key=lambda one: one.catch.order) for name, own in found.items()}
    return {**found, "": loose} if loose else found


def _sum(entries: list[Entry]) -> tuple:
    low = sum((entry.span[0] for entry in entries), start=0)
    high = sum((entry.span[1] for entry in entries), start=0)
    return low, high


def _finding(rule: Rule, extra: list[tuple], before: list[Entry], here: list[Entry], limit, operator) -> Key:
    spans = extra + [entry.span for entry in before]
    outcome = outcome_in_worlds(spans, [entry.span for entry in here], limit, operator)
    low = sum((span[0] for span in spans), start=0)
    high = sum((span[1] for span in spans), start=0)
    records = frozenset(entry.catch.line.id for entry in (*before, *here))
    return rule.key(outcome, (limit, operator, (low, high), _sum(here), records))


def _split(rule: Rule, entries: list[Entry]) -> tuple[list[Entry], list[Entry]]:
    before = [entry for entry in entries if rule.begins is not None and entry.catch.at < rule.begins]
    return before, [entry for entry in entries if rule.holds(entry.catch.at)]


def _tallies(
    world: World, rule: Rule, bound: Bound, entries: list[Entry], limit, operator: str, *, whole: bool = False
) -> list[Key]:
    """The tallies by name (parts stand in the whole, whatever the names), by period and by holder."""
    found = []
    for name, of_name in ({"": entries} if whole else names_of(world, rule, entries)).items():
        for period, of_period in _by_period(
            world, rule, bound, of_name if whole else _triggered(world, rule, of_name)
        ).items():
            for holder, of_holder in _holders(world, rule, of_period).items():
                # A rolling window belongs to a name that was recorded at any time, not in that window alone.
                of_all = _holders(world, rule, of_name).get(holder, []) if bound.period == "rolling days" else of_holder
                own = of_holder if under_name(rule, str(name), holder, of_all) else []
                if not own:
                    continue
                if rule.condition.holder == "everybody":
                    found += _shared(world, rule, bound, period, own, limit, operator)
                    continue
                before, here = _split(rule, own)
                if bound.period == "rolling days":  # what was taken on the days before stands before
                    earlier = [entry for entry in here if world.day(entry.catch.at, rule.authority) < period]
                    before, here = before + earlier, [entry for entry in here if entry not in earlier]
                if here or _carried_over(world, rule, bound, before):
                    found.append(_finding(rule, [], before, here, limit, operator))
    return found


def _carried_over(world: World, rule: Rule, bound: Bound, before: list[Entry]) -> bool:
    """Whether a long period with take from before the version began was still running when it did."""
    if not before or bound.period not in LONG:
        return False
    first = replace(before[0].catch, at=rule.begins)
    return _key(world, rule, bound.period, first, bound) == _key(world, rule, bound.period, before[0].catch, bound)


def _crew(world: World, rule: Rule, bound: Bound, entries: list[Entry], cap: Fraction) -> list[Key]:
    found = []
    for trip in world.trips:
        own = [entry for entry in _triggered(world, rule, entries) if entry.catch.trip.id == trip.id]
        for period, days in _by_period(world, rule, bound, own).items():
            before, here = _split(rule, days)
            if bound.period == "rolling days":
                earlier = [entry for entry in here if world.day(entry.catch.at, rule.authority) < period]
                before, here = before + earlier, [entry for entry in here if entry not in earlier]
            if here or _carried_over(world, rule, bound, before):
                found.append(_finding(rule, [], before, here, cap, bound.operator))
    return found


def _shared(world: World, rule: Rule, bound: Bound, period, entries: list[Entry], limit, operator: str) -> list[Key]:
    """A quota shared with others: the published total, and on top of it what was taken since."""
    published = [
        total
        for total in world.season.shared_totals
        if total.authority == rule.authority.id
        and total.condition == rule.number
        and _key(world, rule, bound.period, _at(entries, total.as_of), bound) == period
    ]
    totals = []  # of two that were published at one instant either may be the right one
    for moment in sorted({total.as_of for total in published}):
        same = [total.total for total in published if total.as_of == moment]
        totals.append((moment, (min(count.low for count in same), max(count.high for count in same))))
    found = []
    for n in range(-1, len(totals)):
        since = totals[n][0] if n >= 0 else None
        until = totals[n + 1][0] if n + 1 < len(totals) else None
        own = [
            entry
            for entry in entries
            if (since is None or entry.catch.at > since) and (until is None or entry.catch.at <= until)
        ]
        start = (0, MOST) if n < 0 else totals[n][1]
        before, here = _split(rule, own)
        if here:
            found.append(_finding(rule, [start], before, here, limit, operator))
    return found


def _at(entries: list[Entry], moment: dt.datetime) -> Catch:
    return replace(entries[0].catch, at=moment)
