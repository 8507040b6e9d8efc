"""Season reports as filed: the frozen snapshot and its PDF, revision after revision."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, NAME_LENGTH, Instant, note


class FiledReport(SQLModel, table=True):
    """One revision of a season report, filed by a named person. It is never changed; a new revision replaces it."""

    __tablename__ = "filed_report"
    __table_args__ = (
        UniqueConstraint("authority", "revision"),
        CheckConstraint("revision >= 0", name="revision_not_negative"),
        CheckConstraint("(revision = 0) = (replaces IS NULL)", name="replaces_an_earlier_one"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority: str = Field(foreign_key="authority.id", index=True)
    condition: str = Field(default="", max_length=ID_LENGTH)
    """The number of the condition that asks for the report, "" where none does."""
    revision: int = 0
    replaces: str | None = Field(default=None, foreign_key="filed_report.id")
    filing: str = Field(foreign_key="filing.id")
    snapshot_sha256: str = Field(max_length=64)
    """Of the canonical snapshot, as every page prints it."""
    pdf_sha256: str = Field(foreign_key="document.sha256")
    unresolved: list[dict[str, str]] = Field(default_factory=list, sa_type=JSON)
    """What was open or broken when it was filed, by condition and sentence."""
    certified_name: str = Field(max_length=NAME_LENGTH)
    certified_title: str = Field(default="", max_length=NAME_LENGTH)
    filed_by: str = Field(foreign_key="person.id")
    filed_at: datetime = Field(sa_type=Instant)
    changes: str = note()
