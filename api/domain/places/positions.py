"""A position and how far it may be off.

A device's "accuracy" is a radius with a claimed confidence, and the claims differ: a browser's is a 95 %
figure (W3C Geolocation), some phones' own apps give 68 %, a handheld's estimate is about 50 % (Chapman &
Wieczorek 2020, Georeferencing Best Practices). All are brought to 95 % here under one model: the error is
circular normal, so the distance from the true place follows the Rayleigh distribution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from api.domain.places.ellipsoid import metres_per_degree

JUDGED_CONFIDENCE = 0.95
"""Places are judged with the circle that holds this share of a device's readings."""

FARTHEST_M = 20_037_509
"""No two places lie further apart: half the equator of WGS 84, pi times 6378137 m (NGA.STND.0036)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A position in WGS84 degrees with the radius within which the device believes it to be.

    ``radius_m`` None means that no radius was recorded, which is not a radius of zero. ``confidence`` is the
    share of readings the device claims to lie within the radius. Raises ValueError with the value that is
    wrong.
    """

    lat: float
    lon: float
    radius_m: float | None = None
    confidence: float = JUDGED_CONFIDENCE
    source: str = "device"

    def __post_init__(self) -> None:
        """Refuse what cannot be a position."""
        _check_degrees("latitude", self.lat, 90)
        _check_degrees("longitude", self.lon, 180)
        if self.radius_m is not None:
            _check_radius(self.radius_m)
        _check_confidence(self.confidence)

    @property
    def radius_95_m(self) -> float | None:
        """The radius in metres brought to 95 %, or None where none was recorded."""
        return None if self.radius_m is None else radius_95(self.radius_m, self.confidence)


def radius_95(radius_m: float, confidence: float) -> float:
    """Give the radius in metres that holds 95 % of readings, from one that holds the share ``confidence``.

    Circular normal error: P(r) = 1 - exp(-r^2 / 2 sigma^2). Raises ValueError for a radius or confidence that
    cannot be.
    """
    _check_radius(radius_m)
    _check_confidence(confidence)
    return radius_m * math.sqrt(math.log1p(-JUDGED_CONFIDENCE) / math.log1p(-confidence))


def sigma_m(radius_m: float, confidence: float = JUDGED_CONFIDENCE) -> float:
    """Give the standard deviation along each axis, in metres, of the circular normal error of a radius."""
    _check_radius(radius_m)
    _check_confidence(confidence)
    return radius_m / math.sqrt(-2 * math.log1p(-confidence))


def precision_uncertainty_m(lat: float, precision_deg: float) -> float:
    """Give the uncertainty in metres of coordinates written only to ``precision_deg`` degrees.

    The diagonal of one step of latitude and longitude (Chapman & Wieczorek 2020, "Coordinate precision").
    """
    _check_degrees("latitude", lat, 90)
    if not (math.isfinite(precision_deg) and precision_deg > 0):
        raise ValueError(f"The coordinate precision {precision_deg} is not a step of degrees above zero.")
    east, north = metres_per_degree(lat)
    return precision_deg * math.hypot(east, north)


def grid_uncertainty_m(cell_m: float) -> float:
    """Give the uncertainty in metres of a grid square named by its centre: half the square's diagonal.

    Darwin Core, coordinateUncertaintyInMeters: 71 for a UTM coordinate to the nearest 100 m.
    """
    if not (math.isfinite(cell_m) and cell_m > 0):
        raise ValueError(f"The grid square of {cell_m} m has no size above zero.")
    return cell_m * math.sqrt(0.5)


def _check_degrees(name: str, value: float, limit: float) -> None:
    if not math.isfinite(value):
        raise ValueError(f"The {name} {value} is not a number of degrees.")
    if abs(value) > limit:
        raise ValueError(
            f"The {name} {value} lies outside -{limit} to {limit} degrees; "
            "look whether latitude and longitude are swapped."
        )


def _check_radius(radius_m: float) -> None:
    if not (math.isfinite(radius_m) and radius_m > 0):
        raise ValueError(f"The radius of {radius_m} m is not above zero; leave it empty where the device gave none.")
    if radius_m > FARTHEST_M:
        raise ValueError(f"The radius of {radius_m} m is wider than the earth; leave it empty where nobody knows it.")


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(
            f"The confidence {confidence} does not lie between 0 and 1 (0.95 for a browser, about 0.5 for a handheld)."
        )
