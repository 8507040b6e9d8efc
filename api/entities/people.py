"""People, and what they are under each authority from which day to which."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, NAME_LENGTH, Instant


class Organisation(SQLModel, table=True):
    """The aquarium: one row. ``own_catch_approved`` allows a collector to approve what they themselves caught."""

    __tablename__ = "organisation"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: int = Field(default=1, primary_key=True)
    name: str = Field(max_length=NAME_LENGTH)
    zone: str = Field(max_length=ID_LENGTH)
    own_catch_approved: bool = False
    demo: bool = False


class Person(SQLModel, table=True):
    """Somebody who collects, approves or administers; never deleted, since records name them."""

    __tablename__ = "person"

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    name: str = Field(min_length=1, max_length=NAME_LENGTH)
    left_on: str | None = Field(default=None, max_length=10)
    added_at: datetime = Field(sa_type=Instant)
