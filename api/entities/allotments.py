"""Allotments: parts of what is left of a limit, given to a crew before it leaves signal."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, NAME_LENGTH, Instant, finite, moment, note, words_of


class AllotmentPool(SQLModel, table=True):
    """What one tally of a limit still has to give: the room last reckoned, and what is given out of it.

    The tally is named as findings name it: condition, label, holder, name, first day of its period. The database
    refuses to give out more than there is room for.
    """

    __tablename__ = "allotment_pool"
    __table_args__ = (
        UniqueConstraint("authority", "number", "label", "holder", "name", "first_day"),
        CheckConstraint("room >= 0", name="room_not_negative"),
        CheckConstraint("granted >= 0 AND granted <= room", name="granted_within_room"),
        finite("room"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority: str = Field(foreign_key="authority.id")
    number: str = Field(max_length=ID_LENGTH)
    label: str = Field(default="", max_length=NAME_LENGTH)
    holder: str = Field(default="", max_length=NAME_LENGTH)
    name: str = Field(default="", max_length=NAME_LENGTH)
    first_day: str = Field(default="", max_length=10)
    unit: str = Field(max_length=12)
    room: float
    """limit - taken (at its highest), as of the last grant."""
    granted: float = 0.0
    """The sum of what open allotments may still take."""


class Allotment(SQLModel, table=True):
    """What one trip may take of a pool. Open until its trip is closed or a person reclaims it."""

    __tablename__ = "allotment"
    __table_args__ = (
        words_of("state", "open", "returned", "reclaimed"),
        CheckConstraint("amount > 0", name="amount_above_zero"),
        finite("amount"),
        UniqueConstraint("pool_id", "trip_id"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    pool_id: str = Field(foreign_key="allotment_pool.id", index=True)
    trip_id: str = Field(foreign_key="trip.id", index=True)
    amount: float
    state: str = Field(default="open", max_length=10)
    granted_at: datetime = Field(sa_type=Instant)
    granted_by: str = Field(max_length=ID_LENGTH)
    ended_at: datetime | None = moment()
    ended_by: str = Field(default="", max_length=ID_LENGTH)
    why: str = note()
