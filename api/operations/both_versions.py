"""A catch line that two phones counted on without knowing of each other: what both began from, and both together."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select as select_columns
from sqlmodel import Session, col

from api.domain.facts import Book
from api.domain.merging import together
from api.domain.trips import Line
from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.sync import Conflict
from api.entities.trips import TripRecord
from api.exchange.one_record import Setting, read_one
from api.exchange.season_out import record_to_json
from api.store.earlier import content_then
from api.store.seasons import lines_from
from api.store.shelf import Held


@dataclass(frozen=True, slots=True)
class Both:
    """``base``: the line as both phones knew it, None where nobody can tell; ``together``: with what either added."""

    base: dict[str, Any] | None = None
    together: Line | None = None


def both_versions(session: Session, book: Book, conflict: Conflict) -> Both:
    """Lay the line that stands now and the one that was offered upon what the offered one was made from."""
    held = _held(session, conflict)
    if held is None or conflict.based_on is None:
        return Both()
    (stands,) = lines_from(session, [held.id])
    base_told = content_then(session, held, record_to_json(stands), conflict.based_on)
    if base_told is None:
        return Both()
    base, offered = (_read(one, book, held) for one in (base_told, json.loads(conflict.offered)))
    if base is None or offered is None:
        return Both(base_told)
    return Both(base_told, together(base, stands, offered))


def _held(session: Session, conflict: Conflict) -> Held | None:
    if conflict.kind != "line":
        return None
    query = (
        select_columns(
            col(CatchLine.code), col(CatchLine.version), col(TripRecord.zone),
            col(HaulRecord.authority), col(TripRecord.authority),
        )
        .join(HaulRecord, col(HaulRecord.id) == col(CatchLine.haul_id))
        .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
        .where(col(CatchLine.id) == conflict.record)
    )  # fmt: skip
    found = session.execute(query).first()
    if found is None:
        return None
    code, version, zone, of_haul, of_trip = found
    return Held("line", conflict.record, code, version, zone=zone, authority=of_haul or of_trip or "")


def _read(told: Mapping[str, Any], book: Book, held: Held) -> Line | None:
    """Read a version again; None where the permit or the names changed so that it cannot be read any more."""
    read, _ = read_one("line", {**told, "id": held.code}, book, Setting(held.zone, held.authority))
    return read if isinstance(read, Line) else None
