"""Column types and shapes that several tables share: instants, exact amounts, lists of words, versions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

from sqlalchemy import JSON, CheckConstraint, DateTime, String, Text
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Names of constraints are fixed, so that a later migration can find them on every engine."""

ID_LENGTH = 64
NAME_LENGTH = 200
NOTE_LENGTH = 4000
_MOST = "1e300"
"""More than is ever counted or measured, and a number that every engine can write."""


class Instant(TypeDecorator[datetime]):
    """A moment in time, kept in UTC on every engine; a time without an offset is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Bring a time to UTC; raises ValueError where nobody can tell which moment is meant."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the time {value} has no offset from UTC; say in which zone it was read")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, _dialect: Dialect) -> datetime | None:
        """Give the time in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Exact(TypeDecorator[Fraction]):
    """An exact fraction, kept as text ("7/2"): no engine's numbers hold thirds."""

    impl = String(64)
    cache_ok = True

    def process_bind_param(self, value: Fraction | None, _dialect: Dialect) -> str | None:
        """Write the fraction."""
        return None if value is None else str(value)

    def process_result_value(self, value: str | None, _dialect: Dialect) -> Fraction | None:
        """Read it back."""
        return None if value is None else Fraction(value)


class Words(TypeDecorator[tuple[Any, ...]]):
    """A short list of words or numbers in their order, kept as JSON."""

    impl = JSON(none_as_null=True)
    cache_ok = True

    def process_bind_param(self, value: tuple[Any, ...] | None, _dialect: Dialect) -> list[Any] | None:
        """Write the list."""
        return None if value is None else list(value)

    def process_result_value(self, value: list[Any] | None, _dialect: Dialect) -> tuple[Any, ...] | None:
        """Read it back."""
        return None if value is None else tuple(value)


class Versioned(SQLModel):
    """What every record of the season bears: its version, and when and from whom the server has it."""

    version: int = Field(default=1, ge=1)
    received_at: datetime = Field(sa_type=Instant)
    received_from: str = Field(default="", max_length=ID_LENGTH)
    made_at: datetime | None = Field(default=None, sa_type=Instant)
    """When the device says the record was made; None for what came from a file."""


def words_of(column: str, *allowed: str) -> CheckConstraint:
    """Hold a column to a closed list of words."""
    listed = ", ".join(f"'{word}'" for word in allowed)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def range_of(prefix: str) -> tuple[CheckConstraint, CheckConstraint]:
    """Hold three columns to low <= best <= high, none below nothing; only the high may be without bound."""
    low, best, high = _bounds(prefix)
    # PostgreSQL takes NaN for more than every number, so that it would stand in order as a high or a best. (SQLite
    # has none: it keeps NULL for it; there, the text is more than any number, and no number's equal.)
    return (
        CheckConstraint(f"0 <= {low} AND {low} <= {best} AND {best} <= {high}", name=f"{prefix}_in_order"),
        CheckConstraint(f"{best} <= {_MOST} AND {high} <> 'NaN'", name=f"{prefix}_bounded"),
    )


def whole_or_none(prefix: str) -> CheckConstraint:
    """Hold three columns to be there together or not at all; of a half no order can be told."""
    low, best, high = _bounds(prefix)
    same = f"({low} IS NULL) = ({best} IS NULL) AND ({best} IS NULL) = ({high} IS NULL)"
    return CheckConstraint(same, name=f"{prefix}_whole_or_none")


def _bounds(prefix: str) -> tuple[str, str, str]:
    return f"{prefix}_low", f"{prefix}_best", f"{prefix}_high"


def finite(column: str) -> CheckConstraint:
    """Hold a column to numbers that say how much: neither NaN nor without bound."""
    return CheckConstraint(f"{column} BETWEEN -{_MOST} AND {_MOST}", name=f"{column}_finite")


def from_one(column: str) -> CheckConstraint:
    """Hold a column that counts (a version, a number) to 1 and more."""
    return CheckConstraint(f"{column} >= 1", name=f"{column}_at_least_one")


def of_a_position() -> tuple[CheckConstraint, ...]:
    """Hold the columns of a position to degrees in WGS84, a radius that is one, and a confidence that is a share."""
    return (
        CheckConstraint("lat BETWEEN -90 AND 90", name="lat_in_range"),
        CheckConstraint("lon BETWEEN -180 AND 180", name="lon_in_range"),
        CheckConstraint("radius_m IS NULL OR radius_m >= 0", name="radius_not_negative"),
        CheckConstraint("confidence > 0 AND confidence < 1", name="confidence_is_a_share"),
        finite("radius_m"),
    )


def not_negative(column: str) -> CheckConstraint:
    """Hold a column (a place in an order) to 0 and more."""
    return CheckConstraint(f"{column} >= 0", name=f"{column}_not_negative")


def note() -> Any:
    """Give a column for free text."""
    return Field(default="", sa_type=Text, max_length=NOTE_LENGTH)


def moment(**more: Any) -> Any:
    """Give a column for an instant that may be missing."""
    return Field(default=None, sa_type=Instant, **more)


def words(default: Callable[[], tuple[Any, ...]] = tuple) -> Any:
    """Give a column for a short list."""
    return Field(default_factory=default, sa_type=Words)
