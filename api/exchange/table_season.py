"""The raw season (the shape of a trips file) made from gathered rows, with the row of every record in it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar, get_args

from api.domain.vocabulary import Role
from api.exchange import table_cells as cells
from api.exchange.plain_words import WrongValueError, shown
from api.exchange.table_cells import UNUSABLE, Cell
from api.exchange.table_records import Gathered, HaulKey, Placed, Record
from api.exchange.table_times import LocalTime, local_time, times_in_turn, within_half_a_day

FORMAT = "creekledger trips 1"
Raw = dict[str, Any]
Provenance = dict[str, str]
"""The row of each record by its place in the raw season ("trips[0]: hauls[2]: lines[5]").

The place below the row of the record around it ("sheet 'hauls', row 4: lines[5]") leads to the same row, since
faults are told on the way down.
"""

_T = TypeVar("_T")
_ROLES: tuple[str, ...] = get_args(Role)
_FATES = {"k": "kept", "r": "released", "d": "dead", "l": "lost"}
_DOUBTS = {"cf": "cf.", "aff": "aff."}
_GEAR = {"mesh": ("mesh_mm", "6 mm"), "length": ("length_mm", "12 m"), "opening": ("opening_mm", "40 cm")}
_HAUL_TEXTS = ("site", "waterbody", "authority", "person")
_LINE_TEXTS = ("method", "stage", "sex", "authority", "person", "container", "cause", "photo")


@dataclass(slots=True)
class _HaulDraft:
    """A haul under way: its raw form (None where it cannot stand), its place, its id and its start."""

    raw: Raw | None
    place: str
    id: str
    start: LocalTime | None
    typed: int = 0


def raw_season(found: Gathered, zone: str) -> tuple[Raw, Provenance]:
    """Make the raw season; faults go where those of the gathering went. ``zone`` is the file's ("" for none)."""
    builder = _Builder(found)
    builder.run()
    raw: Raw = {"format": FORMAT, "trips": builder.trips}
    if zone:
        raw["zone"] = zone
    return raw, builder.provenance


class _Reader:
    """Reads the cells of one record into its raw form, telling what cannot be read."""

    def __init__(self, found: Gathered, record: Record) -> None:
        self._found, self._record = found, record
        self.sound = True

    def cell(self, name: str) -> Placed | None:
        return self._record.cells.get(name)

    def read(self, name: str, reader: Callable[[Placed], _T]) -> _T | None:
        """Give what a column says; None where it is blank or faulty."""
        placed = self.cell(name)
        if placed is None:
            return None
        if placed.cell.kind in UNUSABLE:
            self.sound = False
            return None
        try:
            return reader(placed)
        except WrongValueError as problem:
            self._found.faults.add(placed.where, problem.what, problem.mend)
            self.sound = False
            return None

    def put(self, into: Raw, key: str, name: str, reader: Callable[[Cell], Any]) -> None:
        """Write what a column says under a key of the raw form."""
        value = self.read(name, lambda placed: reader(placed.cell))
        if value is not None:
            into[key] = value

    def fault(self, what: str, mend: str) -> None:
        """Tell of something wrong with the whole row."""
        self._found.faults.add(self._record.where, what, mend)
        self.sound = False


