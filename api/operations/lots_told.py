"""What is told of lots at the gate: each with what its record says, its findings, and those of its haul and its trip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from typing import Literal, NamedTuple, cast

from sqlalchemy import ColumnElement, Select, or_
from sqlalchemy import select as select_rows
from sqlmodel import Session, col, select

from api.domain.acquisitions import STATES, UNDECIDED, AcquisitionError, AtTheDoor, State, collectors_of, moved
from api.domain.counts import NOTHING, Amount, Count
from api.domain.facts import Book
from api.domain.rules.finding import Finding
from api.domain.trips import CrewMember, Movement
from api.domain.vocabulary import Outcome
from api.entities.acquisitions import Acquisition, Lot, Want
from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.papers import MovementRecord
from api.entities.people import Person
from api.entities.trips import CrewEntry, TripRecord
from api.exchange.printable import one_line
from api.operations import compliance
from api.operations.lots import at_the_gate, bring_lots, in_order
from api.store import records
from api.store.books import current_book
from api.store.records import Names
from api.store.seasons import rows_of
from api.store.unit_of_work import Store

GRAVE: tuple[Outcome, ...] = ("broken", "open")

Row = tuple[Acquisition, Lot, CatchLine, HaulRecord, TripRecord]


class UnknownAcquisitionError(AcquisitionError):
    """There is no such lot at the gate; carries the id."""

    def __init__(self, acquisition: str) -> None:
        self.acquisition = acquisition
        super().__init__(f"there is no lot '{acquisition[:80]}' at the gate; take an id from the list of lots")


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTold:
    """A lot at the gate. ``id`` is what decisions name, ``line`` the code of its catch line.

    ``field_count`` is what the lot came with, ``on_hand`` what the record says should be there now. ``amended``
    tells that the catch line was amended after the lot was decided on. ``wanted`` is the number on open wants for
    its taxon. ``findings`` are those that rest on its line; ``of_haul`` and ``of_trip`` those that rest on its haul
    or its trip and on no line of it.
    """

    id: str
    state: str
    version: int
    accession: str
    line: str
    haul: str
    trip: str
    taxon: str
    authority: str
    unit: str
    field_count: Count
    on_hand: Count
    door_count: Amount | None
    decided_at: datetime | None
    decided_by: str
    decided_by_name: str
    reason: str
    onward: str
    collectors: tuple[str, ...]
    wanted: int
    amended: bool
    findings: tuple[Finding, ...] = ()
    of_haul: tuple[Finding, ...] = ()
    of_trip: tuple[Finding, ...] = ()


Order = Literal["oldest", "newest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLots:
    """Which lots are asked for: of a state, of a trip (its code); "" asks for all.

    ``grave`` asks only for those with something broken or open of the lot itself or of its haul. ``order`` says
    which trips stand first; within a trip lots stand in order of capture.
    """

    state: str = ""
    trip: str = ""
    grave: bool = False
    order: Order = "oldest"
    start: int = 0
    limit: int = 50


class LotsTold(NamedTuple):
    """The number of lots asked for, a page of them, and how many there are in each state and of each trip.

    ``states`` counts whatever is asked for but the state; ``trips`` holds the trips' codes in the order asked for.
    """

    total: int
    lots: list[LotTold]
    states: dict[str, int]
    trips: dict[str, int]


class _Key(NamedTuple):
    """A lot by what its page is chosen by."""

    id: str
    state: str
    line: str
    haul: str
    trip: str


def list_lots(store: Store, asked: AskedLots) -> LotsTold:
    """Give a page of the lots asked for, with the findings on each.

    Raises AcquisitionError for a state that there is none of.
    """
    if asked.state not in ("", *STATES):
        raise AcquisitionError(f"'{asked.state[:60]}' is no state of a lot; the states are {', '.join(STATES)}")
    bring_lots(store)
    keys = _keys(store, asked.trip)
    if asked.grave:
        keys = _grave(store, keys)
    found = _in_order([one for one in keys if asked.state in ("", one.state)], asked.order)
    page = [one.id for one in found[asked.start : asked.start + asked.limit]]
    with store.reading() as session:
        rows = {row[0].id: row for row in session.execute(_lots().where(col(Acquisition.id).in_(page))).all()}
        # A lot that was taken back since is on no page.
        told = _told(session, [rows[one] for one in page if one in rows], current_book(session, store.shared))
    states = {state: sum(one.state == state for one in keys) for state in STATES}
    return LotsTold(len(found), _with_findings(store, told), states, dict(Counter(one.trip for one in found)))


def _keys(store: Store, trip: str) -> list[_Key]:
    """Give every lot at the gate, and every one that was decided on, in order of capture."""
    wanted: list[ColumnElement[bool]] = [or_(at_the_gate(), col(Acquisition.state).not_in(UNDECIDED))]
    if trip:
        # PostgreSQL takes no text with a NUL in it, not even to compare.
        wanted.append(col(TripRecord.code) == one_line(trip))
    columns = [Acquisition.id, Acquisition.state, CatchLine.code, HaulRecord.code, TripRecord.code]
    query = _lots().where(*wanted).order_by(*in_order()).with_only_columns(*(col(one) for one in columns))
    with store.reading() as session:
        return [_Key(*row) for row in session.execute(query).all()]


def _grave(store: Store, keys: Sequence[_Key]) -> list[_Key]:
    """Keep the lots of which something is broken or open, of themselves or of their hauls."""
    with compliance.now(store) as now:
        bad = {
            record
            for trip in {one.trip for one in keys}
            for finding in now.of_trip(trip)
            if finding.outcome in GRAVE
            for record in finding.records
        }
    return [one for one in keys if not bad.isdisjoint((one.line, one.haul))]


def _in_order(keys: Sequence[_Key], order: Order) -> list[_Key]:
    """Lay lots together by trip, the trips in the order asked for."""
    trips: dict[str, list[_Key]] = {}
    for one in keys:
        trips.setdefault(one.trip, []).append(one)
    groups = list(trips.values())
    return [one for group in (groups if order == "oldest" else reversed(groups)) for one in group]


def _lots() -> Select[Acquisition, Lot, CatchLine, HaulRecord, TripRecord]:
    """Give the query for lots with the records they hang on."""
    return (
        select_rows(Acquisition, Lot, CatchLine, HaulRecord, TripRecord)
        .join(Lot, col(Lot.id) == col(Acquisition.lot_id))
        .join(CatchLine, col(CatchLine.id) == col(Lot.line_id))
        .join(HaulRecord, col(HaulRecord.id) == col(CatchLine.haul_id))
        .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
    )


def _with_findings(store: Store, told: Sequence[LotTold]) -> list[LotTold]:
    """Put to each lot the findings on it, its haul and its trip, in the authorities' own order."""
    with compliance.now(store) as now:
        of_trip = {
            trip: [compliance.looked_up(finding) for finding in now.of_trip(trip)]
            for trip in {one.trip for one in told}
        }
    return [_with_own(one, of_trip[one.trip]) for one in told]


