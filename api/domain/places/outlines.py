"""The boundary of an area, cut into short pieces so that a distance to it is quick and right to centimetres.

One meaning of an edge: the straight line between its two corners in longitude and latitude (RFC 7946, 3.1.1),
not the geodesic. Long edges are therefore cut into pieces so short that the straight chord through space
leaves the edge by about a centimetre at most. A seam where an area was split at the antimeridian is no
boundary and is left out.
"""

from __future__ import annotations

import math
import weakref
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from api.domain.places.ellipsoid import MEAN_RADIUS_M, WGS84, space_point, space_points, wrapped

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

_SAG_M = 0.005
_LONGEST_PIECE_M, _SHORTEST_PIECE_M = 500.0, 5.0
_MOST_PIECES = 400_000
_PIECES_A_CHUNK = 32
_SEAM_CRUMB_DEG = 1e-9


@dataclass(frozen=True, slots=True, weakref_slot=True, eq=False)
class Outline:
    """A geometry made ready: its normalised shape and its boundary in n pieces, also as points in space.

    ``starts`` and ``ends`` are (n, 2) degrees; ``origins`` and ``steps`` are (3, n) metres, earth-centred;
    ``chunk_*`` hold spheres around runs of pieces, so that far ones are passed over at once; ``centre`` and
    ``reach_m`` are a sphere around all of them.
    """

    shape: BaseGeometry
    bounds: tuple[float, float, float, float]
    polygonal: bool
    starts: Floats
    ends: Floats
    origins: Floats
    steps: Floats
    inverse_squares: Floats
    chunk_firsts: Indices
    chunk_centres: Floats
    chunk_radii: Floats
    centre: tuple[float, float, float]
    reach_m: float

    def holds(self, lon: float, lat: float) -> bool:
        """Tell whether a place in degrees lies in the area or on its boundary; never for lines and points."""
        if not self.polygonal:
            return False
        lon = wrapped(lon)
        west, south, east, north = self.bounds
        if not (south <= lat <= north and (west <= lon <= east or abs(lon) == 180)):
            return False
        inside = bool(shapely.intersects_xy(self.shape, lon, lat))
        return inside or (abs(lon) == 180 and bool(shapely.intersects_xy(self.shape, -lon, lat)))

    def nearest(self, lon: float, lat: float) -> tuple[float, float, float]:
        """Give the geodesic metres to the boundary and the lon, lat of its nearest point.

        An area without any boundary (the whole earth) is infinitely far from it.
        """
        if not self.starts.size:
            return math.inf, lon, lat
        point = space_point(lon, lat)
        chosen = self._near_chunks(point)
        squares, shares = self._squares_to(point, chosen)
        best = int(squares.argmin())
        share = float(shares[best])
        piece = best if chosen is None else int(chosen[best])
        (x1, y1), (x2, y2) = self.starts[piece].tolist(), self.ends[piece].tolist()
        x, y = x1 + (x2 - x1) * share, y1 + (y2 - y1) * share
        return float(WGS84.inv(lon, lat, x, y)[2]), x, y

    def signed_distance_m(self, lon: float, lat: float) -> float:
        """Give the geodesic metres to the boundary, positive inside."""
        distance = self.nearest(lon, lat)[0]
        return distance if self.holds(lon, lat) else -distance

    def at_least_m(self, lon: float, lat: float) -> float:
        """Give metres that the boundary is surely away (straight through the earth, so never too much)."""
        if not self.starts.size:
            return math.inf
        spot = space_point(lon, lat)
        beyond = math.dist(spot, self.centre) - self.reach_m
        if beyond > self.reach_m:  # well away from all of it: one sphere says enough
            return beyond
        away = self.chunk_centres - np.array(spot)[:, None]
        return float((np.sqrt((away * away).sum(axis=0)) - self.chunk_radii).min())

    def pieces_within(self, lon: float, lat: float, reach_m: float) -> Indices:
        """Give the indices of pieces that may lie within ``reach_m`` of a place (some a little farther)."""
        if not self.starts.size:
            return np.empty(0, dtype=np.intp)
        away = self.chunk_centres - np.array(space_point(lon, lat))[:, None]
        near = np.sqrt((away * away).sum(axis=0)) - self.chunk_radii <= reach_m
        return self._pieces_of(near)

    def distances_m(self, points: Floats, pieces: Indices) -> Floats:
        """Give straight metres from each of (3, m) points in space to each of k pieces: (m, k)."""
        origins, steps = self.origins[:, None, pieces], self.steps[:, None, pieces]
        away = points[:, :, None] - origins
        shares = np.clip((away * steps).sum(axis=0) * self.inverse_squares[pieces], 0, 1)
        away -= shares * steps
        return np.asarray(np.sqrt((away * away).sum(axis=0)))

    def _near_chunks(self, point: tuple[float, float, float]) -> Indices | None:
        """Give the pieces worth measuring, or None for all where there are few."""
        if self.starts.shape[0] <= 20 * _PIECES_A_CHUNK:
            return None
        spot = np.array(point)[:, None]
        corners = self.origins[:, self.chunk_firsts] - spot
        reach = math.sqrt(float((corners * corners).sum(axis=0).min()))
        away = self.chunk_centres - spot
        return self._pieces_of(np.sqrt((away * away).sum(axis=0)) - self.chunk_radii <= reach)

    def _pieces_of(self, chunks: NDArray[np.bool_]) -> Indices:
        lengths = np.diff(self.chunk_firsts, append=self.starts.shape[0])
        return np.asarray(np.flatnonzero(np.repeat(chunks, lengths)))

    def _squares_to(self, point: tuple[float, float, float], chosen: Indices | None) -> tuple[Floats, Floats]:
        """Give squared straight distances to the chosen pieces and which share of each is nearest."""
        origins, steps, inverse = self.origins, self.steps, self.inverse_squares
        if chosen is not None:
            origins, steps, inverse = origins[:, chosen], steps[:, chosen], inverse[chosen]
        # Axis by axis: three contiguous rows are about twice as quick here as one (n, 3) array.
        ox, oy, oz = point[0] - origins[0], point[1] - origins[1], point[2] - origins[2]
        sx, sy, sz = steps
        shares = (ox * sx + oy * sy + oz * sz) * inverse
        np.minimum(np.maximum(shares, 0, out=shares), 1, out=shares)
        ox -= shares * sx
        oy -= shares * sy
        oz -= shares * sz
        return ox * ox + oy * oy + oz * oz, shares


