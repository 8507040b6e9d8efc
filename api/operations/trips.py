"""Trips by the names that people and phones have for them: an id made on a phone, or the code that people say."""

from __future__ import annotations

from sqlmodel import Session, select

from api.entities.trips import TripRecord


class UnknownTripError(ValueError):
    """There is no such trip; carries what it was asked for by."""

    def __init__(self, trip: str) -> None:
        self.trip = trip
        super().__init__(f"there is no trip '{trip[:80]}'; a trip is asked for by its id or its code")


def trip_named(session: Session, named: str) -> TripRecord:
    """Give a trip by its id or its code; raises UnknownTripError."""
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    if not named.isprintable():
        raise UnknownTripError(named)
    row = session.get(TripRecord, named) or session.exec(select(TripRecord).where(TripRecord.code == named)).first()
    if row is None:
        raise UnknownTripError(named)
    return row


def code_of(session: Session, named: str) -> str:
    """Give a trip's code by its id or its code; what is neither is given back as it is."""
    try:
        return trip_named(session, named).code
    except UnknownTripError:
        return named
