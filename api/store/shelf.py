"""Single records of the season in a transaction: found, stored, amended, corrected, with the codes they bear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from sqlalchemy import delete, update
from sqlmodel import SQLModel, col, func, select

from api.domain.calendar import local_day
from api.domain.facts import Book
from api.domain.trips import Haul, Incident, Line, Movement, Notice, Person, Trip
from api.entities.catches import CatchLine, MeasuredRun
from api.entities.hauls import FixRecord, HaulCheck, HaulRecord
from api.entities.papers import CorrectionRecord, IncidentRecord, MovementRecord, NoticeRecord
from api.entities.people import Person as PersonRow
from api.entities.sync import Change
from api.entities.trips import ArrivalRecord, AttestationRecord, CleaningRecord, CrewEntry, ReadingRecord, TripRecord
from api.exchange.faults import Fault
from api.exchange.one_record import AnyRecord
from api.store import records
from api.store.ids import new_id
from api.store.records import Names, Row
from api.store.seasons import (
    Stamp,
    hauls_from,
    lines_from,
    season_from,
    write_haul,
    write_haul_parts,
    write_line,
    write_runs,
    write_trip,
    write_trip_parts,
)
from api.store.unit_of_work import Work

_PAPER_TABLES: dict[str, type[SQLModel]] = {
    "notice": NoticeRecord,
    "incident": IncidentRecord,
    "movement": MovementRecord,
}


@dataclass(slots=True)
class Held:
    """A record as the store holds it: enough to decide what is to be done with another version of it.

    ``trip`` is the id of its trip, ``parent`` of what it hangs on; ``zone`` and ``authority`` are what hangs on
    it inherits; ``closed`` tells whether its trip is closed.
    """

    kind: str
    id: str
    code: str
    version: int
    trip: str = ""
    parent: str = ""
    zone: str = ""
    authority: str = ""
    closed: bool = False


@dataclass(slots=True)
class Shelf:
    """The records that a transaction works with."""

    work: Work
    book: Book
    _held: dict[tuple[str, str], Held] = field(default_factory=dict)
    _names: Names = field(default_factory=Names)
    _codes: dict[tuple[str, str], set[str]] = field(default_factory=dict)
    _people: set[str] = field(default_factory=set)

    def look_up(self, ids: Iterable[str]) -> None:
        """Find all records of these ids at once."""
        wanted = sorted(ids)
        session = self.work.session
        self._people = set(session.exec(select(PersonRow.id)).all())
        trips = select(TripRecord).where(col(TripRecord.id).in_(wanted))
        for trip in session.exec(trips):
            self._learn_trip(trip)
        hauls = (
            select(HaulRecord, TripRecord)
            .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
            .where(col(HaulRecord.id).in_(wanted))
        )
        for haul, trip in session.exec(hauls):
            self._learn_haul(haul, self._learn_trip(trip))
        lines = (
            select(CatchLine, HaulRecord, TripRecord)
            .join(HaulRecord, col(HaulRecord.id) == col(CatchLine.haul_id))
            .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
            .where(col(CatchLine.id).in_(wanted))
        )
        for line, haul, trip in session.exec(lines):
            self._learn_line(line.id, line.code, line.version, self._learn_haul(haul, self._learn_trip(trip)))
        for kind, table in _PAPER_TABLES.items():
            rows: Any = session.exec(select(table.id, table.version).where(table.id.in_(wanted)))  # type: ignore[attr-defined]
            for record, version in rows:
                self._held[kind, record] = Held(kind, record, record, version)

    def _learn(self, held: Held) -> Held:
        self._names.learn(held.id, held.code)
        return self._held.setdefault((held.kind, held.id), held)

    def _learn_trip(self, row: TripRecord) -> Held:
        authority = row.authority or ""
        return self._learn(
            Held("trip", row.id, row.code, row.version, row.id, "", row.zone, authority, row.status == "closed")
        )

    def _learn_haul(self, row: HaulRecord, trip: Held) -> Held:
        authority = row.authority or trip.authority
        return self._learn(
            Held("haul", row.id, row.code, row.version, trip.id, trip.id, trip.zone, authority, trip.closed)
        )

    def _learn_line(self, line: str, code: str, version: int, haul: Held) -> Held:
        return self._learn(
            Held("line", line, code, version, haul.trip, haul.id, haul.zone, haul.authority, haul.closed)
        )

    def held(self, kind: str, record: str) -> Held | None:
        """Give a record that was looked up, or stored since; None where there is none."""
        if kind == "person" and record in self._people and ("person", record) not in self._held:
            self._learn(Held("person", record, record, self._person_version(record)))
        return self._held.get((kind, record))

    def _person_version(self, record: str) -> int:
        """Give a person's version, which the changes alone hold; 1 for who came with a file."""
        mine = (Change.kind == "person", Change.record == record)
        return self.work.session.exec(select(func.max(Change.version)).where(*mine)).one() or 1

    def record(self, held: Held) -> AnyRecord:
        """Read a record as it stands, without what hangs on it by an id of its own; it bears its code."""
        self.work.flush()
        session = self.work.session
        match held.kind:
            case "person":
                return Person(id=held.id, name=session.get_one(PersonRow, held.id).name)
            case "trip":
                (trip,) = season_from(session, [held.id], hauls=False).trips
                return trip
            case "haul":
                (haul,) = hauls_from(session, [held.id])
                return haul
            case "line":
                (line,) = lines_from(session, [held.id])
                return line
        row = session.get_one(_PAPER_TABLES[held.kind], held.id).model_dump()
        names = Names()
        match held.kind:
            case "notice":
                return records.notice_of(row, names)
            case "incident":
                return records.incident_of(row, names)
        return records.movement_of(row, names)

    def unknown_in(self, record: AnyRecord) -> list[Fault]:
        """Tell what a record speaks of that is not here: people, conditions, trips, lines."""
        return list(self._unknown(record))

    def _unknown(self, record: AnyRecord) -> Iterator[Fault]:
        match record:
            case Trip():
                named = [("leader", record.leader), *(("crew", one.person) for one in record.crew)]
                named += [("attestations", one.person) for one in record.attestations]
                yield from self._unknown_people("trip", named)
                for one in record.attestations:
                    yield from self._unknown_condition(one.authority, one.condition)
            case Haul() | Line():
                yield from self._unknown_people(type(record).__name__.lower(), [("person", record.person)])
            case Notice() if self.held("trip", record.trip) is None:
                yield _missing("notice", "trip", "trip", record.trip)
            case Movement() if record.line and self.held("line", record.line) is None:
                yield _missing("movement", "line", "catch line", record.line)
            case Incident():
                for name in record.about:
                    if not any(self.held(kind, name) for kind in ("trip", "haul", "line")):
                        yield _missing("incident", "about", "record", name)

    def _unknown_people(self, kind: str, named: list[tuple[str, str]]) -> Iterator[Fault]:
        for where, person in named:
            if person and person not in self._people:
                what = f"There is no person '{person}' here."
                yield Fault(kind, where, what, "Send the person first (kind 'person'); then this one again.")

    def _unknown_condition(self, authority: str, number: str) -> Iterator[Fault]:
        stands = self.book.authority(authority)
        every = (stands.conditions, *(one.conditions for one in stands.amendments))
        if not any(number == one.number for part in every for one in part):
            what = f"The authority '{authority}' has no condition '{number}'."
            yield Fault("trip", "attestations", what, "Give the number as the authority prints it.")

    def store(self, kind: str, record: AnyRecord, parent: Held | None, made_at: datetime | None) -> Held:
        """Store a new record; gives it as held, with its code."""
        work = self.work
        stamp = Stamp(work.at, work.actor.device or work.actor.person, made_at)
        match record:
            case Person():
                work.insert(PersonRow, {"id": record.id, "name": record.name, "left_on": None, "added_at": work.at})
                self._people.add(record.id)
                held = Held(kind, record.id, record.id, 1)
            case Trip():
                code = self._trip_code(record)
                held = Held(
                    kind, record.id, code, 1, record.id, "", record.zone, record.authority, record.status == "closed"
                )
                write_trip(work, replace(record, id=code), record.id, stamp)
            case Haul() if parent is not None:
                place, code = self._next(parent, HaulRecord)
                held = Held(
                    kind, record.id, code, 1, parent.trip, parent.id, parent.zone,
                    record.authority or parent.authority, parent.closed,
                )  # fmt: skip
                write_haul(work, replace(record, id=code), record.id, parent.id, place, stamp)
            case Line() if parent is not None:
                place, code = self._next(parent, CatchLine)
                held = Held(kind, record.id, code, 1, parent.trip, parent.id, parent.zone, "", parent.closed)
                write_line(work, replace(record, id=code), record.id, parent.id, place, stamp)
            case _:
                held = Held(kind, record.id, record.id, 1, trip=self._trip_of(record))
                work.insert(_PAPER_TABLES[kind], {**stamp.row, **self._paper_row(record)})
        self._learn(held)
        if isinstance(record, Trip | Haul):
            # Nothing hangs on it yet, so nobody needs to look.
            self._codes[held.kind, held.id] = set()
        work.changed(kind, held.id, 1, held.trip)
        return held

    def _trip_of(self, record: AnyRecord) -> str:
        if isinstance(record, Notice):
            return record.trip
        line = self.held("line", record.line) if isinstance(record, Movement) else None
        return line.trip if line else ""

    def _paper_row(self, record: AnyRecord) -> Row:
        match record:
            case Notice():
                return records.notice_row(record, Names())
            case Incident():
                return records.incident_row(record, Names())
            case Movement():
                return records.movement_row(record, Names())
        raise TypeError(record)

    def _trip_code(self, trip: Trip) -> str:
        """Give a new trip's code: the year in which it departs, and the next free number of that year."""
        year = local_day(trip.depart or self.work.at, trip.zone).year % 100
        begin = f"T{year:02}-"
        codes = self._codes.get(("begin", begin))
        if codes is None:
            found = self.work.session.exec(select(TripRecord.code).where(col(TripRecord.code).startswith(begin))).all()
            codes = self._codes["begin", begin] = set(found)
        number = len(codes) + 1
        while f"{begin}{number:03}" in codes:
            number += 1
        code = f"{begin}{number:03}"
        codes.add(code)
        return code

    def _next(self, parent: Held, table: type[HaulRecord | CatchLine]) -> tuple[int, str]:
        """Give the next place among what hangs on a record, and the code for it."""
        key = (parent.kind, parent.id)
        codes = self._codes.get(key)
        if codes is None:
            above = HaulRecord.trip_id if table is HaulRecord else CatchLine.haul_id
            found = self.work.session.exec(select(table.code).where(col(above) == parent.id)).all()
            codes = self._codes[key] = set(found)
        number = len(codes)
        code = f"{parent.code}-{_mark(number, letters=table is CatchLine)}"
        while code in codes:
            number += 1
            code = f"{parent.code}-{_mark(number, letters=table is CatchLine)}"
        codes.add(code)
        return number, code

    def amend(self, held: Held, record: AnyRecord, made_at: datetime | None) -> int:
        """Put a record in place of the one that stands; gives its new version."""
        self.work.flush()
        held.version += 1
        stamp = Stamp(self.work.at, self.work.actor.device or self.work.actor.person, made_at, held.version)
        match record:
            case Person():
                self._update(PersonRow, held.id, {"name": record.name})
            case Trip():
                self._update(TripRecord, held.id, {**stamp.row, **records.trip_row(record)})
                for table in (ArrivalRecord, CrewEntry, CleaningRecord, AttestationRecord, ReadingRecord):
                    holder = "holder" if table is ReadingRecord else "trip_id"
                    self._remove(table, holder, held.id)
                write_trip_parts(self.work, record, held.id)
                held.closed, held.zone, held.authority = record.status == "closed", record.zone, record.authority
                self._pass_on(held)
            case Haul():
                held.authority = record.authority or self._held["trip", held.trip].authority
                self._update(HaulRecord, held.id, {**stamp.row, **records.haul_row(record)})
                for part, holder in ((FixRecord, "haul_id"), (HaulCheck, "haul_id"), (ReadingRecord, "holder")):
                    self._remove(part, holder, held.id)
                write_haul_parts(self.work, record, held.id, held.trip)
            case Line():
                self._update(CatchLine, held.id, {**stamp.row, **records.line_row(record)})
                self._remove(MeasuredRun, "line_id", held.id)
                write_runs(self.work, record, held.id)
            case _:
                self._update(_PAPER_TABLES[held.kind], held.id, {**stamp.row, **self._paper_row(record)})
        self.work.changed(held.kind, held.id, held.version, held.trip)
        return held.version

    def _pass_on(self, trip: Held) -> None:
        """Let what hangs on a trip, and was looked up before the trip was amended, inherit what it says now."""
        own = select(HaulRecord.id).where(HaulRecord.trip_id == trip.id, col(HaulRecord.authority).is_not(None))
        of_their_own = set(self.work.session.exec(own))
        for one in self._held.values():
            if one.trip == trip.id and one.kind in ("haul", "line"):
                one.closed, one.zone = trip.closed, trip.zone
                if one.kind == "haul" and one.id not in of_their_own:
                    one.authority = trip.authority

    def _update(self, table: type[SQLModel], record: str, row: Row) -> None:
        own = table.__table__  # type: ignore[attr-defined]
        self.work.session.execute(update(own).where(own.c.id == record).values(row))

    def _remove(self, table: type[SQLModel], holder: str, record: str) -> None:
        own = table.__table__  # type: ignore[attr-defined]
        self.work.session.execute(delete(own).where(own.c[holder] == record))

    def correct(self, held: Held, name: str, old: str, new: str, why: str) -> None:
        """Enter a correction of a record: what it said before, what it says now, who and why."""
        self.work.flush()
        place = self.work.session.exec(select(func.count()).select_from(CorrectionRecord)).one()
        row = {"record": held.id, "field": name, "old": old, "new": new, "by": self.work.actor.person}
        self.work.insert(CorrectionRecord, {"id": new_id(), "place": place, **row, "at": self.work.at, "why": why})
        self.work.flush()


def _missing(kind: str, where: str, what: str, name: str) -> Fault:
    return Fault(kind, where, f"There is no {what} '{name}' here.", f"Send the {what} first; then this one again.")


def _mark(number: int, *, letters: bool) -> str:
    """Give the mark of the n-th thing that hangs on a record: 1, 2, 3 ... or a, b ... z, aa, ab ..."""
    if not letters:
        return str(number + 1)
    text, left = "", number + 1
    while left:
        left, place = divmod(left - 1, 26)
        text = chr(ord("a") + place) + text
    return text
