"""A million fixes against many areas at once.

Most fixes are far from every edge and most of a boundary is far from any given fix, so each area carries a
coarse grid that says, per cell, how near and how far the boundary can be at least and at most. Only fixes
whose radius falls between the two are measured, first in a plane that is wrong by a known factor at most, and
only where that factor could matter on the ellipsoid itself. The verdicts are those of judge_fix.
"""

from __future__ import annotations

import math
import weakref
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt, label

from api.domain.places.answers import Place, geometry_of, tolerance_of, verdict_of
from api.domain.places.ellipsoid import metres_per_degree
from api.domain.places.outlines import Outline, outline_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]
    Verdicts = NDArray[np.int8]
    Indices = NDArray[np.intp]

INSIDE, CANNOT_TELL, OUTSIDE = 1, 0, -1
_CODES = {"inside": INSIDE, "cannot tell": CANNOT_TELL, "outside": OUTSIDE}

_CELLS = 128
_MARGIN = 0.05
_RADIUS_CLASSES_M = (200.0, 5_000.0, 100_000.0)
_BANDS = 65_000
_POLEWARD_DEG = 85.0
_WIDEST_DEG = 350.0


def judge_many(places: Sequence[Place], lons: Floats, lats: Floats, radii_95: Floats) -> Verdicts:
    """Judge n fixes against m areas: an (m, n) array of 1 inside, 0 cannot tell, -1 outside.

    ``lons`` and ``lats`` are (n,) WGS84 degrees, ``radii_95`` (n,) metres at 95 % with NaN where none was
    recorded (always "cannot tell"). Raises ValueError when lengths differ or a value cannot be.
    """
    lons, lats, radii = (np.asarray(values, dtype=np.float64) for values in (lons, lats, radii_95))
    _check(lons, lats, radii)
    verdicts = np.full((len(places), len(lons)), OUTSIDE, dtype=np.int8)
    verdicts[:, np.isnan(radii)] = CANNOT_TELL
    for batch in _batches(lons, lats, radii):
        for row, place in zip(verdicts, places, strict=True):
            _judge_batch(place, batch, row)
    return verdicts


def _check(lons: Floats, lats: Floats, radii: Floats) -> None:
    if not (lons.ndim == 1 and lons.shape == lats.shape == radii.shape):
        raise ValueError(
            "Longitudes, latitudes and radii must be lists of one length, not "
            f"{lons.shape}, {lats.shape} and {radii.shape}."
        )
    if not (np.abs(lats) <= 90).all() or not (np.abs(lons) <= 180).all():
        raise ValueError("Some position is no number, or lies outside -90 to 90 or -180 to 180 degrees.")
    if (radii <= 0).any() or np.isinf(radii).any():
        raise ValueError("Some radius is not a number of metres above zero; use NaN where none was recorded.")


@dataclass(frozen=True, slots=True)
class _Batch:
    """Fixes of like radius in order of latitude; ``index`` says where each belongs."""

    lons: Floats
    lats: Floats
    radii: Floats
    index: Indices
    bands: NDArray[np.uint16]
    south: float
    band_deg: float
    largest_m: float

    def rows_between(self, south: float, north: float) -> slice:
        """Give the run of fixes that holds all between two latitudes (and at most one band more)."""
        first = min(max(math.floor((south - self.south) / self.band_deg), 0), _BANDS + 1)
        last = min(max(math.floor((north - self.south) / self.band_deg), -1), _BANDS)
        if last < first:
            return slice(0, 0)
        return slice(
            int(np.searchsorted(self.bands, np.uint16(first), "left")),
            int(np.searchsorted(self.bands, np.uint16(last), "right")),
        )


def _batches(lons: Floats, lats: Floats, radii: Floats) -> Iterator[_Batch]:
    """Part the fixes into classes of radius: one phone off by kilometres must not slow all others."""
    classes = np.searchsorted(_RADIUS_CLASSES_M, radii)  # NaN sorts last, into the class of the huge
    for number in range(len(_RADIUS_CLASSES_M) + 1):
        chosen = np.flatnonzero((classes == number) & ~np.isnan(radii))
        if chosen.size:
            yield _batch(lons[chosen], lats[chosen], radii[chosen], chosen)


