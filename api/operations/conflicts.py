"""Two versions of one record, side by side, and a person's word on which of them stands."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from api.domain.facts import Book
from api.entities.accounts import Device
from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.sync import Conflict, Receipt
from api.entities.trips import TripRecord
from api.exchange.faults import FaultyFileError
from api.exchange.one_record import AnyRecord, Setting, read_one
from api.exchange.season_out import record_to_json
from api.operations.both_versions import Both, both_versions
from api.operations.syncing import amend_standing
from api.store.books import current_book
from api.store.shelf import Shelf
from api.store.unit_of_work import Actor, Store, Work

Taken = Literal["stands", "offered", "together"]
_STATES: dict[Taken, str] = {"stands": "ours", "offered": "theirs", "together": "both"}


class UnknownConflictError(ValueError):
    """There is no open conflict of that id; carries it."""

    def __init__(self, conflict: str) -> None:
        self.conflict = conflict
        super().__init__(f"there is no open conflict '{conflict[:80]}'; somebody may have settled it already")


class SettlingReasonMissingError(ValueError):
    """Settling a conflict needs its reason."""

    def __init__(self) -> None:
        super().__init__("a conflict is settled with a reason; say how you know which version is right")


class NotTogetherError(ValueError):
    """The two versions of a record contradict each other, so that they cannot both be counted."""

    def __init__(self) -> None:
        super().__init__(
            "these two versions cannot be counted together; take one of them, and amend it if neither is right"
        )


@dataclass(frozen=True, slots=True)
class Offering:
    """Who offered a version, and from which phone: their ids and the phone's name; "" where nobody noted it."""

    person: str = ""
    device: str = ""
    device_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictTold:
    """A conflict: the version that stands here and the one that a phone offered, in full.

    Of a line that waits to be settled, ``base`` is what both began from and ``together`` what it is with the
    animals of both; None where nobody can tell.
    """

    id: str
    kind: str
    record: str
    stands: dict[str, Any]
    offered: dict[str, Any]
    base: dict[str, Any] | None
    together: dict[str, Any] | None
    offered_by: Offering
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
        found = session.exec(query).all()
        book = current_book(session, store.shared) if found else None
        return [_told(session, one, book) for one in found]


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


def _told(session: Session, row: Conflict, book: Book | None) -> ConflictTold:
    both = both_versions(session, book, row) if book is not None and row.state == "open" else Both()
    return ConflictTold(
        id=row.id,
        kind=row.kind,
        record=row.record,
        stands=json.loads(row.stands),
        offered=json.loads(row.offered),
        base=both.base,
        together=record_to_json(both.together) if both.together is not None else None,
        offered_by=_offering(session, row.operation_id),
        state=row.state,
        why=row.why,
        made_at=row.made_at,
        settled_at=row.settled_at,
        settled_by=row.settled_by,
    )


def _offering(session: Session, operation: str) -> Offering:
    query = (
        select_columns(col(Receipt.person_id), col(Receipt.device_id), col(Device.name))
        .outerjoin(Device, col(Device.id) == col(Receipt.device_id))
        .where(col(Receipt.operation_id) == operation)
    )
    found = session.execute(query).first()
    return Offering(*(told or "" for told in found)) if found else Offering()


def settle(store: Store, actor: Actor, conflict: str, take: Taken, why: str) -> ConflictTold:
    """Let the version that stands stand, put the offered one in its place, or count what both added.

    All versions stay readable. Raises UnknownConflictError, SettlingReasonMissingError and NotTogetherError.
    """
    if not why.strip():
        raise SettlingReasonMissingError
    with store.writing(actor) as work:
        row = work.session.get(Conflict, conflict) if conflict.isprintable() else None
        if row is None or row.state != "open":
            raise UnknownConflictError(conflict)
        book = current_book(work.session, store.shared)
        if take != "stands":
            _put_in_place(work, book, row, take, why)
        row.state, row.settled_at, row.settled_by, row.why = _STATES[take], work.at, actor.person, why
        work.session.flush()
        work.note("conflict settled", f"conflict {row.id}", {"taken": take, "why": why, "record": row.record})
        return _told(work.session, row, book)


def _put_in_place(work: Work, book: Book, row: Conflict, take: Taken, why: str) -> None:
    shelf = Shelf(work, book)
    shelf.look_up([row.record])
    held = shelf.held(row.kind, row.record)
    if held is None:
        raise UnknownConflictError(row.id)
    wanted: AnyRecord | None
    if take == "together":
        wanted = both_versions(work.session, book, row).together
        if wanted is None:
            raise NotTogetherError
    else:
        wanted, faults = read_one(row.kind, json.loads(row.offered), book, Setting(held.zone, held.authority))
        if wanted is None:
            # The permit or the names may have changed since; the version that stands can still be taken.
            raise FaultyFileError(faults)
    amend_standing(shelf, held, shelf.record(held), wanted, why)
