"""The slow and certain way to a boundary: a geodesic library of its own (geographiclib), point by point.

Edges are straight in longitude and latitude (RFC 7946, 3.1.1), so they are sampled in degrees; around the best
samples the smallest geodesic distance is closed in by golden section.
"""

from __future__ import annotations

import math
from itertools import pairwise

import shapely
from geographiclib.geodesic import Geodesic

GOLDEN = (math.sqrt(5) - 1) / 2


def metres(lon1: float, lat1: float, lon2: float, lat2: float) -> float:
    return Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2, Geodesic.DISTANCE)["s12"]


def boundary_distance_m(geometry, lon: float, lat: float, samples: int = 40) -> float:
    """Metres from a position to the nearest point of all rings of a polygon or multipolygon."""
    stretches = []
    for ring in shapely.get_rings(shapely.get_parts(geometry)):
        corners = shapely.get_coordinates(ring).tolist()
        for start, end in pairwise(corners):
            spots = [between(start, end, number / samples) for number in range(samples + 1)]
            away = [metres(lon, lat, *spot) for spot in spots]
            best = away.index(min(away))
            low, high = max(best - 1, 0) / samples, min(best + 1, samples) / samples
            stretches.append((away[best], start, end, low, high))
    stretches.sort(key=lambda stretch: stretch[0])
    return min(closed_in(lon, lat, *stretch[1:]) for stretch in stretches[:4])


def between(start, end, share: float) -> tuple[float, float]:
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def closed_in(lon, lat, start, end, low, high) -> float:
    for _ in range(45):
        width = (high - low) * GOLDEN
        if metres(lon, lat, *between(start, end, high - width)) < metres(lon, lat, *between(start, end, low + width)):
            high = low + width
        else:
            low = high - width
    return metres(lon, lat, *between(start, end, (low + high) / 2))
