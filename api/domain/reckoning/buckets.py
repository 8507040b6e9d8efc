"""Tallies: a limit's lines sorted by holder, name and period, with doubt about whose and which they are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import NamedTuple

from api.domain.calendar import end_of_day, on_day, parse_day, parse_month_day, permit_year_start, start_of_day
from api.domain.facts import Facts, LineFact
from api.domain.reckoning.fitting import fit_areas
from api.domain.reckoning.tallies import Entry, Spec, count_of, entries_of, fit_spec, shrunk
from api.domain.taxa import YES, Fit, Identification
from api.domain.vocabulary import BASIS_FATES

NOT_RECORDED = "not recorded"
OUT_OF_SEASON = "out of season"


class Key(NamedTuple):
    """Which tally: its holder, its name where each recorded name has its own, and its period.

    A period is its first day, or the id of a haul or trip (``record``); neither: the whole term.
    """

    holder: str
    name: str
    first_day: date | None
    record: str

    @property
    def period(self) -> tuple[date | None, str]:
        """The period alone."""
        return self.first_day, self.record


@dataclass(slots=True)
class Bucket:
    """One tally with its lines in order of capture."""

    key: Key
    entries: list[Entry] = field(default_factory=list)

    def add(self, entries: Iterable[Entry]) -> None:
        """Take in lines and put all in order of capture again."""
        self.entries = sorted([*self.entries, *entries], key=lambda entry: entry.line.capture)


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
        starts = (1, 1) if spec.period == "calendar year" else parse_month_day(spec.clause.authority.year_starts)
        return on_day(starts, first.year + spec.bound.years) - timedelta(days=1)
    if spec.period == "season" and spec.bound.dates is not None:
        return spec.bound.dates.span(first)[1]
    return None


def in_period(spec: Spec, key: Key, moment: datetime) -> bool:
    """Tell whether a moment lies in a tally's period; one without a first day of its own holds all."""
    if key.first_day is None:
        return True
    zone = spec.clause.authority.zone
    last = period_last_day(spec, key.first_day)
    return moment >= start_of_day(key.first_day, zone) and (last is None or moment < end_of_day(last, zone))


def buckets_of(facts: Facts, spec: Spec, also: Iterable[Key] = ()) -> list[Bucket]:
    """Sort a spec's entries into tallies; a key in ``also`` has one even if no line is surely of it.

    An entry whose site, waterbody or container was not recorded may belong to any: it adds to the high
    of each tally of its period, and stands in one of its own with a low of zero.
    """
    buckets: dict[Key, Bucket] = {}
    for key, own in placed(facts, spec, entries_of(facts, spec)):
        buckets.setdefault(key, Bucket(key)).entries.append(own)
    return spread(facts, spec, buckets, also)


def placed(facts: Facts, spec: Spec, entries: Iterable[Entry]) -> Iterator[tuple[Key, Entry]]:
    """Give for each line the tallies that it stands in, with how much of it."""
    for entry in entries:
        for key, fit in keys_of(facts, spec, entry.line):
            count = shrunk(entry.count, fit)
            if count.high:
                yield key, entry if count is entry.count else Entry(entry.line, count)


def spread(facts: Facts, spec: Spec, buckets: dict[Key, Bucket], also: Iterable[Key]) -> list[Bucket]:
    """Give tallies with their own lines those that may be theirs; ``also`` as for ``buckets_of``."""
    for key in also:
        if not any(other.name == key.name for other in buckets):
            buckets[key] = Bucket(key)
    _spread(facts, spec, buckets)
    return list(buckets.values())


def _spread(facts: Facts, spec: Spec, buckets: dict[Key, Bucket]) -> None:
    """Let a line be a possible one of every tally of its period whose holder and name it may have.

    A line whose holder was not recorded may be any holder's; one whose name is not sure may be of any name
    it fits. A sure species under a recorded holder stands in its own tally alone.
    """
    guests: dict[Key, list[Entry]] = {}
    for key, bucket in buckets.items():
        unsure = [entry for entry in bucket.entries if spec.by_name and not is_sure(facts, entry.line.name)]
        anywhere = key.holder == NOT_RECORDED
        if not unsure and not anywhere:
            continue
        for other in buckets:
            if other == key or other.period != key.period or (other.holder != key.holder and not anywhere):
                continue
            own = bucket.entries if other.name == key.name else unsure
            guests.setdefault(other, []).extend(
                Entry(entry.line, entry.count.possible(nominal=False))
                for entry in own
                if other.name == key.name or facts.book.taxa.fit(entry.line.name, (other.name,)).possible
            )
    for key, entries in guests.items():
        buckets[key].add(entries)


def is_sure(facts: Facts, name: Identification) -> bool:
    """Tell whether a name is that of one species for certain."""
    rank = facts.book.taxa.taxa[name.taxon].rank
    return not name.doubt and not name.one_of and rank in ("species", "subspecies")


def keys_of(facts: Facts, spec: Spec, entry: LineFact) -> Iterator[tuple[Key, Fit]]:
    """Give the tallies that a line stands in, and how surely; none where its day is in no period."""
    first, record = period_of(spec, entry)
    if record == OUT_OF_SEASON:
        return
    name = entry.name.taxon if spec.by_name else ""
    fit_name = YES if not name or is_sure(facts, entry.name) else _LIKELY
    for holder, fit in _holders_of(facts, spec, entry):
        yield Key(holder, name, first, record), fit & fit_name


_LIKELY = Fit(certain=False, likely=True, possible=True)


def _holders_of(facts: Facts, spec: Spec, entry: LineFact) -> Iterable[tuple[str, Fit]]:
    haul = entry.haul.haul
    match spec.holder:
        case "person":
            return ((entry.person, YES),)
        case "site":
            return ((haul.site, YES),) if haul.site else _ANY_HOLDER
        case "waterbody":
            return ((haul.waterbody, YES),) if haul.waterbody else _ANY_HOLDER
        case "container":
            return ((entry.line.container, YES),) if entry.line.container else _ANY_HOLDER
        case "crew":
            return ((f"crew of {entry.haul.trip.id}", YES),)
        case "area":
            areas = spec.condition.only.areas
            return tuple((area, fit_areas(facts, entry.haul, (area,))) for area in areas)
    return (("", YES),)


_ANY_HOLDER = ((NOT_RECORDED, Fit(certain=False, likely=False, possible=True)),)


def hypothetical(facts: Facts, spec: Spec, entry: LineFact) -> list[Key]:
    """Give the tallies that one more such line would enter (possible ones included); [] if none."""
    if entry.line.fate not in BASIS_FATES[spec.condition.counts]:
        return []
    fit = fit_spec(facts, spec, entry.name)
    if not fit.possible or not count_of(facts, spec, entry, fit).high:
        return []
    return [key for key, fit in keys_of(facts, spec, entry) if fit.possible]
