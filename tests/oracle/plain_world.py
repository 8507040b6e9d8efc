"""The ground under the plain judge: who caught what when and under what, in the plainest loops there are.

Written from CHECKS and the notes on its open points, not from the engine. Doubt is a word: "yes", "maybe"
or "no"; it comes from listing every case that the record allows and looking whether all, some or none fit.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from api.domain.calendar import DateRange
from api.domain.conditions import Condition, Only, SizeClass
from api.domain.facts import Book
from api.domain.permits import Authority
from api.domain.trips import Haul, Line, Season, Trip
from tests.oracle import plain_places

Key = tuple  # (authority, number, version, outcome, what it speaks of)
MOST = math.inf
FACTORS = {  # NIST Handbook 44, Appendix C; in millimetres, grams and litres
    "mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": Fraction("25.4"), "ft": Fraction("304.8"),
    "g": Fraction(1), "kg": Fraction(1000), "oz": Fraction("28.349523125"), "lb": Fraction("453.59237"),
    "L": Fraction(1), "gal": Fraction("3.785411784"), "dry quart": Fraction("1.101220942715"),
}  # fmt: skip
UNIT_OF = {"g": "g", "kg": "g", "oz": "g", "lb": "g", "L": "L", "gal": "L", "dry quart": "L"}


def number_of(text: str) -> Fraction:
    """ "3 1/2" or "12.5" as a fraction."""
    return sum((Fraction(word) for word in text.split()), Fraction(0))


def amount_of(text: str) -> tuple[Fraction, str]:
    """An amount in animals ("n"), grams or litres, or a length in millimetres, with what it measures."""
    digits = text.rstrip("abcdefghijklmnopqrstuvwxyzL ")
    word = text[len(digits) :].strip()
    if not word:
        return number_of(digits), "n"
    return number_of(digits) * FACTORS[word], UNIT_OF.get(word, "mm")


def hours(text: str) -> dt.timedelta:
    value = number_of(text)
    return dt.timedelta(seconds=float(value * 3600))


@dataclass(frozen=True)
class Catch:
    line: Line
    haul: Haul
    trip: Trip
    at: dt.datetime
    authority: str
    person: str

    @property
    def order(self) -> tuple:
        return (self.at, self.haul.id, self.line.id)


@dataclass(frozen=True)
class Rule:
    """One condition in one version of one authority, with the span in which it holds (end excluded)."""

    authority: Authority
    number: str
    version: int
    condition: Condition
    begins: dt.datetime | None
    ends: dt.datetime | None
    groups: dict
    people: tuple
    beside: tuple  # the other conditions of this version

    def holds(self, at: dt.datetime) -> bool:
        return (self.begins is None or self.begins <= at) and (self.ends is None or at < self.ends)

    def key(self, outcome: str, about: object) -> Key:
        return (self.authority.id, self.number, self.version, outcome, about)


def rules_of(authority: Authority) -> list[Rule]:
    """Every condition in every version."""
    states = [(None, {one.number: one for one in authority.conditions}, authority.people,
               {group.id: group.taxa for group in authority.groups})]  # fmt: skip
    for change in authority.amendments:
        _, conditions, people, groups = states[-1]
        conditions = {**conditions, **{one.number: one for one in change.conditions}}
        for number in change.withdrawn:
            conditions.pop(number, None)
        groups = {**groups, **{group.id: group.taxa for group in change.groups}}
        begins = dt.datetime.fromisoformat(change.from_moment).astimezone(dt.UTC)
        states.append((begins, conditions, people if change.people is None else change.people, groups))
    rules = []
    for place, (begins, conditions, people, groups) in enumerate(states):
        ends = states[place + 1][0] if place + 1 < len(states) else None
        for number, condition in conditions.items():
            beside = tuple(other for other in conditions.values() if other.number != number)
            rules.append(Rule(authority, number, place + 1, condition, begins, ends, groups, people, beside))
    return rules


# --- doubt ---------------------------------------------------------------------------------------------------


def verdict(cases: list[bool]) -> str:
    if all(cases):
        return "yes"
    return "maybe" if any(cases) else "no"


def both(*words: str) -> str:
    if "no" in words:
        return "no"
    return "maybe" if "maybe" in words else "yes"


def either(*words: str) -> str:
    if "yes" in words:
        return "yes"
    return "maybe" if "maybe" in words else "no"


def softened(outcome: str, fits: str) -> str:
    """What is broken only if a doubtful narrowing fits, is open."""
    return "open" if outcome == "broken" and fits == "maybe" else outcome


def worst(outcomes: list[str]) -> str:
    for word in ("broken", "open", "met"):
        if word in outcomes:
            return word
    return "not used"


class World:
    """The season laid out, and the questions that every kind of condition asks of it."""

    def __init__(self, book: Book, season: Season, as_of: dt.datetime) -> None:
        self.book, self.season, self.as_of = book, season, as_of
        self.trips: list[Trip] = []
        for trip in season.trips:
            if trip.id not in [known.id for known in self.trips]:
                self.trips.append(trip)
        self.hauls = [(haul, trip) for trip in self.trips for haul in trip.hauls]
        self.hauls.sort(key=lambda pair: (pair[0].end or pair[0].start, pair[0].id))
        self.catches = []
        for haul, trip in self.hauls:
            for line in haul.lines:
                self.catches.append(
                    Catch(
                        line,
                        haul,
                        trip,
                        line.at or haul.end or haul.start,
                        line.authority or haul.authority or trip.authority,
                        line.person or haul.person or trip.leader,
                    )
                )
        self.catches.sort(key=lambda catch: catch.order)

    # --- under which authority ---

    def under(self, haul: Haul, trip: Trip) -> set[str]:
        own = haul.authority or trip.authority
        return {own, *haul.also_under, *(line.authority for line in haul.lines)} - {""}

    def hauls_under(self, authority: str) -> list[tuple[Haul, Trip]]:
        return [(haul, trip) for haul, trip in self.hauls if authority in self.under(haul, trip)]

    def trips_under(self, authority: str) -> list[Trip]:
        return [
            trip
            for trip in self.trips
            if trip.authority == authority or any(authority in self.under(haul, trip) for haul in trip.hauls)
        ]

    # --- names ---

    def lineage(self, taxon: str) -> list[str]:
        found = [taxon]
        while taxon and (parent := self.book.taxa.taxa[found[-1]].parent) is not None:
            found.append(parent)
        return found

    def may_be(self, line: Line) -> list[str]:
        """Every name that the animal may truly bear; "" is one that the list of taxa does not hold."""
        names = self.book.taxa.taxa

        def below(top: str) -> list[str]:
            return [name for name in names if top in self.lineage(name)]

        if line.one_of:
            return [name for one in line.one_of for name in below(one)]
        if line.doubt and names[line.taxon].parent is None:
            return [*names, ""]
        return below(names[line.taxon].parent if line.doubt else line.taxon)

    def named(self, line: Line, taxa: tuple[str, ...]) -> str:
        return verdict([any(one in self.lineage(name) for one in taxa) for name in self.may_be(line)])

    def listed(self, rule: Rule) -> tuple[str, ...]:
        """Every taxon that another take limit or prohibition of the same version names."""
        found: list[str] = []
        for other in rule.beside:
            if other.kind in ("take limit", "prohibited taxon"):
                found += other.taxa
                found += rule.groups[other.group] if other.group else ()
        return tuple(found)

    def covers(self, rule: Rule, line: Line) -> str:
        """Whether the animals that a take limit or prohibition names include this line's."""
        condition = rule.condition
        if condition.unlisted:
            listed = self.listed(rule)
            ranks = {name: self.book.taxa.taxa[name].rank for name in self.book.taxa.taxa}
            if ranks[line.taxon] == "material":
                return "no"
            return verdict([not any(one in self.lineage(name) for one in listed) for name in self.may_be(line)])
        return self.named(line, rule.groups[condition.group] if condition.group else condition.taxa)

    # --- days ---

    def day(self, at: dt.datetime, authority: Authority) -> dt.date:
        return at.astimezone(ZoneInfo(authority.zone)).date()

    def in_dates(self, day: dt.date, span: DateRange) -> tuple[dt.date, dt.date] | None:
        """The occurrence of a range of dates that holds a day, or None."""
        if len(span.first) > 5:
            pairs = [(dt.date.fromisoformat(span.first), dt.date.fromisoformat(span.last))]
        else:
            pairs = []
            for year in (day.year - 1, day.year):
                first, last = in_year(span.first, year), in_year(span.last, year)
                pairs.append((first, last if last >= first else in_year(span.last, year + 1)))
        after, before = dt.timedelta(not span.first_included), dt.timedelta(not span.last_included)
        for first, last in reversed(pairs):
            if first + after <= day <= last - before:
                return first + after, last - before
        return None

    # --- narrowing ---

    def place(self, haul: Haul, areas: tuple[str, ...]) -> str:
        return {"in": "yes", "out": "no", "cannot tell": "maybe"}[plain_places.lies(haul.fixes, areas)]

    def fits_haul(self, only: Only, haul: Haul, person: str, day: dt.date) -> str:
        """The part of a narrowing that speaks of the haul, of who is credited, and of the day."""
        answers = []
        if only.gear:
            answers.append("maybe" if haul.gear is None else verdict([haul.gear.gear in only.gear]))
        if only.areas:
            answers.append(self.place(haul, tuple(sorted(only.areas))))
        if only.waters:
            answers.append("maybe" if not haul.waterbody else verdict([haul.waterbody in only.waters]))
        if only.sites:
            answers.append("maybe" if not haul.site else verdict([haul.site in only.sites]))
        if only.persons:
            answers.append("maybe" if not person else verdict([person in only.persons]))
        if only.dates:
            answers.append(verdict([any(self.in_dates(day, span) is not None for span in only.dates)]))
        return both(*answers)

    def fits_animal(self, taxa: tuple, stages: tuple, sexes: tuple, line: Line) -> str:
        answers = []
        if taxa:
            answers.append(self.named(line, taxa))
        if stages:
            answers.append("maybe" if not line.stage else verdict([line.stage in stages]))
        if sexes:
            answers.append("maybe" if not line.sex else verdict([line.sex in sexes]))
        return both(*answers)

    def fits_catch(self, only: Only, catch: Catch, authority: Authority) -> str:
        """The whole narrowing but for the size class, which speaks of single animals (see ``sized``)."""
        return both(
            self.fits_haul(only, catch.haul, catch.person, self.day(catch.at, authority)),
            self.fits_animal(only.taxa, only.stages, only.sexes, catch.line),
        )

    def sized(self, line: Line, size: SizeClass | None) -> tuple[int, int]:
        """How many animals were measured inside a size class, and how many outside it."""
        if size is None:
            return 0, 0
        values = []
        for run in line.measurements:
            if run.measure == size.measure and size.variant in ("", run.variant):
                values += run.values
        inside = 0
        for value in values:
            small = bool(size.smallest) and Fraction(value, 10) < amount_of(size.smallest)[0]
            large = bool(size.largest) and Fraction(value, 10) > amount_of(size.largest)[0]
            inside += not (small or large)
        return inside, len(values) - inside

    def has_size(self, line: Line, size: SizeClass | None) -> str:
        """Whether a line holds any animal of a size class."""
        if size is None:
            return "yes"
        inside, outside = self.sized(line, size)
        if inside:
            return "yes"
        return "no" if outside >= line.count.high else "maybe"

    def narrows_haul(self, rule: Rule, haul: Haul, trip: Trip) -> str:
        """The narrowing of a condition on hauls: with animals named, only hauls that kept such."""
        only = rule.condition.only
        day = self.day(haul.end or haul.start, rule.authority)
        fits = self.fits_haul(only, haul, haul.person or trip.leader, day)
        if only.taxa or only.stages or only.sexes or only.size:
            kept = ["no"]
            for line in haul.lines:
                if line.fate == "kept":
                    there = verdict([line.count.low > 0, line.count.high > 0])
                    kept.append(
                        both(
                            there,
                            self.fits_animal(only.taxa, only.stages, only.sexes, line),
                            self.has_size(line, only.size),
                        )
                    )
            fits = both(fits, either(*kept))
        return fits


def in_year(month_day: str, year: int) -> dt.date:
    """ "MM-DD" in a year; 29 February becomes the 28th where there is none."""
    month, day = int(month_day[:2]), int(month_day[3:])
    try:
        return dt.date(year, month, day)
    except ValueError:
        return dt.date(year, month, day - 1)


def year_start(day: dt.date, starts: str) -> dt.date:
    """The first day of the permit year of a day."""
    return max(start for start in (in_year(starts, day.year - 1), in_year(starts, day.year)) if start <= day)


def midnight(day: dt.date, authority: Authority) -> dt.datetime:
    """The instant at which a day begins in the authority's zone."""
    return dt.datetime.combine(day, dt.time(0), ZoneInfo(authority.zone)).astimezone(dt.UTC)


def spoken(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"
