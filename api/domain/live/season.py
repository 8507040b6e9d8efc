"""A season that grows: records are put in or changed one by one, and the findings follow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from heapq import heappop, heappush
from itertools import count
from typing import Any

from api.domain.conditions import Disposition, ShareLimit, SizeLimit, StopRule
from api.domain.facts import Book, Facts, trip_start
from api.domain.judge import TERM, not_used, rule_of, term_text
from api.domain.live.by_trip import ByGroup, ByTrip, Gear
from api.domain.live.cells import Part
from api.domain.live.over_all import AttestedOnce, Cleanings, Holding, Reports, Term, Vouchers
from api.domain.live.take import Take
from api.domain.permits import Authority, Clause
from api.domain.reckoning.fullest import reading_order
from api.domain.reckoning.hauls import GRAVITY
from api.domain.rules import dispositions, share_limits, size_limits, stops
from api.domain.rules.finding import Finding
from api.domain.trips import Filing, Incident, Movement, Notice, Season, SharedTotal, Trip
from api.domain.vocabulary import Outcome

Paper = Notice | Incident | Movement | Filing


@dataclass(slots=True)
class Question:
    """One condition number of an authority with its parts, one or more for each version."""

    authority: Authority
    number: str
    text: str
    kind: str
    parts: list[Part]
    latest: Clause | None = None

    @property
    def outcomes(self) -> Counter[Outcome]:
        """How many findings there are of each outcome."""
        found: Counter[Outcome] = Counter()
        for part in self.parts:
            found.update(part.cells.outcomes)
        return +found

    @property
    def outcome(self) -> Outcome:
        """The gravest outcome."""
        found = self.outcomes
        return next((one for one in GRAVITY if found[one]), "not used")

    def findings(self) -> list[Finding]:
        """Give every finding; one that says so where no record touches the condition."""
        found = [finding for part in self.parts for finding in part.cells]
        return found or ([not_used(self.latest)] if self.latest is not None else [])

    def ordered(self) -> list[Finding]:
        """Give every finding in an order that does not hang on the order in which records came."""
        return sorted(self.findings(), key=reading_order)


@dataclass(slots=True, order=True)
class _Waiting:
    """A cell that is to be judged anew at a moment."""

    moment: datetime
    number: int
    part: Part = field(compare=False)
    key: Hashable = field(compare=False)

    @property
    def stands(self) -> bool:
        """Whether the cell still waits for that moment."""
        return self.part.cells.due.get(self.key) == self.moment


@dataclass(slots=True)
class _Papers:
    """The papers of a season, found by what they speak of."""

    held: dict[tuple[str, str], Paper] = field(default_factory=dict)
    notices: dict[str, dict[str, Notice]] = field(default_factory=dict)
    incidents: dict[str, dict[str, Incident]] = field(default_factory=dict)

    def put(self, kind: str, record: str, paper: Paper | None) -> Paper | None:
        """Put a paper in place of the one of its id; None takes it out. Gives the one that stood."""
        old = self.held.pop((kind, record), None)
        if isinstance(old, Notice):
            self.notices[old.trip].pop(record)
        if isinstance(old, Incident):
            for one in old.about:
                self.incidents[one].pop(record, None)
        if paper is not None:
            self.held[kind, record] = paper
        if isinstance(paper, Notice):
            self.notices.setdefault(paper.trip, {})[record] = paper
        if isinstance(paper, Incident):
            for one in paper.about:
                self.incidents.setdefault(one, {})[record] = paper
        return old


class LiveSeason:
    """The season judged as it grows.

    Put in what changed (``put_trip``, ``put_paper``, ``put_totals``), then ``look`` at a moment (UTC). Moments
    may not go back; a changed book needs a new season.
    """

    def __init__(self, book: Book, as_of: datetime) -> None:
        self.base = Facts.of(book, Season(), as_of)
        self.trips: dict[str, Trip] = {}
        self.questions = [question for authority in book.authorities for question in _questions(authority, self.base)]
        self.stray: dict[str, tuple[str, ...]] = {}
        """Lines under no authority that the book knows, by trip."""
        self.undecided: set[str] = set()
        """Trips with kept lines that may stand under one of several authorities."""
        self._parts = [part for question in self.questions for part in question.parts]
        self._papers = _Papers()
        self._changed: set[str] = set()
        self._taken: set[str] = set()
        self._trip_of: dict[str, str] = {}
        self._movements: dict[str, dict[str, Movement]] = {}
        self._asleep: list[tuple[datetime, str]] = []
        self._sleeping: set[tuple[datetime, str]] = set()
        self._waiting: list[_Waiting] = []
        self._number = count()
        self._laid_out: dict[frozenset[str], Facts] = {}

    # What changes

    def put_trip(self, code: str, trip: Trip | None) -> None:
        """Put a trip (by its code) in place of the one that stood; None takes it out."""
        old = self.trips.pop(code, None)
        for record in _records_of(old):
            self._trip_of.pop(record, None)
        if trip is not None:
            self.trips[code] = trip
        for record in _records_of(trip):
            self._trip_of[record] = code
        self._changed.add(code)

    def put_paper(self, kind: str, record: str, paper: Paper | None) -> None:
        """Put a notice, incident, movement or filing in place of the one of its id; None takes it out."""
        old = self._papers.put(kind, record, paper)
        if isinstance(old, Movement):
            self._movements[old.line].pop(record)
            self._list_movements(old.line)
        if isinstance(paper, Movement):
            self._movements.setdefault(paper.line, {})[record] = paper
            self._list_movements(paper.line)
        for one in (old, paper):
            if one is not None:
                self._changed.update(self._trips_of(one))
        if kind == "filing":
            filings = tuple(one for one in self._papers.held.values() if isinstance(one, Filing))
            self.base.season = replace(self.base.season, filings=filings)
        hangs_on = {"filing": "filing", "movement": "gain"}.get(kind)
        if hangs_on == "filing" or (hangs_on and any(isinstance(x, Movement) and not x.line for x in (old, paper))):
            self._tell(str(hangs_on))

    def _list_movements(self, line: str) -> None:
        self.base.movements_of[line] = sorted(self._movements[line].values(), key=lambda one: (one.at, one.id))

    def put_totals(self, totals: tuple[SharedTotal, ...]) -> None:
        """Put the published totals of shared quotas in place of those that stood."""
        if totals != self.base.season.shared_totals:
            self.base.season = replace(self.base.season, shared_totals=totals)
            self._tell("shared total")

    def put_names(self, people: dict[str, str], sites: dict[str, str]) -> bool:
        """Put the names of people and sites in place; gives False where one that is in use changed.

        Then sentences that were given name them by the old one: the season is to be begun anew.
        """
        season = self.base.season
        same = all(people.get(one, name) == name for one, name in season.people.items()) and all(
            sites.get(one, name) == name for one, name in season.sites.items()
        )
        new = (set(people) - set(season.people)) | (set(sites) - set(season.sites))
        self.base.season = replace(season, people=people, sites=sites)
        if not new or not self._taken:
            return same
        mentioned = {name for trip in self.trips.values() for name in _names_in(trip)}
        return same and not (new & mentioned)

    def _tell(self, kind: str) -> None:
        for part in self._parts:
            part.papers(kind)

    def _trips_of(self, paper: Paper) -> Iterator[str]:
        """Give the trips that a paper speaks of."""
        records: tuple[str, ...] = ()
        if isinstance(paper, Notice):
            yield paper.trip
        elif isinstance(paper, Incident):
            records = paper.about
        elif isinstance(paper, Movement):
            records = (paper.line,)
        yield from (self._trip_of[record] for record in records if record in self._trip_of)

    # Looking

    def look(self, as_of: datetime) -> None:
        """Judge anew what was touched by changes, or by time that went by, as of a moment (UTC)."""
        if as_of < self.base.as_of:
            raise ValueError(f"a season judged as of {self.base.as_of} cannot be looked at as of {as_of}")
        moved = as_of > self.base.as_of
        self.base.as_of = as_of
        self.base.forget_places()
        self._laid_out.clear()
        while self._asleep and self._asleep[0][0] <= as_of:
            woken_trip = heappop(self._asleep)
            self._sleeping.discard(woken_trip)
            self._changed.add(woken_trip[1])
        while moved and self._waiting and self._waiting[0].moment <= as_of:
            woken = heappop(self._waiting)
            if woken.stands:
                del woken.part.cells.due[woken.key]
                woken.part.again(woken.key)
        self._retake()
        for part in self._parts:
            part.settle(self)
        self._laid_out.clear()

    def _retake(self) -> None:
        changed = sorted(self._changed)
        self._changed.clear()
        for code in changed:
            if code in self._taken:
                self._taken.discard(code)
                self.stray.pop(code, None)
                self.undecided.discard(code)
                for part in self._parts:
                    part.forget(code)
        for code in changed:
            if self.trip(code) is not None:
                self._take(code)

    def _take(self, code: str) -> None:
        facts = self.facts_of([code])
        self._taken.add(code)
        facts.ask_anew()
        for part in self._parts:
            part.take(facts, code)
        if facts.waits_for is not None:
            self._sleep(facts.waits_for, code)
        known = {authority.id for authority in self.base.book.authorities}
        stray = tuple(entry.line.id for entry in facts.lines if entry.authority not in known)
        if stray:
            self.stray[code] = stray
        if any(
            not entry.authority and entry.line.fate == "kept" and entry.haul.trip.may_stand_under
            for entry in facts.lines
        ):
            self.undecided.add(code)

    # What parts ask for

    def trip(self, trip: str) -> Trip | None:
        """Give a trip that has begun by now, or is only planned or called off; None where there is none."""
        found = self.trips.get(trip)
        if found is not None and found.status in ("open", "closed"):
            start = trip_start(found)
            if start is not None and start > self.base.as_of:
                self._sleep(start, trip)
                return None
        return found

    def _sleep(self, moment: datetime, trip: str) -> None:
        """Have a trip taken in anew once a moment has come."""
        if (moment, trip) not in self._sleeping:
            self._sleeping.add((moment, trip))
            heappush(self._asleep, (moment, trip))

    def facts_of(self, trips: Iterable[str]) -> Facts:
        """Lay some trips out alone, with the papers that speak of them."""
        wanted = frozenset(trips)
        found = self._laid_out.get(wanted)
        if found is None:
            found = self._laid_out[wanted] = self._lay_out(wanted)
        return found

    def _lay_out(self, wanted: frozenset[str]) -> Facts:
        trips = [trip for code in sorted(wanted) if (trip := self.trip(code)) is not None]
        incidents: dict[str, Incident] = {}
        movements: list[Movement] = []
        for record in (record for trip in trips for record in _records_of(trip)):
            incidents.update(self._papers.incidents.get(record, {}))
            movements.extend(self._movements.get(record, {}).values())
        season = replace(
            self.base.season,
            trips=tuple(trips),
            notices=tuple(one for trip in trips for one in self._papers.notices.get(trip.id, {}).values()),
            incidents=tuple(incidents[one] for one in sorted(incidents)),
            movements=tuple(sorted(movements, key=lambda one: (one.at, one.id))),
        )
        return Facts.of(self.base.book, season, self.base.as_of, like=self.base)

    def wake(self, part: Part, key: Hashable, moment: datetime) -> None:
        """Have a part's cell judged anew once a moment has come."""
        heappush(self._waiting, _Waiting(moment, next(self._number), part, key))

    # Answers

    @property
    def waiting(self) -> int:
        """How many moments are kept at which something is to be judged anew."""
        return len(self._waiting) + len(self._asleep)

    @property
    def mark(self) -> str:
        """Tell the answers between two changes apart: the next moment an answer waits for, or the minute."""
        while self._waiting and not self._waiting[0].stands:
            heappop(self._waiting)
        now = self.base.as_of
        moments = [one.moment for one in self._waiting[:1]] + [row[0] for row in self._asleep[:1]]
        goes_on = any(moment <= now for moment in moments)
        if goes_on:
            moments = [one.moment for one in self._waiting] + [row[0] for row in self._asleep]
        coming = min((moment for moment in moments if moment > now), default=None)
        minute = f"{now:%Y%m%d%H%M}" if goes_on else ""
        return f"{minute}-{coming:%Y%m%d%H%M%S}" if coming is not None else f"{minute}-"

    def question(self, authority: str, number: str) -> Question:
        """Give one condition of an authority; raises KeyError."""
        for question in self.questions:
            if (question.authority.id, question.number) == (authority, number):
                return question
        raise KeyError(number)

    def touching(self, trip: str) -> Iterator[tuple[Question, Finding]]:
        """Give the findings that rest on a trip, its hauls or its lines."""
        for question in self.questions:
            for part in question.parts:
                for finding in part.touching(trip):
                    yield question, finding


