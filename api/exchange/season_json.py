"""A season from a raw object: every good record, and everything that is wrong with the others.

A faulty catch line is left out and told; its haul, its trip and all others stay. A fault of a haul's own
fields costs the haul, a fault of a trip's own fields the trip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from api.domain.facts import Book
from api.domain.trips import (
    Attestation,
    Cleaning,
    Correction,
    CrewMember,
    Filing,
    Haul,
    Incident,
    Line,
    Measurement,
    Movement,
    Notice,
    Season,
    SharedTotal,
    Trip,
)
from api.domain.trips import Reading as MeterReading
from api.exchange.checked_shapes import joined, unknown_key
from api.exchange.count_text import CountText, raised_bounds
from api.exchange.faults import Fault
from api.exchange.plain_words import WrongValueError, shown
from api.exchange.record_reading import Reading, RecordShape, built, made, record
from api.exchange.season_fields import as_list, shape_of, tenths, zone
from api.exchange.season_merge import Origins, Register
from api.exchange.season_references import reference_faults

FORMAT = "creekledger trips 1"
_LISTS: dict[str, Any] = {
    "notices": Notice,
    "incidents": Incident,
    "movements": Movement,
    "filings": Filing,
    "shared_totals": SharedTotal,
    "corrections": Correction,
}
_FILE_KEYS = ("format", "zone", "trips", *_LISTS, "people", "sites")
_ABOVE = {"hauls": "trips", "lines": "hauls"}
_LINE_OWN = frozenset({"count", "measurements"})
_HAUL_OWN = frozenset({"lines", "readings"})
_TRIP_OWN = frozenset({"hauls", "readings", "cleanings", "attestations", "crew"})


@dataclass(slots=True)
class Records:
    """What one file gave: its season, where each record stands, and the units that movements wrote."""

    season: Season
    origins: Origins = field(default_factory=dict)
    movement_units: dict[str, str] = field(default_factory=dict)
    left_out: set[str] = field(default_factory=set)
    """Ids of trips, hauls and lines that are there, but faulty."""


def season_of(
    raw: object, file: str, book: Book, provenance: Mapping[str, str] | None = None
) -> tuple[Season, list[Fault]]:
    """Read a season by itself: everything good in it, and every fault; never raises for what ``raw`` holds.

    ``provenance`` gives the rows of a spreadsheet by places such as "trips[0]: hauls[1]: lines[2]".
    """
    records, faults = records_of(raw, file, book, provenance)
    season, wrong = reference_faults(records.season, book, records.origins, records.movement_units, records.left_out)
    return season, faults + wrong


def records_of(
    raw: object, file: str, book: Book, provenance: Mapping[str, str] | None = None
) -> tuple[Records, list[Fault]]:
    """Read the records of one file of several; what they say of each other's records is not looked at."""
    reading = Reading(file, book, provenance=provenance or {})
    if not isinstance(raw, Mapping):
        what = f"An object with the season's records is wanted, but {shown(raw)} was found."
        return Records(Season()), [Fault(file, "", what, "Write an object in braces, { }.")]
    _frame(raw, reading)
    register = Register(reading.faults, reading.places)
    units: dict[str, str] = {}
    for place, entry in enumerate(_entries(raw, "trips", reading, "")):
        where = _place("trips", place, entry, reading)
        trip = read_trip(entry, reading, where)
        if trip is not None:
            register.add_trip(trip, file, where)
        else:
            _leave_out(entry, reading)
    reading.zone, reading.authority = reading.file_zone, ""
    for key, shape in _LISTS.items():
        for place, entry in enumerate(_entries(raw, key, reading, "")):
            where = _place(key, place, entry, reading)
            one = built(shape_of(shape), entry, reading, where)
            if isinstance(one, Movement):
                _note_unit(entry, one, reading, units)
            if one is not None:
                register.add(key, one, file, where)
    for key in ("people", "sites"):
        register.add_names(key, _names(raw.get(key), reading, key), file)
    return Records(register.season(), register.origins, units, reading.left_out), reading.faults


def _leave_out(raw: object, reading: Reading) -> None:
    """Keep the ids of a faulty record and of all within it: what speaks of them is not itself mistaken."""
    if isinstance(raw, Mapping):
        reading.left_out.add(str(raw.get("id")))
        for entry in (*_listed(raw, "hauls"), *_listed(raw, "lines")):
            _leave_out(entry, reading)


def _frame(raw: Mapping[Any, Any], reading: Reading) -> None:
    """Look at what stands around the records: format, zone, and keys that mean nothing."""
    if raw.get("format", FORMAT) != FORMAT:
        what = f"The format {shown(raw['format'])} is not a trips file's."
        reading.faults.append(Fault(reading.file, "format", what, f"Write '{FORMAT}'."))
    reading.faults += [unknown_key(reading.file, "", str(key), _FILE_KEYS) for key in raw if key not in _FILE_KEYS]
    if raw.get("zone"):
        try:
            reading.file_zone = reading.zone = zone(raw["zone"], reading, "zone")
        except ValueError as problem:
            reading.fault("zone", problem)