def _batch(lons: Floats, lats: Floats, radii: Floats, index: Indices) -> _Batch:
    south = float(lats.min())
    band_deg = max((float(lats.max()) - south) / _BANDS, 1e-12)
    bands = ((lats - south) / band_deg).astype(np.uint16)
    order = np.argsort(bands, kind="stable")  # 16-bit keys are sorted by counting, three times as quick
    return _Batch(
        lons=lons[order],
        lats=lats[order],
        radii=radii[order],
        index=index[order],
        bands=bands[order],
        south=south,
        band_deg=band_deg,
        largest_m=float(radii.max()),
    )


def _judge_batch(place: Place, batch: _Batch, row: Verdicts) -> None:
    outline, tolerance = outline_of(geometry_of(place)), tolerance_of(place)
    reach = batch.largest_m + tolerance
    plan = _plan_of(outline)
    if plan is None or reach > _RADIUS_CLASSES_M[-1] or not plan.good_for(reach):
        _judge_one_by_one(outline, tolerance, batch, row)
        return
    rows = batch.rows_between(plan.south - plan.up(reach), plan.north + plan.up(reach))
    lons, lats = plan.turned(batch.lons[rows]), batch.lats[rows]
    across, up = plan.across(reach), plan.up(reach)
    near = np.flatnonzero(
        (lons >= plan.west - across)
        & (lons <= plan.east + across)
        & (lats >= plan.south - up)
        & (lats <= plan.north + up)
    )
    radii = batch.radii[rows][near] + tolerance
    verdicts = plan.verdicts(lons[near], lats[near], radii, reach)
    index = batch.index[rows][near]
    row[index] = verdicts
    for place_in_run in np.flatnonzero(verdicts == _MEASURE):
        at = int(near[place_in_run]) + rows.start
        distance = outline.signed_distance_m(float(batch.lons[at]), float(batch.lats[at]))
        row[batch.index[at]] = _CODES[verdict_of(distance, float(batch.radii[at]), tolerance)]


def _judge_one_by_one(outline: Outline, tolerance: float, batch: _Batch, row: Verdicts) -> None:
    """Judge where no plane will do: over a pole, around the earth, or radii beyond a hundred kilometres."""
    for lon, lat, radius, index in zip(
        batch.lons.tolist(), batch.lats.tolist(), batch.radii.tolist(), batch.index.tolist(), strict=True
    ):
        row[index] = _CODES[verdict_of(outline.signed_distance_m(lon, lat), radius, tolerance)]


_MEASURE = 2
"""Stands for "measure this one on the ellipsoid" between two steps; never in an answer."""


