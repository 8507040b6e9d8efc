"""The season from its rows, and a season into rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, cast

from sqlalchemy import Table
from sqlalchemy import select as select_columns
from sqlmodel import Session, SQLModel

from api.domain.places.positions import Fix
from api.domain.trips import Filing, Haul, Incident, Line, Movement, Notice, Season, SharedTotal, Trip
from api.entities.catches import CatchLine, MeasuredRun
from api.entities.hauls import FixRecord, HaulCheck, HaulRecord
from api.entities.papers import (
    CorrectionRecord,
    FilingRecord,
    IncidentRecord,
    MovementRecord,
    NoticeRecord,
    SharedTotalRecord,
)
from api.entities.people import Person
from api.entities.places import Site
from api.entities.trips import ArrivalRecord, AttestationRecord, CleaningRecord, CrewEntry, ReadingRecord, TripRecord
from api.store import records
from api.store.records import HaulParts, Names, Row, TripParts
from api.store.unit_of_work import Work

Rows = Sequence[Mapping[str, Any]]


def table_of(entity: type[SQLModel]) -> Table:
    """Give an entity's table."""
    table: Table = entity.__table__  # type: ignore[attr-defined]
    return table


def rows_of(
    session: Session, entity: type[SQLModel], *order: str, only: tuple[str, Sequence[str]] | None = None
) -> Rows:
    """Give the rows of a table as mappings, in order; ``only`` narrows a column to some values."""
    table = table_of(entity)
    query = select_columns(table).order_by(*(table.c[name] for name in order))
    if only is not None:
        query = query.where(table.c[only[0]].in_(only[1]))
    return cast("Rows", session.connection().execute(query).mappings().all())


def season_from(
    session: Session, trips: Sequence[str] | None = None, *, hauls: bool = True, names: Names | None = None
) -> Season:
    """Read the season; ``trips`` (ids) narrows it to some trips and leaves out what hangs on none of them.

    Without ``hauls`` only what the trips hold themselves is read. ``names`` learns the codes read.
    """
    names = Names() if names is None else names
    found = _trips(session, names, trips, hauls=hauls)
    if trips is not None:
        return Season(trips=found, people=_people(session), sites=_sites(session))
    return Season(
        trips=found,
        notices=tuple(records.notice_of(row, names) for row in rows_of(session, NoticeRecord, "sent", "id")),
        incidents=tuple(records.incident_of(row, names) for row in rows_of(session, IncidentRecord, "id")),
        movements=tuple(records.movement_of(row, names) for row in rows_of(session, MovementRecord, "at", "id")),
        filings=tuple(records.filing_of(row) for row in rows_of(session, FilingRecord, "filed", "id")),
        shared_totals=shared_totals_from(session),
        corrections=tuple(records.correction_of(row, names) for row in rows_of(session, CorrectionRecord, "place")),
        people=_people(session),
        sites=_sites(session),
    )


def shared_totals_from(session: Session) -> tuple[SharedTotal, ...]:
    """Read the published totals of shared quotas."""
    rows = rows_of(session, SharedTotalRecord, "as_of", "place", "id")
    return tuple(records.shared_total_of(row) for row in rows)


Paper = Notice | Incident | Movement | Filing

_PAPERS: dict[str, tuple[type[SQLModel], Callable[[Mapping[str, Any], Names], Paper]]] = {
    "notice": (NoticeRecord, records.notice_of),
    "incident": (IncidentRecord, records.incident_of),
    "movement": (MovementRecord, records.movement_of),
    "filing": (FilingRecord, lambda row, _: records.filing_of(row)),
}


def papers_from(session: Session, kind: str, ids: Sequence[str], names: Names) -> dict[str, Paper]:
    """Read some papers of a kind by their ids; ``names`` holds the codes of what they speak of."""
    table, read = _PAPERS[kind]
    return {row["id"]: read(row, names) for row in rows_of(session, table, "id", only=("id", ids))}