class _Builder:
    def __init__(self, found: Gathered) -> None:
        self._found = found
        self.trips: list[Raw] = []
        self.provenance: Provenance = {}
        self._days: dict[str, date | None] = {}
        self._departs: dict[str, LocalTime | None] = {}
        self._raw_trips: dict[str, tuple[Raw, str]] = {}
        self._drafts: dict[HaulKey, _HaulDraft] = {}
        self._first_of_day: dict[tuple[str, date], datetime] = {}
        self._ids: dict[str, str] = {}

    def run(self) -> None:
        """Build trips, then their hauls, then what stands in these."""
        for trip, record in self._found.trips.items():
            self._trip(trip, record)
        for key, record in self._found.hauls.items():
            self._haul(key, record)
        for key, record in self._found.lines:
            self._line(self._drafts[key], record)
        for key, record in self._found.readings:
            self._reading(key, record)
        for draft, record in zip(self._drafts.values(), self._found.hauls.values(), strict=True):
            self._see_whether_empty(draft, record)

    # --- trips

    def _trip(self, trip: str, record: Record) -> None:
        reader = _Reader(self._found, record)
        place = f"trips[{len(self.trips)}]"
        raw: Raw = {"id": trip}
        for key in ("zone", "leader", "authority", "status"):
            reader.put(raw, key, key, cells.name)
        reader.put(raw, "note", "note", cells.words)
        reader.put(raw, "crew", "crew", lambda cell: cells.crew(cell, _ROLES))
        reader.put(raw, "papers", "papers", cells.names)
        reader.put(raw, "paper_record", "entered from paper", cells.yes)
        day = reader.read("date", lambda placed: cells.day(placed.cell))
        depart = reader.read("depart", lambda placed: local_time(placed.cell, day))
        day = day or (depart.wall.date() if depart else None)
        back = reader.read("back", lambda placed: local_time(placed.cell, day, depart.wall if depart else None))
        raw.update({key: at.text for key, at in (("depart", depart), ("back", back)) if at is not None})
        self._days[trip], self._departs[trip] = day, depart
        self._raw_trips[trip] = (raw, place)
        self.trips.append(raw)
        self.provenance[place] = record.where

    # --- hauls

    def _haul(self, key: HaulKey, record: Record) -> None:
        trip, typed = key
        reader = _Reader(self._found, record)
        raw: Raw = {"id": f"{trip}-h{typed}" if typed.isdigit() else typed}
        start = self._start(trip, reader)
        if start is not None:
            raw["start"] = start.text
        self._haul_times(raw, start, reader)
        reader.put(raw, "kind", "kind", lambda cell: cells.name(cell).casefold())
        for name in _HAUL_TEXTS:
            reader.put(raw, name, name, cells.name)
        for name, take in (("lost", cells.yes), ("also under", cells.names), ("in sight", cells.yes)):
            reader.put(raw, name.replace(" ", "_"), name, take)
        reader.put(raw, "note", "note", cells.words)
        self._gear(raw, reader)
        self._fixes(raw, reader)
        self._draft(key, raw, start, record, reader)

    def _draft(self, key: HaulKey, raw: Raw, start: LocalTime | None, record: Record, reader: _Reader) -> None:
        held = self._ids.setdefault(raw["id"], record.where)
        if held != record.where:
            reader.fault(f"The haul {shown(raw['id'])} is in another trip too ({held}).", "Number hauls 1, 2, 3.")
        draft = _HaulDraft(None, "", raw["id"], start)
        self._drafts[key] = draft
        trip_raw, trip_place = self._raw_trips[key[0]]
        if start is None or held != record.where:
            return
        draft.raw = raw
        draft.place = self._add(trip_raw, "hauls", raw, trip_place, record)

    def _start(self, trip: str, reader: _Reader) -> LocalTime | None:
        """Give when a haul began; tells of a missing start, without which no haul can stand."""
        if reader.cell("start") is None:
            reader.fault("The haul has no start.", "Write when it was shot or set, as 21:30.")
            return None
        dated = reader.cell("date")
        day = reader.read("date", lambda placed: cells.day(placed.cell)) if dated else self._days[trip]
        if dated and day is None:
            return None
        depart = self._departs[trip]
        if dated and not dated.carried:
            start = reader.read("start", lambda placed: local_time(placed.cell, day))
        elif depart is not None and depart.wall.date() == day:
            start = reader.read("start", lambda placed: local_time(placed.cell, day, depart.wall))
        else:
            first = self._first_of_day.get((trip, day)) if day else None
            start = reader.read("start", lambda placed: within_half_a_day(placed.cell, day, first))
        if start is not None and day is not None:
            self._first_of_day.setdefault((trip, day), start.wall)
        return start

    def _haul_times(self, raw: Raw, start: LocalTime | None, reader: _Reader) -> None:
        day, wall = (start.wall.date(), start.wall) if start else (None, None)
        if start is not None:
            end = reader.read("end", lambda placed: local_time(placed.cell, day, wall))
            if end is not None:
                raw["end"] = end.text
            checks = reader.read("checks", lambda placed: times_in_turn(placed.cell, start))
            if checks is not None:
                raw["checks"] = checks

    def _gear(self, raw: Raw, reader: _Reader) -> None:
        gear: Raw = {}
        reader.put(gear, "gear", "gear", cells.name)
        for name, (key, example) in _GEAR.items():
            value = reader.read(name, _gear_length(example))
            if value is not None:
                gear[key] = value
        reader.put(gear, "number", "number", cells.whole)
        reader.put(gear, "tag", "tag", cells.name)
        reader.put(gear, "marked", "marked", cells.yes)
        if gear and "gear" not in gear and reader.cell("gear") is None:
            reader.fault("The row tells of gear without naming it.", "Write the kind of gear, as seine.")
        elif "gear" in gear:
            raw["gear"] = gear

    def _fixes(self, raw: Raw, reader: _Reader) -> None:
        fixes = [fix for fix in (self._fix(reader, "lat", "lon"), self._fix(reader, "end lat", "end lon")) if fix]
        shared: Raw = {}
        reader.put(shared, "radius_m", "radius m", _metres)
        reader.put(shared, "confidence", "confidence", cells.confidence)
        track = reader.read("track", lambda placed: cells.name(placed.cell))
        if fixes:
            raw["fixes"] = [{**fix, **shared} for fix in fixes]
        if track:
            raw["track"] = {"file": track, **({"confidence": shared["confidence"]} if "confidence" in shared else {})}

    def _fix(self, reader: _Reader, lat: str, lon: str) -> Raw | None:
        fix: Raw = {}
        reader.put(fix, "lat", lat, cells.number)
        reader.put(fix, "lon", lon, cells.number)
        if (reader.cell(lat) is None) != (reader.cell(lon) is None):
            there, missing = (lon, lat) if reader.cell(lat) is None else (lat, lon)
            reader.fault(f"The row has a '{there}' without a '{missing}'.", "Write both, or none.")
        return fix if len(fix) == 2 else None

    def _see_whether_empty(self, draft: _HaulDraft, record: Record) -> None:
        """Tell blank from zero: a haul without a catch line must say that nothing was caught."""
        reader = _Reader(self._found, record)
        nothing = reader.read("nothing caught", lambda placed: cells.yes(placed.cell))
        if nothing and draft.typed:
            reader.fault(f"The haul says that nothing was caught, and has {draft.typed} catch lines.", "Correct one.")
        if draft.raw is None or not reader.sound:
            return
        standing = draft.raw.get("kind") == "set" and "end" not in draft.raw
        if not (draft.typed or nothing or standing or draft.raw.get("lost")):
            mend = "Write its catch lines, or yes under 'nothing caught'."
            reader.fault("The haul has no catch line and does not say that nothing was caught.", mend)

    # --- catch lines and readings

    def _line(self, draft: _HaulDraft, record: Record) -> None:
        draft.typed += 1
        reader = _Reader(self._found, record)
        raw: Raw = {"id": f"{draft.id}-{draft.typed}"}
        reader.put(raw, "id", "line", lambda cell: self._line_id(draft, cells.name(cell)))
        for name, mend in (("taxon", "Write the name of the animal."), ("count", "Write how many, as 12 or ~200.")):
            if reader.cell(name) is None:
                reader.fault(f"The row has no {name}.", mend)
        reader.put(raw, "taxon", "taxon", cells.name)
        reader.put(raw, "count", "count", cells.count)
        reader.put(raw, "fate", "fate", lambda cell: _word(cell, _FATES))
        reader.put(raw, "doubt", "doubt", lambda cell: _word(cell, _DOUBTS))
        reader.put(raw, "one_of", "one of", cells.names)
        for name in _LINE_TEXTS:
            reader.put(raw, name, name, cells.name)
        reader.put(raw, "note", "note", cells.words)
        self._measured(raw, reader)
        wall = draft.start.wall if draft.start else None
        if wall is not None:
            self._put_time(raw, reader, wall.date(), wall)
        if reader.sound and draft.raw is not None:
            self._add(draft.raw, "lines", raw, draft.place, record)

    def _line_id(self, draft: _HaulDraft, typed: str) -> str:
        return f"{draft.id}-{typed}" if typed.isdigit() else typed

    def _measured(self, raw: Raw, reader: _Reader) -> None:
        unit = reader.read("length unit", lambda placed: cells.length_unit(placed.cell)) or ""
        values = reader.read("lengths", lambda placed: cells.lengths(placed.cell, unit or placed.unit))
        measure = reader.read("measure", lambda placed: cells.name(placed.cell))
        variant = reader.read("variant", lambda placed: cells.name(placed.cell))
        if values and not measure:
            reader.fault("The lengths do not say what was measured.", "Write it under 'measure', as total length.")
        elif values:
            raw["measurements"] = [{"measure": measure, "variant": variant or "", "values": values}]
        weight = reader.read("weight", lambda placed: cells.amount(placed.cell, placed.unit or "g", "12.5 g"))
        if weight is not None:
            raw["weight"] = weight

    def _reading(self, key: HaulKey, record: Record) -> None:
        reader = _Reader(self._found, record)
        draft = self._drafts.get(key)
        raw: Raw = {}
        for name in ("quantity", "value", "unit"):
            if reader.cell(name) is None:
                reader.fault(f"The reading has no {name}.", "Write what was read, the number and its unit.")
        reader.put(raw, "quantity", "quantity", lambda cell: cells.name(cell).casefold())
        reader.put(raw, "value", "value", cells.number_text)
        reader.put(raw, "unit", "unit", cells.name)
        reader.put(raw, "instrument", "instrument", cells.name)
        reader.put(raw, "note", "note", cells.words)
        start = draft.start if draft else self._departs[key[0]]
        if draft is None or start is not None:
            day = start.wall.date() if start else self._days[key[0]]
            self._put_time(raw, reader, day, start.wall if start else None)
        trip_raw, trip_place = self._raw_trips[key[0]]
        home, place = (draft.raw, draft.place) if draft else (trip_raw, trip_place)
        if reader.sound and home is not None:
            self._add(home, "readings", raw, place, record)

    def _put_time(self, raw: Raw, reader: _Reader, day: date | None, near: datetime | None) -> None:
        at = reader.read("time", lambda placed: within_half_a_day(placed.cell, day, near))
        if at is not None:
            raw["at"] = at.text

    def _add(self, home: Raw, key: str, raw: Raw, around: str, record: Record) -> str:
        """Put a record into the one around it; gives its place."""
        entries = home.setdefault(key, [])
        own = f"{key}[{len(entries)}]"
        entries.append(raw)
        self.provenance[f"{self.provenance[around]}: {own}"] = record.where
        self.provenance[f"{around}: {own}"] = record.where
        return f"{around}: {own}"


def _gear_length(example: str) -> Callable[[Placed], str]:
    return lambda placed: cells.amount(placed.cell, placed.unit, example)


def _word(cell: Cell, short: dict[str, str]) -> str:
    """Read a word of a list: in any case, or by the letter that stands for it on paper."""
    plain = cells.name(cell).casefold()
    return short.get(plain, plain)


def _metres(cell: Cell) -> float:
    """Read a radius in metres; "12 m" is what a device shows."""
    return cells.number(Cell(re.sub(r"\s*m\Z", "", cell.text), cell.kind, cell.moment))
