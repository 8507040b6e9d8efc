"""Take limits by trying worlds: every line low or high, in or out, and looking in which the limit breaks."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass, replace
from fractions import Fraction

from api.domain.conditions import Bound, TakeLimit
from api.domain.trips import Haul, Line, Trip
from tests.oracle.plain_world import (
    MOST,
    Catch,
    Key,
    Rule,
    World,
    amount_of,
    both,
    number_of,
    worst,
    year_start,
)

GAINS = ("born", "given", "found")
NAMES = {
    "person": lambda catch: catch.person,
    "site": lambda catch: catch.haul.site,
    "waterbody": lambda catch: catch.haul.waterbody,
    "container": lambda catch: catch.line.container,
}
LONG = ("month", "calendar year", "permit year", "season", "term")


@dataclass(frozen=True)
class Entry:
    """One line in one tally: whether it belongs, and how much it is if it does."""

    catch: Catch
    sure: bool
    low: object
    high: object
    home: object = 0  # how much of it is sure under its own name, where every recorded name has a tally

    @property
    def span(self) -> tuple:
        return (self.low if self.sure else 0, self.high)


def judge_take(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    assert isinstance(condition, TakeLimit)
    found: list[Key] = []
    for place, bound in enumerate(condition.limits):
        unit, limit = _limit_of(rule, bound)
        if bound.period == "held":
            found += _held(world, rule, limit, bound.operator, unit)
            continue
        entries = _entries(world, rule, unit)
        found += _tallies(world, rule, bound, entries, limit, bound.operator)
        if place == 0:
            for part in condition.parts:
                amount, unit_of_part = amount_of(part.amount)
                inner = [
                    one for one in map(lambda e: _in_part(world, e, part), _entries(world, rule, unit_of_part)) if one
                ]
                found += _tallies(world, rule, bound, inner, amount, part.operator, whole=True)
            if condition.crew_cap:
                cap, unit_of_cap = amount_of(condition.crew_cap)
                found += _crew(world, rule, bound, _entries(world, rule, unit_of_cap), cap)
    return found


def _limit_of(rule: Rule, bound: Bound) -> tuple[str, Fraction]:
    if bound.container:
        litres = [Fraction(one.litres) for one in rule.authority.containers if one.name == bound.container][0]
        unit, amount = "L", number_of(bound.amount) * litres
    else:
        amount, unit = amount_of(bound.amount)
    return unit, amount * (number_of(bound.times) if bound.times else 1) * bound.years


def _measured(world: World, catch: Catch, unit: str, size) -> tuple:
    """How much of a unit a line is: what was recorded otherwise may be anything."""
    line = catch.line
    if unit == "n" and line.unit == "individuals":
        inside, outside = world.sized(line, size)
        if size is not None:
            return min(inside, line.count.low), max(0, line.count.high - outside)
        return line.count.low, line.count.high
    amount = line.count if unit == line.unit else line.weight if unit == "g" else None
    low, high = (0, MOST) if amount is None else (amount.low, amount.high)
    return (0 if size is not None else low), high


def _entries(world: World, rule: Rule, unit: str) -> list[Entry]:
    condition = rule.condition
    fates = {"kept": ("kept",), "kept and dead": ("kept", "dead"), "handled": ("kept", "released", "dead", "lost")}
    found = []
    for catch in world.catches:
        if catch.authority not in (rule.authority.id, *condition.in_common_with):
            continue
        if catch.line.fate not in fates[condition.counts] or catch.line.count.high == 0:
            continue
        fits = both(
            world.covers(rule, catch.line),
            world.fits_catch(condition.only, catch, rule.authority),
        )
        if fits != "no" and world.has_size(catch.line, condition.only.size) != "no":
            low, high = _measured(world, catch, unit, condition.only.size)
            found.append(Entry(catch, fits == "yes", low, high))
    return found


def _triggered(world: World, rule: Rule, entries: list[Entry]) -> list[Entry]:
    """Only what came after the running total had reached the trigger's amount."""
    after = rule.condition.after
    if after is None:
        return entries
    amount, unit = amount_of(after.amount)
    kept = []
    for entry in entries:
        low = high = 0
        for other in entries:
            if other.catch.order < entry.catch.order and _key(world, rule, after.period, other.catch) == _key(
                world, rule, after.period, entry.catch
            ):
                least, most = _measured(world, other.catch, unit, rule.condition.only.size)
                low += least if other.sure else 0
                high += most
        if high >= amount:
            kept.append(replace(entry, sure=entry.sure and low >= amount))
    return kept


