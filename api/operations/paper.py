"""What was entered from paper: told by whoever delivered it, and kept with its receipt, not in the record itself.

A record stands as it was sent, also where it was typed from a sheet afterwards; that it was is read from here.
"""

from __future__ import annotations

from sqlmodel import Session, and_, col, or_, select

from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.sync import Conflict, Receipt
from api.entities.trips import TripRecord


def trips_from_paper(session: Session) -> tuple[str, ...]:
    """Give the codes of trips of which something was entered from paper and stands: the trip, a haul or a catch line.

    What a person set aside for another version does not count.
    """
    taken = select(Conflict.operation_id).where(Conflict.state == "theirs")
    typed = select(Receipt.record).where(
        Receipt.entered_from == "paper",
        or_(Receipt.answer == "stored", and_(Receipt.answer == "conflict", col(Receipt.operation_id).in_(taken))),
    )
    lines = select(HaulRecord.trip_id).join(CatchLine, col(CatchLine.haul_id) == col(HaulRecord.id))
    found = (
        select(TripRecord.code).where(col(TripRecord.id).in_(typed.where(Receipt.kind == "trip"))),
        select(TripRecord.code)
        .join(HaulRecord, col(HaulRecord.trip_id) == col(TripRecord.id))
        .where(col(HaulRecord.id).in_(typed.where(Receipt.kind == "haul"))),
        select(TripRecord.code).where(
            col(TripRecord.id).in_(lines.where(col(CatchLine.id).in_(typed.where(Receipt.kind == "line"))))
        ),
    )
    return tuple(sorted({code for query in found for code in session.exec(query)}))
