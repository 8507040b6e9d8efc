"""Conditions with one answer for the whole season: what each trip brings to it is kept, and added up."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from bisect import bisect_left, bisect_right, insort
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from api.domain.conditions import Attested, CleaningRule, Disposition, HoldingRule, ReportRule
from api.domain.counts import Amount, Count
from api.domain.facts import Facts, HaulFact
from api.domain.judge import outside_term, within_term
from api.domain.live.cells import Cells, Ground, settled
from api.domain.permits import Authority, Clause
from api.domain.reckoning.hauls import hauls_for, trips_for
from api.domain.reckoning.holdings import gains_for, held_after
from api.domain.rules import filings
from api.domain.rules.attested import WHOLE_TERM, Said, attested_finding, gravity, said_on
from api.domain.rules.cleanings import cast_order, crossing
from api.domain.rules.dispositions import vouchers_finding, vouchers_given
from api.domain.rules.finding import Finding, Proof
from api.domain.rules.holding import holding_finding, kept_entries
from api.domain.taxa import Fit
from api.domain.trips import Cleaning, Movement

WHOLE = "whole"
"""The cell of the one answer for the season."""


@dataclass(slots=True, eq=False)
class Term:
    """An authority's own first and last day: a finding for each haul outside, else one on all of them."""

    authority: Authority
    cells: Cells = field(default_factory=Cells)
    _hauls: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _number: int = 0
    _touched: set[Hashable] = field(default_factory=set)

    def forget(self, trip: str) -> None:
        """Take a trip's hauls out."""
        self._number -= len(self._hauls.pop(trip, ()))
        self._touched.add(trip)

    def take(self, facts: Facts, trip: str) -> None:
        """Take a trip's hauls in."""
        hauls = tuple(one.haul.id for one in facts.hauls_under.get(self.authority.id, ()))
        if hauls:
            self._hauls[trip] = hauls
            self._number += len(hauls)
        self._touched.add(trip)

    def papers(self, kind: str) -> None:
        """Papers play no part."""

    def again(self, key: Hashable) -> None:
        """Judge a trip anew."""
        self._touched.add(key)

    def settle(self, ground: Ground) -> None:
        """Judge the trips touched; where none is outside, say so of all."""
        for trip in self._touched - {WHOLE}:
            facts = ground.facts_of([str(trip)])
            facts.ask_anew()
            settled(ground, self, trip, facts, outside_term(facts, self.authority))
        self._touched.clear()
        self.cells.put(WHOLE, [])
        if not self.cells.found:
            hauls = Proof(lambda: [haul for held in self._hauls.values() for haul in held])
            self.cells.put(WHOLE, [within_term(self.authority, self._number, hauls)])

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on a trip's hauls."""
        return self.cells.of([trip, WHOLE] if trip in self._hauls else [])


@dataclass(slots=True, eq=False)
class OneAnswer(ABC):
    """What the conditions with one answer have in common: it is given anew when anything touched it."""

    clause: Clause
    cells: Cells = field(default_factory=Cells)
    _stale: bool = True

    def papers(self, kind: str) -> None:
        """Papers of no trip play no part, unless the condition says so."""
        del kind

    def again(self, key: Hashable) -> None:
        """Give the answer anew."""
        del key
        self._stale = True

    def settle(self, ground: Ground) -> None:
        """Give the answer, if anything touched it."""
        if self._stale:
            facts = ground.base
            facts.ask_anew()
            settled(ground, self, WHOLE, facts, self.answer(ground))
            self._stale = False

    @abstractmethod
    def answer(self, ground: Ground) -> list[Finding]:
        """Give the answer as things stand."""

    @abstractmethod
    def forget(self, trip: str) -> None:
        """Take out what a trip brought."""

    @abstractmethod
    def take(self, facts: Facts, trip: str) -> None:
        """Take in what a trip brings."""

    @abstractmethod
    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the answer where a trip has a part in it."""


@dataclass(slots=True, eq=False)
class Reports(OneAnswer):
    """Reports that are due on days of their own, whatever trips there were."""

    def papers(self, kind: str) -> None:
        """Judge anew where a filing came that may be one of these reports."""
        self._stale = self._stale or kind == "filing"

    def forget(self, trip: str) -> None:
        """Trips play no part."""

    def take(self, facts: Facts, trip: str) -> None:
        """Trips play no part."""

    def answer(self, ground: Ground) -> list[Finding]:
        """Judge each report."""
        assert isinstance(self.clause.condition, ReportRule)
        return filings.judge(ground.base, self.clause)

    def touching(self, trip: str) -> Iterator[Finding]:
        """No report of these rests on a trip."""
        del trip
        return iter(())


@dataclass(slots=True, eq=False)
class Vouchers(OneAnswer):
    """The number of vouchers deposited by a day."""

    _given: dict[str, list[tuple[Movement, Count]]] = field(default_factory=dict)

    @property
    def _condition(self) -> Disposition:
        assert isinstance(self.clause.condition, Disposition)
        return self.clause.condition

    def forget(self, trip: str) -> None:
        """Take out a trip's vouchers."""
        self._stale = self._given.pop(trip, None) is not None or self._stale

    def take(self, facts: Facts, trip: str) -> None:
        """Take in the vouchers of a trip's animals."""
        given = vouchers_given(facts, self.clause, self._condition)
        if given:
            self._given[trip] = given
            self._stale = True

    def answer(self, ground: Ground) -> list[Finding]:
        """Judge their number; those whose day is still to come are waited for."""
        given = [one for held in self._given.values() for one in held]
        given.sort(key=lambda pair: (pair[0].at, pair[0].id))
        return [vouchers_finding(ground.base, self.clause, self._condition, given)]

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the finding where a trip's animals are among the vouchers."""
        return self.cells.of([WHOLE] if trip in self._given else [])