def _in_part(world: World, entry: Entry, part) -> Entry | None:
    line = entry.catch.line
    fits = both(world.fits_animal(part.taxa, part.stages, part.sexes, line), world.has_size(line, part.size))
    if fits == "no":
        return None
    low, high = entry.low, entry.high
    if part.size is not None:
        sized = _measured(world, entry.catch, amount_of(part.amount)[1], part.size)
        low, high = min(low, sized[0]), min(high, sized[1])
        fits = world.fits_animal(part.taxa, part.stages, part.sexes, line)
    return Entry(entry.catch, entry.sure and fits == "yes", low, high)


# --- which tally ---------------------------------------------------------------------------------------------


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
                    sure, home = entry.sure and lies == "yes", entry.home if lies == "yes" else 0
                    found.setdefault(area, []).append(replace(entry, sure=sure, home=home))
        return found
    for entry in entries:
        found.setdefault(NAMES[holder](entry.catch), []).append(entry)
    loose = [replace(entry, sure=False, home=0) for entry in found.pop("", [])]
    found = {name: sorted([*own, *loose], key=lambda one: one.catch.order) for name, own in found.items()}
    return {**found, "": loose} if loose else found


def _names(world: World, rule: Rule, entries: list[Entry]) -> dict[object, list[Entry]]:
    """With ``each``: the tally of every named taxon, or of every recorded name."""
    condition = rule.condition
    if not condition.each:
        return {"": entries}
    found: dict[object, list[Entry]] = {}
    if not condition.unlisted:
        for taxon in rule.groups[condition.group] if condition.group else condition.taxa:
            for entry in entries:
                fits = world.named(entry.catch.line, (taxon,))
                if fits != "no":
                    found.setdefault(taxon, []).append(replace(entry, sure=entry.sure and fits == "yes"))
        return found
    for name in dict.fromkeys(entry.catch.line.taxon for entry in entries):
        for entry in entries:
            line = entry.catch.line
            plain = not line.doubt and not line.one_of
            own = plain and world.book.taxa.taxa[line.taxon].rank in ("species", "subspecies")
            if line.taxon == name:
                found.setdefault(name, []).append(replace(entry, sure=entry.sure and own))
            elif world.named(line, (name,)) != "no":
                home = entry.low if entry.sure and own else 0
                found.setdefault(name, []).append(replace(entry, sure=False, home=home))
    return found


# --- judging a tally -----------------------------------------------------------------------------------------


def _sum(entries: list[Entry]) -> tuple:
    low = sum((entry.span[0] for entry in entries), start=0)
    high = sum((entry.span[1] for entry in entries), start=0)
    return low, high


def _breaks(before: object, here: object, limit: Fraction, operator: str) -> bool:
    over = before + here > limit if operator == "at most" else before + here >= limit
    return here > 0 and over


def outcome_in_worlds(before: list[tuple], here: list[tuple], limit: Fraction, operator: str) -> str:
    """Broken if in every world, met if in none: a world picks the low or the high of every line."""
    spans = before + here
    loose = [n for n, (low, high) in enumerate(spans) if low != high]
    if len(loose) > 6:  # too many to list: the world of all lows and the world of all highs decide
        choices = [tuple(0 for _ in loose), tuple(1 for _ in loose)]
    else:
        choices = list(itertools.product((0, 1), repeat=len(loose)))
    broken = []
    for choice in choices:
        picked = [span[0] for span in spans]
        for n, which in zip(loose, choice, strict=True):
            picked[n] = spans[n][which]
        broken.append(_breaks(sum(picked[: len(before)]), sum(picked[len(before) :]), limit, operator))
    if all(broken):
        return "broken"
    return "open" if any(broken) else "met"


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
    for name, of_name in ({"": entries} if whole else _names(world, rule, entries)).items():
        of_name = _triggered(world, rule, of_name)
        for period, of_period in _by_period(world, rule, bound, of_name).items():
            for holder, own in _holders(world, rule, of_period).items():
                if rule.condition.unlisted and name:
                    own = _under_name(rule, str(name), holder, own)
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


