"""What phones delivered: a receipt for every operation, and the versions that clash."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import JSON, CheckConstraint, Text
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, Instant, from_one, moment, words_of


class Receipt(SQLModel, table=True):
    """The answer to one operation, kept under the operation's own id; a repeat is answered from here."""

    __tablename__ = "receipt"
    __table_args__ = (
        words_of("answer", "stored", "refused", "conflict"),
        words_of("entered_from", "screen", "paper"),
        from_one("version"),
        CheckConstraint("(device_ahead_s IS NULL) = (ahead_known_at IS NULL)", name="ahead_with_its_time"),
    )

    operation_id: str = Field(primary_key=True, max_length=ID_LENGTH)
    device_id: str = Field(default="", max_length=ID_LENGTH, index=True)
    person_id: str = Field(default="", max_length=ID_LENGTH)
    kind: str = Field(max_length=40)
    record: str = Field(default="", max_length=ID_LENGTH, index=True)
    sha256: str = Field(max_length=64)
    """Of the operation in canonical JSON: the same id with another content is a problem, not an overwrite."""
    answer: str = Field(max_length=10)
    problems: list[dict[str, str]] = Field(default_factory=list, sa_type=JSON)
    version: int | None = None
    at: datetime = Field(sa_type=Instant)
    device_at: datetime | None = moment()
    """What the phone's clock showed when the operation was made."""
    device_ahead_s: int | None = None
    """Seconds by which that clock was ahead of the server's when they were last compared, at ``ahead_known_at``."""
    ahead_known_at: datetime | None = moment()
    entered_from: str | None = Field(default=None, max_length=10)


class Conflict(SQLModel, table=True):
    """Two versions of one record that were made without knowing of each other; a person decides.

    *followed*: the same phone has offered a newer version since, which waits in its place.
    """

    __tablename__ = "conflict"
    __table_args__ = (words_of("state", "open", "theirs", "ours", "both", "followed"), from_one("based_on"))

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    operation_id: str = Field(foreign_key="receipt.operation_id", unique=True)
    kind: str = Field(max_length=40)
    record: str = Field(max_length=ID_LENGTH, index=True)
    based_on: int | None = None
    stands: str = Field(sa_type=Text)
    """The record as it stood on the server, canonical JSON."""
    offered: str = Field(sa_type=Text)
    """The record as the phone has it, canonical JSON."""
    state: str = Field(default="open", max_length=10)
    made_at: datetime = Field(sa_type=Instant)
    settled_at: datetime | None = moment()
    settled_by: str = Field(default="", max_length=ID_LENGTH)
    why: str = Field(default="", sa_type=Text)


class Change(SQLModel, table=True):
    """One change of the season in the order in which the server made it; phones pull from where they stopped."""

    __tablename__ = "change"
    __table_args__ = (from_one("version"),)

    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    kind: str = Field(max_length=40)
    record: str = Field(max_length=ID_LENGTH, index=True)
    trip_id: str = Field(default="", max_length=ID_LENGTH, index=True)
    version: int
    at: datetime = Field(sa_type=Instant)
