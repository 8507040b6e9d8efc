"""Invented waters that several tests of areas share; longitude, latitude in WGS84."""

from __future__ import annotations

import shapely

from api.domain.places.areas import Fix
from api.domain.places.ellipsoid import WGS84

SQUARE = shapely.box(150.0, -36.02, 150.02, -36.0)
SPLIT = shapely.MultiPolygon([shapely.box(179.9, -17, 180, -16.9), shapely.box(-180, -17, -179.9, -16.9)])
ONWARD = shapely.box(179.9, -17, 180.1, -16.9)


def creek() -> shapely.Polygon:
    """A bent water with an island, about 4 km long."""
    shell = [
        (150.10, -36.20),
        (150.13, -36.21),
        (150.15, -36.20),
        (150.152, -36.205),
        (150.13, -36.22),
        (150.098, -36.208),
    ]
    island = [(150.120, -36.210), (150.122, -36.2105), (150.121, -36.2115)]
    return shapely.Polygon(shell, [island])


def moved(lon, lat, azimuth, distance) -> tuple[float, float]:
    x, y, _ = WGS84.fwd(lon, lat, azimuth, distance)
    return x, y


def at(lon, lat, radius=5.0) -> Fix:
    return Fix(lat=lat, lon=lon, radius_m=radius)
