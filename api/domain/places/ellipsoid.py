"""The WGS84 ellipsoid: degrees to metres, and places as points in space.

Points in space (earth-centred, x y z in metres) know no antimeridian and no pole, which is why boundaries are
searched there. Constants: WGS84, a = 6 378 137 m, 1/f = 298.257 223 563.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from pyproj import Geod

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SEMI_MAJOR_M = 6_378_137.0
ECCENTRICITY_2 = (2 - 1 / 298.257223563) / 298.257223563
MEAN_RADIUS_M = 6_371_008.8
WGS84 = Geod(ellps="WGS84")


def metres_per_degree(lat: float) -> tuple[float, float]:
    """Give the metres in one degree of longitude and of latitude at a latitude in degrees."""
    sine = math.sin(math.radians(lat))
    root = 1 - ECCENTRICITY_2 * sine * sine
    normal = SEMI_MAJOR_M / math.sqrt(root)
    east = normal * math.cos(math.radians(lat))
    north = normal * (1 - ECCENTRICITY_2) / root
    return math.radians(east), math.radians(north)


def space_points(lonlat: Floats) -> Floats:
    """Turn (n, 2) degrees of longitude and latitude into (3, n) metres, earth-centred."""
    lon, lat = np.radians(lonlat[:, 0]), np.radians(lonlat[:, 1])
    sine, cosine = np.sin(lat), np.cos(lat)
    normal = SEMI_MAJOR_M / np.sqrt(1 - ECCENTRICITY_2 * sine * sine)
    level = normal * cosine
    return np.stack((level * np.cos(lon), level * np.sin(lon), normal * (1 - ECCENTRICITY_2) * sine))


def space_point(lon: float, lat: float) -> tuple[float, float, float]:
    """Turn one longitude and latitude in degrees into x, y, z in metres (the quick form of space_points)."""
    sine, cosine = math.sin(math.radians(lat)), math.cos(math.radians(lat))
    normal = SEMI_MAJOR_M / math.sqrt(1 - ECCENTRICITY_2 * sine * sine)
    level = normal * cosine
    turn = math.radians(lon)
    return level * math.cos(turn), level * math.sin(turn), normal * (1 - ECCENTRICITY_2) * sine


def tangent_plane(lon: float, lat: float, points: Floats) -> Floats:
    """Lay (3, n) points in space on the plane touching the ellipsoid at a place: (2, n) metres east, north.

    Each point keeps its direction from the place and is set as far out as the arc to it is long (arc of the
    mean radius: right to 1e-4 m at 5 km).
    """
    turn, rise = math.radians(lon), math.radians(lat)
    x, y, z = (points[axis] - value for axis, value in enumerate(space_point(lon, lat)))
    east = math.cos(turn) * y - math.sin(turn) * x
    north = math.cos(rise) * z - math.sin(rise) * (math.cos(turn) * x + math.sin(turn) * y)
    flat = np.hypot(east, north)
    arc = arc_length(np.sqrt(x * x + y * y + z * z))
    stretch = np.divide(arc, flat, out=np.ones_like(flat), where=flat > 0)
    return np.stack((east * stretch, north * stretch))


def arc_length(chord: Floats) -> Floats:
    """Turn straight distances through the earth into distances along it, both in metres."""
    diameter = 2 * MEAN_RADIUS_M
    return diameter * np.arcsin(np.minimum(chord / diameter, 1.0))


def wrapped(lon: float) -> float:
    """Bring a longitude in degrees to -180 ... 180; what already lies there is not touched."""
    return lon if -180 <= lon <= 180 else (lon + 180) % 360 - 180