@dataclass(frozen=True, slots=True)
class _Plan:
    """An area laid flat: x = longitude (turned by ``turn`` degrees) and y = latitude, scaled to metres.

    ``nearest_m`` and ``farthest_m`` bound, per cell of the grid, the planar distance to the boundary;
    ``side`` says on which side a cell lies that the boundary does not touch.
    """

    turn: float
    west: float
    south: float
    east: float
    north: float
    scale: tuple[float, float]
    shape: BaseGeometry
    boundary: BaseGeometry
    cell: tuple[float, float]
    corner: tuple[float, float]
    nearest_m: Floats
    farthest_m: Floats
    side: NDArray[np.int8]

    def turned(self, lons: Floats) -> Floats:
        """Bring longitudes into the range in which the area is in one piece."""
        return lons if self.turn == 0 else (lons - self.turn + 180) % 360 - 180

    def up(self, metres: float) -> float:
        """Give degrees of latitude that are surely no less than these metres."""
        return metres / 110_000.0

    def across(self, metres: float) -> float:
        """Give degrees of longitude that are surely no less than these metres, anywhere within reach."""
        poleward = min(max(abs(self.south), abs(self.north)) + self.up(metres), 89.9)
        return 1.001 * metres / metres_per_degree(poleward)[0]

    def good_for(self, reach: float) -> bool:
        """Tell whether the plane holds this area and its surroundings."""
        poleward = max(abs(self.south), abs(self.north)) + self.up(reach)
        return poleward < _POLEWARD_DEG and self.east - self.west + 2 * self.across(reach) < _WIDEST_DEG

    def stretch(self, reach: float) -> tuple[float, float]:
        """Give by which factors, at least and at most, true metres differ from the plane's within reach."""
        low, high = self.south - self.up(reach), self.north + self.up(reach)
        lats = [low, high, min(max(0.0, low), high)]
        ratios = [true / flat for lat in lats for true, flat in zip(metres_per_degree(lat), self.scale, strict=True)]
        # A path between two places may bend a little out of the band of latitudes: a hundredth of a per cent
        # more.
        return min(ratios) * 0.9999, max(ratios) * 1.0001

    def verdicts(self, lons: Floats, lats: Floats, radii: Floats, reach: float) -> NDArray[np.int8]:
        """Judge fixes near the area, radii including the edge's tolerance; 2 where the plane cannot tell."""
        least, most = self.stretch(reach)
        nearest, farthest, verdicts = self._looked_up(lons, lats)
        verdicts[radii > farthest * most] = CANNOT_TELL
        doubtful = np.flatnonzero((radii > nearest * least) & (radii <= farthest * most))
        if doubtful.size:
            verdicts[doubtful] = self._measured(lons[doubtful], lats[doubtful], radii[doubtful], least, most)
        return verdicts

    def _looked_up(self, lons: Floats, lats: Floats) -> tuple[Floats, Floats, NDArray[np.int8]]:
        columns = ((lons - self.corner[0]) * (1 / self.cell[0])).astype(np.intp) + 1
        rows = ((lats - self.corner[1]) * (1 / self.cell[1])).astype(np.intp) + 1
        # The frame of cells around the grid stands for everything beyond it, of which nothing is known.
        np.clip(columns, 0, _CELLS + 1, out=columns)
        np.clip(rows, 0, _CELLS + 1, out=rows)
        cells = rows * (_CELLS + 2) + columns
        return self.nearest_m[cells], self.farthest_m[cells], self.side[cells]

    def _measured(self, lons: Floats, lats: Floats, radii: Floats, least: float, most: float) -> NDArray[np.int8]:
        points = np.asarray(shapely.points(lons * self.scale[0], lats * self.scale[1]))
        maybe = np.flatnonzero(_within(self.boundary, points, radii / least))
        surely = _within(self.boundary, points[maybe], radii[maybe] / most)
        verdicts = np.where(shapely.contains_xy(self.shape, lons, lats), INSIDE, OUTSIDE).astype(np.int8)
        verdicts[maybe] = np.where(surely, CANNOT_TELL, _MEASURE)
        return verdicts


_PLANS: weakref.WeakKeyDictionary[Outline, _Plan | None] = weakref.WeakKeyDictionary()


def _within(boundary: BaseGeometry, points: NDArray[np.object_], reaches: Floats) -> NDArray[np.bool_]:
    """Tell which points lie within a distance of their own (the library's hints know only one for all)."""
    return np.asarray(shapely.dwithin(boundary, points, reaches))  # type: ignore[call-overload]


def _plan_of(outline: Outline) -> _Plan | None:
    """Lay an outline flat, once; None where it cannot be (a line or point, or an area around the earth)."""
    if outline not in _PLANS:
        _PLANS[outline] = _planned(outline)
    return _PLANS[outline]


def _planned(outline: Outline) -> _Plan | None:
    if not outline.polygonal or not outline.starts.size:
        return None
    west, _, east, _ = outline.bounds
    # Near the antimeridian the plane is centred on it, so that no area and no radius is cut there.
    turn = 0.0 if west > -175 and east < 175 else 180.0
    shape = _turned(outline.shape, turn)
    west, south, east, north = shape.bounds
    if east - west >= _WIDEST_DEG or max(abs(south), abs(north)) >= _POLEWARD_DEG:
        return None
    scale = metres_per_degree((south + north) / 2)
    starts, ends = _turned_pieces(outline, turn)
    cell = ((east - west) * (1 + 2 * _MARGIN) / _CELLS, (north - south) * (1 + 2 * _MARGIN) / _CELLS)
    corner = (west - _MARGIN * (east - west), south - _MARGIN * (north - south))
    nearest, farthest, side = _grid(shape, (starts, ends), corner, cell, scale)
    lines = np.asarray(shapely.linestrings(np.stack((starts * scale, ends * scale), axis=1)))
    boundary = shapely.line_merge(shapely.MultiLineString(list(lines)))
    shapely.prepare(boundary)
    shapely.prepare(shape)
    return _Plan(
        turn=turn,
        west=west,
        south=south,
        east=east,
        north=north,
        scale=scale,
        shape=shape,
        boundary=boundary,
        cell=cell,
        corner=corner,
        nearest_m=nearest,
        farthest_m=farthest,
        side=side,
    )


