"""Where a haul lies, by brute force in the flat world of ``season_words``.

Every path is cut into points five centimetres apart and every point is measured against every edge with
school geometry in metres. The world is some 400 m across, where the flat and the ellipsoid differ by less
than five centimetres; positions nearer than that to a decision are never drawn.
"""

from __future__ import annotations

import functools
import itertools
import math

import numpy as np

from api.domain.places.positions import Fix
from tests.oracle import season_words as words

_STEP_M = 0.05
_BOXES = {  # west, south, east, north in metres; kept apart from the drawn areas on purpose
    "west reach": (0, 0, 200, 200),
    "east reach": (200, 0, 400, 200),
    "mud bay": (100, 100, 300, 350),
}
TOLERANCE = {"west reach": 0.0, "east reach": 3.0, "mud bay": 0.0, "seagrass line": 0.0, "heron roost": 3.0}


def reach_m(fix: Fix) -> float | None:
    """The radius that holds 95 %: for a circular normal error P(r) = 1 - exp(-r^2 / 2 s^2)."""
    if fix.radius_m is None:
        return None
    spread = fix.radius_m / math.sqrt(-2 * math.log(1 - fix.confidence))
    return spread * math.sqrt(-2 * math.log(1 - 0.95))


def _to_edges(points: np.ndarray, edges: list[tuple[float, float, float, float]]) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for x0, y0, x1, y1 in edges:
        dx, dy = x1 - x0, y1 - y0
        length = dx * dx + dy * dy
        along = 0.0 if length == 0 else ((points[:, 0] - x0) * dx + (points[:, 1] - y0) * dy) / length
        along = np.clip(along, 0, 1)
        best = np.minimum(best, np.hypot(points[:, 0] - x0 - along * dx, points[:, 1] - y0 - along * dy))
    return best


def _in_boxes(x: np.ndarray, y: np.ndarray, names: tuple[str, ...]) -> np.ndarray:
    found = np.zeros(len(x), dtype=bool)
    for name in names:
        west, south, east, north = _BOXES[name]
        found |= (west <= x) & (x <= east) & (south <= y) & (y <= north)
    return found


@functools.cache
def _outer_edges(names: tuple[str, ...]) -> list[tuple[float, float, float, float]]:
    """The edges of several boxes joined: every piece between two grid lines with inside on one side only."""
    xs = sorted({_BOXES[name][i] for name in names for i in (0, 2)})
    ys = sorted({_BOXES[name][i] for name in names for i in (1, 3)})

    def held(x: float, y: float) -> bool:
        return bool(_in_boxes(np.array([x]), np.array([y]), names)[0])

    edges = []
    for x in xs:
        for y0, y1 in itertools.pairwise(ys):
            if held(x - 1, (y0 + y1) / 2) != held(x + 1, (y0 + y1) / 2):
                edges.append((x, y0, x, y1))
    for y in ys:
        for x0, x1 in itertools.pairwise(xs):
            if held((x0 + x1) / 2, y - 1) != held((x0 + x1) / 2, y + 1):
                edges.append((x0, y, x1, y))
    return edges


def _signed(points: np.ndarray, names: tuple[str, ...]) -> np.ndarray:
    """Metres to the boundary of the joined areas, positive inside; a line or a point has no inside."""
    if names == ("seagrass line",):
        return -_to_edges(points, [(0, 300, 90, 300)])
    if names == ("heron roost",):
        return -_to_edges(points, [(350, 300, 350, 300)])
    away = _to_edges(points, _outer_edges(names))
    return np.where(_in_boxes(points[:, 0], points[:, 1], names), away, -away)


@functools.cache
def _stretches(fixes: tuple[Fix, ...], names: tuple[str, ...]) -> list[tuple[float, float, float | None]]:
    """Least and greatest signed distance and 95 % radius of each fix and of each line between two."""
    spots = [words.metres(fix.lon, fix.lat) for fix in fixes]
    found = []
    for spot, fix in zip(spots, fixes, strict=True):
        distance = float(_signed(np.array([spot]), names)[0])
        found.append((distance, distance, reach_m(fix)))
    for n in range(len(fixes) - 1):
        (x0, y0), (x1, y1) = spots[n], spots[n + 1]
        if (x0, y0) == (x1, y1):
            continue
        count = math.ceil(math.hypot(x1 - x0, y1 - y0) / _STEP_M) + 1
        points = np.column_stack((np.linspace(x0, x1, count), np.linspace(y0, y1, count)))
        distances = _signed(points, names)
        radii = [reach_m(fixes[n]), reach_m(fixes[n + 1])]
        radius = None if None in radii else max(radii)
        found.append((float(distances.min()), float(distances.max()), radius))
    return found


def lies(fixes: tuple[Fix, ...], names: tuple[str, ...]) -> str:
    """Whether the whole path is "in" or "out" of the areas joined, or "cannot tell"."""
    if not fixes:
        return "cannot tell"
    tolerance = max(TOLERANCE[name] for name in names)
    stretches = _stretches(fixes, names)
    if any(radius is None for _, _, radius in stretches):
        return "cannot tell"
    if all(least >= radius + tolerance for least, _, radius in stretches):
        return "in"
    if all(greatest <= -(radius + tolerance) for _, greatest, radius in stretches):
        return "out"
    return "cannot tell"


def leaves(fixes: tuple[Fix, ...], names: tuple[str, ...]) -> bool:
    """Whether the whole circle is outside somewhere on the path."""
    tolerance = max(TOLERANCE[name] for name in names)
    return any(radius is not None and least <= -(radius + tolerance) for least, _, radius in _stretches(fixes, names))


def enters(fixes: tuple[Fix, ...], name: str) -> bool:
    """Whether the whole circle is inside somewhere on the path."""
    return any(
        radius is not None and greatest >= radius + TOLERANCE[name]
        for _, greatest, radius in _stretches(fixes, (name,))
    )


def gap(fixes: tuple[Fix, ...], name: str) -> tuple[float, float] | None:
    """The least and the most metres that the path may keep from a feature; None where no radius is known."""
    low = high = math.inf
    for _, greatest, radius in _stretches(fixes, (name,)):
        if radius is None:
            return None
        reach = radius + TOLERANCE[name]
        low, high = min(low, -greatest - reach), min(high, -greatest + reach)
    return max(0.0, low), max(0.0, high)


_SETS = tuple(
    names
    for size in (1, 2, 3)
    for names in itertools.permutations(words.GROUNDS, size)
)  # fmt: skip
_DISTANCES_M = (50.0, 30.48)


def clear_cut(fixes: tuple[Fix, ...], margin_m: float) -> bool:
    """Whether every decision about the path would stand if every distance were off by the margin."""
    for names in (*{tuple(sorted(names)) for names in _SETS}, ("seagrass line",), ("heron roost",)):
        tolerance = max(TOLERANCE[name] for name in names)
        for least, greatest, radius in _stretches(fixes, names):
            if radius is None:
                continue
            limits = [radius + tolerance, -(radius + tolerance)]
            limits += [-(metres + way * (radius + tolerance)) for metres in _DISTANCES_M for way in (1, -1)]
            if any(abs(one - limit) < margin_m for one in (least, greatest) for limit in limits):
                return False
    return True
