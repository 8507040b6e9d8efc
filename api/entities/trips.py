"""Trips with their crew, cleanings, statements and readings."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import (
    ID_LENGTH,
    NAME_LENGTH,
    Exact,
    Instant,
    Versioned,
    from_one,
    moment,
    not_negative,
    note,
    of_a_position,
    words,
    words_of,
)


class TripRecord(Versioned, table=True):
    """One outing under one leader."""

    __tablename__ = "trip"
    __table_args__ = (
        words_of("status", "planned", "open", "closed", "cancelled"),
        CheckConstraint("depart IS NULL OR back IS NULL OR depart <= back", name="back_after_depart"),
        from_one("version"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    code: str = Field(unique=True, max_length=ID_LENGTH)
    zone: str = Field(max_length=ID_LENGTH)
    leader: str = Field(foreign_key="person.id", index=True)
    authority: str | None = Field(default=None, foreign_key="authority.id", index=True)
    may_stand_under: tuple[str, ...] = words()
    status: str = Field(default="closed", max_length=12)
    depart: datetime | None = moment(index=True)
    back: datetime | None = moment()
    papers: tuple[str, ...] | None = words(lambda: None)  # type: ignore[arg-type, return-value]
    paper_record: bool = False
    clock_fast_s: int = 0
    note: str = note()


class ArrivalRecord(SQLModel, table=True):
    """Where the crew stood as its trip began."""

    __tablename__ = "arrival"
    __table_args__ = of_a_position()

    trip_id: str = Field(primary_key=True, foreign_key="trip.id", max_length=ID_LENGTH)
    lat: float
    lon: float
    radius_m: float | None = None
    confidence: float = 0.95
    source: str = Field(default="device", max_length=60)


class CrewEntry(SQLModel, table=True):
    """A person on a trip and what they did there; a name that nobody enrolled is kept as written."""

    __tablename__ = "trip_crew"
    __table_args__ = (
        words_of("role", "holder", "deputy", "named", "assistant", "student", "observer"),
        not_negative("place"),
    )

    trip_id: str = Field(primary_key=True, foreign_key="trip.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    person: str = Field(foreign_key="person.id", index=True)
    role: str = Field(max_length=20)


class CleaningRecord(SQLModel, table=True):
    """Gear cleaned, or said not to have been, before the next water."""

    __tablename__ = "cleaning"
    __table_args__ = (not_negative("place"),)

    trip_id: str = Field(primary_key=True, foreign_key="trip.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    at: datetime = Field(sa_type=Instant)
    method: str = Field(max_length=NAME_LENGTH)
    minutes: Fraction | None = Field(default=None, sa_type=Exact)
    gear: str = Field(default="", max_length=NAME_LENGTH)
    done: bool = True
    person: str = Field(default="", max_length=ID_LENGTH)
    note: str = note()


class AttestationRecord(SQLModel, table=True):
    """A named person's word on one condition."""

    __tablename__ = "attestation"
    __table_args__ = (words_of("kept", "kept", "not kept", "did not arise"), not_negative("place"))

    trip_id: str = Field(primary_key=True, foreign_key="trip.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    authority: str = Field(foreign_key="authority.id")
    condition: str = Field(max_length=ID_LENGTH)
    person: str = Field(foreign_key="person.id")
    at: datetime = Field(sa_type=Instant)
    kept: str = Field(max_length=20)
    reason: str = note()


class ReadingRecord(SQLModel, table=True):
    """One water reading, of a trip or of one of its hauls, as it stood on the meter."""

    __tablename__ = "reading"
    __table_args__ = (not_negative("place"),)

    holder: str = Field(primary_key=True, max_length=ID_LENGTH)
    """The id of the haul, or of the trip where it is the trip's own."""
    place: int = Field(primary_key=True)
    trip_id: str = Field(foreign_key="trip.id", index=True)
    haul_id: str | None = Field(default=None, foreign_key="haul.id")
    quantity: str = Field(max_length=60)
    value: str = Field(max_length=60)
    unit: str = Field(max_length=30)
    at: datetime | None = moment()
    instrument: str = Field(default="", max_length=NAME_LENGTH)
    note: str = note()
