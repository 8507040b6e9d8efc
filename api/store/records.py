"""Records of the season as rows, and rows as records again: exact in both directions.

A row of a record that people name (trip, haul, catch line) has an id and a code; a record as it is judged and
reported bears its code. ``Names`` turns ids into codes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, TypeVar

from api.domain.counts import Amount, Count
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
    Reading,
    SharedTotal,
    Trip,
)

Row = dict[str, Any]
Made = TypeVar("Made")

_SAFE = 2**53

LINE_FIELDS = (
    "taxon", "fate", "unit", "doubt", "one_of", "name_as_written", "method", "stage", "sex", "container",
    "measured_as", "raw_counted", "raw_share", "cause", "photo", "note", "at",
)  # fmt: skip
HAUL_FIELDS = (
    "start", "end", "kind", "site", "waterbody", "also_under", "lost", "swept_m", "in_sight", "device_start", "note",
)  # fmt: skip
GEAR_FIELDS = ("length_mm", "mesh_mm", "opening_mm", "number", "marked", "tag")
TRIP_FIELDS = (
    "zone", "leader", "may_stand_under", "status", "depart", "back", "papers", "paper_record", "clock_fast_s", "note",
)  # fmt: skip
FIX_FIELDS = ("lat", "lon", "radius_m", "confidence", "source")
READING_FIELDS = ("quantity", "value", "unit", "at", "instrument", "note")
CREW_FIELDS = ("person", "role")
CLEANING_FIELDS = ("at", "method", "minutes", "gear", "done", "person", "note")
ATTESTATION_FIELDS = ("authority", "condition", "person", "at", "kept", "reason")
NOTICE_FIELDS = ("id", "authority", "to", "sent", "channel", "content", "proof", "cancels", "replied")
INCIDENT_FIELDS = ("id", "authority", "to", "told", "channel", "text")
MOVEMENT_FIELDS = ("id", "at", "what", "to", "consent", "reason", "person")
FILING_FIELDS = ("id", "authority", "condition", "filed", "by", "covers", "accepted", "proof")
SHARED_FIELDS = ("authority", "condition", "as_of")
CORRECTION_FIELDS = ("field", "old", "new", "by", "at", "why")


@dataclass(slots=True)
class Names:
    """Codes of trips, hauls and lines by their ids, and the other way round; what has no code goes by its id."""

    codes: dict[str, str] = field(default_factory=dict)
    ids: dict[str, str] = field(default_factory=dict)

    def learn(self, record: str, code: str) -> None:
        """Take in a record's code."""
        self.codes[record] = code
        self.ids[code] = record

    def code(self, record: str | None) -> str:
        """Give the code of a record, "" for none."""
        return self.codes.get(record, record) if record else ""

    def id(self, code: str) -> str:
        """Give the id of a code."""
        return self.ids.get(code, code)


def count_columns(prefix: str, count: Count | None) -> Row:
    """Write a count as its columns; exact bounds are added as text where floats do not hold them."""
    names = [f"{prefix}_{bound}" for bound in ("low", "best", "high")]
    if count is None:
        return {**dict.fromkeys(names), f"{prefix}_exact": None}
    bounds = (count.low, count.best, count.high)
    plain = all(bound == math.inf or (Fraction(bound).denominator == 1 and bound < _SAFE) for bound in bounds)
    exact = None if plain else [str(bound if bound == math.inf else Fraction(bound)) for bound in bounds]
    return {**dict(zip(names, (float(bound) for bound in bounds), strict=True)), f"{prefix}_exact": exact}


def count_of(prefix: str, row: Mapping[str, Any]) -> Count | None:
    """Read a count from its columns; None where there is none."""
    if row[f"{prefix}_low"] is None:
        return None
    exact = row[f"{prefix}_exact"]
    bounds = exact if exact is not None else [row[f"{prefix}_{bound}"] for bound in ("low", "best", "high")]
    low, best, high = (_amount(bound) for bound in bounds)
    return Count(low, best, high)


def _amount(bound: str | float) -> Amount:
    if bound in ("inf", math.inf):
        return math.inf
    exact = Fraction(bound)
    return exact.numerator if exact.denominator == 1 else exact


def _must(prefix: str, row: Mapping[str, Any]) -> Count:
    count = count_of(prefix, row)
    if count is None:
        raise ValueError(f"a {prefix} is missing from its row")
    return count


def _columns(one: object, names: tuple[str, ...]) -> Row:
    return {name: getattr(one, name) for name in names}


def _fields(row: Mapping[str, Any], names: tuple[str, ...]) -> Row:
    return {name: row[name] for name in names}


def line_row(line: Line) -> Row:
    """Write a catch line's own columns (not id, code, haul, place)."""
    return {
        **_columns(line, LINE_FIELDS),
        **count_columns("count", line.count),
        **count_columns("weight", line.weight),
        "authority": line.authority or None,
        "person": line.person or None,
    }


def line_of(row: Mapping[str, Any], runs: tuple[Measurement, ...]) -> Line:
    """Read a catch line."""
    return Line(
        id=row["code"],
        count=_must("count", row),
        weight=count_of("weight", row),
        authority=row["authority"] or "",
        person=row["person"] or "",
        measurements=runs,
        **_fields(row, LINE_FIELDS),
    )


def run_row(run: Measurement) -> Row:
    """Write a run of measurements."""
    return {"measure": run.measure, "variant": run.variant, "values": run.values}


def run_of(row: Mapping[str, Any]) -> Measurement:
    """Read a run of measurements."""
    return Measurement(measure=row["measure"], variant=row["variant"], values=row["values"])


