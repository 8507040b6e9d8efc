"""A season laid out for judging: every haul and line in order of capture, under its authority.

Built once from plain records; nothing here changes afterwards. Uploading a trip twice is one trip, and
the order of uploading plays no part.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from api.domain.calendar import local_day
from api.domain.counts import spanned
from api.domain.permits import Authority, Clause, clauses_of
from api.domain.places.answers import Area, PathAnswer, together
from api.domain.places.areas import judge_spot
from api.domain.places.far import far_answers, far_gaps
from api.domain.places.paths import judge_path
from api.domain.taxa import Identification, Taxa
from api.domain.trips import Haul, Line, Movement, Season, SharedTotal, Trip


class ConflictingRecordsError(ValueError):
    """Two records bear one id and differ; carries the id."""

    def __init__(self, kind: str, record: str) -> None:
        self.record = record
        super().__init__(f"two {kind} records bear the id '{record}' and differ; give one of them an id of its own")


@dataclass(frozen=True, slots=True)
class Book:
    """What is judged against: the authorities, the names, and the areas by id."""

    authorities: tuple[Authority, ...]
    taxa: Taxa
    areas: dict[str, Area] = field(default_factory=dict)
    issued_names: dict[str, str] = field(default_factory=dict)
    """Names as issued by accepted id, where an authority's page writes another one."""

    def authority(self, name: str) -> Authority:
        """Give the authority with that id; raises KeyError."""
        for authority in self.authorities:
            if authority.id == name:
                return authority
        raise KeyError(name)


@dataclass(slots=True, eq=False)
class HaulFact:
    """A haul in its trip, with the authorities it was worked under."""

    haul: Haul
    trip: Trip
    at: datetime
    under: frozenset[str]
    days: dict[str, date] = field(default_factory=dict)

    def day(self, zone: str) -> date:
        """Give the local day on which the haul's animals count as caught."""
        found = self.days.get(zone)
        if found is None:
            found = self.days[zone] = local_day(self.at, zone)
        return found


@dataclass(slots=True, eq=False)
class LineFact:
    """A catch line in its haul, with what it inherits from haul and trip."""

    line: Line
    haul: HaulFact
    at: datetime
    authority: str
    person: str
    name: Identification
    order: int = 0

    @property
    def capture(self) -> tuple[datetime, str, str]:
        """Where the line stands in the order of capture, of whatever season."""
        return self.at, self.haul.haul.id, self.line.id

    def day(self, zone: str) -> date:
        """Give the local day of capture."""
        return local_day(self.at, zone) if self.line.at is not None else self.haul.day(zone)