_READY: dict[int, Outline] = {}


def outline_of(geometry: BaseGeometry) -> Outline:
    """Make a geometry ready for measuring, once: the result is kept as long as the geometry lives.

    Raises ValueError for an empty geometry and for one with coordinates that are no degrees.
    """
    key = id(geometry)
    ready = _READY.get(key)
    if ready is None:
        ready = _READY[key] = _made_ready(geometry)
        weakref.finalize(geometry, _READY.pop, key, None).atexit = False
    return ready


def normalised(geometry: BaseGeometry) -> BaseGeometry:
    """Bring longitudes beyond 180 (or below -180) back, split at the antimeridian as RFC 7946, 3.1.9 asks.

    Holes, parts and lines are kept; polygons come back with counterclockwise shells and clockwise holes.
    """
    west, _, east, _ = geometry.bounds
    if west >= -180 and east <= 180:
        return shapely.orient_polygons(geometry)
    parts: list[BaseGeometry] = []
    kind = shapely.get_dimensions(geometry)
    for turn in range(math.floor((west + 180) / 360), math.ceil((east - 180) / 360) + 1):
        window = shapely.box(360 * turn - 180, -90, 360 * turn + 180, 90)
        met = shapely.get_parts(shapely.intersection(geometry, window))
        # Where the area only touches its window, stray lines and points are left: not those.
        parts += [_moved(part, -360.0 * turn) for part in met if shapely.get_dimensions(part) == kind]
    return shapely.orient_polygons(shapely.union_all(parts))


def _moved(geometry: BaseGeometry, degrees: float) -> BaseGeometry:
    return shapely.transform(geometry, lambda xy: xy + np.array([degrees, 0.0]))


def _made_ready(geometry: BaseGeometry) -> Outline:
    _check(geometry)
    shape = normalised(geometry)
    if shape is geometry:
        # The cache must not keep the very object alive whose end it waits for.
        shape = shapely.from_wkb(shapely.to_wkb(geometry))
    polygonal = isinstance(shape, Polygon | MultiPolygon)
    starts, ends = _cut(*_edges(shape, polygonal))
    origins = space_points(starts)
    steps = space_points(ends) - origins
    squares = (steps * steps).sum(axis=0)
    inverse = np.divide(1.0, squares, out=np.zeros_like(squares), where=squares > 0)
    firsts, centres, radii = _chunks(origins, origins + steps)
    _, middles, reaches = _chunks(origins, origins + steps, max(len(starts), 1))
    x, y, z = middles[:, 0].tolist() if reaches.size else (0.0, 0.0, 0.0)
    shapely.prepare(shape)
    return Outline(
        shape=shape,
        bounds=shape.bounds,
        polygonal=polygonal,
        starts=starts,
        ends=ends,
        origins=origins,
        steps=steps,
        inverse_squares=inverse,
        chunk_firsts=firsts,
        chunk_centres=centres,
        chunk_radii=radii,
        centre=(x, y, z),
        reach_m=float(reaches.max(initial=0.0)),
    )


def _check(geometry: BaseGeometry) -> None:
    if geometry.is_empty:
        raise ValueError("The area is empty: it has no corner at all. Draw it or leave it out.")
    xy = shapely.get_coordinates(geometry)
    if not np.isfinite(xy).all():
        raise ValueError("The area has a corner that is no number. Mend the corner before it is used.")
    if np.abs(xy[:, 1]).max() > 90 or np.abs(xy[:, 0]).max() > 540:
        raise ValueError(
            "The area has corners outside -90 to 90 degrees of latitude or far outside -180 to 180 of "
            "longitude; give WGS84 degrees, longitude first."
        )