def _people(session: Session) -> dict[str, str]:
    return {row["id"]: row["name"] for row in rows_of(session, Person, "id")}


def _sites(session: Session) -> dict[str, str]:
    return {row["id"]: row["name"] for row in rows_of(session, Site, "id")}


def hauls_from(session: Session, ids: Sequence[str]) -> list[Haul]:
    """Read some hauls (by id) without their lines."""
    rows = list(rows_of(session, HaulRecord, "place", only=("id", ids)))
    parts = {row["id"]: HaulParts() for row in rows}
    for row in rows_of(session, FixRecord, "haul_id", "place", only=("haul_id", ids)):
        parts[row["haul_id"]].fixes.append(records.fix_of(row))
    for row in rows_of(session, HaulCheck, "haul_id", "place", only=("haul_id", ids)):
        parts[row["haul_id"]].checks.append(row["at"])
    for row in rows_of(session, ReadingRecord, "holder", "place", only=("haul_id", ids)):
        parts[row["haul_id"]].readings.append(records.reading_of(row))
    return [records.haul_of(row, parts[row["id"]]) for row in rows]


def lines_from(session: Session, ids: Sequence[str]) -> list[Line]:
    """Read some catch lines (by id)."""
    runs: dict[str, list[Any]] = {}
    for row in rows_of(session, MeasuredRun, "line_id", "place", only=("line_id", ids)):
        runs.setdefault(row["line_id"], []).append(records.run_of(row))
    rows = rows_of(session, CatchLine, "place", only=("id", ids))
    return [records.line_of(row, tuple(runs.get(row["id"], ()))) for row in rows]


def _trips(session: Session, names: Names, ids: Sequence[str] | None, *, hauls: bool) -> tuple[Trip, ...]:
    by_trip = None if ids is None else ("trip_id", ids)
    trip_rows = list(rows_of(session, TripRecord, "code", only=None if ids is None else ("id", ids)))
    haul_rows = list(rows_of(session, HaulRecord, "trip_id", "place", only=by_trip)) if hauls else []
    haul_ids = None if ids is None else [str(row["id"]) for row in haul_rows]
    for row in (*trip_rows, *haul_rows):
        names.learn(row["id"], row["code"])
    trip_parts: dict[str, TripParts] = {row["id"]: TripParts() for row in trip_rows}
    haul_parts = _haul_parts(session, names, {row["id"]: HaulParts() for row in haul_rows}, haul_ids)
    for row in rows_of(session, ReadingRecord, "trip_id", "place", only=by_trip):
        if row["haul_id"] is None:
            trip_parts[row["trip_id"]].readings.append(records.reading_of(row))
        elif hauls:
            haul_parts[row["haul_id"]].readings.append(records.reading_of(row))
    for row in rows_of(session, ArrivalRecord, "trip_id", only=by_trip):
        trip_parts[row["trip_id"]].arrived = records.fix_of(row)
    for row in rows_of(session, CrewEntry, "trip_id", "place", only=by_trip):
        trip_parts[row["trip_id"]].crew.append(records.crew_of(row))
    for row in rows_of(session, CleaningRecord, "trip_id", "place", only=by_trip):
        trip_parts[row["trip_id"]].cleanings.append(records.cleaning_of(row))
    for row in rows_of(session, AttestationRecord, "trip_id", "place", only=by_trip):
        trip_parts[row["trip_id"]].attestations.append(records.attestation_of(row))
    for row in haul_rows:
        trip_parts[row["trip_id"]].hauls.append(records.haul_of(row, haul_parts[row["id"]]))
    return tuple(records.trip_of(row, trip_parts[row["id"]]) for row in trip_rows)


