"""Allotments: what one crew may take of a limit while it is out of signal, so that no two crews take the same animal.

So long as each crew stays within its own, no order of syncing can break the permit. Amounts are whole animals,
or litres and grams; what may have been taken already counts as taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction

from api.domain.calendar import local_day
from api.domain.counts import Amount, exactly
from api.domain.facts import Facts, HaulFact, LineFact
from api.domain.permits import Clause
from api.domain.reckoning.buckets import Key, buckets_of, period_of
from api.domain.reckoning.tallies import Spec, specs_of
from api.domain.rules.take_limits import about_words, holder_words, period_words
from api.domain.taxa import Identification
from api.domain.trips import Haul, Line, Trip

SHARED_PERIODS = frozenset({"day", "rolling days", "month", "calendar year", "permit year", "season", "term"})
"""Periods in which two trips may draw on one tally; a limit on a haul, a trip or a person is each crew's own."""


class NothingLeftError(ValueError):
    """More is asked than a limit has left for another crew; carries what is left.

    Where ``short``, even that much is too much: the limit must not be reached.
    """

    def __init__(self, number: str, left: Amount, unit: str, *, short: bool = False) -> None:
        self.number, self.left, self.unit, self.short = number, left, unit, short
        of = "" if unit == "individuals" else f" {unit}"
        bound, ask = ("less than ", "less than that") if short else ("", "no more than that")
        super().__init__(f"condition {number} has {bound}{_text(left)}{of} left to give; ask for {ask}")


class UnknownPoolError(ValueError):
    """There is no such limit to give from at the trip's time; carries those there are."""

    def __init__(self, asked: str, known: list[str]) -> None:
        self.known = known
        super().__init__(
            f"there is no limit '{asked}' to give from; those at this time are {', '.join(known) or 'none'}"
        )


class BadAmountError(ValueError):
    """An allotment of nothing, or of a part of an animal; carries the amount."""

    def __init__(self, amount: Amount) -> None:
        self.amount = amount
        super().__init__(f"{_text(amount)} cannot be allotted; give a number above 0, of animals a whole one")


def _text(amount: Amount) -> str:
    return str(int(amount)) if Fraction(amount).denominator == 1 else f"{float(amount):g}"


@dataclass(frozen=True, slots=True)
class Pool:
    """One tally of a limit, with what every trip took of it (at its highest), by the trips' codes.

    ``room`` is the most that may be taken in all; where ``short``, it must not be reached ("fewer than" of litres
    or grams). ``about`` names the tally as findings do.
    """

    authority: str
    number: str
    label: str
    unit: str
    room: Amount
    key: Key
    about: str
    taken: Mapping[str, Amount] = field(default_factory=dict)
    short: bool = False

    @property
    def whole(self) -> bool:
        """Whether whole animals are given."""
        return self.unit == "individuals"

    def left(self, granted: Mapping[str, Amount]) -> Amount:
        """Give what may still be given, with what open allotments hold (by the trips' codes); never below 0."""
        return max(0, self.room - self.spent(granted) - sum(granted.values(), start=0))

    def spent(self, granted: Mapping[str, Amount]) -> Amount:
        """Give what is taken outside of open allotments: by trips without one, and beyond one's own."""
        return sum((max(0, taken - granted.get(trip, 0)) for trip, taken in self.taken.items()), start=0)

    def check(self, asked: Amount, granted: Mapping[str, Amount]) -> None:
        """Raise BadAmountError or NothingLeftError for an amount that cannot be given."""
        if asked <= 0 or (self.whole and Fraction(asked).denominator != 1):
            raise BadAmountError(asked)
        left = self.left(granted)
        if asked > left or (self.short and asked == left):
            raise NothingLeftError(self.number, left, self.unit, short=self.short)


def pools_for(facts: Facts, trip: Trip, at: datetime, name: str = "") -> list[Pool]:
    """Give every tally that a trip at a moment would share with others, in the authorities' own order.

    ``name`` is the taxon that is meant where a limit counts each name by itself; without it those limits are
    left out. An authority whose term does not hold the moment gives nothing.
    """
    return [
        pool
        for authority in facts.book.authorities
        if authority.begins <= at < authority.ends
        for pool in _pools_under(facts, authority.id, trip, at, name)
    ]


def _pools_under(facts: Facts, authority: str, trip: Trip, at: datetime, name: str) -> Iterator[Pool]:
    for clauses in facts.clauses[authority].values():
        for clause in clauses:
            if clause.holds_at(at):
                yield from _pools_of(facts, clause, trip, at, name)


def _pools_of(facts: Facts, clause: Clause, trip: Trip, at: datetime, name: str) -> Iterator[Pool]:
    for spec in specs_of(clause):
        shared = spec.holder == "permit" and spec.period in SHARED_PERIODS
        if not shared or (spec.by_name and not name):
            continue
        first, record = period_of(spec, _moment(trip, at))
        if record:
            continue
        key = Key("", name if spec.by_name else "", first, "")
        yield _pool(facts, spec, key, local_day(at, clause.authority.zone))


def _moment(trip: Trip, at: datetime) -> LineFact:
    """Give a line at a moment, to ask in which period it falls."""
    line = Line(id="", taxon="", count=exactly(1), at=at)
    fact = HaulFact(Haul(id="", start=at), trip, at, frozenset())
    return LineFact(line, fact, at, "", trip.leader, Identification(""))


def _pool(facts: Facts, spec: Spec, key: Key, day: date) -> Pool:
    taken: dict[str, Amount] = {}
    zone = spec.clause.authority.zone
    for bucket in buckets_of(facts, spec, (key,) if spec.by_name else ()):
        if bucket.key != key:
            continue
        for entry in bucket.entries:
            # Every window of rolling days that holds the day counts, so those after it do as well.
            apart = abs((entry.line.day(zone) - day).days) if spec.period == "rolling days" else 0
            if apart < max(1, spec.bound.days):
                trip = entry.line.haul.trip.id
                taken[trip] = taken.get(trip, 0) + entry.count.high
    fewer = spec.operator == "fewer than"
    room = spec.amount - 1 if fewer and spec.whole else spec.amount
    about = about_words(holder_words(facts, spec, key), period_words(spec, key))
    return Pool(
        spec.clause.authority.id,
        spec.condition.number,
        spec.label,
        spec.unit,
        room,
        key,
        about,
        taken,
        fewer and not spec.whole,
    )
