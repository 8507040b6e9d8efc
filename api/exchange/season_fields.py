"""Readers for the fields of trips and what belongs to them, made from the dataclasses' own type hints.

So a field added to a record is read without a word here, and a file's unknown keys are told with the
nearest known one. Only what people write in their own way (counts, lengths, times, names) has a reader of
its own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from api.domain.calendar import zone_named
from api.domain.counts import Count
from api.domain.measures import exact_number, length_tenths, parse_quantity
from api.exchange.plain_words import WrongValueError, capital, choice, halves, listed, nearest, shown
from api.exchange.record_reading import Reader, Reading, RecordShape, ToldError, built

_BARE_NUMBER = re.compile(r"[-\d. /]+")


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
                found.append(reader(entry, reading, f"{where}[{place}]"))
            except ToldError:
                continue
            except ValueError as problem:
                reading.fault(f"{where}[{place}]", problem)
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


_MEANT = {"retained": "kept", "took": "kept", "returned": "released", "let go": "released", "mortality": "dead"}
"""What crews write for a fate, and the word that means it: common practice, no source."""


def _word(words: tuple[str, ...]) -> Reader:
    known = frozenset(words)

    def read(value: Any, _reading: Reading, _where: str) -> str:
        if isinstance(value, str) and value in known:
            return value
        word = value if isinstance(value, str) else ""
        what = f"{capital(shown(value))} is not a word known here."
        raise WrongValueError(what, choice(_MEANT.get(word.casefold(), word), words))

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
    return float(value) if isinstance(value, float | Decimal) else float(number(value))


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
        if _BARE_NUMBER.fullmatch(value.strip()):
            return _fraction(value, reading, where)
        return parse_quantity(value).expressed_in(unit)

    return read


def _time(value: Any, reading: Reading, _where: str) -> datetime:
    if isinstance(value, datetime):
        return reading.time(value.isoformat())
    if not isinstance(value, str):
        raise WrongValueError(f"A date and time is wanted, but {shown(value)} was found.", "Write 2027-06-11T21:30.")
    return reading.time(value.strip())


def zone(value: Any, reading: Reading, where: str) -> str:
    """Read the name of a time zone."""
    found = text(value, reading, where)
    zone_named(found)
    return found


def taxon(value: Any, reading: Reading, where: str) -> str:
    """Read a name or synonym as its accepted id."""
    return reading.name(text(value, reading, where))


def _taxon_or_none(value: Any, reading: Reading, where: str) -> str:
    written = text(value, reading, where)
    return reading.name(written) if written else ""


def _authority_mend(written: str, known: list[str]) -> str:
    near = nearest(written, known)
    start = f"Did you mean '{near}'? " if near else ""
    return f"{start}Those given are {listed(known)}; for another, give that authority's file too."


def _authority(value: Any, reading: Reading, where: str) -> str:
    written = text(value, reading, where)
    known = [one.id for one in reading.book.authorities]
    if written and written not in known:
        raise WrongValueError(f"The authority {shown(written)} is not known.", _authority_mend(written, known))
    return written


def _needed_authority(value: Any, reading: Reading, where: str) -> str:
    found = _authority(value, reading, where)
    if not found:
        raise WrongValueError("The authority is empty.", "Say under which authority it stands.")
    return found


def _free_count(value: Any, reading: Reading, _where: str) -> Count:
    return reading.count(value, "any").count


def _weight(value: Any, reading: Reading, _where: str) -> Count:
    return reading.count(value, "g").count


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
    if isinstance(value, str | int | Decimal | float):
        return _tenths("g" if measure == "weight" else "mm", value)
    return length_tenths(number(value), "mm")  # refused there, in its own words


# The same lengths come again and again; read exactly, each costs more than everything else in its line.
@lru_cache(maxsize=16_384, typed=True)
def _tenths(base: Literal["g", "mm"], value: str | int | Decimal | float) -> int:
    if isinstance(value, str) and not _BARE_NUMBER.fullmatch(value.strip()):
        quantity = parse_quantity(value)
        reading, unit = quantity.value, quantity.unit
    else:
        reading, unit = number(value), base
    if base == "mm":
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
    **{
        (kind, "id"): _own_id for kind in ("Person", "Trip", "Haul", "Line", "Notice", "Incident", "Movement", "Filing")
    },
    **{(kind, "authority"): _authority for kind in ("Trip", "Haul", "Line", "Movement")},
    **{
        (kind, "authority"): _needed_authority
        for kind in ("Attestation", "Notice", "Incident", "Filing", "SharedTotal")
    },
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
