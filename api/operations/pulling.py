"""What changed since a phone last asked, in the order in which the server made it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, func, select

from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.papers import FilingRecord, IncidentRecord, MovementRecord, NoticeRecord
from api.entities.people import Person
from api.entities.photos import Photo
from api.entities.sync import Change
from api.entities.trips import TripRecord
from api.exchange.season_out import record_to_json
from api.operations.pulled_content import content_of
from api.store import records
from api.store.records import Names
from api.store.seasons import hauls_from, lines_from, rows_of, season_from
from api.store.unit_of_work import Store

MOST_IN_A_PULL = 1000


@dataclass(frozen=True, slots=True)
class Changed:
    """A record as it stands now, at the place of its newest change among those pulled."""

    seq: int
    kind: str
    id: str
    version: int
    trip: str
    at: datetime
    code: str = ""
    parent: str = ""
    record: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Pulled:
    """Changes after a cursor, the cursor to go on from, and whether more are waiting."""

    changes: tuple[Changed, ...]
    cursor: int
    more: bool


def pull(store: Store, after: int, limit: int = MOST_IN_A_PULL) -> Pulled:
    """Give the records that changed after a cursor (0: from the beginning), each once, as they stand now."""
    with store.reading() as session:
        rows = session.exec(
            select(Change).where(col(Change.seq) > after).order_by(col(Change.seq)).limit(limit + 1)
        ).all()
        more, rows = len(rows) > limit, rows[:limit]
        newest = {(row.kind, row.record): row for row in rows}
        stands = dict(_standing(session, newest)) | dict(content_of(session, store, newest))
        # What is read is what stands, so it bears the version that stands, also where that change is on a later page.
        versions = _versions(session, newest) if more else {}
        changes = [
            Changed(
                row.seq, row.kind, row.record, versions.get(key, row.version), row.trip_id, row.at, *stands.get(key, ())
            )
            for key, row in sorted(newest.items(), key=lambda one: one[1].seq)
        ]
    return Pulled(tuple(changes), rows[-1].seq if rows else after, more)


def _versions(session: Session, wanted: Iterable[tuple[str, str]]) -> dict[tuple[str, str], int]:
    """Give the versions in which records stand."""
    ids = sorted({record for _, record in wanted})
    last = select(Change.kind, Change.record, func.max(Change.version)).where(col(Change.record).in_(ids))
    found = session.exec(last.group_by(col(Change.kind), col(Change.record)))
    return {(kind, record): version for kind, record, version in found}


Standing = tuple[str, str, dict[str, Any]]


def _standing(session: Session, wanted: Iterable[tuple[str, str]]) -> Iterable[tuple[tuple[str, str], Standing]]:
    """Read the records asked for, kind by kind: code, parent and content of each."""
    ids: dict[str, list[str]] = {}
    for kind, record in wanted:
        ids.setdefault(kind, []).append(record)
    if "trip" in ids:
        codes = _codes(session, TripRecord, ids["trip"], "id")
        for trip in season_from(session, ids["trip"], hauls=False).trips:
            yield _entry("trip", trip, *codes[trip.id])
    if "haul" in ids:
        codes = _codes(session, HaulRecord, ids["haul"], "trip_id")
        for haul in hauls_from(session, ids["haul"]):
            yield _entry("haul", haul, *codes[haul.id])
    if "line" in ids:
        codes = _codes(session, CatchLine, ids["line"], "haul_id")
        for line in lines_from(session, ids["line"]):
            yield _entry("line", line, *codes[line.id])
    names = Names()
    readers: dict[str, tuple[Any, Any]] = {
        "notice": (NoticeRecord, lambda row: records.notice_of(row, names)),
        "incident": (IncidentRecord, lambda row: records.incident_of(row, names)),
        "movement": (MovementRecord, lambda row: records.movement_of(row, names)),
        "filing": (FilingRecord, records.filing_of),
    }
    for kind, (table, read) in readers.items():
        for row in rows_of(session, table, "id", only=("id", ids[kind])) if kind in ids else ():
            yield _entry(kind, read(row), row["id"], "")
    for row in rows_of(session, Person, "id", only=("id", ids["person"])) if "person" in ids else ():
        yield ("person", row["id"]), (row["id"], "", {"id": row["id"], "name": row["name"]})
    for row in rows_of(session, Photo, "id", only=("id", ids["photo"])) if "photo" in ids else ():
        told = {name: row[name] for name in ("id", "sha256", "of_kind", "of_record", "media_type", "size")}
        made = row["taken_at"].isoformat() if row["taken_at"] else None
        yield ("photo", row["id"]), ("", row["of_record"], {**told, "made_at": made})


def _codes(session: Session, table: Any, ids: list[str], parent: str) -> dict[str, tuple[str, str]]:
    """Give id and parent of records by their codes."""
    found = session.exec(select(table.code, table.id, getattr(table, parent)).where(table.id.in_(ids)))
    return {code: (record, above if parent != "id" else "") for code, record, above in found}


def _entry(kind: str, one: Any, record: str, parent: str) -> tuple[tuple[str, str], Standing]:
    return (kind, record), (one.id, parent, {**record_to_json(one), "id": record})
