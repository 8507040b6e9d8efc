"""Records, authorities and taxa written as JSON values: exact, and read back as the same records.

Times are in UTC with Z, numbers that are no whole ones are text ("7/2" is read back as seven halves), and
what a record leaves at its default is left out. Positions are the floats they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

from api.domain.counts import Amount, Count
from api.domain.permits import Authority
from api.domain.taxa import Taxa
from api.domain.trips import Measurement, Season
from api.exchange.authority_json import FORMAT as AUTHORITY_FORMAT
from api.exchange.count_text import UNKNOWN_WORD
from api.exchange.season_json import FORMAT as TRIPS_FORMAT
from api.exchange.taxa_json import FORMAT as TAXA_FORMAT

_ALWAYS = frozenset({"kind", "unit", "method", "fate", "status"})
"""Fields written even at their default: readers tell records apart by them."""

_LENGTHS = frozenset({"length_mm", "mesh_mm", "opening_mm", "swept_m"})


def season_to_json(season: Season) -> dict[str, Any]:
    """Give a season as a trips file holds it."""
    return {"format": TRIPS_FORMAT, "zone": "UTC", **_record(season)}


def authority_to_json(authority: Authority) -> dict[str, Any]:
    """Give an authority as an authority file holds it, without the names of its other files."""
    return {"format": AUTHORITY_FORMAT, **_record(authority)}


def taxa_to_json(taxa: Taxa) -> dict[str, Any]:
    """Give a list of taxa as a taxa file holds it."""
    return {"format": TAXA_FORMAT, "taxa": [_record(taxon) for taxon in taxa.taxa.values()]}


def time_text(at: datetime) -> str:
    """Write an instant in UTC with Z; raises ValueError for a time without an offset."""
    if at.tzinfo is None:
        raise ValueError(f"the time {at} has no offset from UTC; say in which zone it was read")
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def amount_value(amount: Amount) -> int | str:
    """Write an exact amount: a whole number as such, a fraction as text, no bound as a word."""
    if amount == math.inf:
        return UNKNOWN_WORD
    exact = Fraction(amount)
    return exact.numerator if exact.denominator == 1 else str(exact)


def record_to_json(one: Any) -> dict[str, Any]:
    """Give one record as a trips file holds it."""
    return _record(one)


def _record(one: Any) -> dict[str, Any]:
    """Write a record by its fields, leaving out what stands at its default."""
    if isinstance(one, Count):
        return {"low": amount_value(one.low), "best": amount_value(one.best), "high": amount_value(one.high)}
    if isinstance(one, Measurement):
        unit = "g" if one.measure == "weight" else "mm"
        values = [f"{value // 10}.{value % 10} {unit}" for value in one.values]
        return {"measure": one.measure, "values": values, **({"variant": one.variant} if one.variant else {})}
    return {
        each.name: _value(each.name, value)
        for each in fields(one)
        if (value := getattr(one, each.name)) != _default(each) or each.name in _ALWAYS
    }


def _default(each: Field[Any]) -> Any:
    if each.default is not MISSING:
        return each.default
    return each.default_factory() if each.default_factory is not MISSING else MISSING


def _value(name: str, value: Any) -> Any:
    if isinstance(value, Fraction):
        return f"{value} {'m' if name == 'swept_m' else 'mm'}" if name in _LENGTHS else amount_value(value)
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple | list):
        return [_value(name, entry) for entry in value]
    if isinstance(value, Mapping):
        return {key: _value(name, entry) for key, entry in value.items()}
    return _record(value) if is_dataclass(value) else value