def _entries(raw: Mapping[Any, Any], key: str, reading: Reading, where: str) -> list[Any]:
    """Give the entries of a list, none where it is missing."""
    if raw.get(key) is None:
        return []
    try:
        return as_list(raw[key])
    except ValueError as problem:
        reading.fault(joined(where, key), problem)
        return []


def _place(key: str, place: int, entry: object, reading: Reading, before: str = "") -> str:
    """Name the place of a record: the spreadsheet's row where there is one, else its path with its id."""
    if reading.provenance:
        # A row may begin a trip, a haul and a line at once, so rows are told apart by the list.
        bare = f"{reading.bare_paths[_ABOVE[key], before]}: {key}[{place}]" if before else f"{key}[{place}]"
        row = reading.provenance.get(bare, bare)
        reading.bare_paths[key, row] = bare
        return row
    path = f"{before}: {key}[{place}]" if before else f"{key}[{place}]"
    own_id = entry.get("id") if isinstance(entry, Mapping) else None
    return f"{path} ({own_id})" if own_id not in (None, "") else path


def _names(raw: object, reading: Reading, key: str) -> dict[str, str]:
    if raw is None:
        return {}
    try:
        found: dict[str, str] = shape_of(Season).readers[key](raw, reading, key)
    except ValueError as problem:
        reading.fault(key, problem)
        return {}
    return found


def read_trip(raw: object, reading: Reading, where: str) -> Trip | None:
    """Read a trip with its hauls; None where its own fields are faulty, which is told."""
    reading.zone, reading.authority = reading.file_zone, ""
    if isinstance(raw, Mapping):
        if isinstance(raw.get("zone"), str):
            reading.zone = _zone_or(raw["zone"], reading)
        elif raw.get("zone") is None and reading.zone:
            raw = {**raw, "zone": reading.zone}
        reading.authority = str(raw.get("authority") or "")
    values = record(shape_of(Trip), raw, reading, where, _TRIP_OWN)
    if not isinstance(raw, Mapping):
        return None
    own = reading.authority
    hauls = []
    for place, entry in enumerate(_entries(raw, "hauls", reading, where)):
        reading.authority = own
        haul = read_haul(entry, reading, _place("hauls", place, entry, reading, where))
        if haul is not None:
            hauls.append(haul)
        else:
            _leave_out(entry, reading)
    parts = {
        key: _small(raw, key, shape, reading, where)
        for key, shape in (("readings", MeterReading), ("cleanings", Cleaning), ("attestations", Attestation))
    }
    crew = _small(raw, "crew", CrewMember, reading, where)
    if values is None or len(crew) < len(_listed(raw, "crew")):
        return None
    trip: Trip | None = made(Trip, {**values, **parts, "crew": crew, "hauls": tuple(hauls)}, reading, where)
    if trip is not None and trip.depart and trip.back and trip.back < trip.depart:
        reading.fault(joined(where, "back"), WrongValueError("The trip is back before it departed.", "Correct a time."))
        return None
    return trip


def _listed(raw: Mapping[Any, Any], key: str) -> list[Any]:
    return list(raw[key]) if isinstance(raw.get(key), list | tuple) else []


def _zone_or(name: str, reading: Reading) -> str:
    """Give the trip's zone, or the file's while its own is faulty (which is told with the trip's fields)."""
    try:
        return zone(name, reading, "")
    except ValueError:
        return reading.file_zone or "UTC"


def _small(raw: Mapping[Any, Any], key: str, shape: Any, reading: Reading, where: str) -> tuple[Any, ...]:
    """Read small records of a trip or haul; a faulty one is told and left out."""
    found = []
    for place, entry in enumerate(_entries(raw, key, reading, where)):
        one = built(shape_of(shape), entry, reading, joined(where, f"{key}[{place}]"))
        if one is not None:
            found.append(one)
    return tuple(found)


def read_haul(raw: object, reading: Reading, where: str) -> Haul | None:
    """Read a haul with its lines; None where its own fields are faulty, which is told."""
    values = record(shape_of(Haul), raw, reading, where, _HAUL_OWN)
    if not isinstance(raw, Mapping):
        return None
    own = reading.authority = str(raw.get("authority") or reading.authority)
    lines = []
    for place, entry in enumerate(_entries(raw, "lines", reading, where)):
        reading.authority = own
        line = read_line(entry, reading, _place("lines", place, entry, reading, where))
        if line is not None:
            lines.append(line)
        else:
            _leave_out(entry, reading)
    readings = _small(raw, "readings", MeterReading, reading, where)
    if values is None:
        return None
    haul: Haul | None = made(Haul, {**values, "lines": tuple(lines), "readings": readings}, reading, where)
    if haul is None or not _times_fit(haul, reading, where):
        return None
    reading.places["hauls", haul.id] = reading.file, where
    return haul


