"""Photos: received in parts under the SHA-256 of the whole, kept as they came, and shown without their place."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, Instant, moment, words_of


class Photo(SQLModel, table=True):
    """A photo of a catch line, a haul or a trip. ``received`` bytes of ``size`` are here; whole when they are equal.

    The original is kept privately as a document; ``shown_sha256`` is the copy made anew without any metadata. One
    picture may show several records: then each has a row, and all of them grow together.
    """

    __tablename__ = "photo"
    __table_args__ = (
        words_of("of_kind", "trip", "haul", "line"),
        CheckConstraint("size > 0", name="size_above_zero"),
        CheckConstraint("received >= 0 AND received <= size", name="received_within_size"),
        CheckConstraint(
            "whole_at IS NULL OR (received = size AND shown_sha256 IS NOT NULL)", name="whole_when_all_is_here"
        ),
        UniqueConstraint("sha256", "of_kind", "of_record"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    sha256: str = Field(index=True, min_length=64, max_length=64)
    of_kind: str = Field(max_length=10)
    of_record: str = Field(max_length=ID_LENGTH, index=True)
    media_type: str = Field(max_length=40)
    size: int
    received: int = 0
    shown_sha256: str | None = Field(default=None, max_length=64)
    taken_at: datetime | None = moment()
    begun_at: datetime = Field(sa_type=Instant)
    begun_by: str = Field(max_length=ID_LENGTH)
    whole_at: datetime | None = moment()
