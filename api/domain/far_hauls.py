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

from api.domain.ellipsoid import WGS84
from api.domain.outlines import normalised
from api.domain.place_answers import Area, PathAnswer
from api.domain.positions import Fix

_FAR_M = 150.0
"""Only hauls whose whole radius clears the edge by this much are told in bulk."""
_SURE = 0.96
"""What a flat map of up to a degree may overstate a distance by, with room to spare."""
_WIDEST_DEG = 1.0
_NORTHERNMOST = 70.0


def far_answers(area: Area, fixes: Sequence[Fix]) -> list[PathAnswer | None]:
    """Give the answer for each single fix that lies far from the area's edge, None for every other."""
    flat = _flattened(area.geometry, fixes)
    if flat is None:
        return [None] * len(fixes)
    shape, points, usable = flat
    inside = shapely.contains_xy(shape, points[:, 0], points[:, 1])
    away = np.asarray(shapely.distance(shapely.points(points), shape.boundary)) * _SURE
    return [
        _answer(area, fix, bool(side), float(metres)) if ok else None
        for fix, side, metres, ok in zip(fixes, inside, away, usable, strict=True)
    ]


def _flattened(
    geometry: BaseGeometry, fixes: Sequence[Fix]
) -> (
    tuple[BaseGeometry, np.ndarray[tuple[int, int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.bool_]]]
    | None
):
    """Lay area and fixes on a flat map in metres around the area's middle; None where that is no fair map."""
    shape = normalised(geometry)
    if shape.is_empty or shape.geom_type not in ("Polygon", "MultiPolygon"):
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


def _answer(area: Area, fix: Fix, inside: bool, metres: float) -> PathAnswer | None:
    radius = fix.radius_95_m
    if radius is None or metres - radius - area.edge_tolerance_m < _FAR_M:
        return None
    least = _floored(metres)
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
    """Cut a distance to one significant digit, so that "at least" is true."""
    step = 10.0 ** math.floor(math.log10(metres))
    return math.floor(metres / step) * step
