"""Hauls far from an area's edge, told in bulk: on which side they lie, and how far at least.

Most hauls of a season lie far from most edges; to measure each to the centimetre would be most of the
work of judging. Whatever is not safely far is left to the exact way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from api.domain.places.answers import Area, PathAnswer
from api.domain.places.ellipsoid import WGS84
from api.domain.places.outlines import normalised
from api.domain.places.positions import Fix

_FAR_M = 25.0
"""Only hauls whose whole radius clears the edge by this much are told in bulk."""
_SURE = 0.96
"""What a flat map of up to a degree may overstate a distance by, with room to spare."""
_WIDEST_DEG = 1.0
_NORTHERNMOST = 70.0


def far_answers(area: Area, hauls: Sequence[Sequence[Fix]]) -> list[PathAnswer | None]:
    """Give the answer for each haul (its fixes in order) that lies far from the area's edge, None for any other."""
    found = _side_and_room(area.geometry, hauls)
    if found is None:
        return [None] * len(hauls)
    return [None if entry is None else _answer(area, fixes, *entry) for fixes, entry in zip(hauls, found, strict=True)]


def far_gaps(area: Area, hauls: Sequence[Sequence[Fix]], needed_m: float) -> list[float | None]:
    """Give how far at least each haul keeps from a feature it must stay away from; None where it is not far.

    Far: its whole radius and the edge's tolerance clear ``needed_m`` with room to spare, outside a polygon.
    """
    found = _side_and_room(area.geometry, hauls)
    if found is None:
        return [None] * len(hauls)
    gaps: list[float | None] = []
    for fixes, entry in zip(hauls, found, strict=True):
        radius = _radius(fixes)
        far = entry is not None and radius is not None and not entry[0]
        room = entry[1] - radius - area.edge_tolerance_m if entry is not None and radius is not None else 0.0
        gaps.append(_floored(room) if far and room > needed_m + _FAR_M else None)
    return gaps


def _side_and_room(geometry: BaseGeometry, hauls: Sequence[Sequence[Fix]]) -> list[tuple[bool, float] | None] | None:
    """Give for each haul whether it is inside, and metres that its whole line is surely away from the edge.

    No point of a line is farther from both its ends than half its length, so the edge is at least the
    nearest fix's distance less half the longest leg away; a line that cannot reach the edge is all on one side.
    """
    fixes = [fix for haul in hauls for fix in haul]
    flat = _flattened(geometry, fixes)
    if flat is None or not fixes:
        return None
    shape, points, usable = flat
    polygonal = shape.geom_type in ("Polygon", "MultiPolygon")
    edge = shape.boundary if polygonal else shape
    inside = shapely.contains_xy(shape, points[:, 0], points[:, 1]).tolist()
    away = (np.asarray(shapely.distance(shapely.points(points), edge)) * _SURE).tolist()
    legs = np.hypot(*np.diff(points, axis=0).T).tolist()
    fair = usable.tolist()
    found: list[tuple[bool, float] | None] = []
    place = 0
    for haul in hauls:
        end = place + len(haul)
        longest = max(legs[place : end - 1], default=0.0)
        room = min(away[place:end], default=0.0) - longest / 2 / _SURE
        one_side = all(inside[place:end]) or not any(inside[place:end])
        found.append((inside[place], room) if haul and all(fair[place:end]) and one_side and room > 0 else None)
        place = end
    return found


def _flattened(
    geometry: BaseGeometry, fixes: Sequence[Fix]
) -> (
    tuple[BaseGeometry, np.ndarray[tuple[int, int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.bool_]]]
    | None
):
    """Lay area and fixes on a flat map in metres around the area's middle; None where that is no fair map."""
    shape = normalised(geometry)
    if shape.is_empty:
        return None
    west, south, east, north = shape.bounds
    middle = (south + north) / 2
    if east - west > _WIDEST_DEG or north - south > _WIDEST_DEG or max(abs(south), abs(north)) > _NORTHERNMOST:
        return None
    across = float(WGS84.inv((west + east) / 2 - 0.005, middle, (west + east) / 2 + 0.005, middle)[2]) * 100
    along = float(WGS84.inv(west, middle - 0.005, west, middle + 0.005)[2]) * 100
    degrees = np.array([(fix.lon, fix.lat) for fix in fixes], dtype=float).reshape(-1, 2)
    usable = (
        (np.abs(degrees[:, 0] - (west + east) / 2) < _WIDEST_DEG)
        & (np.abs(degrees[:, 1] - middle) < _WIDEST_DEG)
        & (np.abs(degrees[:, 1]) < _NORTHERNMOST)
    )
    scale = np.array([across, along])
    return shapely.transform(shape, lambda corners: corners * scale), degrees * scale, usable


def _radius(fixes: Sequence[Fix]) -> float | None:
    """Give the largest 95 % radius of a haul's fixes, None where any has none."""
    radii = [fix.radius_95_m for fix in fixes]
    known = [radius for radius in radii if radius is not None]
    return max(known) if len(known) == len(radii) else None


def _answer(area: Area, fixes: Sequence[Fix], inside: bool, room: float) -> PathAnswer | None:
    radius = _radius(fixes)
    if radius is None or room - radius - area.edge_tolerance_m < _FAR_M:
        return None
    least = _floored(room)
    signed = least if inside else -least
    return PathAnswer(
        whole="inside" if inside else "outside",
        least_m=signed,
        greatest_m=signed,
        radius_m=radius,
        leaves_for_certain=not inside,
        enters_for_certain=inside,
        probability_inside=1.0 if inside else 0.0,
        far=True,
    )


def _floored(metres: float) -> float:
    """Cut a distance to two significant digits, so that "over" is true."""
    step = 10.0 ** (math.floor(math.log10(metres)) - 1)
    return math.floor(metres / step) * step
