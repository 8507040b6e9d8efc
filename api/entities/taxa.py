"""Names of animals and materials, what stands below what, and their other names."""

from __future__ import annotations

from sqlmodel import Field, SQLModel

from api.entities.columns import NAME_LENGTH, not_negative, note, words_of


class TaxonRecord(SQLModel, table=True):
    """An accepted name at any rank."""

    __tablename__ = "taxon"
    __table_args__ = (
        words_of(
            "rank",
            "species",
            "genus",
            "family",
            "order",
            "class",
            "phylum",
            "kingdom",
            "subspecies",
            "group",
            "material",
        ),
        not_negative("place"),
    )

    id: str = Field(primary_key=True, max_length=NAME_LENGTH)
    place: int = Field(unique=True)
    rank: str = Field(max_length=20)
    parent_id: str | None = Field(default=None, foreign_key="taxon.id")
    common: str = Field(default="", max_length=NAME_LENGTH)
    origin: str = Field(default="", max_length=20)
    note: str = note()


class TaxonSynonym(SQLModel, table=True):
    """Another name for a taxon; no two taxa share one."""

    __tablename__ = "taxon_synonym"
    __table_args__ = (not_negative("place"),)

    name: str = Field(primary_key=True, max_length=NAME_LENGTH)
    taxon_id: str = Field(foreign_key="taxon.id", index=True)
    place: int = 0


class IssuedName(SQLModel, table=True):
    """The name that an authority's page prints for an accepted one."""

    __tablename__ = "issued_name"

    taxon_id: str = Field(primary_key=True, foreign_key="taxon.id", max_length=NAME_LENGTH)
    name: str = Field(max_length=NAME_LENGTH)
