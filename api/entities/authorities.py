"""Permits and licences as keyed in, version by version, with the documents they were keyed from."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, NAME_LENGTH, Instant, from_one, not_negative, note, words_of


class Document(SQLModel, table=True):
    """A file kept byte for byte; its bytes lie in the data folder under their SHA-256."""

    __tablename__ = "document"
    __table_args__ = (CheckConstraint("size >= 0", name="size_not_negative"),)

    sha256: str = Field(primary_key=True, max_length=64, min_length=64)
    name: str = Field(max_length=NAME_LENGTH)
    media_type: str = Field(max_length=100)
    size: int
    received_at: datetime = Field(sa_type=Instant)
    received_by: str = Field(default="", max_length=ID_LENGTH)


class AuthorityRecord(SQLModel, table=True):
    """A permit or licence. Its words stand in its versions."""

    __tablename__ = "authority"
    __table_args__ = (
        words_of("kind", "collecting permit", "fishing licence", "consent", "other"),
        CheckConstraint("first_day <= last_day", name="days_in_order"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    place: int = Field(unique=True)
    """Its place in the organisation's own order; the collecting permit comes first."""
    kind: str = Field(max_length=30)
    number: str = Field(max_length=NAME_LENGTH)
    title: str = Field(max_length=NAME_LENGTH)
    issuer: str = Field(max_length=NAME_LENGTH)
    holder: str = Field(max_length=NAME_LENGTH)
    zone: str = Field(max_length=ID_LENGTH)
    first_day: str = Field(max_length=10)
    last_day: str = Field(max_length=10)


class AuthorityVersion(SQLModel, table=True):
    """The authority as keyed in at one time: all of its terms and amendments, as an authority file holds them.

    A later keying (an amendment, a mended slip) is a row of its own; the newest one is judged by. What an
    amendment changes from which moment stands within the terms.
    """

    __tablename__ = "authority_version"
    __table_args__ = (UniqueConstraint("authority_id", "number"), from_one("number"))

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority_id: str = Field(foreign_key="authority.id", index=True)
    number: int = Field(ge=1)
    terms: dict[str, object] = Field(sa_type=JSON)
    sha256: str = Field(max_length=64)
    """Of the terms in canonical JSON."""
    keyed_at: datetime = Field(sa_type=Instant)
    keyed_by: str = Field(default="", max_length=ID_LENGTH)
    note: str = note()


class AuthorityDocument(SQLModel, table=True):
    """A document that belongs to an authority: the permit itself, an amendment, a map."""

    __tablename__ = "authority_document"

    authority_id: str = Field(primary_key=True, foreign_key="authority.id", max_length=ID_LENGTH)
    sha256: str = Field(primary_key=True, foreign_key="document.sha256", max_length=64)
    title: str = Field(default="", max_length=NAME_LENGTH)


class AuthorityRole(SQLModel, table=True):
    """What a person is under an authority, from one day to another, both included; "" is the authority's own day.

    Drawn from the newest terms whenever they are keyed, so that people can be asked for by authority and day.
    ``version`` 1 is the list as issued; an amendment that brings its own list brings a number of its own.
    """

    __tablename__ = "authority_role"
    __table_args__ = (
        words_of("role", "holder", "deputy", "named", "assistant", "student", "observer"),
        UniqueConstraint("authority_id", "version", "place"),
        from_one("version"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    authority_id: str = Field(foreign_key="authority.id", index=True)
    version: int = Field(default=1, ge=1)
    place: int = Field(ge=0)
    person_id: str = Field(foreign_key="person.id", index=True)
    role: str = Field(max_length=20)
    first_day: str = Field(default="", max_length=10)
    last_day: str = Field(default="", max_length=10)
    qualifications: list[dict[str, object]] = Field(default_factory=list, sa_type=JSON)
