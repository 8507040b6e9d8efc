"""Two versions of one record, side by side, and a person's word on which of them stands."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import select as select_columns
from sqlmodel import col, select

from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.sync import Conflict
from api.entities.trips import TripRecord
from api.exchange.faults import FaultyFileError
from api.exchange.one_record import Setting, read_one
from api.operations.syncing import amend_standing
from api.store.books import current_book
from api.store.shelf import Shelf
from api.store.unit_of_work import Actor, Store

Taken = Literal["stands", "offered"]
_STATES: dict[Taken, str] = {"stands": "ours", "offered": "theirs"}


class UnknownConflictError(ValueError):
    """There is no open conflict of that id; carries it."""

    def __init__(self, conflict: str) -> None:
        self.conflict = conflict
        super().__init__(f"there is no open conflict '{conflict[:80]}'; somebody may have settled it already")


class SettlingReasonMissingError(ValueError):
    """Settling a conflict needs its reason."""

    def __init__(self) -> None:
        super().__init__("a conflict is settled with a reason; say how you know which version is right")


@dataclass(frozen=True, slots=True)
class ConflictTold:
    """A conflict: the version that stands here and the one that a phone offered, in full."""

    id: str
    kind: str
    record: str
    stands: dict[str, Any]
    offered: dict[str, Any]
    state: str
    why: str
    made_at: datetime
    settled_at: datetime | None
    settled_by: str


def conflicts(store: Store, *, state: str = "open") -> list[ConflictTold]:
    """Give conflicts, the oldest first; "" gives all."""
    query = select(Conflict).order_by(col(Conflict.made_at), col(Conflict.id))
    if state:
        query = query.where(Conflict.state == state)
    with store.reading() as session:
        return [_told(one) for one in session.exec(query)]


@dataclass(frozen=True, slots=True)
class Pending:
    """A record of which a phone has another version that nobody has decided on; it and its trip by their codes."""

    conflict: str
    kind: str
    record: str
    trip: str


def pending(store: Store) -> list[Pending]:
    """Give the records of trips that open conflicts are about, the oldest first."""
    query = (
        select_columns(
            col(Conflict.id), col(Conflict.kind), col(TripRecord.code), col(HaulRecord.code), col(CatchLine.code)
        )
        .select_from(Conflict)
        .outerjoin(CatchLine, col(CatchLine.id) == col(Conflict.record))
        .outerjoin(HaulRecord, col(HaulRecord.id).in_([col(Conflict.record), col(CatchLine.haul_id)]))
        .join(TripRecord, col(TripRecord.id).in_([col(Conflict.record), col(HaulRecord.trip_id)]))
        .where(col(Conflict.state) == "open")
        .order_by(col(Conflict.made_at), col(Conflict.id))
    )
    with store.reading() as session:
        rows = session.execute(query).all()
    return [Pending(conflict, kind, line or haul or trip, trip) for conflict, kind, trip, haul, line in rows]


def _told(row: Conflict) -> ConflictTold:
    return ConflictTold(
        row.id,
        row.kind,
        row.record,
        json.loads(row.stands),
        json.loads(row.offered),
        row.state,
        row.why,
        row.made_at,
        row.settled_at,
        row.settled_by,
    )


def settle(store: Store, actor: Actor, conflict: str, take: Taken, why: str) -> ConflictTold:
    """Let the version that stands stand, or put the offered one in its place; both stay readable.

    Raises UnknownConflictError and SettlingReasonMissingError.
    """
    if not why.strip():
        raise SettlingReasonMissingError
    with store.writing(actor) as work:
        row = work.session.get(Conflict, conflict) if conflict.isprintable() else None
        if row is None or row.state != "open":
            raise UnknownConflictError(conflict)
        if take == "offered":
            shelf = Shelf(work, current_book(work.session, store.shared))
            shelf.look_up([row.record])
            held = shelf.held(row.kind, row.record)
            if held is None:
                raise UnknownConflictError(conflict)
            offered, faults = read_one(
                row.kind, json.loads(row.offered), shelf.book, Setting(held.zone, held.authority)
            )
            if offered is None:
                # The permit or the names may have changed since; the version that stands can still be taken.
                raise FaultyFileError(faults)
            amend_standing(shelf, held, shelf.record(held), offered, why)
        row.state, row.settled_at, row.settled_by, row.why = _STATES[take], work.at, actor.person, why
        work.session.flush()
        work.note("conflict settled", f"conflict {row.id}", {"taken": take, "why": why, "record": row.record})
        return _told(row)