def _with_own(lot: LotTold, findings: Iterable[Finding]) -> LotTold:
    """Part the findings on a trip into those on a lot, on its haul alone and on its trip alone."""
    own: list[Finding] = []
    of_haul: list[Finding] = []
    of_trip: list[Finding] = []
    for finding in findings:
        if lot.line in finding.records:
            own.append(finding)
        elif lot.haul in finding.records:
            of_haul.append(finding)
        elif lot.trip in finding.records:
            of_trip.append(finding)
    return replace(lot, findings=tuple(own), of_haul=tuple(of_haul), of_trip=tuple(of_trip))


def _told(session: Session, rows: Sequence[Row], book: Book) -> list[LotTold]:
    """Put what is told of some lots together."""
    deciders = {one.decided_by for one, *_ in rows if one.decided_by}
    names = names_of(session, deciders)
    wants = session.exec(select(Want.taxon, Want.number).where(col(Want.ended_at).is_(None))).all()
    told = []
    for row, door in zip(rows, doors_of(session, rows), strict=True):
        above = book.taxa.lineage(row[1].taxon)
        wanted = sum(number for taxon, number in wants if taxon in above)
        told.append(_lot_told(row, door, names.get(row[0].decided_by or "", ""), wanted))
    return told


def names_of(session: Session, people: Collection[str]) -> dict[str, str]:
    """Give people's names by their ids."""
    return dict(session.exec(select(Person.id, Person.name).where(col(Person.id).in_(people))).all())


