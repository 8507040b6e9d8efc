"""Who may sign in: accounts with their roles, their sessions, phones, enrolment codes, failed tries."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from api.domain.vocabulary import ACCOUNT_ROLES
from api.entities.columns import ID_LENGTH, NAME_LENGTH, Instant, moment, words_of

ROLES = ACCOUNT_ROLES
"""The roles that an account may hold."""


class Account(SQLModel, table=True):
    """A person's sign-in: a name and the hash of a password (argon2)."""

    __tablename__ = "account"

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    person_id: str = Field(foreign_key="person.id", unique=True)
    login: str = Field(unique=True, min_length=2, max_length=ID_LENGTH)
    password_hash: str = Field(max_length=300)
    made_at: datetime = Field(sa_type=Instant)
    closed_at: datetime | None = moment()


class AccountRoleHeld(SQLModel, table=True):
    """One role of an account."""

    __tablename__ = "account_role"
    __table_args__ = (words_of("role", *ROLES),)

    account_id: str = Field(primary_key=True, foreign_key="account.id", max_length=ID_LENGTH)
    role: str = Field(primary_key=True, max_length=20)


class Device(SQLModel, table=True):
    """A phone that was enrolled for one person."""

    __tablename__ = "device"

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    person_id: str = Field(foreign_key="person.id", index=True)
    name: str = Field(max_length=NAME_LENGTH)
    enrolled_at: datetime = Field(sa_type=Instant)
    revoked_at: datetime | None = moment()
    last_seen_at: datetime | None = moment()
    clock_fast_s: int | None = None
    """Seconds by which its clock was ahead of the server's when last heard of."""


class Session(SQLModel, table=True):
    """A sign-in that lasts: a browser's or a phone's. Only the hash of its token is kept."""

    __tablename__ = "session"
    __table_args__ = (
        words_of("kind", "browser", "phone"),
        CheckConstraint("made_at <= ends_at", name="ends_after_made"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    account_id: str = Field(foreign_key="account.id", index=True)
    device_id: str | None = Field(default=None, foreign_key="device.id", index=True)
    kind: str = Field(max_length=10)
    token_hash: str = Field(unique=True, max_length=64)
    label: str = Field(default="", max_length=NAME_LENGTH)
    made_at: datetime = Field(sa_type=Instant)
    used_at: datetime = Field(sa_type=Instant)
    ends_at: datetime = Field(sa_type=Instant)
    revoked_at: datetime | None = moment()


class Enrolment(SQLModel, table=True):
    """A code, good once and for a short time, with which a phone is enrolled for a person."""

    __tablename__ = "enrolment"

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    code_hash: str = Field(unique=True, max_length=64)
    account_id: str = Field(foreign_key="account.id")
    made_by: str | None = Field(default=None, foreign_key="person.id")
    """None for a code that was made on the server itself, by nobody with an account."""
    made_at: datetime = Field(sa_type=Instant)
    ends_at: datetime = Field(sa_type=Instant)
    used_at: datetime | None = moment()
    device_id: str | None = Field(default=None, foreign_key="device.id")


class FailedTry(SQLModel, table=True):
    """A sign-in or a code that was wrong; counted, so that guessing is slow."""

    __tablename__ = "failed_try"

    id: int | None = Field(default=None, primary_key=True)
    subject: str = Field(index=True, max_length=NAME_LENGTH)
    """What was guessed at: "login SHA-256" or "address ADDRESS"."""
    at: datetime = Field(sa_type=Instant, index=True)
