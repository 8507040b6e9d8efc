"""Tracks from a GPS device (GPX 1.1; 1.0 is tolerated): positions for hauls that have none of their own.

Only what was recorded is read: track points. A route is a plan and a waypoint a mark. Times are UTC, as GPX says
(https://www.topografix.com/GPX/1/1/). ``hdop`` is a factor of satellite geometry, not metres, and is ignored; a
radius is taken only from an element ``accuracy`` or ``radius_m`` in metres within a point's <extensions>.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import shapely

from api.domain.calendar import instant
from api.domain.places.ellipsoid import metres_per_degree
from api.domain.places.positions import Fix
from api.exchange.faults import Fault
from api.exchange.plain_words import shown
from api.exchange.printable import one_line
from api.exchange.xml_events import UnusableXmlError, walk_xml

MOST_FIXES = 50
MOST_POINTS = 200_000
TRACK_CONFIDENCE = 0.68
"""What a phone claims of the radius it writes into a track (Android, Location.getAccuracy: 68th percentile)."""

_MOST_LOOKED_AT = 5_000
_FINEST_M = 0.5
_MOST_BYTES = 50_000_000
_MOST_FAULTS = 100
_RADIUS_NAMES = ("accuracy", "radius_m")
_NEAR = timedelta(seconds=60)
_DECIMAL = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,20})?|\.\d{1,20})\Z", re.ASCII)
_PLAIN_NAME = re.compile(r"[^/\\\0:]{1,200}\.gpx", re.IGNORECASE)
_EXPORT = "Export the track again from the device."


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """One recorded position: WGS84 degrees, the time (UTC) and the radius in metres where they were recorded."""

    lat: float
    lon: float
    at: datetime | None = None
    radius_m: float | None = None


def read_gpx(path: Path) -> tuple[list[TrackPoint], list[Fault]]:
    """Read the points of every track in a file; never raises for what a file holds."""
    listener = _Track(path.name)
    try:
        if path.is_dir():
            return [], [Fault(path.name, "", "This is a folder, not a file.", "Name the track in it.")]
        size = path.stat().st_size
        if not 0 < size <= _MOST_BYTES:
            what = "The file is empty." if not size else f"The file is larger than {_MOST_BYTES // 1_000_000} MB."
            return [], [Fault(path.name, "", what, _EXPORT)]
        with path.open("rb") as stream:
            walk_xml(stream, listener)
    except OSError as error:
        what = f"The file cannot be opened ({error.strerror})."
        return [], [Fault(path.name, "", what, "Look at its name and place.")]
    except UnusableXmlError as error:
        return [], [Fault(path.name, "", f"The track cannot be read. {one_line(error.what)}", error.mend)]
    return listener.points, listener.every_fault()


class _Track:
    """Gathers the track points of a GPX document as it is read."""

    def __init__(self, file: str) -> None:
        self._file = file
        self.points: list[TrackPoint] = []
        self._faults: list[Fault] = []
        self._more = self._others = self._line = 0
        self._path: list[str] = []
        self._given: Mapping[str, str] = {}
        self._said: dict[str, str] = {}
        self._pieces: list[str] = []

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        """Hear an element begin."""
        if not self._path:
            self._root(name, attributes)
        self._path.append(name)
        self._pieces = []
        if name == "trkpt" and "extensions" not in self._path:
            self._given, self._said, self._line = attributes, {}, line
        elif name in ("wpt", "rtept"):
            self._others += 1

    def end(self, name: str) -> None:
        """Hear an element end."""
        self._path.pop()
        above = self._path[-1] if self._path else ""
        if name == "time" and above == "trkpt":
            self._said["time"] = "".join(self._pieces).strip()
        elif name in _RADIUS_NAMES and "extensions" in self._path and "trkpt" in self._path:
            self._said["radius"] = "".join(self._pieces).strip()
        elif name == "trkpt" and "extensions" not in self._path:
            self._finish_point()
        self._pieces = []

    def text(self, chunk: str) -> None:
        """Hear text; what is longer than any number or time is of no use."""
        if len(self._pieces) < 20:
            self._pieces.append(chunk[:60])

    def every_fault(self) -> list[Fault]:
        """Give what is wrong, the absence of any track included."""
        if self._more:
            self._faults.append(Fault(self._file, "", f"{self._more} more points are faulty.", _EXPORT))
            self._more = 0
        if not self.points and not self._faults:
            what = "The file holds no track"
            what += ", only marks or a route, which is a plan and no record." if self._others else "."
            self._faults.append(Fault(self._file, "", what, "Export the recorded track."))
        return self._faults

    def _root(self, name: str, attributes: Mapping[str, str]) -> None:
        version = attributes.get("version", "")
        if name != "gpx":
            raise UnusableXmlError(f"It is no GPX: it begins with <{name[:40]}>.", "Give a .gpx file.")
        if version not in ("1.0", "1.1"):
            raise UnusableXmlError(f"Its GPX version is {shown(version)}.", "Export it as GPX 1.1.")

    def _finish_point(self) -> None:
        if len(self.points) >= MOST_POINTS:
            raise UnusableXmlError(f"It holds more than {MOST_POINTS} points.", "Split the track by trip.")
        try:
            self.points.append(self._point())
        except ValueError as problem:
            if len(self._faults) >= _MOST_FAULTS:
                self._more += 1
                return
            what, _, mend = str(problem).partition("; ")
            self._faults.append(Fault(self._file, f"line {self._line}, point", one_line(what), mend or _EXPORT))

    def _point(self) -> TrackPoint:
        lat, lon = _number(self._given.get("lat"), "latitude"), _number(self._given.get("lon"), "longitude")
        radius = _number(self._said["radius"], "radius") if "radius" in self._said else None
        Fix(lat=lat, lon=lon, radius_m=radius)  # refuses what cannot be a position
        at = _time(self._said["time"]) if "time" in self._said else None
        return TrackPoint(lat, lon, at, radius)


def _number(text: str | None, what: str) -> float:
    """Read an xsd:decimal; NaN, the infinities and exponents are none."""
    if text is None:
        raise ValueError(f"The point has no {what}.")
    if _DECIMAL.match(text.strip()) is None:
        raise ValueError(f"The {what} {shown(text)} is not a number.")
    return float(text)


def _time(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
        # GPX 1.1: "Date and time are in Universal Coordinated Time (UTC), not local time", so without a zone too.
        return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise ValueError(f"The time {shown(text)} is not a time; it should read 2027-06-11T11:30:00Z.") from None


class _Timed:
    """The points that bear a time, in order of time."""

    def __init__(self, points: Sequence[TrackPoint]) -> None:
        pairs = sorted(((point.at, at) for at, point in enumerate(points) if point.at is not None))
        self._times = [time for time, _ in pairs]
        self._points = [points[at] for _, at in pairs]

    def __bool__(self) -> bool:
        return bool(self._points)

    def within(self, start: datetime, last: datetime) -> list[TrackPoint]:
        """Give the points from start to last, or else the nearest in time within a minute of them."""
        first, after = bisect_left(self._times, start), bisect_right(self._times, last)
        if first < after:
            return self._points[first:after]
        beside = [at for at in (first - 1, first) if 0 <= at < len(self._times)]
        away = {at: max(start - self._times[at], self._times[at] - last) for at in beside}
        nearest = min(beside, key=away.__getitem__, default=None)
        return [] if nearest is None or away[nearest] > _NEAR else [self._points[nearest]]

    def fixes(self, start: datetime, end: datetime | None, confidence: float) -> tuple[Fix, ...]:
        """Give the fixes of a haul, as ``fixes_between`` does."""
        return tuple(
            Fix(lat=point.lat, lon=point.lon, radius_m=point.radius_m, confidence=confidence, source="track")
            for point in _thinned(self.within(start, end or start))
        )


def fixes_between(
    points: Sequence[TrackPoint], start: datetime, end: datetime | None, confidence: float
) -> tuple[Fix, ...]:
    """Give the fixes of a haul from the points within its time, ends included, in order of time.

    More than ``MOST_FIXES`` are thinned so that the path keeps its shape: a swing into a closed area stays.
    Where no point lies within, the nearest in time within a minute stands for the haul. Points without a time
    are of no use. ``confidence`` is what the device claims of its radius.
    """
    return _Timed(points).fixes(start, end, confidence)


def _thinned(points: list[TrackPoint]) -> list[TrackPoint]:
    """Leave out the points that change the shape of the path least (Douglas and Peucker), the ends never."""
    if len(points) <= MOST_FIXES:
        return points
    # The time that thinning takes grows with the square of the points; no haul needs a point a second for hours.
    points = [*points[: -1 : -(-len(points) // _MOST_LOOKED_AT)], points[-1]]
    east, north = metres_per_degree(points[0].lat)
    across = [((point.lon - points[0].lon + 540) % 360 - 180) * east for point in points]
    along = [(point.lat - points[0].lat) * north for point in points]
    path = shapely.LineString(list(zip(across, along, range(len(points)), strict=True)))
    tolerance = _FINEST_M
    kept = list(range(len(points)))
    while len(kept) > MOST_FIXES:
        # The number of a point travels along as its height, which thinning leaves alone.
        kept = [round(corner[2]) for corner in path.simplify(tolerance, preserve_topology=False).coords]
        tolerance *= 2
    return [points[at] for at in kept]


def attach_tracks(raw: object, file: Path, provenance: Mapping[str, str] | None = None) -> list[Fault]:
    """Give hauls of a raw season that have no fixes those of a track; changes ``raw`` in place.

    The track is the file that a haul names under "track" ("creek.gpx", or {"file": "creek.gpx", "confidence":
    0.5}), else one beside ``file`` with its stem. Every "track" is taken out of ``raw`` again, since no record has
    such a field. A radius is taken at ``TRACK_CONFIDENCE`` unless the haul says otherwise.
    """
    return _Attaching(file, provenance or {}).run(raw)


class _Attaching:
    def __init__(self, file: Path, provenance: Mapping[str, str]) -> None:
        self._file, self._provenance = file, provenance
        self._faults: list[Fault] = []
        self._read: dict[str, _Timed] = {}

    def run(self, raw: object) -> list[Fault]:
        beside = self._beside()
        for trip_place, trip in _entries(raw, "trips"):
            zone = trip.get("zone") or (raw.get("zone") if isinstance(raw, Mapping) else "")
            for haul_place, haul in _entries(trip, "hauls"):
                place = f"{trip_place}: {haul_place}"
                named = haul.pop("track", None)
                if not haul.get("fixes"):
                    self._fill(haul, named, beside, zone, self._provenance.get(place, place))
        return self._faults

    def _beside(self) -> str:
        """Give the name of the track beside the file that has its stem, or "" where there is none."""
        stem = self._file.stem
        short = re.sub(r"(?i)[ _.-]*(trips|hauls|lines|readings)\Z", "", stem)
        wanted = [f"{name}.gpx".casefold() for name in (stem, short) if name]
        try:
            names = {one.name.casefold(): one.name for one in self._file.parent.iterdir()}
        except OSError:
            return ""
        return next((names[name] for name in wanted if name in names), "")

    def _fill(self, haul: dict[str, Any], named: object, beside: str, zone: object, where: str) -> None:
        try:
            name, confidence = _named_track(named, beside)
            start, end = _moment(haul.get("start"), zone), _moment(haul.get("end"), zone)
        except ValueError as problem:
            what, _, mend = str(problem).partition("; ")
            self._faults.append(Fault(self._file.name, where, one_line(what), mend))
            return
        if not name or start is None:
            return
        track = self._track(name)
        fixes = track.fixes(start, end, confidence)
        if fixes:
            haul["fixes"] = [_as_raw(fix) for fix in fixes]
        elif named is not None and track:
            what = f"The track {shown(name)} has no point within the time of this haul."
            self._faults.append(Fault(self._file.name, where, what, "Look at its clock, or name another track."))

    def _track(self, name: str) -> _Timed:
        if name not in self._read:
            points, faults = read_gpx(self._file.parent / name)
            self._faults += faults
            self._read[name] = _Timed(points)
            if points and not self._read[name]:
                mend = "Export the recorded track with its times."
                self._faults.append(Fault(name, "", "The points bear no times, so no haul can be found in it.", mend))
        return self._read[name]


def _entries(raw: object, key: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give the objects of a list with their places; whatever else the file holds is told elsewhere."""
    entries = raw.get(key) if isinstance(raw, Mapping) else None
    if isinstance(entries, list):
        for at, entry in enumerate(entries):
            if isinstance(entry, dict):
                yield f"{key}[{at}]", entry


