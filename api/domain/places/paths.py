"""A haul against an area, judged along its whole length.

Between two fixes the haul is the straight line in longitude and latitude, the short way round, and its radius
is the larger of the two. The greatest distance along a line to a boundary is found by halving: on a stretch
it cannot exceed the best, over all pieces of boundary, of the worse of the stretch's two ends (distance to
one straight piece is convex).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString

from api.domain.places.answers import PathAnswer, Place, Verdict, geometry_of, tolerance_of
from api.domain.places.chances import probability_inside
from api.domain.places.ellipsoid import MEAN_RADIUS_M, space_points
from api.domain.places.outlines import Outline, normalised, outline_of
from api.domain.places.positions import Fix, sigma_m

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

_STEP_M = 400.0
_MOST_STEPS = 2000
_CLOSE_ENOUGH_M = 0.02


@dataclass(frozen=True, slots=True)
class _Extreme:
    """A signed distance in metres and where on the path it is."""

    distance_m: float
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A fix, or the line between two: its extremes against an outline and the 95 % radius there."""

    least: _Extreme
    greatest: _Extreme
    radius_m: float | None


def judge_path(place: Place, fixes: Sequence[Fix]) -> PathAnswer:
    """Judge a haul (its fixes in order, one or more) against an area; see PathAnswer.

    Raises ValueError when there is no fix.
    """
    outline, tolerance = outline_of(geometry_of(place)), tolerance_of(place)
    stretches = list(stretches_of(outline, fixes))
    least = min((one.least for one in stretches), key=lambda extreme: extreme.distance_m)
    greatest = max(one.greatest.distance_m for one in stretches)
    known = [(one, one.radius_m + tolerance) for one in stretches if one.radius_m is not None]
    all_known = len(known) == len(stretches)
    radius = max(fix.radius_95_m or 0.0 for fix in fixes) if all_known else None
    return PathAnswer(
        whole=_whole(known) if all_known else "cannot tell",
        least_m=least.distance_m,
        greatest_m=greatest,
        radius_m=radius,
        leaves_for_certain=any(one.least.distance_m <= -reach for one, reach in known),
        enters_for_certain=any(one.greatest.distance_m >= reach for one, reach in known),
        probability_inside=_chance(outline, stretches, least) if all_known else None,
    )


def stretches_of(outline: Outline, fixes: Sequence[Fix]) -> Iterator[Stretch]:
    """Give each fix with its own radius, and each line between two with the larger of theirs."""
    if not fixes:
        raise ValueError("The haul has no position; record at least one.")
    for fix in fixes:
        here = _Extreme(outline.signed_distance_m(fix.lon, fix.lat), fix.lon, fix.lat)
        yield Stretch(here, here, fix.radius_95_m)
    for start, end in pairwise(fixes):
        if (start.lon, start.lat) != (end.lon, end.lat):
            least, greatest = _extremes(outline, start, end)
            yield Stretch(least, greatest, _larger(start.radius_95_m, end.radius_95_m))


def _whole(known: Sequence[tuple[Stretch, float]]) -> Verdict:
    if all(one.least.distance_m >= reach for one, reach in known):
        return "inside"
    if all(one.greatest.distance_m <= -reach for one, reach in known):
        return "outside"
    return "cannot tell"


def _chance(outline: Outline, stretches: Sequence[Stretch], least: _Extreme) -> float:
    radius = next(one.radius_m for one in stretches if one.least is least)
    return probability_inside(outline, least.lon, least.lat, sigma_m(radius or 1.0))


