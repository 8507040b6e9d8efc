"""Readers for the fields of trips and what belongs to them, made from the dataclasses' own type hints.

So a field added to a record is read without a word here, and a file's unknown keys are told with the
nearest known one. Only what people write in their own way (counts, lengths, times, names) has a reader of
its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from api.domain.calendar import instant, zone_named
from api.domain.counts import Count
from api.domain.facts import Book
from api.domain.measures import exact_number, length_tenths, parse_quantity
from api.domain.taxa import UnknownTaxonError
from api.exchange.checked_shapes import joined, unknown_key
from api.exchange.count_text import containers_of, parse_count
from api.exchange.faults import Fault
from api.exchange.plain_words import WrongValueError, capital, choice, fault_of, halves, shown

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
    places: dict[tuple[str, str], tuple[str, str]] = field(default_factory=dict)
    """File and place of every haul and line read, by list and id."""
    _names: dict[str, str] = field(default_factory=dict)
    _times: dict[tuple[str, str], datetime] = field(default_factory=dict)
    _litres: dict[str, dict[str, Fraction]] = field(default_factory=dict)

    def fault(self, where: str, problem: ValueError) -> None:
        """Take down what is wrong with a place."""
        self.faults.append(fault_of(self.file, where, problem))

    def name(self, written: str) -> str:
        """Give the accepted id for a name as written; raises WrongValueError with the nearest known name."""
        found = self._names.get(written)
        if found is None:
            found = self._names[written] = _resolve(written, self.book)
        return found

    def time(self, text: str) -> datetime:
        """Give the instant (UTC) of a time as written, in the zone that holds here."""
        key = (text, self.zone)
        found = self._times.get(key)
        if found is None:
            found = self._times[key] = _instant(text, self.zone)
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
                values[key] = reader(value, reading, where)
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


@lru_cache(maxsize=64)
def shape_of(shape: Any) -> RecordShape:
    """Give the readers for a dataclass, from its type hints and the special ways of writing."""
    hints = get_type_hints(shape)
    readers = {one.name: SPECIAL.get((shape.__name__, one.name)) or _reader(hints[one.name]) for one in fields(shape)}
    required = tuple(one.name for one in fields(shape) if one.default is MISSING and one.default_factory is MISSING)
    return RecordShape(shape, readers, required, frozenset(readers) - frozenset(required))


def _reader(hint: Any) -> Reader:
    """Give the reader for a type hint."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        present = [part for part in parts if part is not NoneType]
        if len(present) == 1:
            return _reader(present[0])
        return _word(tuple(word for part in present for word in get_args(part)))
    if origin is Literal:
        return _word(parts)
    if origin is tuple:
        return _list_of(_reader(parts[0]))
    if origin is dict:
        return _names_by_id
    if is_dataclass(hint) and hint not in _PLAIN:
        return _nested(hint)
    return _PLAIN[hint]


def _nested(shape: Any) -> Reader:
    def read(value: Any, reading: Reading, where: str) -> Any:
        found = built(shape_of(shape), value, reading, where)
        if found is None:
            raise ToldError
        return found

    return read


def _list_of(reader: Reader) -> Reader:
    """Read a list; every faulty entry is told, with its place in the list."""

    def read(value: Any, reading: Reading, where: str) -> tuple[Any, ...]:
        entries = as_list(value)
        found: list[Any] = []
        for place, entry in enumerate(entries):
            try:
                found.append(reader(entry, reading, f"{where}, entry {place + 1}"))
            except ToldError:
                continue
            except ValueError as problem:
                reading.fault(f"{where}, entry {place + 1}", problem)
        if len(found) < len(entries):
            raise ToldError
        return tuple(found)

    return read


def as_list(value: Any) -> list[Any]:
    """Give a list as such, or refuse anything else."""
    if not isinstance(value, list | tuple):
        mend = "Write a list in square brackets, [ ], also where it has one entry."
        raise WrongValueError(f"A list is wanted here, but {shown(value)} was found.", mend)
    return list(value)


