"""What stands around the trips: notices, incidents, movements, filings, shared totals, corrections."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import (
    ID_LENGTH,
    NAME_LENGTH,
    Instant,
    Versioned,
    Words,
    from_one,
    moment,
    not_negative,
    note,
    range_of,
    words,
    words_of,
)


class NoticeRecord(Versioned, table=True):
    """A notice sent before a trip or project, or its cancellation, with its proof."""

    __tablename__ = "notice"
    __table_args__ = (from_one("version"),)

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority: str = Field(foreign_key="authority.id", index=True)
    trip: str = Field(default="", max_length=ID_LENGTH, index=True)
    to: str = Field(max_length=NAME_LENGTH)
    sent: datetime = Field(sa_type=Instant)
    channel: str = Field(default="", max_length=60)
    content: tuple[str, ...] = words()
    proof: str = Field(default="", max_length=NAME_LENGTH)
    cancels: bool = False
    replied: datetime | None = moment()


class IncidentRecord(Versioned, table=True):
    """A report made to somebody about an encounter, deaths, an over-take or lost gear."""

    __tablename__ = "incident"
    __table_args__ = (from_one("version"),)

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority: str = Field(foreign_key="authority.id", index=True)
    about: tuple[str, ...] = words()
    to: str = Field(max_length=NAME_LENGTH)
    told: datetime | None = moment()
    channel: str = Field(default="", max_length=60)
    text: str = note()


class MovementRecord(Versioned, table=True):
    """Animals or material of one catch line entering or leaving what is held."""

    __tablename__ = "movement"
    __table_args__ = (
        words_of(
            "what",
            "died",
            "released",
            "transferred",
            "sold",
            "voucher",
            "escaped",
            "used up",
            "presumed dead",
            "missing",
            "born",
            "given",
            "found",
        ),
        *range_of("count"),
        from_one("version"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    at: datetime = Field(sa_type=Instant, index=True)
    what: str = Field(max_length=20)
    count_low: float
    count_best: float
    count_high: float
    count_exact: tuple[str, ...] | None = Field(default=None, sa_type=Words)
    line: str | None = Field(default=None, foreign_key="catch_line.id", index=True)
    taxon: str | None = Field(default=None, foreign_key="taxon.id")
    authority: str | None = Field(default=None, foreign_key="authority.id")
    to: str = Field(default="", max_length=NAME_LENGTH)
    consent: str = Field(default="", max_length=NAME_LENGTH)
    reason: str = note()
    person: str = Field(default="", max_length=ID_LENGTH)


class FilingRecord(Versioned, table=True):
    """A report handed in."""

    __tablename__ = "filing"
    __table_args__ = (from_one("version"),)

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority: str = Field(foreign_key="authority.id", index=True)
    condition: str = Field(default="", max_length=ID_LENGTH)
    filed: datetime = Field(sa_type=Instant)
    by: str = Field(default="", max_length=ID_LENGTH)
    covers: str = Field(default="", max_length=NAME_LENGTH)
    accepted: bool | None = None
    proof: str = Field(default="", max_length=NAME_LENGTH)


class SharedTotalRecord(SQLModel, table=True):
    """The running total of a quota shared with others, as published."""

    __tablename__ = "shared_total"
    __table_args__ = (
        *range_of("total"),
        UniqueConstraint("authority", "condition", "as_of", "place"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    place: int
    authority: str = Field(foreign_key="authority.id")
    condition: str = Field(max_length=ID_LENGTH)
    as_of: datetime = Field(sa_type=Instant)
    total_low: float
    total_best: float
    total_high: float
    total_exact: tuple[str, ...] | None = Field(default=None, sa_type=Words)


class CorrectionRecord(SQLModel, table=True):
    """A record amended: who, when, why, old and new."""

    __tablename__ = "correction"
    __table_args__ = (not_negative("place"),)

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    place: int = Field(unique=True)
    record: str = Field(max_length=ID_LENGTH, index=True)
    field: str = Field(max_length=60)
    old: str = note()
    new: str = note()
    by: str = Field(max_length=ID_LENGTH)
    at: datetime = Field(sa_type=Instant)
    why: str = note()