def haul_row(haul: Haul) -> Row:
    """Write a haul's own columns (not id, code, trip, place)."""
    gear = haul.gear
    used = {f"gear_{name}": getattr(gear, name) if gear else None for name in GEAR_FIELDS}
    return {
        **_columns(haul, HAUL_FIELDS),
        **used,
        "gear": gear.gear if gear else None,
        "authority": haul.authority or None,
        "person": haul.person or None,
    }


@dataclass(slots=True)
class HaulParts:
    """What hangs on a haul, in order."""

    fixes: list[Fix] = field(default_factory=list)
    checks: list[Any] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)


def haul_of(row: Mapping[str, Any], parts: HaulParts) -> Haul:
    """Read a haul with what hangs on it."""
    gear = None
    if row["gear"] is not None:
        gear = GearUse(gear=row["gear"], **{name: row[f"gear_{name}"] for name in GEAR_FIELDS})
    return Haul(
        id=row["code"],
        gear=gear,
        authority=row["authority"] or "",
        person=row["person"] or "",
        fixes=tuple(parts.fixes),
        checks=tuple(parts.checks),
        lines=tuple(parts.lines),
        readings=tuple(parts.readings),
        **_fields(row, HAUL_FIELDS),
    )


def fix_of(row: Mapping[str, Any]) -> Fix:
    """Read a position."""
    return Fix(**_fields(row, FIX_FIELDS))


def reading_of(row: Mapping[str, Any]) -> Reading:
    """Read a water reading."""
    return Reading(**_fields(row, READING_FIELDS))


def trip_row(trip: Trip) -> Row:
    """Write a trip's own columns (not id, code)."""
    return {**_columns(trip, TRIP_FIELDS), "authority": trip.authority or None}


@dataclass(slots=True)
class TripParts:
    """What hangs on a trip, in order."""

    arrived: Fix | None = None
    crew: list[CrewMember] = field(default_factory=list)
    hauls: list[Haul] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    cleanings: list[Cleaning] = field(default_factory=list)
    attestations: list[Attestation] = field(default_factory=list)


def trip_of(row: Mapping[str, Any], parts: TripParts) -> Trip:
    """Read a trip with what hangs on it."""
    return Trip(
        id=row["code"],
        authority=row["authority"] or "",
        arrived=parts.arrived,
        crew=tuple(parts.crew),
        hauls=tuple(parts.hauls),
        readings=tuple(parts.readings),
        cleanings=tuple(parts.cleanings),
        attestations=tuple(parts.attestations),
        **_fields(row, TRIP_FIELDS),
    )


def crew_of(row: Mapping[str, Any]) -> CrewMember:
    """Read a crew entry."""
    return CrewMember(**_fields(row, CREW_FIELDS))


def cleaning_of(row: Mapping[str, Any]) -> Cleaning:
    """Read a cleaning."""
    return Cleaning(**_fields(row, CLEANING_FIELDS))


def attestation_of(row: Mapping[str, Any]) -> Attestation:
    """Read a statement."""
    return Attestation(**_fields(row, ATTESTATION_FIELDS))


def notice_row(notice: Notice, names: Names) -> Row:
    """Write a notice."""
    return {**_columns(notice, NOTICE_FIELDS), "trip": names.id(notice.trip)}


def notice_of(row: Mapping[str, Any], names: Names) -> Notice:
    """Read a notice."""
    return Notice(trip=names.code(row["trip"]), **_fields(row, NOTICE_FIELDS))


def incident_row(incident: Incident, names: Names) -> Row:
    """Write an incident."""
    return {**_columns(incident, INCIDENT_FIELDS), "about": tuple(names.id(one) for one in incident.about)}


def incident_of(row: Mapping[str, Any], names: Names) -> Incident:
    """Read an incident."""
    return Incident(about=tuple(names.code(one) for one in row["about"]), **_fields(row, INCIDENT_FIELDS))


def movement_row(movement: Movement, names: Names) -> Row:
    """Write a movement."""
    return {
        **_columns(movement, MOVEMENT_FIELDS),
        **count_columns("count", movement.count),
        "line": names.id(movement.line) or None,
        "taxon": movement.taxon or None,
        "authority": movement.authority or None,
    }


def movement_of(row: Mapping[str, Any], names: Names) -> Movement:
    """Read a movement."""
    return Movement(
        count=_must("count", row),
        line=names.code(row["line"]),
        taxon=row["taxon"] or "",
        authority=row["authority"] or "",
        **_fields(row, MOVEMENT_FIELDS),
    )


def filing_row(filing: Filing) -> Row:
    """Write a filing."""
    return _columns(filing, FILING_FIELDS)


def filing_of(row: Mapping[str, Any]) -> Filing:
    """Read a filing."""
    return Filing(**_fields(row, FILING_FIELDS))


def shared_total_row(total: SharedTotal) -> Row:
    """Write a published total."""
    return {**_columns(total, SHARED_FIELDS), **count_columns("total", total.total)}


def shared_total_of(row: Mapping[str, Any]) -> SharedTotal:
    """Read a published total."""
    return SharedTotal(total=_must("total", row), **_fields(row, SHARED_FIELDS))


def correction_row(correction: Correction, names: Names) -> Row:
    """Write a correction."""
    return {**_columns(correction, CORRECTION_FIELDS), "record": names.id(correction.record)}


def correction_of(row: Mapping[str, Any], names: Names) -> Correction:
    """Read a correction."""
    return Correction(record=names.code(row["record"]), **_fields(row, CORRECTION_FIELDS))
