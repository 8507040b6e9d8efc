"""What happened, entry after entry, each bound to the one before by its hash."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, Text
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, Instant


class AuditEntry(SQLModel, table=True):
    """One thing done, by whom, to what. Triggers in the database refuse any change or removal."""

    __tablename__ = "audit_entry"

    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    at: datetime = Field(sa_type=Instant)
    actor: str = Field(max_length=ID_LENGTH, index=True)
    """The person's id, or "system"."""
    device: str = Field(default="", max_length=ID_LENGTH)
    action: str = Field(max_length=60)
    subject: str = Field(max_length=160, index=True)
    """Kind and id of what it was done to ("catch line 0197...")."""
    content: str = Field(sa_type=Text)
    """Canonical JSON (RFC 8785) of what is worth reading later."""
    previous: str = Field(max_length=64)
    hash: str = Field(max_length=64, unique=True)


class AuditHead(SQLModel, table=True):
    """The last entry's number and hash: one row. Whoever writes anything holds it, so writers stand in one line.

    ``changes`` is the number of the last change of the season.
    """

    __tablename__ = "audit_head"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: int = Field(default=1, primary_key=True)
    seq: int = 0
    hash: str = Field(default="", max_length=64)
    changes: int = 0