def _under_name(rule: Rule, name: str, holder: object, entries: list[Entry]) -> list[Entry]:
    """A recorded name's tally with one holder: none if nothing so named is theirs; lines sure elsewhere stay out."""
    at_home = [entry for entry in entries if entry.catch.line.taxon == name]
    if rule.condition.holder in NAMES and holder:
        at_home = [entry for entry in at_home if NAMES[rule.condition.holder](entry.catch) == holder]
    if not at_home:
        return []
    return [entry for entry in entries if entry.catch.line.taxon == name or entry.home == 0]


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
    totals = [
        (total.as_of, total.total)
        for total in world.season.shared_totals
        if total.authority == rule.authority.id and total.condition == rule.number
        and _key(world, rule, bound.period, _at(entries, total.as_of), bound) == period
    ]  # fmt: skip
    totals.sort(key=lambda pair: pair[0])
    found = []
    for n in range(-1, len(totals)):
        since = totals[n][0] if n >= 0 else None
        until = totals[n + 1][0] if n + 1 < len(totals) else None
        own = [
            entry
            for entry in entries
            if (since is None or entry.catch.at > since) and (until is None or entry.catch.at <= until)
        ]
        start = (0, MOST) if n < 0 else (totals[n][1].low, totals[n][1].high)
        before, here = _split(rule, own)
        if here:
            found.append(_finding(rule, [start], before, here, limit, operator))
    return found


def _at(entries: list[Entry], moment: dt.datetime) -> Catch:
    return replace(entries[0].catch, at=moment)


# --- held at once --------------------------------------------------------------------------------------------


def _held(world: World, rule: Rule, limit: Fraction, operator: str, unit: str) -> list[Key]:
    """What is held after each coming in, lot by lot: caught or gained until then, less what had left."""
    entries = _entries(world, rule, unit)
    for move in world.season.movements:
        if (
            move.what in GAINS
            and move.at <= world.as_of
            and move.authority in (rule.authority.id, *rule.condition.in_common_with)
        ):
            line = Line(id=move.id, taxon=move.taxon, count=move.count, fate="kept")
            catch = Catch(line, Haul(id=move.id, start=move.at), Trip(id="", zone="UTC", leader=""), move.at, "", "")
            fits = world.covers(rule, line)
            if fits != "no":
                entries.append(Entry(catch, fits == "yes", *_measured(world, catch, unit, None)))
    found = []
    for name, own in _names(world, rule, entries).items():
        own = _under_name(rule, str(name), "", own) if rule.condition.unlisted and name else own
        outcomes = []
        for moment in sorted({entry.catch.at for entry in own}):
            if rule.holds(moment):
                earlier = [_left(world, entry, moment) for entry in own if entry.catch.at < moment]
                now = [_left(world, entry, moment) for entry in own if entry.catch.at == moment]
                outcomes.append(outcome_in_worlds(earlier, now, limit, operator))
        if outcomes:
            found.append(rule.key(worst(outcomes), ("held", limit, operator)))
    return found


def _left(world: World, entry: Entry, moment: dt.datetime) -> tuple:
    """What may still be there of one lot."""
    gone = [
        move.count
        for move in world.season.movements
        if move.line == entry.catch.line.id and move.what not in GAINS and move.at <= moment
    ]
    out_low, out_high = sum(count.low for count in gone), sum(count.high for count in gone)
    line = entry.catch.line
    if (entry.low, entry.high) != (line.count.low, line.count.high):  # told in another unit than what left
        all_gone = out_low >= line.count.high
        return (entry.low if entry.sure and not gone else 0, 0 if all_gone else entry.high)
    low = max(0, entry.low - out_high)
    return (low if entry.sure else 0, max(0, entry.high - out_low))