def _larger(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else max(first, second)


def _extremes(outline: Outline, start: Fix, end: Fix) -> tuple[_Extreme, _Extreme]:
    """Give the least and the greatest signed distance on the line between two fixes."""
    inside, outside = _sides(outline, start, end)
    found = [_at(outline, *_farthest(outline, part)) for part in (*inside, *outside)]
    if not (inside and outside):  # all on one side: the nearest point is an extreme too
        found += [_at(outline, *_closest(outline, part)) for part in (*inside, *outside)]
    found += [_at(outline, lon, lat) for lon, lat in _crossings(outline, start, end)]
    found += [_at(outline, fix.lon, fix.lat) for fix in (start, end)]
    ranked = sorted(found, key=lambda extreme: extreme.distance_m)
    return ranked[0], ranked[-1]


def _at(outline: Outline, lon: float, lat: float) -> _Extreme:
    return _Extreme(outline.signed_distance_m(lon, lat), lon, lat)


def _line(start: Fix, end: Fix) -> BaseGeometry:
    """Give the straight line in degrees between two fixes, the short way round."""
    turn = (end.lon - start.lon + 180) % 360 - 180
    return normalised(LineString([(start.lon, start.lat), (start.lon + turn, end.lat)]))


def _crossings(outline: Outline, start: Fix, end: Fix) -> list[tuple[float, float]]:
    """Give where the line between two fixes crosses a line feature: from no end of either would that be seen."""
    if outline.polygonal:
        return []
    met = shapely.intersection(_line(start, end), outline.shape)
    return [(float(lon), float(lat)) for lon, lat in shapely.get_coordinates(met)]


def _sides(outline: Outline, start: Fix, end: Fix) -> tuple[list[Floats], list[Floats]]:
    """Split the line between two fixes into the parts inside and outside: lists of (m, 2) degrees."""
    line = _line(start, end)
    if not outline.polygonal:
        return [], _lines(line)
    return _lines(shapely.intersection(line, outline.shape)), _lines(shapely.difference(line, outline.shape))


def _lines(geometry: BaseGeometry) -> list[Floats]:
    flat = shapely.get_parts(shapely.get_parts(geometry))
    return [_sampled(shapely.get_coordinates(part)) for part in flat if part.length > 0]


def _sampled(corners: Floats) -> Floats:
    """Put points on a line so that neighbours are no farther apart than a chord stays true for."""
    reach = MEAN_RADIUS_M * np.radians(np.abs(np.diff(corners, axis=0))).sum()
    count = int(min(max(math.ceil(reach / _STEP_M), 1), _MOST_STEPS))
    shares = np.linspace(0, 1, count + 1)[:, None]
    if len(corners) > 2:
        return corners
    return corners[:1] * (1 - shares) + corners[-1:] * shares


def _farthest(outline: Outline, points: Floats) -> tuple[float, float]:
    """Give the lon, lat on a sampled line that is farthest from the boundary, to within two centimetres."""
    pieces = _pieces_that_matter(outline, points)
    reached = outline.distances_m(space_points(points), pieces)
    own = reached.min(axis=1)
    best, best_at = float(own.max()), points[int(own.argmax())]
    firsts, lasts, near, far = points[:-1], points[1:], reached[:-1], reached[1:]
    for _ in range(40):
        ceiling = np.maximum(near, far).min(axis=1)
        open_still = ceiling > best + _CLOSE_ENOUGH_M
        if not open_still.any():
            break
        firsts, lasts, near, far = firsts[open_still], lasts[open_still], near[open_still], far[open_still]
        middles = (firsts + lasts) / 2
        halfway = outline.distances_m(space_points(middles), pieces)
        own = halfway.min(axis=1)
        if own.max() > best:
            best, best_at = float(own.max()), middles[int(own.argmax())]
        firsts, lasts = np.concatenate((firsts, middles)), np.concatenate((middles, lasts))
        near, far = np.concatenate((near, halfway)), np.concatenate((halfway, far))
    return float(best_at[0]), float(best_at[1])


def _closest(outline: Outline, points: Floats) -> tuple[float, float]:
    """Give the lon, lat on a sampled line that does not cross the boundary where it comes nearest to it.

    Of two straight pieces that do not cross, one end of one is nearest.
    """
    pieces = _pieces_that_matter(outline, points)
    spots = space_points(points)
    own = outline.distances_m(spots, pieces).min(axis=1)
    best, at = float(own.min()), points[int(own.argmin())]
    legs = np.diff(spots, axis=1)
    corners = np.concatenate((outline.starts[pieces], outline.ends[pieces]))
    away = space_points(corners)[:, None, :] - spots[:, :-1, None]
    # Two fixes may differ in degrees and yet be one point in space, to the last digit: a leg of no length.
    squared = np.maximum((legs * legs).sum(axis=0), np.finfo(np.float64).tiny)
    shares = np.clip((away * legs[:, :, None]).sum(axis=0) / squared[:, None], 0, 1)
    away -= shares * legs[:, :, None]
    squares = (away * away).sum(axis=0)
    leg, corner = np.unravel_index(int(squares.argmin()), squares.shape)
    if squares[leg, corner] < best * best:
        at = points[leg] + (points[leg + 1] - points[leg]) * shares[leg, corner]
    return float(at[0]), float(at[1])


def _pieces_that_matter(outline: Outline, points: Floats) -> NDArray[np.intp]:
    """Give the pieces that can be nearest to any point of a line: others are too far from its middle."""
    middle = points[len(points) // 2]
    spots = space_points(points)
    apart = spots - spots[:, [len(points) // 2]]
    half = math.sqrt(float((apart * apart).sum(axis=0).max()))
    nearest = outline.nearest(float(middle[0]), float(middle[1]))[0]
    return outline.pieces_within(float(middle[0]), float(middle[1]), nearest + 2 * half + 1.0)
