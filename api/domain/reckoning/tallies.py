"""Running totals behind limits: which lines count, how much, in whose tally and in which period.

Each version of a limit reads the whole period by its own words: what was taken before the version began
counts as *before*, and only what was taken while it held is judged by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from api.domain.calendar import on_day, parse_day, parse_month_day, permit_year_start
from api.domain.conditions import Bound, Only, SizeClass, TakeLimit, Trigger
from api.domain.counts import NOTHING, UNKNOWN, Amount, Count
from api.domain.facts import Facts, LineFact
from api.domain.measures import parse_quantity
from api.domain.permits import Authority, Clause
from api.domain.reckoning.fitting import fit_areas, fit_line, fit_name, members_of, share_in_class
from api.domain.taxa import YES, Fit, Identification
from api.domain.vocabulary import BASIS_FATES, Operator, Period

NOT_RECORDED = "not recorded"
UNIT_OF = {"count": "individuals", "mass": "g", "volume": "L"}


@dataclass(frozen=True, slots=True)
class Spec:
    """One limit to be tallied: an amount over a period for one holder, of certain animals.

    ``taxa`` is None where the condition's own animals count; a tuple narrows to those (``each``, parts).
    ``names`` is set for "each unlisted": one tally per name as recorded.
    """

    clause: Clause
    label: str
    amount: Amount
    unit: str
    operator: Operator
    period: Period
    bound: Bound
    holder: str
    taxa: tuple[str, ...] | None = None
    narrower: Only = Only()
    by_name: bool = False

    @property
    def whole(self) -> bool:
        """Whether the limit counts whole animals, not litres or grams."""
        return self.unit == "individuals"

    @property
    def condition(self) -> TakeLimit:
        """The take limit that the spec comes from."""
        condition = self.clause.condition
        if not isinstance(condition, TakeLimit):
            raise TypeError(f"a tally needs a take limit, got {condition.number}")
        return condition


@dataclass(slots=True)
class Entry:
    """A line's share in a tally."""

    line: LineFact
    count: Count


@dataclass(slots=True)
class Bucket:
    """One tally: of one holder, in one period: its first day, or the id of a haul or trip, or the whole term."""

    holder: str
    first_day: date | None
    record: str = ""
    entries: list[Entry] = field(default_factory=list)


def amount_of(authority: Authority, text: str, container: str, times: str) -> tuple[Amount, str]:
    """Read an amount as issued: a number and its base unit (individuals, g, L).

    Raises ValueError for a container that the authority does not list.
    """
    factor = Fraction(times) if times else Fraction(1)
    if container:
        for known in authority.containers:
            if known.name == container:
                return Fraction(text) * Fraction(known.litres) * factor, "L"
        raise ValueError(f"the container '{container}' is not listed under 'containers' of '{authority.id}'")
    quantity = parse_quantity(text)
    exact = quantity.exact * factor
    whole: Amount = int(exact) if exact.denominator == 1 else exact
    return whole, UNIT_OF[quantity.dimension]


def specs_of(clause: Clause) -> Iterator[Spec]:
    """Give every limit that a take-limit clause holds: its bounds, its parts, its crew cap."""
    condition = clause.condition
    if not isinstance(condition, TakeLimit):
        return
    for bound in condition.limits:
        amount, unit = amount_of(clause.authority, bound.amount, bound.container, bound.times)
        amount *= bound.years
        base = _spec(clause, bound, amount, unit, condition.holder)
        if not condition.each:
            yield base
        elif condition.unlisted:
            yield _changed(base, by_name=True)
        else:
            for taxon in members_of(clause, condition.taxa, condition.group):
                yield _changed(base, label=_joined(base.label, taxon), taxa=(taxon,))
    yield from _parts(clause, condition)


