"""Records put together, within a file and over several: the same record twice is one, two that differ a fault."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

from api.domain.trips import Haul, Line, Season, Trip
from api.exchange.faults import Fault

Origins: TypeAlias = dict[tuple[str, str], tuple[str, str]]
"""File and place of a record, by its list ("trips", "lines", ...) and id (its position, where it has none)."""

_OTHER_ID = "Give one of them an id of its own, or keep one of the two."


@dataclass(slots=True)
class Register:
    """What has been taken in so far; faults are added to the list given."""

    faults: list[Fault]
    places: Mapping[tuple[str, str], tuple[str, str]] = field(default_factory=dict)
    """Where hauls and lines stand; their trips' and lists' places are kept here as they are added."""
    origins: Origins = field(default_factory=dict)
    _trips: dict[str, Trip] = field(default_factory=dict)
    _as_read: dict[str, Trip] = field(default_factory=dict)
    _hauls: set[str] = field(default_factory=set)
    _lines: set[str] = field(default_factory=set)
    _lists: dict[str, list[Any]] = field(default_factory=dict)
    _known: dict[tuple[str, Hashable], Any] = field(default_factory=dict)
    _names: dict[str, Any] = field(default_factory=dict)

    def add_trip(self, trip: Trip, file: str, where: str) -> None:
        """Take a trip in, without those of its hauls and lines whose ids are taken."""
        known = self._as_read.get(trip.id)
        if known is not None:
            if known != trip:
                self._twice("trip", trip.id, file, where, ("trips", trip.id))
            return
        self._as_read[trip.id] = trip
        self.origins["trips", trip.id] = file, where
        hauls = tuple(kept for haul in trip.hauls if (kept := self._haul(haul, file, where)) is not None)
        same = all(kept is haul for kept, haul in zip(hauls, trip.hauls, strict=False))
        self._trips[trip.id] = trip if same and len(hauls) == len(trip.hauls) else replace(trip, hauls=hauls)

    def _haul(self, haul: Haul, file: str, where: str) -> Haul | None:
        if haul.id in self._hauls:
            self._twice("haul", haul.id, file, where, ("hauls", haul.id))
            return None
        self._hauls.add(haul.id)
        self.origins["hauls", haul.id] = self.places.get(("hauls", haul.id), (file, where))
        lines = tuple(line for line in haul.lines if self._line(line, file, where))
        return haul if len(lines) == len(haul.lines) else replace(haul, lines=lines)

    def _line(self, line: Line, file: str, where: str) -> bool:
        if line.id in self._lines:
            self._twice("catch line", line.id, file, where, ("lines", line.id))
            return False
        self._lines.add(line.id)
        self.origins["lines", line.id] = self.places.get(("lines", line.id), (file, where))
        return True

    def _twice(self, kind: str, own_id: str, file: str, where: str, key: tuple[str, str]) -> None:
        other, _ = self.origins.get(key, (file, ""))
        elsewhere = f"; the other one is in {other}" if other != file else ""
        what = f"Two {kind} records bear the id '{own_id}'{elsewhere}."
        self.faults.append(Fault(file, where, what, _OTHER_ID))

    def add(self, key: str, one: Any, file: str, where: str) -> None:
        """Take in an entry of one of the season's other lists."""
        mark: Hashable = getattr(one, "id", one)
        entries = self._lists.setdefault(key, [])
        origin = (key, str(mark) if mark is not one else str(len(entries)))
        known = self._known.get((key, mark))
        if known is None:
            self._known[key, mark] = one
            self.origins[origin] = file, where
            entries.append(one)
        elif known != one:
            self._twice(key.replace("_", " ").removesuffix("s"), str(mark), file, where, origin)

    def add_names(self, key: str, names: Mapping[str, str], file: str) -> None:
        """Take in names by their ids; two names for one id are a fault."""
        held = self._names.setdefault(key, {})
        for own_id, name in names.items():
            if held.setdefault(own_id, name) != name:
                what = f"'{own_id}' is called '{held[own_id]}' and '{name}'."
                self.faults.append(Fault(file, f"{key}: {own_id}", what, "Keep one of the names."))

    def add_season(self, season: Season, origins: Origins, file: str) -> None:
        """Take in everything that another file gave."""
        self.places = {**self.places, **origins}
        for trip in season.trips:
            self.add_trip(trip, file, origins.get(("trips", trip.id), (file, trip.id))[1])
        for key in ("notices", "incidents", "movements", "filings", "shared_totals", "corrections"):
            for place, one in enumerate(getattr(season, key)):
                where = origins.get((key, getattr(one, "id", str(place))), (file, f"{key}[{place}]"))[1]
                self.add(key, one, file, where)
        for key in ("people", "sites"):
            self.add_names(key, getattr(season, key), file)

    def season(self) -> Season:
        """Give everything taken in, in the order in which it came."""
        lists: dict[str, Any] = {key: tuple(entries) for key, entries in self._lists.items()}
        return Season(trips=tuple(self._trips.values()), **lists, **self._names)