def _word(words: tuple[str, ...]) -> Reader:
    known = frozenset(words)

    def read(value: Any, _reading: Reading, _where: str) -> str:
        if isinstance(value, str) and value in known:
            return value
        word = value if isinstance(value, str) else ""
        raise WrongValueError(f"{capital(shown(value))} is not a word known here.", choice(word, words))

    return read


def text(value: Any, _reading: Reading, _where: str) -> str:
    """Read text; a number stands for its digits as written."""
    if isinstance(value, str):
        return value
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        return str(value)
    raise WrongValueError(f"Text is wanted here, but {shown(value)} was found.", "Write text in quotes.")


def _own_id(value: Any, reading: Reading, where: str) -> str:
    found = text(value, reading, where)
    if not found.strip():
        raise WrongValueError("The id is empty.", "Give every record an id of its own.")
    return found


def _flag(value: Any, _reading: Reading, _where: str) -> bool:
    if isinstance(value, bool):
        return value
    raise WrongValueError(f"true or false is wanted here, but {shown(value)} was found.", "Write true or false.")


def _whole(value: Any, _reading: Reading, _where: str) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) < 10**12:
        return value
    raise WrongValueError(f"A whole number is wanted here, but {shown(value)} was found.", "Write a whole number.")


def number(value: Any) -> Fraction:
    """Read a number exactly, also from text; raises WrongValueError for anything else or beyond all measure."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | str):
        raise WrongValueError(f"A number is wanted here, but {shown(value)} was found.", "Write a number.")
    if isinstance(value, Decimal) and (not value.is_finite() or abs(value.adjusted()) > 40):
        raise WrongValueError(f"{capital(shown(value))} is beyond all measure.", "Correct it.")
    try:
        plain = value.strip() if isinstance(value, str) else value
        if isinstance(plain, str) and plain.startswith("-"):
            return -exact_number(plain[1:])
        return exact_number(plain)
    except (ValueError, TypeError) as problem:
        raise WrongValueError(*halves(ValueError(str(problem)))) from None


def _degrees(value: Any, _reading: Reading, _where: str) -> float:
    return value if isinstance(value, float) else float(number(value))


def _share(value: Any, reading: Reading, where: str) -> float:
    """Read a confidence: 0.95 or "95 %"."""
    if isinstance(value, str) and value.rstrip().endswith("%"):
        return float(number(value.rstrip().removesuffix("%")) / 100)
    return _degrees(value, reading, where)


def _fraction(value: Any, _reading: Reading, _where: str) -> Fraction:
    found = number(value)
    if found < 0:
        raise WrongValueError(f"{capital(shown(value))} is below 0.", "Write a number of zero or more.")
    return found


def _length_in(unit: str) -> Reader:
    """Read a length with its unit, or a bare number in ``unit``, into that unit."""

    def read(value: Any, reading: Reading, where: str) -> Fraction:
        if not isinstance(value, str):
            return _fraction(value, reading, where)
        quantity = parse_quantity(value)
        if quantity.dimension == "count":
            return number(value)
        return quantity.expressed_in(unit)

    return read


def _time(value: Any, reading: Reading, _where: str) -> datetime:
    if isinstance(value, datetime):
        return reading.time(value.isoformat())
    if not isinstance(value, str):
        raise WrongValueError(f"A date and time is wanted, but {shown(value)} was found.", "Write 2027-06-11T21:30.")
    return reading.time(value.strip())


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


def zone(value: Any, reading: Reading, where: str) -> str:
    """Read the name of a time zone."""
    found = text(value, reading, where)
    zone_named(found)
    return found


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


def taxon(value: Any, reading: Reading, where: str) -> str:
    """Read a name or synonym as its accepted id."""
    return reading.name(text(value, reading, where))


def _taxon_or_none(value: Any, reading: Reading, where: str) -> str:
    written = text(value, reading, where)
    return reading.name(written) if written else ""


def _authority(value: Any, reading: Reading, where: str) -> str:
    written = text(value, reading, where)
    known = [one.id for one in reading.book.authorities]
    if written and written not in known:
        raise WrongValueError(f"The authority {shown(written)} is not known.", choice(written, known))
    return written


def _needed_authority(value: Any, reading: Reading, where: str) -> str:
    found = _authority(value, reading, where)
    if not found:
        raise WrongValueError("The authority is empty.", "Say under which authority it stands.")
    return found


def _free_count(value: Any, reading: Reading, _where: str) -> Count:
    return parse_count(value, reading.litres(), "any").count


def _weight(value: Any, _reading: Reading, _where: str) -> Count:
    return parse_count(value, {}, "g").count


def _names_by_id(value: Any, reading: Reading, where: str) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise WrongValueError(f"Names by their ids are wanted, but {shown(value)} was found.", 'Write {"id": "name"}.')
    return {str(key): text(name, reading, where) for key, name in value.items()}


def _meter_value(value: Any, reading: Reading, where: str) -> str:
    """Read a meter's value: decimal text, kept as written."""
    written = text(value, reading, where).strip()
    if not re.fullmatch(r"[-+]?(\d+(\.\d*)?|\.\d+)", written):
        raise WrongValueError(f"The reading {shown(written)} is no number.", "Write the number as on the meter.")
    return written