def _times_fit(haul: Haul, reading: Reading, where: str) -> bool:
    """See that a haul ends after it starts, and that a set was looked at in between."""
    if haul.end is not None and haul.end < haul.start:
        mend = "Correct one of the times; a haul over midnight ends on the next day."
        reading.fault(joined(where, "end"), WrongValueError("The haul ends before it starts.", mend))
        return False
    for at in haul.checks:
        if at < haul.start or (haul.end is not None and at > haul.end):
            what = "The set was looked at before it was set or after it was lifted."
            reading.fault(joined(where, "checks"), WrongValueError(what, "Correct the time."))
            return False
    return True


def read_line(raw: object, reading: Reading, where: str) -> Line | None:
    """Read a catch line; None where it is faulty, which is told."""
    kind = shape_of(Line)
    told = len(reading.faults)
    if isinstance(raw, Mapping) and raw.get("authority"):
        reading.authority = str(raw["authority"])
    values = record(kind, raw, reading, where, _LINE_OWN)
    if not isinstance(raw, Mapping):
        return None
    count = _line_count(raw, values, reading, where)
    measurements = _measurements(raw, reading, where)
    if values is None or count is None or len(reading.faults) > told:
        return None
    return _finished_line(kind, raw, values, count, measurements, reading, where)


def _finished_line(
    kind: RecordShape,
    raw: Mapping[Any, Any],
    values: dict[str, Any],
    count: CountText,
    measurements: tuple[Measurement, ...],
    reading: Reading,
    where: str,
) -> Line | None:
    """Put a line together; what it says of its count itself goes before what the count's text means."""
    values["count"] = count.count
    values.setdefault("unit", count.unit)
    values.setdefault("method", count.method)
    if count.raw_share:
        values.setdefault("raw_counted", count.raw_counted)
        values.setdefault("raw_share", count.raw_share)
    if count.measured_as:
        values.setdefault("measured_as", count.measured_as)
    written = str(raw["taxon"])
    if "name_as_written" not in values and written != values["taxon"]:
        values["name_as_written"] = written
    values["measurements"] = measurements
    line: Line | None = made(kind.shape, values, reading, where)
    if line is not None:
        reading.places["lines", line.id] = reading.file, where
    return line


def _line_count(
    raw: Mapping[Any, Any], values: Mapping[str, Any] | None, reading: Reading, where: str
) -> CountText | None:
    """Read a line's count: from its own words, or from what was counted in which share."""
    own = values or {}
    unit = own.get("unit", "")
    try:
        if raw.get("count") is not None:
            return reading.count(raw["count"], unit)
        if own.get("raw_share") and own.get("raw_counted") is not None:
            whole = raised_bounds(own["raw_counted"], own["raw_share"])
            return CountText(whole, "individuals", "raised", own["raw_counted"], own["raw_share"])
    except ValueError as problem:
        reading.fault(joined(where, "count"), problem)
        return None
    reading.faults.append(Fault(reading.file, where, "'count' is missing.", "Add 'count'."))
    return None


def _measurements(raw: Mapping[Any, Any], reading: Reading, where: str) -> tuple[Measurement, ...]:
    found = []
    for place, entry in enumerate(_entries(raw, "measurements", reading, where)):
        own = joined(where, f"measurements[{place}]")
        if not isinstance(entry, Mapping):
            what = f"An object is wanted here, but {shown(entry)} was found."
            reading.faults.append(Fault(reading.file, own, what, "Write an object in braces, { }."))
            continue
        kind = shape_of(Measurement)
        values = record(kind, entry, reading, own, frozenset({"values"}))
        lengths = _lengths(entry, reading, own)
        if values is not None:
            one = made(Measurement, {**values, "values": lengths}, reading, own)
            if one is not None:
                found.append(one)
    return tuple(found)


def _lengths(entry: Mapping[Any, Any], reading: Reading, where: str) -> tuple[int, ...]:
    measure = entry.get("measure")
    if entry.get("values") is None:
        reading.faults.append(Fault(reading.file, where, "'values' is missing.", "Add 'values'."))
    found = []
    for place, value in enumerate(_entries(entry, "values", reading, where)):
        try:
            found.append(tenths(measure if isinstance(measure, str) else "", value))
        except ValueError as problem:
            reading.fault(joined(where, f"values[{place}]"), problem)
    return tuple(found)


def _note_unit(raw: Mapping[Any, Any], movement: Movement, reading: Reading, units: dict[str, str]) -> None:
    """Keep the unit that a movement's count wrote, to be held against its line's."""
    count = reading.count(raw["count"], "any")
    if count.unit_written:
        units[movement.id] = count.unit
