"""What is wrong with an area's outline, and where; what merely looks wrong: swapped numbers, another datum.

Everything here answers with messages, never with an exception: the person who drew the area has to mend it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from api.domain.places.ellipsoid import WGS84, metres_per_degree, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

Reference: TypeAlias = tuple[float, float] | tuple[float, float, float, float]
"""A position (lon, lat) or another area's bounds (west, south, east, north), in WGS84 degrees."""

_NEAR_M = 100_000.0
_SHIFT_M = (1.0, 2_000.0)

_REASONS = {
    "Self-intersection": ("the outline crosses itself", "Put the corners in order there."),
    "Ring Self-intersection": ("the outline touches itself", "Part it there in two, or move the corner."),
    "Hole lies outside shell": ("a hole lies outside its outline", "Move it inside, or make it an area."),
    "Nested holes": ("one hole lies inside another", "Leave out the inner hole."),
    "Nested shells": ("one part lies inside another", "Leave out the inner part, or make it a hole."),
    "Interior is disconnected": ("holes cut the area in two", "Draw the two pieces as parts of their own."),
    "Duplicate Rings": ("the same outline is there twice", "Leave out one of the two."),
    "Too few points in geometry component": ("an outline has too few corners", "Give it at least three."),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class AreaFault:
    """One thing wrong with an outline: what, where (lon, lat; None for all of it), how to mend it."""

    what: str
    where: tuple[float, float] | None
    mend: str

    def __str__(self) -> str:
        """Give the fault, its place and its mending as plain sentences."""
        place = "" if self.where is None else f" at longitude {self.where[0]:.10g}, latitude {self.where[1]:.10g}"
        return f"{self.what[:1].upper()}{self.what[1:]}{place}. {self.mend}"


def ring_faults(ring: Sequence[tuple[float, float]]) -> list[AreaFault]:
    """Check the written corners of one outline (RFC 7946, 3.1.6): closed, and at least four positions."""
    if not ring:
        return [AreaFault("an outline has no corners", None, "Draw it, or leave it out.")]
    faults = []
    if ring[0] != ring[-1]:
        faults.append(AreaFault("an outline is not closed", ring[-1], "Repeat its first corner as its last."))
    first = ring[0]
    second = next((corner for corner in ring if corner != first), first)
    if all(corner in (first, second) for corner in ring):
        faults.append(
            AreaFault("an outline has fewer than three different corners", ring[0], "Add the missing corners.")
        )
    return faults


def faults_of(geometry: BaseGeometry) -> list[AreaFault]:
    """Name everything that keeps a geometry in WGS84 degrees from being used, each with its place."""
    if geometry.is_empty:
        return [AreaFault("the area is empty", None, "Draw its outline, or leave it out.")]
    if geometry.geom_type == "GeometryCollection":
        return [AreaFault("the area is a mixed collection", None, "Give polygons only, or lines only, or points only.")]
    xy = shapely.get_coordinates(geometry)
    faults = _number_faults(xy)
    if not faults:
        faults = _long_edges(geometry)
    if not faults and isinstance(geometry, Polygon | MultiPolygon):
        faults = _polygon_faults(geometry)
    return faults


def looks_swapped(geometry: BaseGeometry, reference: Sequence[Reference] = ()) -> AreaFault | None:
    """Tell when latitude and longitude look swapped.

    Either a latitude is impossible as written and possible when swapped; or, beside positions and bounds of
    the same work, the area lies far off as written and among them when swapped.
    """
    middle = _middle(geometry)
    if middle is None:
        return None
    _, south, _, north = geometry.bounds
    west, east = geometry.bounds[0], geometry.bounds[2]
    mend = "Give longitude first, then latitude."
    if max(abs(south), abs(north)) > 90:
        if max(abs(west), abs(east)) <= 90 and max(abs(south), abs(north)) <= 180:
            return AreaFault("latitude and longitude look swapped: a latitude is beyond 90 degrees", middle, mend)
        return None
    there = _positions(reference)
    far, near = _apart(middle, there), _apart((middle[1], middle[0]), there)
    if there and far > _among(there) >= near:
        what = (
            f"latitude and longitude look swapped: as written the area lies {far / 1000:,.0f} km from "
            "all else, swapped it lies among it"
        )
        return AreaFault(what, middle, mend)
    return None


def looks_misplaced(geometry: BaseGeometry, reference: Sequence[Reference]) -> AreaFault | None:
    """Tell when an area lies far from the positions and bounds of the same work, and why it may."""
    middle, there = _middle(geometry), _positions(reference)
    if middle is None or not there or abs(middle[1]) > 90:
        return None
    far = _apart(middle, there)
    if far <= _among(there):
        return None
    lon, lat = middle
    what = f"the area lies {far / 1000:,.0f} km from all else"
    for moved, mend in (
        ((lon, -lat), "Its latitude seems to lack its sign: south is negative."),
        ((-lon, lat), "Its longitude seems to lack its sign: west is negative."),
        ((-lon, -lat), "The signs of its latitude and longitude seem wrong: south and west are negative."),
        ((-lat, lon), "Latitude and longitude seem swapped, and a sign lost."),
        ((lat, -lon), "Latitude and longitude seem swapped, and a sign lost."),
    ):
        if _apart(moved, there) <= _among(there):
            return AreaFault(what, middle, mend)
    return AreaFault(what, middle, "Look whether the file declares the reference system (zone, datum) it was drawn in.")


def looks_shifted(geometry: BaseGeometry, same_area: BaseGeometry) -> AreaFault | None:
    """Tell when an outline is another outline of the same area moved as a whole, as a wrong datum does.

    Noticed between one metre and two kilometres; known datums differ from WGS84 by up to some hundred metres.
    """
    shift = _common_shift(geometry, same_area)
    if shift is None or not _SHIFT_M[0] <= math.hypot(*shift) <= _SHIFT_M[1]:
        return None
    east, north = shift
    parts = [
        f"{abs(metres):.3g} m {way}"
        for metres, way in (
            (north, "north" if north > 0 else "south"),
            (east, "east" if east > 0 else "west"),
        )
        if abs(metres) >= 0.05
    ]
    what = f"the outline has the shape of the one on record but lies {' and '.join(parts)} of it"
    mend = (
        "A wrong datum does that: declare the datum the file was drawn in, or confirm that the area "
        "was moved on purpose."
    )
    return AreaFault(what, _middle(geometry), mend)


def _number_faults(xy: Floats) -> list[AreaFault]:
    broken = ~np.isfinite(xy).all(axis=1)
    if broken.any():
        what = f"corner {int(broken.argmax()) + 1} is no number"
        return [AreaFault(what, None, "Give every corner a longitude and a latitude.")]
    size = np.abs(xy)
    off = (size[:, 1] > 90) | (size[:, 0] > 360)
    if not off.any():
        return []
    first = int(off.argmax())
    where = (float(xy[first, 0]), float(xy[first, 1]))
    if size.max() > 1e9:
        return [AreaFault("a corner lies nowhere on earth", where, "Give longitude and latitude in degrees.")]
    if (size > 360).any():
        return [
            AreaFault(
                "the coordinates look like metres, not degrees",
                where,
                "Declare the reference system they are in (zone, datum), or convert them to WGS84 degrees.",
            )
        ]
    swapped = looks_swapped(shapely.MultiPoint(xy))
    if swapped is not None:
        return [swapped]
    return [AreaFault("a latitude is beyond 90 degrees", where, "Latitudes lie between -90 and 90.")]


def _long_edges(geometry: BaseGeometry) -> list[AreaFault]:
    """Find edges that go more than half around the earth: nearly always an antimeridian crossed unawares."""
    lines = shapely.get_parts(geometry)
    if isinstance(geometry, Polygon | MultiPolygon):
        lines = shapely.get_rings(lines)
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    at_pole = (np.abs(xy[1:, 1]) == 90) & (xy[1:, 1] == xy[:-1, 1])
    # Around the whole earth from edge to edge of the map is meant: "all waters south of ...".
    around = (np.abs(xy[1:, 0]) == 180) & (np.abs(xy[:-1, 0]) == 180)
    long = (np.abs(np.diff(xy[:, 0])) > 180) & (owner[1:] == owner[:-1]) & ~at_pole & ~around
    if not long.any():
        return []
    lon, lat = xy[int(long.argmax())].tolist()
    return [
        AreaFault(
            "an edge goes more than half around the earth",
            (lon, lat),
            "Where it should cross the antimeridian, split the area there (RFC 7946, 3.1.9) or count "
            "longitudes on beyond 180.",
        )
    ]


def _polygon_faults(geometry: Polygon | MultiPolygon) -> list[AreaFault]:
    faults = [
        _named(str(shapely.is_valid_reason(part))) for part in shapely.get_parts(geometry) if not shapely.is_valid(part)
    ]
    if not faults and not shapely.is_valid(geometry):
        fault = _named(str(shapely.is_valid_reason(geometry)))
        crossing = fault.what == _REASONS["Self-intersection"][0]
        faults = [
            AreaFault("two parts overlap", fault.where, "Join the parts into one, or part them.") if crossing else fault
        ]
    if not faults and geometry.area == 0:
        faults = [AreaFault("the area has no extent", _middle(geometry), "Give it corners that are not in one line.")]
    return faults


def _named(reason: str) -> AreaFault:
    """Turn the geometry engine's reason, such as "Self-intersection[150.1 -36.2]", into plain words."""
    name, _, rest = reason.partition("[")
    what, mend = _REASONS.get(name.strip(), (f"the outline is not sound ({name.strip()})", "Redraw it there."))
    numbers = re.findall(r"-?[\d.]+(?:[eE][-+]?\d+)?", rest)
    where = (float(numbers[0]), float(numbers[1])) if len(numbers) >= 2 else None
    return AreaFault(what, where, mend)


def _middle(geometry: BaseGeometry) -> tuple[float, float] | None:
    west, south, east, north = geometry.bounds
    middle = ((west + east) / 2, (south + north) / 2)
    return middle if all(math.isfinite(value) for value in middle) else None


def _positions(reference: Sequence[Reference]) -> list[tuple[float, float]]:
    spots: list[tuple[float, float]] = []
    for item in reference:
        if len(item) == 4:
            west, south, east, north = item
            spots += [(west, south), (east, north), ((west + east) / 2, (south + north) / 2)]
        else:
            spots.append(item)
    return spots


def _apart(spot: tuple[float, float], others: Sequence[tuple[float, float]]) -> float:
    """Give the metres to the nearest of some positions; infinite where the spot is nowhere on earth."""
    if not others or abs(spot[1]) > 90:
        return math.inf
    lons, lats = np.array(others).T
    here = np.full(len(others), wrapped(spot[0]))
    return float(WGS84.inv(here, np.full(len(others), spot[1]), lons, lats)[2].min())


def _among(others: Sequence[tuple[float, float]]) -> float:
    """Give the metres within which something belongs to the same work: its own spread, at least 100 km."""
    lons, lats = np.array(others).T
    spread = WGS84.inv(lons.min(), lats.min(), lons.max(), lats.max())[2]
    return max(_NEAR_M, float(spread))


def _common_shift(geometry: BaseGeometry, other: BaseGeometry) -> tuple[float, float] | None:
    """Give the metres east and north that carry one outline onto another of the same shape, or None."""
    scale = np.array(metres_per_degree(_clamped((other.bounds[1] + other.bounds[3]) / 2)))
    here, there = shapely.get_coordinates(geometry) * scale, shapely.get_coordinates(other) * scale
    if here.shape == there.shape:
        moves = here - there
        shift = moves.mean(axis=0)
        stray = float(np.abs(moves - shift).max())
        return _pair(shift) if stray <= max(0.3, 0.05 * float(np.hypot(*shift))) else None
    if not (geometry.area and other.area and geometry.is_valid and other.is_valid):
        return None
    before = shapely.symmetric_difference(geometry, other).area
    degrees = shapely.get_coordinates(geometry.centroid)[0] - shapely.get_coordinates(other.centroid)[0]
    back = shapely.transform(geometry, lambda xy: xy - degrees)
    after = shapely.symmetric_difference(back, other).area
    return _pair(degrees * scale) if after < 0.2 * before else None


def _clamped(lat: float) -> float:
    return min(max(lat, -89.0), 89.0)


def _pair(values: Floats) -> tuple[float, float]:
    east, north = values.tolist()
    return east, north
