"""The chance that the true place lies inside an area, for a circular normal error."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import owens_t

from api.domain.places.ellipsoid import tangent_plane

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from api.domain.places.outlines import Outline

    Floats = NDArray[np.float64]

_REACH = 8.0
"""Standard deviations beyond which an edge adds nothing (less than 1e-13)."""


def probability_inside(outline: Outline, lon: float, lat: float, sigma: float) -> float:
    """Integrate a circular normal error of ``sigma`` metres about a place over the area: 0 to 1.

    Exact for straight edges: in polar form the integral over a polygon is a sum over its edges, each of which
    is a difference of two values of Owen's T function (Owen 1956, Tables for computing bivariate normal
    probabilities). Every hole and part is among the edges; only those within eight sigma matter.
    """
    inside = outline.holds(lon, lat)
    pieces = outline.pieces_within(lon, lat, _REACH * sigma)
    if not pieces.size:
        return float(inside)
    origins = outline.origins[:, pieces]
    tips = origins + outline.steps[:, pieces]
    starts, ends = (tangent_plane(lon, lat, points) / sigma for points in (origins, tips))
    if _on_a_corner(starts):
        # Exactly on a corner the sum has no single value, though the chance has: step aside by nothing that
        # counts.
        starts, ends = (points - np.array([[5.4e-5], [8.4e-5]]) for points in (starts, ends))
    chance = -float(_swept(starts, ends).sum())
    # The sum over edges is right but for whole turns, which the side of the boundary settles.
    share = chance % 1.0
    return float(inside) if min(share, 1.0 - share) < 1e-9 else share


def _on_a_corner(starts: Floats) -> bool:
    return bool((np.hypot(*starts) < 1e-6).any())


def _swept(starts: Floats, ends: Floats) -> Floats:
    """Give, per edge in units of sigma, the part of the error that falls beyond it within the angle it spans.

    ``starts`` and ``ends`` are (2, n) as seen from the place; positive where the area's inside lies on this
    side.
    """
    along = ends - starts
    length = np.hypot(*along)
    length = np.where(length > 0, length, math.inf)
    across = (starts[0] * ends[1] - starts[1] * ends[0]) / length
    side = np.where(across >= 0, 1.0, -1.0)
    height = np.maximum(np.abs(across), 1e-12)
    first = (starts * along).sum(axis=0) / length
    last = (ends * along).sum(axis=0) / length
    return np.asarray(side * (owens_t(height, last / height) - owens_t(height, first / height)))