def _edges(shape: BaseGeometry, polygonal: bool) -> tuple[Floats, Floats]:
    """Give the starts and ends, (n, 2) degrees each, of all edges that are boundary."""
    lines = shapely.get_parts(shape)
    if polygonal:
        lines = shapely.get_rings(lines)
    xy, owner = shapely.get_coordinates(lines, return_index=True)
    same = owner[1:] == owner[:-1]
    starts, ends = xy[:-1][same], xy[1:][same]
    if polygonal:
        return _without_seams(starts, ends)
    lone = np.bincount(owner)[owner] == 1
    return np.concatenate((starts, xy[lone])), np.concatenate((ends, xy[lone]))


def _without_seams(starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Leave out the poles' "edges" and what of the antimeridian has the area on both of its sides."""
    at_pole = (np.abs(starts[:, 1]) == 90) & (starts[:, 1] == ends[:, 1])
    upright = (np.abs(starts[:, 0]) == 180) & (starts[:, 0] == ends[:, 0])
    kept = ~(at_pole | upright)
    seam_starts, seam_ends = [], []
    for low, high, east in _one_sided(starts[upright], ends[upright]):
        # The area stays on the left hand: northward along its eastern edge, southward along its western.
        seam_starts.append((180.0, low) if east else (-180.0, high))
        seam_ends.append((180.0, high) if east else (-180.0, low))
    if not seam_starts:
        return starts[kept], ends[kept]
    return np.concatenate((starts[kept], seam_starts)), np.concatenate((ends[kept], seam_ends))


def _one_sided(starts: Floats, ends: Floats) -> list[tuple[float, float, bool]]:
    """Give the stretches (low lat, high lat, is it the eastern edge) that edges cover on one side only."""
    if not starts.size:
        return []
    low, high = np.minimum(starts[:, 1], ends[:, 1]), np.maximum(starts[:, 1], ends[:, 1])
    east = starts[:, 0] > 0
    marks = np.unique(np.concatenate((low, high)))
    stretches = []
    for bottom, top in zip(marks[:-1].tolist(), marks[1:].tolist(), strict=True):
        covering = (low <= bottom) & (high >= top)
        on_east, on_west = bool((covering & east).any()), bool((covering & ~east).any())
        if on_east != on_west and top - bottom > _SEAM_CRUMB_DEG:
            stretches.append((bottom, top, on_east))
    return stretches


def _cut(starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Cut edges into pieces of equal share in degrees, short enough that their chord stays on the edge."""
    if not starts.size:
        return starts, ends
    counts = _cuts_needed(starts, ends)
    edge = np.repeat(np.arange(len(counts)), counts)
    rank = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    first, last = starts[edge], ends[edge]
    share = (rank / counts[edge])[:, None]
    next_share = ((rank + 1) / counts[edge])[:, None]
    # 1 - share and share, so that both ends of an edge come out exactly as they were drawn.
    return first * (1 - share) + last * share, first * (1 - next_share) + last * next_share


def _cuts_needed(starts: Floats, ends: Floats) -> NDArray[np.int64]:
    steepest = np.minimum(np.maximum(np.abs(starts[:, 1]), np.abs(ends[:, 1])), 89.999)
    flattest = np.minimum(np.abs(starts[:, 1]), np.abs(ends[:, 1]))
    flattest[starts[:, 1] * ends[:, 1] < 0] = 0
    east = np.radians(ends[:, 0] - starts[:, 0]) * np.cos(np.radians(flattest))
    north = np.radians(ends[:, 1] - starts[:, 1])
    length = MEAN_RADIUS_M * np.hypot(east, north)
    # An edge of length L leaves its chord by no more than L^2 tan(lat) / 4R sideways.
    bend = np.maximum(np.tan(np.radians(steepest)), 1.0)
    longest = np.clip(np.sqrt(4 * MEAN_RADIUS_M * _SAG_M / bend), _SHORTEST_PIECE_M, _LONGEST_PIECE_M)
    counts = np.maximum(np.ceil(length / longest), 1)
    if counts.sum() > _MOST_PIECES + len(counts):  # an outline of continents: coarser, but it ends
        counts = np.maximum(np.floor(counts * (_MOST_PIECES / counts.sum())), 1)
    return np.asarray(counts, dtype=np.int64)


def _chunks(origins: Floats, tips: Floats, run: int = _PIECES_A_CHUNK) -> tuple[Indices, Floats, Floats]:
    """Put spheres around runs of pieces: first piece of each run, (3, m) centres, (m,) radii in metres."""
    count = origins.shape[1]
    firsts: Indices = np.arange(0, count, run, dtype=np.intp)
    if not count:
        return firsts, np.empty((3, 0)), np.empty(0)
    lowest = np.minimum(np.minimum.reduceat(origins, firsts, axis=1), np.minimum.reduceat(tips, firsts, axis=1))
    highest = np.maximum(np.maximum.reduceat(origins, firsts, axis=1), np.maximum.reduceat(tips, firsts, axis=1))
    centres = (lowest + highest) / 2
    half = highest - centres
    return firsts, centres, np.asarray(np.sqrt((half * half).sum(axis=0)))