def _parts(clause: Clause, condition: TakeLimit) -> Iterator[Spec]:
    first = condition.limits[0]
    for part in condition.parts:
        amount, unit = amount_of(clause.authority, part.amount, "", "")
        narrower = Only(stages=part.stages, sexes=part.sexes, size=part.size)
        base = _spec(clause, first, amount, unit, condition.holder)
        yield _changed(
            base,
            label=_joined(base.label, part.label),
            operator=part.operator,
            taxa=part.taxa or None,
            narrower=narrower,
        )
    if condition.crew_cap:
        amount, unit = amount_of(clause.authority, condition.crew_cap, "", "")
        yield _changed(_spec(clause, first, amount, unit, "crew"), label="whole crew")


def _spec(clause: Clause, bound: Bound, amount: Amount, unit: str, holder: str) -> Spec:
    condition = clause.condition
    several = isinstance(condition, TakeLimit) and len(condition.limits) > 1
    label = f"per {bound.period}" if several else ""
    return Spec(clause, label, amount, unit, bound.operator, bound.period, bound, holder)


def _changed(spec: Spec, **changes: object) -> Spec:
    values = {name: getattr(spec, name) for name in Spec.__dataclass_fields__}
    return Spec(**(values | changes))


def _joined(*labels: str) -> str:
    return ", ".join(label for label in labels if label)


def count_in(entry: LineFact, unit: str) -> Count:
    """Give a line's count in the unit of a limit; unknown where the record does not tell it."""
    line = entry.line
    if line.unit == unit:
        return line.count
    if unit == "g" and line.unit == "individuals" and line.weight is not None:
        return line.weight
    return UNKNOWN if line.count.high else NOTHING


def shrunk(count: Count, fit: Fit) -> Count:
    """Give the count as far as it fits: all, only possibly, or not at all."""
    if fit.certain:
        return count
    return count.possible(nominal=fit.likely) if fit.possible else NOTHING


def entries_of(facts: Facts, spec: Spec) -> list[Entry]:
    """Give the lines that count in a spec, with how much, in order of capture."""
    condition, clause = spec.condition, spec.clause
    fates = BASIS_FATES[condition.counts]
    plain = condition.only == Only() and spec.narrower == Only()
    found: list[Entry] = []
    for name, lines in facts.lines_of((clause.authority.id, *condition.in_common_with)):
        fit = _fit_spec(facts, spec, name)
        if not fit.possible:
            continue
        for entry in lines:
            if entry.line.fate not in fates:
                continue
            if plain and fit.certain and entry.line.unit == spec.unit:
                found.append(Entry(entry, entry.line.count))
                continue
            count = _count(facts, spec, entry, fit)
            if count.high:
                found.append(Entry(entry, count))
    found.sort(key=lambda entry: entry.line.order)
    return _after_trigger(facts, spec, found) if condition.after is not None else found


def _fit_spec(facts: Facts, spec: Spec, name: Identification) -> Fit:
    if spec.taxa is None:
        return fit_name(facts, spec.clause, name)
    return fit_name(facts, spec.clause, name) & facts.book.taxa.fit(name, spec.taxa)


def _count(facts: Facts, spec: Spec, entry: LineFact, fit: Fit) -> Count:
    for only in (spec.condition.only, spec.narrower):
        plain = Only(**{name: getattr(only, name) for name in Only.__dataclass_fields__ if name != "size"})
        fit &= fit_line(facts, spec.clause, plain, entry)
    count = count_in(entry, spec.unit)
    for only in (spec.condition.only, spec.narrower):
        if only.size is not None:
            count = _in_class(entry, count, only.size)
    return shrunk(count, fit)


def _in_class(entry: LineFact, count: Count, size: SizeClass) -> Count:
    low, high = share_in_class(entry.line, size)
    if high == 0:
        return NOTHING
    if low == entry.line.count.low == entry.line.count.high:
        return count
    if entry.line.unit != "individuals" or count is not entry.line.count:
        return count.possible(nominal=low > 0)
    most = int(high) if high != float("inf") else count.high
    return Count(min(low, count.low), min(max(low, 0), count.best), min(most, count.high))


