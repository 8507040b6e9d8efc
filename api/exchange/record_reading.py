"""One record after another from raw objects: the values of its fields, or every fault of them.

What is known on the way through a file (its zone, the authority in force, names already looked up) is held
in `Reading`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from typing import Any, Literal

from api.domain.calendar import instant
from api.domain.facts import Book
from api.domain.taxa import UnknownTaxonError
from api.exchange.checked_shapes import joined, unknown_key
from api.exchange.count_text import CountText, Unit, containers_of, parse_count
from api.exchange.faults import Fault
from api.exchange.plain_words import WrongValueError, choice, fault_of, shown

_TIME = re.compile(r"(\d{4})-\d\d-\d\d[T ]\d\d:\d\d.*")
_FIRST_YEAR, _LAST_YEAR = 1900, 2199


class ToldError(Exception):
    """A value cannot stand, and its faults are told already."""


@dataclass(slots=True)
class Reading:
    """What a reader needs to know on its way through one file, and the faults it has met."""

    file: str
    book: Book
    file_zone: str = ""
    zone: str = ""
    authority: str = ""
    faults: list[Fault] = field(default_factory=list)
    provenance: Mapping[str, str] = field(default_factory=dict)
    """Places of a spreadsheet by the places of the raw season, where it was made from one."""
    bare_paths: dict[tuple[str, str], str] = field(default_factory=dict)
    """The paths of records by their list and the row they are called by, while a spreadsheet is read."""
    places: dict[tuple[str, str], tuple[str, str]] = field(default_factory=dict)
    """File and place of every haul and line read, by list and id."""
    left_out: set[str] = field(default_factory=set)
    """Ids of trips, hauls and lines that are there, but faulty."""
    _names: dict[str, str | WrongValueError] = field(default_factory=dict)
    _times: dict[tuple[str, str], datetime] = field(default_factory=dict)
    _counts: dict[tuple[str, str, str], CountText] = field(default_factory=dict)
    _litres: dict[str, dict[str, Fraction]] = field(default_factory=dict)

    def fault(self, where: str, problem: ValueError) -> None:
        """Take down what is wrong with a place."""
        self.faults.append(fault_of(self.file, where, problem))

    def name(self, written: str) -> str:
        """Give the accepted id for a name as written; raises WrongValueError with the nearest known name."""
        found = self._names.get(written)
        if found is None:
            try:
                found = _resolve(written, self.book)
            except WrongValueError as problem:
                found = problem  # looking for the nearest name is dear, and one slip may stand in every line
            self._names[written] = found
        if isinstance(found, WrongValueError):
            raise found
        return found

    def time(self, text: str) -> datetime:
        """Give the instant (UTC) of a time as written, in the zone that holds here."""
        key = (text, self.zone)
        found = self._times.get(key)
        if found is None:
            found = self._times[key] = _instant(text, self.zone)
        return found

    def count(self, value: object, unit: Unit | Literal["any", ""]) -> CountText:
        """Read a count as written; the same words mean the same all through a file."""
        if not isinstance(value, str):
            return parse_count(value, self.litres(), unit)
        key = (self.authority, value, unit)
        found = self._counts.get(key)
        if found is None:
            found = self._counts[key] = parse_count(value, self.litres(), unit)
        return found

    def litres(self) -> dict[str, Fraction]:
        """Give the litres of the containers that the authority in force here knows.

        Where no authority is told, those on which all authorities agree.
        """
        found = self._litres.get(self.authority)
        if found is None:
            known = [one for one in self.book.authorities if self.authority in (one.id, "")]
            found = self._litres[self.authority] = containers_of(*known)
        return found


Reader = Callable[[Any, Reading, str], Any]
"""Takes a value, the reading under way and the value's place; raises ValueError or ToldError."""


@dataclass(frozen=True, slots=True)
class RecordShape:
    """How the fields of one kind of record are read, and which of them must be there."""

    shape: Any
    readers: dict[str, Reader]
    required: tuple[str, ...]
    optional: frozenset[str]


def record(kind: RecordShape, raw: object, reading: Reading, where: str, skip: frozenset[str] = frozenset()) -> Any:
    """Read the fields of one record: the values by field name, or None after every fault is told.

    Fields in ``skip`` are left to the caller.
    """
    if not isinstance(raw, Mapping):
        what = f"An object is wanted here, but {shown(raw)} was found."
        reading.faults.append(Fault(reading.file, where, what, "Write an object in braces, { }."))
        return None
    values: dict[str, Any] = {}
    told = len(reading.faults)
    for key, value in raw.items():
        if key in skip:
            continue
        reader = kind.readers.get(key)
        if reader is None:
            reading.faults.append(unknown_key(reading.file, where, str(key), kind.readers))
        elif value is not None or key not in kind.optional:
            try:
                values[key] = reader(value, reading, joined(where, key))
            except ToldError:
                continue
            except ValueError as problem:
                reading.fault(joined(where, key), problem)
    for key in kind.required:
        if key not in raw and key not in skip:
            reading.faults.append(Fault(reading.file, where, f"'{key}' is missing.", f"Add '{key}'."))
    return values if len(reading.faults) == told else None


def built(kind: RecordShape, raw: object, reading: Reading, where: str) -> Any:
    """Make one record, or None after every fault is told."""
    values = record(kind, raw, reading, where)
    return None if values is None else made(kind.shape, values, reading, where)


def made(shape: Any, values: Mapping[str, Any], reading: Reading, where: str) -> Any:
    """Make a record of values that were read one by one; None where they do not fit together."""
    try:
        return shape(**values)
    except ValueError as problem:
        reading.fault(where, problem)
        return None


def _instant(written: str, zone: str) -> datetime:
    found = _TIME.fullmatch(written)
    if found is None:
        raise WrongValueError(f"{shown(written)} is not a date and time.", "Write 2027-06-11T21:30.")
    if not _FIRST_YEAR <= int(found[1]) <= _LAST_YEAR:
        raise WrongValueError(f"The year of {shown(written)} cannot be.", "Correct the year.")
    if not zone and datetime.fromisoformat(written).tzinfo is None:
        mend = "Give the file or the trip its 'zone', or write the time with its offset."
        raise WrongValueError(f"The time '{written}' has no zone.", mend)
    return instant(written, zone or "UTC")


def _resolve(written: str, book: Book) -> str:
    try:
        return book.taxa.resolve(written)
    except UnknownTaxonError:
        pass
    plain = re.fullmatch(r"(.+?)\s+(cf\.|aff\.|\?)\s*(.*)|(.+?)\s*(\?)", written.strip())
    if plain is not None:
        name = f"{plain[1] or plain[4]} {plain[3] or ''}".strip()
        mend = f"Write the name as '{name}' and its doubt as 'doubt': '{plain[2] or plain[5]}'."
        raise WrongValueError(f"{shown(written)} is not in the list of taxa.", mend)
    known = [name for taxon in book.taxa.taxa.values() for name in (taxon.id, *taxon.synonyms)]
    mend = choice(written, known) or "Add it to the list of taxa."
    raise WrongValueError(f"{shown(written)} is not in the list of taxa.", mend)