def _records_of(trip: Trip | None) -> Iterator[str]:
    """Give the ids of a trip, its hauls and its lines."""
    if trip is not None:
        yield trip.id
        for haul in trip.hauls:
            yield haul.id
            for line in haul.lines:
                yield line.id


def _names_in(trip: Trip) -> Iterator[str]:
    """Give the ids of people and sites that a trip's record mentions."""
    yield trip.leader
    yield from (member.person for member in trip.crew)
    yield from (word.person for word in trip.attestations)
    for haul in trip.hauls:
        yield from (haul.person, haul.site)
        yield from (line.person for line in haul.lines)


def _questions(authority: Authority, base: Facts) -> Iterator[Question]:
    """Give every condition of an authority, its term first."""
    yield Question(authority, TERM, term_text(authority), TERM, [Term(authority)])
    for number, clauses in base.clauses[authority.id].items():
        latest: Any = clauses[-1].condition
        parts = [part for clause in clauses for part in _parts_of(clause)]
        yield Question(authority, number, latest.text, latest.kind, parts, clauses[-1])


def _parts_of(clause: Clause) -> list[Part]:
    """Give the parts that judge one clause as the season grows."""
    condition: Any = clause.condition
    match condition.kind:
        case "take limit":
            return [Take.of(clause)]
        case "gear":
            return [Gear(clause)]
        case "cleaning":
            return [Cleanings(clause)]
        case "holding":
            return [Holding(clause)]
        case "attested" if condition.per != "trip":
            return [AttestedOnce(clause)]
        case "disposition":
            asked = [Vouchers(clause)] if dispositions.asks_vouchers(clause, condition) else []
            return [ByTrip(clause, _departures), *asked]
        case "report":
            after_trips = condition.due == "days after trip"
            return [ByTrip(clause, rule_of(clause), frozenset({"filing"})) if after_trips else Reports(clause)]
        case "size limit" if condition.per == "day":
            return [ByGroup(clause, size_limits.judge, _size_groups)]
        case "share limit" if condition.per not in ("haul", "trip"):
            return [ByGroup(clause, share_limits.judge, _share_groups, share_limits.NO_SITE)]
        case "encounter and stop" if condition.per != "trip":
            return [ByGroup(clause, stops.judge, _stop_groups, stops.NO_SITE)]
    return [ByTrip(clause, rule_of(clause))]


def _departures(facts: Facts, clause: Clause) -> list[Finding]:
    condition = clause.condition
    return dispositions.departures(facts, clause, condition) if isinstance(condition, Disposition) else []


def _size_groups(facts: Facts, clause: Clause) -> set[str]:
    condition = clause.condition
    if not isinstance(condition, SizeLimit):
        return set()
    return {size_limits.group_of(clause, condition, entry) for entry in _lines_under(facts, clause)}


def _share_groups(facts: Facts, clause: Clause) -> set[str]:
    condition = clause.condition
    if not isinstance(condition, ShareLimit):
        return set()
    return {share_limits.group_of(clause, condition, entry) for entry in _lines_under(facts, clause)}


def _stop_groups(facts: Facts, clause: Clause) -> set[str]:
    condition = clause.condition
    if not isinstance(condition, StopRule):
        return set()
    return {stops.group_of(clause, condition, fact) for fact in facts.hauls_under.get(clause.authority.id, ())}


def _lines_under(facts: Facts, clause: Clause) -> Iterator[Any]:
    for _, lines in facts.lines_of((clause.authority.id,)):
        yield from lines