@dataclass(slots=True, eq=False)
class AttestedOnce(OneAnswer):
    """A condition that a person attests once for the term: the gravest word stated on any trip."""

    _said: dict[str, list[Said]] = field(default_factory=dict)
    _ranked: list[tuple[tuple[int, datetime], tuple[datetime, str], int]] = field(default_factory=list)
    _when: dict[str, tuple[datetime, str]] = field(default_factory=dict)
    _trips: set[str] = field(default_factory=set)

    def forget(self, trip: str) -> None:
        """Take out what was stated on a trip."""
        self._stale = True
        self._trips.discard(trip)
        for place, said in enumerate(self._said.pop(trip, ())):
            row = (gravity(said), self._when[trip], place)
            del self._ranked[bisect_left(self._ranked, row)]

    def take(self, facts: Facts, trip: str) -> None:
        """Take in what was stated on a trip."""
        self._stale = True
        assert isinstance(self.clause.condition, Attested)
        trips: list[tuple[object, Fit]] = list(trips_for(facts, self.clause, whenever=True))
        if not trips:
            return
        self._trips.add(trip)
        self._said[trip] = said_on(facts, self.clause, trips)  # type: ignore[arg-type]
        begun = facts.trips_under(self.clause.authority.id)[0]
        starts = [haul.start for haul in begun.hauls] if begun.depart is None else [begun.depart]
        self._when[trip] = min(starts), trip
        for place, said in enumerate(self._said[trip]):
            insort(self._ranked, (gravity(said), self._when[trip], place))

    def answer(self, ground: Ground) -> list[Finding]:
        """Give the gravest word, if the words in force now are these."""
        if not self._trips or not ground.base.holds_now(self.clause):
            return []
        gravest = None
        if self._ranked:
            _, (_, trip), place = self._ranked[0]
            gravest = self._said[trip][place]
        records = Proof(lambda: sorted(self._trips))
        return [attested_finding(ground.base, WHOLE_TERM, self.clause, gravest, records)]

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the answer where it rests on a trip."""
        return self.cells.of([WHOLE] if trip in self._trips else [])


@dataclass(slots=True)
class _HeldOf:
    """What is held of a trip's lines at the moment of judging; ``unbounded`` lines have no known most."""

    lines: tuple[str, ...] = ()
    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    unbounded: int = 0

    def add(self, count: Count) -> None:
        """Add what is held of a line."""
        self.low += count.low
        self.best += count.best
        self.unbounded += count.high == math.inf
        self.high += 0 if count.high == math.inf else count.high