def _haul_parts(
    session: Session, names: Names, parts: dict[str, HaulParts], hauls: Sequence[str] | None
) -> dict[str, HaulParts]:
    by_haul = None if hauls is None else ("haul_id", hauls)
    for row in rows_of(session, FixRecord, "haul_id", "place", only=by_haul):
        parts[row["haul_id"]].fixes.append(records.fix_of(row))
    for row in rows_of(session, HaulCheck, "haul_id", "place", only=by_haul):
        parts[row["haul_id"]].checks.append(row["at"])
    line_rows = list(rows_of(session, CatchLine, "haul_id", "place", only=by_haul))
    lines = None if hauls is None else ("line_id", [str(row["id"]) for row in line_rows])
    runs: dict[str, list[Any]] = {}
    for row in rows_of(session, MeasuredRun, "line_id", "place", only=lines):
        runs.setdefault(row["line_id"], []).append(records.run_of(row))
    for row in line_rows:
        names.learn(row["id"], row["code"])
        parts[row["haul_id"]].lines.append(records.line_of(row, tuple(runs.get(row["id"], ()))))
    return parts


class Stamp:
    """What every row of a record written now bears besides its own content."""

    def __init__(self, at: datetime, source: str, made_at: datetime | None = None, version: int = 1) -> None:
        self.row: Row = {"version": version, "received_at": at, "received_from": source, "made_at": made_at}


def write_trip(work: Work, trip: Trip, record: str, stamp: Stamp) -> None:
    """Write a trip's row and what hangs on it, but not its hauls."""
    work.insert(TripRecord, {**stamp.row, **records.trip_row(trip), "id": record, "code": trip.id})
    write_trip_parts(work, trip, record)


def write_trip_parts(work: Work, trip: Trip, record: str) -> None:
    """Write where it began, crew, cleanings, statements and the trip's own readings."""
    if trip.arrived is not None:
        work.insert(ArrivalRecord, {"trip_id": record, **_fix_row(trip.arrived)})
    parts = (
        (CrewEntry, trip.crew, records.CREW_FIELDS),
        (CleaningRecord, trip.cleanings, records.CLEANING_FIELDS),
        (AttestationRecord, trip.attestations, records.ATTESTATION_FIELDS),
    )
    for entity, entries, fields in parts:
        for place, one in enumerate(entries):
            work.insert(entity, {"trip_id": record, "place": place, **{name: getattr(one, name) for name in fields}})
    _write_readings(work, trip, record, None)


def _fix_row(fix: Fix) -> Row:
    return {name: getattr(fix, name) for name in records.FIX_FIELDS}


def _write_readings(work: Work, holder: Trip | Haul, trip: str, haul: str | None) -> None:
    for place, one in enumerate(holder.readings):
        row = {name: getattr(one, name) for name in records.READING_FIELDS}
        work.insert(ReadingRecord, {**row, "holder": haul or trip, "trip_id": trip, "haul_id": haul, "place": place})


def write_haul(work: Work, haul: Haul, record: str, trip: str, place: int, stamp: Stamp) -> None:
    """Write a haul's row and what hangs on it, but not its lines."""
    own = {"id": record, "code": haul.id, "trip_id": trip, "place": place}
    work.insert(HaulRecord, {**stamp.row, **records.haul_row(haul), **own})
    write_haul_parts(work, haul, record, trip)


def write_haul_parts(work: Work, haul: Haul, record: str, trip: str) -> None:
    """Write positions, looks and the haul's own readings."""
    for place, fix in enumerate(haul.fixes):
        work.insert(FixRecord, {"haul_id": record, "place": place, **_fix_row(fix)})
    for place, at in enumerate(haul.checks):
        work.insert(HaulCheck, {"haul_id": record, "place": place, "at": at})
    _write_readings(work, haul, trip, record)


def write_line(work: Work, line: Line, record: str, haul: str, place: int, stamp: Stamp) -> None:
    """Write a catch line and its measurements."""
    own = {"id": record, "code": line.id, "haul_id": haul, "place": place}
    work.insert(CatchLine, {**stamp.row, **records.line_row(line), **own})
    write_runs(work, line, record)


def write_runs(work: Work, line: Line, record: str) -> None:
    """Write a line's measurements."""
    for place, run in enumerate(line.measurements):
        work.insert(MeasuredRun, {"line_id": record, "place": place, **records.run_row(run)})