def tenths(measure: str, value: Any) -> int:
    """Give a measured length (mm unless a unit is written) or weight (g) in whole tenths.

    Raises ValueError for anything finer than a tenth, zero, or a unit of the other kind.
    """
    is_weight = measure == "weight"
    base = "g" if is_weight else "mm"
    if isinstance(value, str):
        quantity = parse_quantity(value)
        reading, unit = (exact_number(value), base) if quantity.dimension == "count" else (quantity.value, quantity.unit)
    else:
        reading, unit = number(value), base
    if not is_weight:
        return length_tenths(reading, unit)
    return _weight_tenths(f"{reading} {unit}")


def _weight_tenths(written: str) -> int:
    quantity = parse_quantity(written)
    if quantity.dimension != "mass":
        raise WrongValueError(f"A weight needs a unit of weight, but '{written}' was found.", "Write g or kg.")
    found = quantity.exact * 10
    if found.denominator != 1:
        mend = "Give the weight as read on the scales, in whole tenths of a gram."
        raise WrongValueError(f"{written} is no whole number of tenths of a gram.", mend)
    return int(found)


_PLAIN: dict[Any, Reader] = {
    str: text,
    bool: _flag,
    int: _whole,
    float: _degrees,
    Fraction: _fraction,
    datetime: _time,
    Count: _free_count,
}

SPECIAL: dict[tuple[str, str], Reader] = {
    **{(kind, "id"): _own_id for kind in ("Trip", "Haul", "Line", "Notice", "Incident", "Movement", "Filing")},
    **{(kind, "authority"): _authority for kind in ("Trip", "Haul", "Line", "Movement")},
    **{(kind, "authority"): _needed_authority for kind in ("Attestation", "Notice", "Incident", "Filing", "SharedTotal")},
    ("Trip", "may_stand_under"): _list_of(_needed_authority),
    ("Haul", "also_under"): _list_of(_needed_authority),
    ("Trip", "zone"): zone,
    ("Line", "weight"): _weight,
    ("Line", "taxon"): taxon,
    ("Line", "one_of"): _list_of(taxon),
    ("Movement", "taxon"): _taxon_or_none,
    ("GearUse", "length_mm"): _length_in("mm"),
    ("GearUse", "mesh_mm"): _length_in("mm"),
    ("GearUse", "opening_mm"): _length_in("mm"),
    ("Haul", "swept_m"): _length_in("m"),
    ("Fix", "confidence"): _share,
    ("Reading", "value"): _meter_value,
}
"""Fields that people write in their own way, by class and field."""