def _named_track(named: object, beside: str) -> tuple[str, float]:
    """Give the name of the track to use ("" for none) and the confidence of its radii."""
    name: object = beside if named is None else named
    confidence: object = TRACK_CONFIDENCE
    if isinstance(named, Mapping):
        name, confidence = named.get("file"), named.get("confidence", TRACK_CONFIDENCE)
    if not isinstance(name, str) or (name and not _PLAIN_NAME.fullmatch(name)):
        raise ValueError(f"{shown(name)} is not the name of a track; write a .gpx file that lies beside this one")
    return name, _share(confidence)


def _share(confidence: object) -> float:
    text = str(confidence).strip()
    try:
        share = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        share = -1.0
    if not 0 < share < 1:
        raise ValueError(f"The confidence {shown(confidence)} does not lie between 0 and 1; write 0.68 or 68 %")
    return share


def _moment(text: object, zone: object) -> datetime | None:
    """Give a time of the raw season in UTC; None for what is no time, which is told elsewhere."""
    if not isinstance(text, str) or not isinstance(zone, str):
        return None
    try:
        return instant(text.strip(), zone or "UTC") if zone or text.strip()[-6:-5] in ("+", "-") else None
    except (ValueError, OverflowError):
        return None


def _as_raw(fix: Fix) -> dict[str, Any]:
    raw = {"lat": fix.lat, "lon": fix.lon, "confidence": fix.confidence, "source": fix.source}
    return raw if fix.radius_m is None else {**raw, "radius_m": fix.radius_m}