def doors_of(session: Session, rows: Sequence[Row]) -> list[AtTheDoor]:
    """Give each lot as the record has it: with what left or joined it, and with who collected it."""
    movements: dict[str, list[Movement]] = {}
    for one in rows_of(session, MovementRecord, "at", "id", only=("line", [line.id for _, _, line, *_ in rows])):
        movements.setdefault(one["line"], []).append(records.movement_of(one, Names()))
    crews: dict[str, list[CrewMember]] = {}
    for one in rows_of(session, CrewEntry, "trip_id", "place", only=("trip_id", sorted({row[4].id for row in rows}))):
        crews.setdefault(one["trip_id"], []).append(records.crew_of(one))
    doors = []
    for acquisition, _, line, haul, trip in rows:
        gone, gained = moved(movements.get(line.id, ()))
        doors.append(
            AtTheDoor(
                state=cast("State", acquisition.state),
                count=count_of(line),
                unit=line.unit,
                collectors=collectors_of(trip.leader, crews.get(trip.id, ()), line.person or haul.person or ""),
                gone=gone,
                gained=gained,
            )
        )
    return doors


def _lot_told(row: Row, door: AtTheDoor, decider: str, wanted: int) -> LotTold:
    acquisition, lot, line, haul, trip = row
    return LotTold(
        id=acquisition.id,
        state=acquisition.state,
        version=acquisition.version,
        accession=acquisition.accession or "",
        line=line.code,
        haul=haul.code,
        trip=trip.code,
        taxon=lot.taxon,
        authority=lot.authority or "",
        unit=lot.unit,
        field_count=count_of(lot),
        on_hand=door.expected,
        door_count=_exact(acquisition.door_count),
        decided_at=acquisition.decided_at,
        decided_by=acquisition.decided_by or "",
        decided_by_name=decider,
        reason=acquisition.reason,
        onward=acquisition.onward,
        collectors=tuple(sorted(door.collectors)),
        wanted=wanted,
        amended=acquisition.state not in UNDECIDED and amended_since(acquisition, line),
    )


def amended_since(acquisition: Acquisition, line: CatchLine) -> bool:
    """Tell whether a line was amended after the last decision on its lot."""
    return acquisition.decided_at is not None and line.received_at > acquisition.decided_at


def count_of(row: Lot | CatchLine) -> Count:
    """Give the count of a lot or a line."""
    return records.count_of("count", row.model_dump()) or NOTHING


def _exact(number: float | None) -> Amount | None:
    """Give a door count as it was given: floats write themselves as the shortest decimal that means them."""
    if number is None:
        return None
    exact = Fraction(repr(number))
    return exact.numerator if exact.denominator == 1 else exact


def look_at(store: Store, acquisition: str) -> LotTold:
    """Give one lot as it stands, with its findings; raises UnknownAcquisitionError."""
    with store.reading() as session:
        told = _told(session, [row_of(session, acquisition)], current_book(session, store.shared))
    return _with_findings(store, told)[0]


def row_of(session: Session, named: str) -> Row:
    """Give one lot by its id with what it hangs on; raises UnknownAcquisitionError."""
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    query = _lots().where(col(Acquisition.id) == named)
    row = session.execute(query).first() if named.isprintable() else None
    if row is None:
        raise UnknownAcquisitionError(named)
    return row