@dataclass(slots=True, eq=False)
class Holding(OneAnswer):
    """What is held after the authority's end, on a clock of its own."""

    _held: dict[str, _HeldOf] = field(default_factory=dict)
    _sum: _HeldOf = field(default_factory=_HeldOf)
    _waits: set[str] = field(default_factory=set)

    def papers(self, kind: str) -> None:
        """Births and gifts are held as well."""
        self._stale = self._stale or kind == "gain"

    def forget(self, trip: str) -> None:
        """Take out what is held of a trip."""
        self._stale = True
        held = self._held.pop(trip, None)
        if held is not None:
            self._weigh(held, -1)

    def take(self, facts: Facts, trip: str) -> None:
        """Take in what is held of a trip; what is still to come is waited for."""
        self._stale = True
        held = self._held_of(facts)
        if held.lines:
            self._held[trip] = held
            self._weigh(held, 1)

    def _held_of(self, facts: Facts) -> _HeldOf:
        held = _HeldOf()
        lines = []
        for entry in kept_entries(facts, self.clause):
            if facts.has_come(entry.line.at):
                lines.append(entry.line.line.id)
            last = None
            for moment in held_after(facts, [entry], []):
                last = moment.held if facts.has_come(moment.at) else last
            if last is not None:
                held.add(last)
        held.lines = tuple(lines)
        return held

    def _weigh(self, held: _HeldOf, sign: int) -> None:
        self._sum.low += sign * held.low
        self._sum.best += sign * held.best
        self._sum.high += sign * held.high
        self._sum.unbounded += sign * held.unbounded

    def answer(self, ground: Ground) -> list[Finding]:
        """Judge what is held, births and gifts of no catch line included."""
        facts, condition = ground.base, self.clause.condition
        assert isinstance(condition, HoldingRule)
        if not facts.holds_now(self.clause):
            return []
        own = self._sum
        held = Count(own.low, own.best, math.inf if own.unbounded else own.high)
        last = None
        for moment in held_after(facts, [], gains_for(facts, self.clause)):
            last = moment.held if facts.has_come(moment.at) else last
        lines = Proof(lambda: [line for of_trip in self._held.values() for line in of_trip.lines])
        return [holding_finding(facts, self.clause, condition, held + last if last else held, lines)]

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the answer where it rests on a trip."""
        return self.cells.of([WHOLE] if trip in self._held else [])


Place = tuple[datetime, str]
"""Where a haul stands in the order in which gear went into the water: its start and its id."""


@dataclass(slots=True, eq=False)
class Cleanings:
    """A cleaning condition: each haul against the one before it, of whatever trip, and what was cleaned between."""

    clause: Clause
    cells: Cells = field(default_factory=Cells)
    _order: list[Place] = field(default_factory=list)
    _facts: dict[Place, HaulFact] = field(default_factory=dict)
    _fits: dict[Place, Fit] = field(default_factory=dict)
    _places: dict[str, list[Place]] = field(default_factory=dict)
    _cleaned: list[tuple[datetime, str, int]] = field(default_factory=list)
    _cleanings: dict[str, tuple[Cleaning, ...]] = field(default_factory=dict)
    _touched: set[Place] = field(default_factory=set)

    def forget(self, trip: str) -> None:
        """Take a trip's hauls and cleanings out; the hauls that followed them are judged anew."""
        for at, owner, number in self._rows(trip):
            del self._cleaned[bisect_left(self._cleaned, (at, owner, number))]
            self._touch_around(at)
        self._cleanings.pop(trip, None)
        for place in self._places.pop(trip, ()):
            index = bisect_left(self._order, place)
            del self._order[index]
            del self._facts[place]
            self._fits.pop(place, None)
            self._touched.add(place)
            self._touched.update(self._order[index : index + 1])

    def _rows(self, trip: str) -> Iterator[tuple[datetime, str, int]]:
        for number, cleaning in enumerate(self._cleanings.get(trip, ())):
            yield cleaning.at, trip, number

    def take(self, facts: Facts, trip: str) -> None:
        """Take a trip's hauls and cleanings in; the hauls that follow them are judged anew."""
        self._cleanings[trip] = facts.trips[trip].cleanings if trip in facts.trips else ()
        for row in self._rows(trip):
            insort(self._cleaned, row)
        speaks = {cast_order(fact): fit for fact, fit in hauls_for(facts, self.clause)}
        for fact in facts.hauls:
            place = cast_order(fact)
            insort(self._order, place)
            self._facts[place] = fact
            self._places.setdefault(trip, []).append(place)
            if place in speaks:
                self._fits[place] = speaks[place]
        for place in self._places.get(trip, ()):
            index = bisect_left(self._order, place)
            self._touched.update(self._order[index : index + 2])
        for at, _, _ in self._rows(trip):
            self._touch_around(at)

    def _touch_around(self, at: datetime) -> None:
        """Touch the hauls before which a cleaning at a moment may lie: those cast then, and the next."""
        first = bisect_left(self._order, (at, ""))
        self._touched.update(self._order[first : bisect_right(self._order, (at, "\U0010ffff")) + 1])

    def papers(self, kind: str) -> None:
        """Papers play no part."""

    def again(self, key: Hashable) -> None:
        """No answer waits for a moment: hauls and cleanings are judged as they were."""
        del key

    def settle(self, ground: Ground) -> None:
        """Judge the hauls touched, each against the one before it."""
        del ground
        for place in self._touched:
            self.cells.put(place, self._judge(place))
        self._touched.clear()

    def _judge(self, place: Place) -> Sequence[Finding]:
        condition = self.clause.condition
        index = bisect_left(self._order, place)
        if not isinstance(condition, CleaningRule) or not index or place not in self._fits:
            return ()
        before, fact = self._facts[self._order[index - 1]], self._facts[place]
        between = self._between(before.haul.start, fact.haul.start)
        return crossing(self.clause, condition, before, fact, self._fits[place], between)

    def _between(self, first: datetime, last: datetime) -> list[Cleaning]:
        rows = range(bisect_left(self._cleaned, (first, "", 0)), bisect_right(self._cleaned, (last, "\U0010ffff", 0)))
        return [self._cleanings[trip][number] for _, trip, number in map(self._cleaned.__getitem__, rows)]

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on a trip's hauls, and on the first haul after each of them."""
        keys: dict[Hashable, None] = {}
        for place in self._places.get(trip, ()):
            index = bisect_left(self._order, place)
            keys.update(dict.fromkeys(self._order[index : index + 2]))
        return self.cells.of(keys)