def _turned(shape: BaseGeometry, turn: float) -> BaseGeometry:
    """Move an area to longitudes counted from ``turn`` and join what was split at the antimeridian."""
    copy = shapely.from_wkb(shapely.to_wkb(shape))
    if turn == 0:
        return copy
    moved = []
    for part in shapely.get_parts(copy):
        west, _, east, _ = part.bounds
        shift = turn + 360 * round(((west + east) / 2 - turn) / 360)
        moved.append(shapely.set_coordinates(part, shapely.get_coordinates(part) - (shift, 0.0)))
    return shapely.union_all(moved)


def _turned_pieces(outline: Outline, turn: float) -> tuple[Floats, Floats]:
    if turn == 0:
        return outline.starts, outline.ends
    middle = (outline.starts[:, 0] + outline.ends[:, 0]) / 2
    shift = np.zeros_like(outline.starts)
    shift[:, 0] = turn + 360 * np.round((middle - turn) / 360)
    return outline.starts - shift, outline.ends - shift


def _grid(
    shape: BaseGeometry,
    pieces: tuple[Floats, Floats],
    corner: tuple[float, float],
    cell: tuple[float, float],
    scale: tuple[float, float],
) -> tuple[Floats, Floats, NDArray[np.int8]]:
    """Give, with a frame of unknown cells, the bounds on the distance to the boundary, and the sides."""
    size = (cell[0] * scale[0], cell[1] * scale[1])
    step = min(size) / 2
    marked = np.ones((_CELLS, _CELLS), dtype=bool)
    spots = ((_strewn(*pieces, scale, step) - corner) / cell).astype(np.intp)
    np.clip(spots, 0, _CELLS - 1, out=spots)
    marked[spots[:, 1], spots[:, 0]] = False
    between = np.asarray(distance_transform_edt(marked, sampling=(size[1], size[0])))
    diagonal = math.hypot(*size)
    nearest = between - diagonal - step
    side = _sides(shape, nearest > 0, corner, cell)
    return (
        np.pad(nearest, 1, constant_values=-1.0).ravel(),
        np.pad(between + diagonal + step, 1, constant_values=np.inf).ravel(),
        np.pad(side, 1).ravel(),
    )


def _strewn(starts: Floats, ends: Floats, scale: tuple[float, float], step: float) -> Floats:
    """Put points on the boundary so that every place of it is within half a step of one."""
    counts = np.maximum(np.ceil(np.hypot(*((ends - starts) * scale).T) / step), 1).astype(np.intp)
    piece = np.repeat(np.arange(len(counts)), counts)
    rank = np.arange(len(piece)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = ((rank + 0.5) / counts[piece])[:, None]
    return np.asarray(starts[piece] * (1 - share) + ends[piece] * share)


def _sides(
    shape: BaseGeometry, free: NDArray[np.bool_], corner: tuple[float, float], cell: tuple[float, float]
) -> NDArray[np.int8]:
    """Tell the side of cells the boundary does not touch: neighbours share it, so few are asked."""
    labels, count = label(free)
    asked = np.zeros(count + 1, dtype=np.intp)
    asked[labels.ravel()] = np.arange(labels.size)
    rows, columns = np.divmod(asked, _CELLS)
    inside = shapely.contains_xy(shape, corner[0] + (columns + 0.5) * cell[0], corner[1] + (rows + 0.5) * cell[1])
    sides = np.where(inside, INSIDE, OUTSIDE).astype(np.int8)
    sides[0] = CANNOT_TELL
    return np.asarray(sides[labels])
