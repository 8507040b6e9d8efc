"""Inside, outside or cannot tell: a fix against an area, in metres on the WGS84 ellipsoid.

Edges are straight in longitude and latitude (RFC 7946); distances are geodesic. A fix is inside only if its
whole 95 % radius is inside, outside only if all of it is outside; between them the chance of being inside is
given.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.domain.places.answers import (
    Area,
    Gap,
    PathAnswer,
    Place,
    PlaceAnswer,
    Verdict,
    geometry_of,
    together,
    tolerance_of,
    verdict_of,
)
from api.domain.places.chances import probability_inside
from api.domain.places.outlines import Outline, normalised, outline_of
from api.domain.places.paths import judge_path, stretches_of
from api.domain.places.positions import Fix, sigma_m

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = [
    "Area",
    "Fix",
    "Gap",
    "PathAnswer",
    "Place",
    "PlaceAnswer",
    "Verdict",
    "distance_to_m",
    "judge_fix",
    "judge_path",
    "judge_spot",
    "normalised",
    "signed_distance_m",
    "together",
    "verdicts_among",
]

_NO_DOUBT = 8.0
"""Standard deviations from the boundary at which the chance is 0 or 1 to twelve digits."""


def signed_distance_m(place: Place, lon: float, lat: float) -> float:
    """Give the geodesic metres from a position in degrees to an area's boundary, positive inside.

    Lines and points have no inside: the distance to them is negative or zero.
    """
    return outline_of(geometry_of(place)).signed_distance_m(lon, lat)


def judge_fix(place: Place, fix: Fix) -> PlaceAnswer:
    """Judge one fix against an area; see PlaceAnswer.

    A distance that equals the radius counts: the whole radius fits. Without a radius nothing can be told but
    the distance.
    """
    outline = outline_of(geometry_of(place))
    distance = outline.signed_distance_m(fix.lon, fix.lat)
    radius = fix.radius_95_m
    verdict = verdict_of(distance, radius, tolerance_of(place))
    if radius is None:
        return PlaceAnswer(verdict, distance, None, None)
    return PlaceAnswer(verdict, distance, radius, _chance(outline, fix, distance, sigma_m(radius)))


def judge_spot(place: Place, fix: Fix) -> PathAnswer:
    """Judge a haul of one fix: what ``judge_path`` gives for it, quicker."""
    answer = judge_fix(place, fix)
    return PathAnswer(
        whole=answer.verdict,
        least_m=answer.distance_m,
        greatest_m=answer.distance_m,
        radius_m=answer.radius_m,
        leaves_for_certain=answer.verdict == "outside",
        enters_for_certain=answer.verdict == "inside",
        probability_inside=answer.probability_inside,
    )


def verdicts_among(places: Iterable[Place], fix: Fix) -> tuple[Verdict, ...]:
    """Give only the verdicts of one fix against many areas: those far off cost a few microseconds."""
    radius = fix.radius_95_m
    verdicts: list[Verdict] = []
    for place in places:
        if radius is None:
            verdicts.append("cannot tell")
            continue
        outline, tolerance = outline_of(geometry_of(place)), tolerance_of(place)
        if outline.at_least_m(fix.lon, fix.lat) > radius + tolerance:
            verdicts.append("inside" if outline.holds(fix.lon, fix.lat) else "outside")
        else:
            distance = outline.signed_distance_m(fix.lon, fix.lat)
            verdicts.append(verdict_of(distance, radius, tolerance))
    return tuple(verdicts)


def distance_to_m(place: Place, where: Fix | Sequence[Fix]) -> Gap:
    """Give how far a fix or a haul is from a feature (area, line or point), in metres.

    Low, best and high are d - r, d and d + r, never below zero; an area's edge tolerance adds to r. A haul is
    as near as its nearest stretch.
    """
    outline, tolerance = outline_of(geometry_of(place)), tolerance_of(place)
    stretches = list(stretches_of(outline, [where] if isinstance(where, Fix) else where))
    # Signed distances grow inward, so the nearest approach to a feature is the greatest of them.
    gaps = [(-one.greatest.distance_m, one.radius_m) for one in stretches]
    best = max(0.0, min(gap for gap, _ in gaps))
    reaches = [(gap, radius + tolerance) for gap, radius in gaps if radius is not None]
    if len(reaches) < len(gaps):
        return Gap(None, best, None)
    low = max(0.0, min(gap - reach for gap, reach in reaches))
    return Gap(low, best, max(0.0, min(gap + reach for gap, reach in reaches)))


def _chance(outline: Outline, fix: Fix, distance: float, sigma: float) -> float:
    if abs(distance) > _NO_DOUBT * sigma:
        return float(distance > 0)
    return probability_inside(outline, fix.lon, fix.lat, sigma)
