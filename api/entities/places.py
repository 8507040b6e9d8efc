"""Areas as drawn, and sites by name."""

from __future__ import annotations

from sqlalchemy import JSON, CheckConstraint
from sqlmodel import Field, SQLModel

from api.entities.columns import ID_LENGTH, NAME_LENGTH, finite, not_negative


class AreaRecord(SQLModel, table=True):
    """An area in WGS84, its corners in full (GeoJSON geometry, longitude first)."""

    __tablename__ = "area"
    __table_args__ = (
        CheckConstraint("edge_tolerance_m >= 0", name="tolerance_not_negative"),
        finite("edge_tolerance_m"),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    place: int = Field(unique=True)
    name: str = Field(max_length=NAME_LENGTH)
    kind: str = Field(default="", max_length=40)
    edge_tolerance_m: float = 0.0
    source: str = Field(default="", max_length=NAME_LENGTH)
    drawn: str = Field(default="", max_length=NAME_LENGTH)
    datum: str = Field(default="WGS84", max_length=NAME_LENGTH)
    geometry: dict[str, object] = Field(sa_type=JSON)


class Site(SQLModel, table=True):
    """A named place where is collected."""

    __tablename__ = "site"

    id: str = Field(primary_key=True, max_length=ID_LENGTH)
    name: str = Field(max_length=NAME_LENGTH)
