"""The gate: what is wanted, the lots that come to the door, and what the curator decided on each."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import (
    ID_LENGTH,
    NAME_LENGTH,
    Instant,
    Words,
    finite,
    from_one,
    moment,
    note,
    range_of,
    words_of,
)


class Want(SQLModel, table=True):
    """What the collection needs: a taxon, how many, and the tank that is kept free for it."""

    __tablename__ = "want"
    __table_args__ = (CheckConstraint("number >= 1", name="number_at_least_one"),)

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    taxon: str = Field(foreign_key="taxon.id", index=True)
    number: int
    tank: str = Field(default="", max_length=NAME_LENGTH)
    reason: str = note()
    made_at: datetime = Field(sa_type=Instant)
    made_by: str = Field(max_length=ID_LENGTH)
    ended_at: datetime | None = moment()


class Lot(SQLModel, table=True):
    """Animals or material of one kept catch line, handled together from the creek on."""

    __tablename__ = "lot"
    __table_args__ = range_of("count")

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    line_id: str = Field(foreign_key="catch_line.id", unique=True)
    taxon: str = Field(foreign_key="taxon.id", index=True)
    authority: str | None = Field(default=None, foreign_key="authority.id")
    unit: str = Field(max_length=12)
    count_low: float
    count_best: float
    count_high: float
    count_exact: tuple[str, ...] | None = Field(default=None, sa_type=Words)
    made_at: datetime = Field(sa_type=Instant)


class Acquisition(SQLModel, table=True):
    """A lot at the door: waiting, on hold, accepted with an accession number, or declined with its reason.

    Whoever collected a lot does not decide on it, unless the organisation says so. A decline gives nothing back
    to any limit.
    """

    __tablename__ = "acquisition"
    __table_args__ = (
        words_of("state", "waiting", "on hold", "accepted", "declined"),
        CheckConstraint("(state = 'accepted') = (accession IS NOT NULL)", name="accession_when_accepted"),
        CheckConstraint("state = 'waiting' OR decided_by IS NOT NULL", name="decided_by_somebody"),
        finite("door_count"),
        from_one("version"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    lot_id: str = Field(foreign_key="lot.id", unique=True)
    state: str = Field(default="waiting", max_length=10, index=True)
    accession: str | None = Field(default=None, unique=True, max_length=30)
    door_count: float | None = None
    """What was counted at the door, None where nobody recounted."""
    decided_at: datetime | None = moment()
    decided_by: str | None = Field(default=None, foreign_key="person.id")
    reason: str = note()
    onward: str = Field(default="", max_length=NAME_LENGTH)
    """Of a declined lot: where it goes (hold, transfer, a veterinarian's matter)."""
    version: int = Field(default=1, ge=1)
