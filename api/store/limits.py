"""What a column can hold: texts that are too long for it, or hold a sign that no database keeps, are told beforehand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from sqlalchemy import String
from sqlmodel import SQLModel
from sqlmodel.sql.sqltypes import AutoString

from api.domain.places.positions import Fix
from api.domain.trips import (
    Attestation,
    Cleaning,
    Correction,
    CrewMember,
    Filing,
    GearUse,
    Haul,
    Incident,
    Line,
    Measurement,
    Movement,
    Notice,
    Person,
    Reading,
    Trip,
)
from api.entities.catches import CatchLine, MeasuredRun
from api.entities.columns import ID_LENGTH, NAME_LENGTH, NOTE_LENGTH
from api.entities.hauls import FixRecord, HaulRecord
from api.entities.papers import CorrectionRecord, FilingRecord, IncidentRecord, MovementRecord, NoticeRecord
from api.entities.people import Person as PersonRow
from api.entities.trips import AttestationRecord, CleaningRecord, CrewEntry, ReadingRecord, TripRecord
from api.exchange.faults import Fault
from api.exchange.plain_words import shown

_TABLES: dict[type[Any], type[SQLModel]] = {
    Person: PersonRow,
    Trip: TripRecord,
    CrewMember: CrewEntry,
    Cleaning: CleaningRecord,
    Attestation: AttestationRecord,
    Reading: ReadingRecord,
    Haul: HaulRecord,
    Fix: FixRecord,
    Line: CatchLine,
    Measurement: MeasuredRun,
    Notice: NoticeRecord,
    Incident: IncidentRecord,
    Movement: MovementRecord,
    Filing: FilingRecord,
    Correction: CorrectionRecord,
}
_LARGEST_WHOLE = 2**31 - 1


def unkeepable(record: Any, kind: str) -> list[Fault]:
    """Tell every text of a record that cannot be kept as it is, and every whole number beyond its column."""
    return [Fault(kind, where, what, mend) for where, what, mend in _within(record, "")]


def _within(one: Any, where: str) -> Iterator[tuple[str, str, str]]:
    if is_dataclass(one) and not isinstance(one, type):
        lengths = _lengths(type(one))
        for each in fields(one):
            path = f"{where}: {each.name}" if where else each.name
            yield from _of_value(getattr(one, each.name), path, lengths.get(each.name, NAME_LENGTH))
    elif isinstance(one, Mapping):
        for key, value in one.items():
            yield from _of_text(str(key), where, ID_LENGTH)
            yield from _of_value(value, f"{where}: {key}", NAME_LENGTH)


def _of_value(value: Any, where: str, longest: int) -> Iterator[tuple[str, str, str]]:
    if isinstance(value, str):
        yield from _of_text(value, where, longest)
    elif isinstance(value, bool) or value is None:
        return
    elif isinstance(value, int) and abs(value) > _LARGEST_WHOLE:
        yield where, f"The number {value} is too large to be kept.", "Correct the number."
    elif isinstance(value, Sequence):
        for place, entry in enumerate(value):
            yield from _of_value(entry, f"{where}[{place}]", longest)
    else:
        yield from _within(value, where)


def _of_text(text: str, where: str, longest: int) -> Iterator[tuple[str, str, str]]:
    if "\x00" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        yield where, "The text holds a sign that cannot be kept (NUL, or half a character).", "Take it out."
    elif len(text) > longest:
        what = f"{shown(text)} has {len(text)} characters, and {longest} is the most."
        yield where, what, "Shorten it; what is long belongs into a note."


@cache
def _lengths(shape: type[Any]) -> dict[str, int]:
    """Give the longest text of each field of a record, from the columns of its table."""
    if shape is GearUse:
        columns = HaulRecord.__table__.columns  # type: ignore[attr-defined]
        named = {"gear": "gear", "tag": "gear_tag"}
        return {name: columns[column].type.length for name, column in named.items()}
    table = _TABLES.get(shape)
    if table is None:
        return {}
    found = {}
    for column in table.__table__.columns:  # type: ignore[attr-defined]
        if isinstance(column.type, String | AutoString):
            # A reference is as long as what it refers to.
            target = next((key.column.type for key in column.foreign_keys), column.type)
            found[column.name] = getattr(target, "length", None) or NOTE_LENGTH
    return found