@dataclass(slots=True)
class Facts:
    """The season under one book, as of a moment (UTC)."""

    book: Book
    season: Season
    as_of: datetime
    waits_for: datetime | None = None
    """The earliest moment still to come that an answer hung on (see ``has_come``)."""
    hauls: list[HaulFact] = field(default_factory=list)
    lines: list[LineFact] = field(default_factory=list)
    trips: dict[str, Trip] = field(default_factory=dict)
    lines_by_id: dict[str, LineFact] = field(default_factory=dict)
    lines_under: dict[str, dict[Identification, list[LineFact]]] = field(default_factory=dict)
    hauls_under: dict[str, list[HaulFact]] = field(default_factory=dict)
    movements_of: dict[str, list[Movement]] = field(default_factory=dict)
    clauses: dict[str, dict[str, tuple[Clause, ...]]] = field(default_factory=dict)
    joined: dict[tuple[str, ...], Area] = field(default_factory=dict)
    """Areas joined into one, by their ids."""
    _places: dict[tuple[str, tuple[str, ...]], PathAnswer] = field(default_factory=dict)
    _names: dict[str, Identification] = field(default_factory=dict)
    _gaps: dict[tuple[str, float], dict[str, float]] = field(default_factory=dict)
    _far_done: set[tuple[str, ...]] = field(default_factory=set)

    @classmethod
    def of(cls, book: Book, season: Season, as_of: datetime, like: Facts | None = None) -> Facts:
        """Lay the season out; raises ConflictingRecordsError where ids clash.

        ``like`` is another season under the same book: what hangs on the book alone is taken from it.
        """
        facts = cls(book, season, as_of)
        if like is not None and like.book is book:
            facts.clauses, facts.joined = like.clauses, like.joined
        else:
            facts.clauses = {authority.id: clauses_of(authority) for authority in book.authorities}
        for trip in season.trips:
            facts._take_in(trip)
        facts._sort()
        for movement in season.movements:
            facts.movements_of.setdefault(movement.line, []).append(movement)
        return facts

    def _take_in(self, trip: Trip) -> None:
        known = self.trips.get(trip.id)
        if known is not None:
            if known != trip:
                raise ConflictingRecordsError("trip", trip.id)
            return
        self.trips[trip.id] = trip
        for haul in trip.hauls:
            self._take_in_haul(trip, haul)

    def _take_in_haul(self, trip: Trip, haul: Haul) -> None:
        own = haul.authority or trip.authority
        person = haul.person or trip.leader
        at = haul.caught_at
        under = {own, *haul.also_under} | {line.authority for line in haul.lines}
        fact = HaulFact(haul, trip, at, frozenset(under - {""}))
        self.hauls.append(fact)
        for line in haul.lines:
            name = self._name(line)
            entry = LineFact(line, fact, line.at or at, line.authority or own, line.person or person, name)
            if line.id in self.lines_by_id:
                raise ConflictingRecordsError("catch line", line.id)
            self.lines_by_id[line.id] = entry
            self.lines.append(entry)

    def _name(self, line: Line) -> Identification:
        """Give a line's name, one value for all lines so named."""
        if line.doubt or line.one_of:
            return line.identification
        found = self._names.get(line.taxon)
        if found is None:
            found = self._names[line.taxon] = line.identification
        return found

    def _sort(self) -> None:
        self.hauls.sort(key=lambda fact: (fact.at, fact.haul.id))
        seen: set[str] = set()
        for fact in self.hauls:
            if fact.haul.id in seen:
                raise ConflictingRecordsError("haul", fact.haul.id)
            seen.add(fact.haul.id)
            for authority in fact.under:
                self.hauls_under.setdefault(authority, []).append(fact)
        self.lines.sort(key=lambda entry: (entry.at, entry.haul.haul.id, entry.line.id))
        for order, entry in enumerate(self.lines):
            entry.order = order
            named = self.lines_under.setdefault(entry.authority, {})
            named.setdefault(entry.name, []).append(entry)

    def has_come(self, moment: datetime) -> bool:
        """Tell whether a moment has come (it is not after the one judged at); if not, it is waited for."""
        return moment <= self.as_of or self._wait(moment)

    def is_over(self, moment: datetime) -> bool:
        """Tell whether a moment is over (it is before the one judged at); if not, it is waited for."""
        return moment < self.as_of or self._wait(moment)

    def still(self) -> datetime:
        """Give the moment judged at, for what goes on: the answer changes with every moment."""
        self._wait(self.as_of)
        return self.as_of

    def forget_places(self) -> None:
        """Forget where hauls lie: their positions may have been mended."""
        self._places.clear()

    def ask_anew(self) -> None:
        """Forget what earlier answers waited for."""
        self.waits_for = None

    def _wait(self, moment: datetime) -> bool:
        if self.waits_for is None or moment < self.waits_for:
            self.waits_for = moment
        return False

    def holds_now(self, clause: Clause) -> bool:
        """Tell whether a clause is in force at the moment judged at."""
        begun = clause.begins is None or self.has_come(clause.begins)
        return begun and (clause.ends is None or not self.has_come(clause.ends))

    def trips_under(self, authority: str) -> list[Trip]:
        """Give the trips with a haul under an authority, or planned under it, in order of departure."""
        worked = {fact.trip.id for fact in self.hauls_under.get(authority, ())}
        return sorted(
            (trip for trip in self.trips.values() if trip.id in worked or trip.authority == authority),
            key=lambda trip: (trip_start(trip) or self.still(), trip.id),
        )

    def place(self, fact: HaulFact, area: str) -> PathAnswer | None:
        """Tell where a haul lies to an area; None where no position was recorded.

        Raises KeyError for an area that the book does not hold.
        """
        return self._placed(fact, (area,)) if fact.haul.fixes else None

    def place_together(self, fact: HaulFact, areas: tuple[str, ...]) -> PathAnswer:
        """Tell where a haul with a position lies to several areas joined into one."""
        return self._placed(fact, areas)

    def _placed(self, fact: HaulFact, areas: tuple[str, ...]) -> PathAnswer:
        key = (fact.haul.id, areas)
        if areas not in self.joined:
            known = [self.book.areas[area] for area in areas]
            self.joined[areas] = known[0] if len(known) == 1 else together(known)
        if areas not in self._far_done:
            self._far_done.add(areas)
            self._place_far(areas)
        answer = self._places.get(key)
        if answer is None:
            fixes = fact.haul.fixes
            judged = (
                judge_spot(self.joined[areas], fixes[0]) if len(fixes) == 1 else judge_path(self.joined[areas], fixes)
            )
            answer = self._places[key] = judged
        return answer

    def _place_far(self, areas: tuple[str, ...]) -> None:
        """Answer for every haul that lies far from the edge, all at once."""
        placed = [fact for fact in self.hauls if fact.haul.fixes]
        answers = far_answers(self.joined[areas], [fact.haul.fixes for fact in placed])
        for fact, answer in zip(placed, answers, strict=True):
            if answer is not None:
                self._places[fact.haul.id, areas] = answer

    def far_gap(self, fact: HaulFact, area: str, needed_m: float) -> float | None:
        """Give how far at least a haul kept from an area where that is well above ``needed_m``, else None."""
        key = (area, needed_m)
        if key not in self._gaps:
            placed = [one for one in self.hauls if one.haul.fixes]
            gaps = far_gaps(self.book.areas[area], [one.haul.fixes for one in placed], needed_m)
            self._gaps[key] = {one.haul.id: gap for one, gap in zip(placed, gaps, strict=True) if gap is not None}
        return self._gaps[key].get(fact.haul.id)

    def published(self, authority: str, number: str) -> list[SharedTotal]:
        """Give the published totals of a shared quota in order of time, one for each moment.

        Two of one moment are one that may be either: the order in which they came decides nothing.
        """
        at: dict[datetime, SharedTotal] = {}
        for one in self.season.shared_totals:
            if (one.authority, one.condition) == (authority, number):
                other = at.get(one.as_of)
                both = one.total if other is None else spanned(other.total, one.total)
                at[one.as_of] = replace(one, total=both)
        return [at[moment] for moment in sorted(at)]

    def lines_of(self, authorities: Iterable[str]) -> Iterable[tuple[Identification, list[LineFact]]]:
        """Give the lines under these authorities, gathered by the name they were given."""
        for authority in authorities:
            yield from self.lines_under.get(authority, {}).items()


def trip_start(trip: Trip) -> datetime | None:
    """Give when a trip departed: as written, else the start of its first haul, else None."""
    if trip.depart is not None:
        return trip.depart
    return min((haul.start for haul in trip.hauls), default=None)


def known_by(season: Season, moment: datetime) -> tuple[Season, tuple[str, ...]]:
    """Give the season without trips that began after a moment, and the ids of those left out.

    Trips only planned or called off stay: their notices are judged before they begin.
    """
    later = {
        trip.id
        for trip in season.trips
        if trip.status in ("open", "closed") and (start := trip_start(trip)) is not None and start > moment
    }
    kept = tuple(trip for trip in season.trips if trip.id not in later)
    return (replace(season, trips=kept) if later else season), tuple(sorted(later))
