"""Catch lines and what was measured of them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import (
    ID_LENGTH,
    NAME_LENGTH,
    Versioned,
    Words,
    from_one,
    moment,
    not_negative,
    note,
    range_of,
    whole_or_none,
    words,
    words_of,
)


class CatchLine(Versioned, table=True):
    """One taxon x fate x stage in a haul, with a count between low and high.

    ``count_exact`` writes the three bounds as exact fractions where floats do not hold them.
    """

    __tablename__ = "catch_line"
    __table_args__ = (
        words_of("fate", "kept", "released", "dead", "lost"),
        words_of("unit", "individuals", "L", "g"),
        words_of("doubt", "", "cf.", "aff.", "?"),
        words_of("method", "counted", "by eye", "by volume", "by weight", "raised"),
        *range_of("count"),
        *range_of("weight"),
        whole_or_none("weight"),
        CheckConstraint("raw_counted IS NULL OR raw_counted >= 0", name="raw_counted_not_negative"),
        from_one("version"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    haul_id: str = Field(foreign_key="haul.id", index=True)
    code: str = Field(unique=True, max_length=ID_LENGTH)
    place: int = Field(ge=0)
    taxon: str = Field(foreign_key="taxon.id", index=True)
    count_low: float
    count_best: float
    count_high: float
    count_exact: tuple[str, ...] | None = Field(default=None, sa_type=Words)
    fate: str = Field(default="released", max_length=10)
    unit: str = Field(default="individuals", max_length=12)
    doubt: str = Field(default="", max_length=5)
    one_of: tuple[str, ...] = words()
    name_as_written: str = Field(default="", max_length=NAME_LENGTH)
    method: str = Field(default="counted", max_length=12)
    stage: str = Field(default="", max_length=60)
    sex: str = Field(default="", max_length=30)
    authority: str | None = Field(default=None, foreign_key="authority.id", index=True)
    person: str | None = Field(default=None, foreign_key="person.id")
    container: str = Field(default="", max_length=NAME_LENGTH)
    measured_as: str = Field(default="", max_length=NAME_LENGTH)
    weight_low: float | None = None
    weight_best: float | None = None
    weight_high: float | None = None
    weight_exact: tuple[str, ...] | None = Field(default=None, sa_type=Words)
    raw_counted: int | None = None
    raw_share: str = Field(default="", max_length=30)
    cause: str = Field(default="", max_length=NAME_LENGTH)
    photo: str = Field(default="", max_length=NAME_LENGTH)
    note: str = note()
    at: datetime | None = moment()


class MeasuredRun(SQLModel, table=True):
    """A run of lengths (tenths of a millimetre) or weights (tenths of a gram) under one named measure, as measured."""

    __tablename__ = "measured_run"
    __table_args__ = (not_negative("place"),)

    line_id: str = Field(primary_key=True, foreign_key="catch_line.id", max_length=ID_LENGTH)
    place: int = Field(primary_key=True)
    measure: str = Field(max_length=60)
    variant: str = Field(default="", max_length=60)
    values: tuple[int, ...] = Field(sa_type=Words)