def _after_trigger(facts: Facts, spec: Spec, entries: list[Entry]) -> list[Entry]:
    """Keep of each entry what was caught after the trigger's total had been reached."""
    trigger = spec.condition.after
    if trigger is None:
        return entries
    amount, _ = amount_of(spec.clause.authority, trigger.amount, "", "")
    running: dict[date | None, Count] = {}
    kept: list[Entry] = []
    for entry in entries:
        key = _trigger_period(facts, spec, trigger, entry.line)
        before = running.get(key, NOTHING)
        running[key] = before + entry.count
        fit = Fit(before.low >= amount, before.best >= amount, before.high >= amount)
        count = shrunk(entry.count, fit)
        if count.high:
            kept.append(Entry(entry.line, count))
    return kept


def _trigger_period(facts: Facts, spec: Spec, trigger: Trigger, entry: LineFact) -> date | None:
    del facts
    authority = spec.clause.authority
    day = entry.day(authority.zone)
    if trigger.period == "calendar year":
        return date(day.year, 1, 1)
    if trigger.period == "permit year":
        return permit_year_start(day, parse_month_day(authority.year_starts))
    return None


def period_of(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    """Give the period a line falls in: its first day and, for haul and trip, the record's id."""
    return _PERIODS[spec.period](spec, entry)


def _by_haul(_spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    return None, entry.haul.haul.id


def _by_trip(_spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    return None, entry.haul.trip.id


def _by_day(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    return entry.day(spec.clause.authority.zone), ""


def _by_month(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    return entry.day(spec.clause.authority.zone).replace(day=1), ""


def _by_calendar_year(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    authority = spec.clause.authority
    day = entry.day(authority.zone)
    return _averaged(date(day.year, 1, 1), date(parse_day(authority.first_day).year, 1, 1), spec), ""


def _by_permit_year(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    authority = spec.clause.authority
    starts = parse_month_day(authority.year_starts)
    year = permit_year_start(entry.day(authority.zone), starts)
    return _averaged(year, permit_year_start(parse_day(authority.first_day), starts), spec), ""


def _averaged(year: date, first: date, spec: Spec) -> date:
    """Give the first day of the run of years that an average is taken over."""
    years = spec.bound.years
    return year if years == 1 else on_day((year.month, year.day), year.year - (year.year - first.year) % years)


def _by_season(spec: Spec, entry: LineFact) -> tuple[date | None, str]:
    dates = spec.bound.dates
    if dates is None:
        return None, ""
    day = entry.day(spec.clause.authority.zone)
    return dates.span(day)[0] if dates.holds(day) else None, "" if dates.holds(day) else OUT_OF_SEASON


def _whole_term(_spec: Spec, _entry: LineFact) -> tuple[date | None, str]:
    return None, ""


OUT_OF_SEASON = "out of season"
_PERIODS: dict[str, Callable[[Spec, LineFact], tuple[date | None, str]]] = {
    "haul": _by_haul,
    "trip": _by_trip,
    "day": _by_day,
    "rolling days": _whole_term,
    "month": _by_month,
    "calendar year": _by_calendar_year,
    "permit year": _by_permit_year,
    "season": _by_season,
    "term": _whole_term,
    "held": _whole_term,
}


def period_last_day(spec: Spec, first: date | None) -> date | None:
    """Give the last day of a period that began on ``first``; None where it has no last day of its own."""
    if first is None:
        return None
    if spec.period == "day":
        return first
    if spec.period == "month":
        return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
    if spec.period in ("calendar year", "permit year"):
        return on_day((first.month, first.day), first.year + spec.bound.years) - timedelta(days=1)
    if spec.period == "season" and spec.bound.dates is not None:
        return spec.bound.dates.span(first)[1]
    return None


def buckets_of(facts: Facts, spec: Spec) -> list[Bucket]:
    """Sort a spec's entries into tallies by holder and period.

    An entry whose site, waterbody or container was not recorded may belong to any: it adds to the high
    of each tally of its period, and stands in one of its own with a low of zero.
    """
    buckets: dict[tuple[str, date | None, str], Bucket] = {}
    loose: dict[tuple[date | None, str], list[Entry]] = {}
    for entry in entries_of(facts, spec):
        first, record = period_of(spec, entry.line)
        if record == OUT_OF_SEASON:
            continue
        for holder, fit in holders_of(facts, spec, entry.line):
            count = shrunk(entry.count, fit)
            if holder == NOT_RECORDED:
                loose.setdefault((first, record), []).append(Entry(entry.line, entry.count.possible(nominal=False)))
            elif count.high:
                bucket = buckets.setdefault((holder, first, record), Bucket(holder, first, record))
                bucket.entries.append(entry if count is entry.count else Entry(entry.line, count))
    _spread(buckets, loose)
    if spec.by_name:
        _spread_names(facts, buckets)
    return list(buckets.values())


def _spread(
    buckets: dict[tuple[str, date | None, str], Bucket], loose: dict[tuple[date | None, str], list[Entry]]
) -> None:
    for (first, record), entries in loose.items():
        for (_, other_first, other_record), bucket in buckets.items():
            if (other_first, other_record) == (first, record):
                bucket.entries = sorted([*bucket.entries, *entries], key=lambda entry: entry.line.order)
        buckets[NOT_RECORDED, first, record] = Bucket(NOT_RECORDED, first, record, entries)


def _spread_names(facts: Facts, buckets: dict[tuple[str, date | None, str], Bucket]) -> None:
    """Let a line with a doubtful name add to the high of every named tally that it may belong to."""
    own = {key: list(bucket.entries) for key, bucket in buckets.items()}
    for (name, first, record), entries in own.items():
        for entry in entries:
            if entry.count.low:
                continue
            for (other, other_first, other_record), bucket in buckets.items():
                if other == name or (other_first, other_record) != (first, record):
                    continue
                if facts.book.taxa.fit(entry.line.line.identification, (other,)).possible:
                    bucket.entries.append(Entry(entry.line, entry.count.possible(nominal=False)))
    for bucket in buckets.values():
        bucket.entries.sort(key=lambda entry: entry.line.order)


def holders_of(facts: Facts, spec: Spec, entry: LineFact) -> Iterable[tuple[str, Fit]]:
    """Give in whose tally a line stands, and how surely."""
    if spec.by_name:
        name = entry.line.identification
        taxon = name.taxon
        named = not name.doubt and not name.one_of
        at_rank = named and facts.book.taxa.taxa[taxon].rank in ("species", "subspecies")
        return ((taxon, YES if at_rank else Fit(certain=False, likely=True, possible=True)),)
    haul = entry.haul.haul
    match spec.holder:
        case "person":
            return ((entry.person, YES),)
        case "site":
            return ((haul.site or NOT_RECORDED, YES),)
        case "waterbody":
            return ((haul.waterbody or NOT_RECORDED, YES),)
        case "container":
            return ((entry.line.container or NOT_RECORDED, YES),)
        case "crew":
            return ((f"crew of {entry.haul.trip.id}", YES),)
        case "area":
            areas = spec.condition.only.areas
            return tuple((area, fit_areas(facts, entry.haul, (area,))) for area in areas)
    return (("", YES),)


def hypothetical(facts: Facts, spec: Spec, entry: LineFact) -> list[tuple[str, date | None, str]]:
    """Give the tallies that one more such line would enter (possible ones included); [] if none."""
    condition = spec.condition
    if entry.line.fate not in BASIS_FATES[condition.counts]:
        return []
    fit = _fit_spec(facts, spec, entry.line.identification)
    if not fit.possible or not _count(facts, spec, entry, fit).high:
        return []
    first, record = period_of(spec, entry)
    if record == OUT_OF_SEASON:
        return []
    return [(holder, first, record) for holder, fit in holders_of(facts, spec, entry) if fit.possible]


def is_estimated(entry: LineFact) -> bool:
    """Tell whether nobody counted the line's animals one by one; material measured exactly is no estimate."""
    if entry.line.unit != "individuals":
        return not entry.line.count.exact
    return entry.line.method != "counted" or not entry.line.count.exact
