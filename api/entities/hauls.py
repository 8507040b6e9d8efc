"""Hauls and sets, their positions, and the looks at a set."""

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


class HaulRecord(Versioned, table=True):
    """One pull of a moving net, or one set of standing gear; the gear's own fields begin with ``gear_``."""

    __tablename__ = "haul"
    __table_args__ = (
        words_of("kind", "haul", "set"),
        CheckConstraint('"end" IS NULL OR start <= "end"', name="end_after_start"),
        CheckConstraint("gear_number IS NULL OR gear_number >= 1", name="gear_number_at_least_one"),
        from_one("version"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    trip_id: str = Field(foreign_key="trip.id", index=True)
    code: str = Field(unique=True, max_length=ID_LENGTH)
    place: int = Field(ge=0)
    start: datetime = Field(sa_type=Instant, index=True)
    end: datetime | None = moment()
    kind: str = Field(default="haul", max_length=10)
    gear: str | None = Field(default=None, max_length=60)
    gear_length_mm: Fraction | None = Field(default=None, sa_type=Exact)
    gear_mesh_mm: Fraction | None = Field(default=None, sa_type=Exact)
    gear_opening_mm: Fraction | None = Field(default=None, sa_type=Exact)
    gear_number: int | None = None
    gear_marked: bool | None = None
    gear_tag: str | None = Field(default=None, max_length=60)
    site: str = Field(default="", max_length=ID_LENGTH, index=True)
    waterbody: str = Field(default="", max_length=NAME_LENGTH)
    authority: str | None = Field(default=None, foreign_key="authority.id", index=True)
    also_under: tuple[str, ...] = words()
    person: str | None = Field(default=None, foreign_key="person.id")
    lost: bool = False
    swept_m: Fraction | None = Field(default=None, sa_type=Exact)
    in_sight: bool | None = None
    device_start: datetime | None = moment()
    note: str = note()


class FixRecord(SQLModel, table=True):
    """A position in WGS84 with the radius and the confidence that the device claimed; ``place`` runs from start to end."""

    __tablename__ = "fix"
    __table_args__ = (*of_a_position(), not_negative("place"))

    haul_id: str = Field(primary_key=True, foreign_key="haul.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    lat: float
    lon: float
    radius_m: float | None = None
    confidence: float = 0.95
    source: str = Field(default="device", max_length=60)


class HaulCheck(SQLModel, table=True):
    """A look into a set between setting and lift."""

    __tablename__ = "haul_check"
    __table_args__ = (not_negative("place"),)

    haul_id: str = Field(primary_key=True, foreign_key="haul.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    at: datetime = Field(sa_type=Instant)
