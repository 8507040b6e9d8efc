"""Lots come to the gate: every kept line of a closed trip becomes one, and follows its line until it is decided on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

from sqlalchemy import ColumnElement, and_, or_
from sqlalchemy import select as select_rows
from sqlmodel import Session, col, func

from api.domain.acquisitions import UNDECIDED
from api.entities.acquisitions import Acquisition, Lot
from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.trips import TripRecord
from api.exchange.season_out import record_to_json
from api.store import records
from api.store.ids import new_id
from api.store.unit_of_work import SYSTEM, Actor, Store, Work

_COUNT = ("count_low", "count_best", "count_high")


def bring_lots(store: Store) -> int:
    """Bring every kept line of a closed trip to the gate, and let undecided lots follow their lines.

    Gives how many lots were made or amended. Nothing is written where nothing is due, so it may be called before
    every look at the gate.
    """
    with store.reading() as session:
        if not _due(session, 1):
            return 0
    with store.writing(Actor(SYSTEM)) as work:
        due = _due(work.session)
        for line, haul, trip, lot, acquisition in due:
            if lot is None or acquisition is None:
                _make_lot(work, line, haul, trip)
            else:
                _follow(work, line, haul, trip, lot, acquisition)
        return len(due)


Due = tuple[CatchLine, HaulRecord, TripRecord, Lot | None, Acquisition | None]


def _due(session: Session, most: int | None = None) -> Sequence[Due]:
    """Give kept lines of closed trips that have no lot yet, or an undecided one that says something else."""
    differs = or_(*(getattr(Lot, name) != getattr(CatchLine, name) for name in (*_COUNT, "taxon", "unit")))
    authority = col(Lot.authority).is_distinct_from(_authority_column())
    stale = and_(col(Acquisition.state).in_(UNDECIDED), or_(differs, authority))
    query = (
        select_rows(CatchLine, HaulRecord, TripRecord, Lot, Acquisition)
        .join(HaulRecord, col(HaulRecord.id) == col(CatchLine.haul_id))
        .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
        .outerjoin(Lot, col(Lot.line_id) == col(CatchLine.id))
        .outerjoin(Acquisition, col(Acquisition.lot_id) == col(Lot.id))
        .where(at_the_gate(), col(CatchLine.count_high) > 0, or_(col(Lot.id).is_(None), stale))
        .order_by(*in_order())
        .limit(most)
    )
    return cast("Sequence[Due]", session.execute(query).all())


def at_the_gate() -> ColumnElement[bool]:
    """Narrow a query to kept lines of closed trips."""
    return and_(col(TripRecord.status) == "closed", col(CatchLine.fate) == "kept")


def _authority_column() -> ColumnElement[Any]:
    return func.coalesce(CatchLine.authority, HaulRecord.authority, TripRecord.authority)


def in_order() -> tuple[Any, ...]:
    """Give the columns by which lots stand in order of capture."""
    return col(HaulRecord.start), col(HaulRecord.id), col(CatchLine.place), col(CatchLine.id)


def content_of(line: CatchLine, haul: HaulRecord, trip: TripRecord) -> dict[str, Any]:
    """Give what a lot says of its catch line."""
    named = {name: getattr(line, name) for name in (*_COUNT, "count_exact", "taxon", "unit")}
    return {**named, "authority": line.authority or haul.authority or trip.authority}


def _make_lot(work: Work, line: CatchLine, haul: HaulRecord, trip: TripRecord) -> None:
    lot, acquisition, content = new_id(), new_id(), content_of(line, haul, trip)
    work.insert(Lot, {"id": lot, "line_id": line.id, "made_at": work.at, **content})
    row: dict[str, Any] = {"id": acquisition, "lot_id": lot, "state": "waiting", "accession": None, "door_count": None}
    row |= {"decided_at": None, "decided_by": None, "reason": "", "onward": "", "version": 1}
    work.insert(Acquisition, row)
    work.note("lot at the gate", f"acquisition {acquisition}", {"line": line.code, **_noted(content)})
    work.changed("acquisition", acquisition, 1, trip.id)


def _follow(work: Work, line: CatchLine, haul: HaulRecord, trip: TripRecord, lot: Lot, row: Acquisition) -> None:
    """Let an undecided lot say what its line says; its version rises, so that nobody decides on what they saw before."""
    content = content_of(line, haul, trip)
    for name, value in content.items():
        setattr(lot, name, value)
    row.version += 1
    work.note("lot follows its line", f"acquisition {row.id}", {"line": line.code, **_noted(content)})
    work.changed("acquisition", row.id, row.version, trip.id)


def _noted(content: Mapping[str, Any]) -> dict[str, Any]:
    """Give a lot's content as an audit entry holds it."""
    count = records.count_of("count", content)
    told = record_to_json(count) if count is not None else None
    return {"taxon": content["taxon"], "unit": content["unit"], "authority": content["authority"] or "", "count": told}
