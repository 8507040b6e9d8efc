"""Areas, and the answers to "was it in there?"."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import shapely
from shapely.geometry.base import BaseGeometry

from api.domain.places.outlines import normalised

if TYPE_CHECKING:
    from collections.abc import Iterable

Verdict: TypeAlias = Literal["inside", "outside", "cannot tell"]


@dataclass(frozen=True)
class Area:
    """A named area: (lon, lat) degrees in WGS84, edges straight in degrees (RFC 7946).

    ``edge_tolerance_m`` is by how much the drawn edge itself may be off; ``drawn`` says when or at what scale
    it was drawn, ``datum`` in which datum it came. A feature to keep away from may be a line or a point.
    """

    id: str
    name: str
    geometry: BaseGeometry
    edge_tolerance_m: float = 0.0
    source: str = ""
    drawn: str = ""
    datum: str = "WGS84"
    kind: str = ""


Place: TypeAlias = Area | BaseGeometry
"""Whatever can be judged: an area with its edge tolerance, or a bare geometry with none."""


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """Whether a fix lies in an area.

    ``distance_m`` is signed, positive inside; ``radius_m`` the 95 % radius it was judged with and
    ``probability_inside`` the chance that the true place is inside the drawn edge (both None where no radius
    was recorded).
    """

    verdict: Verdict
    distance_m: float
    radius_m: float | None
    probability_inside: float | None


@dataclass(frozen=True, slots=True)
class PathAnswer:
    """Whether a haul lies in an area along its whole length.

    ``least_m`` and ``greatest_m`` are the smallest and largest signed distance on the way (positive inside).
    ``leaves_for_certain``: at some point the whole radius is outside, so a haul bound to stay inside has
    left. ``enters_for_certain``: at some point the whole radius is inside, so a haul bound to stay out has
    entered. ``probability_inside`` is the chance at the point of least distance; ``radius_m`` the largest 95
    % radius; both None where any fix of the haul has no radius.
    """

    whole: Verdict
    least_m: float
    greatest_m: float
    radius_m: float | None
    leaves_for_certain: bool
    enters_for_certain: bool
    probability_inside: float | None
    far: bool = False

    @property
    def verdict(self) -> Verdict:
        """The verdict on the whole haul, under the name it has for a fix."""
        return self.whole

    @property
    def distance_m(self) -> float:
        """Signed metres at the point that decides: the nearest to the edge, or the deepest outside."""
        return self.greatest_m if self.greatest_m < 0 else self.least_m


@dataclass(frozen=True, slots=True)
class Gap:
    """How far something is from a feature, in metres: at least, most likely, at most.

    Zero is at or in the feature. ``low_m`` and ``high_m`` are None where no radius was recorded.
    """

    low_m: float | None
    best_m: float
    high_m: float | None


def geometry_of(place: Place) -> BaseGeometry:
    """Give the bare geometry of an area or of a geometry."""
    return place.geometry if isinstance(place, Area) else place


def tolerance_of(place: Place) -> float:
    """Give by how many metres the drawn edge may be off: an area's own tolerance, none otherwise."""
    return place.edge_tolerance_m if isinstance(place, Area) else 0.0


def verdict_of(distance_m: float, radius_m: float | None, tolerance_m: float) -> Verdict:
    """Judge a signed distance: inside or outside only if the whole radius and the edge's tolerance fit."""
    if radius_m is None:
        return "cannot tell"
    reach = radius_m + tolerance_m
    if distance_m >= reach:
        return "inside"
    return "outside" if distance_m <= -reach else "cannot tell"


def together(areas: Iterable[Place]) -> Area:
    """Join several areas into one whose inner edges no longer count ("in any of the permitted areas").

    The result has the largest edge tolerance of its parts. Raises ValueError when there is nothing to join.
    """
    parts = list(areas)
    if not parts:
        raise ValueError("There is no area to join; name at least one.")
    named = [part for part in parts if isinstance(part, Area)]
    kinds = {part.kind for part in named}
    return Area(
        id="+".join(part.id for part in named),
        name=", ".join(part.name for part in named),
        geometry=_joined([geometry_of(part) for part in parts]),
        edge_tolerance_m=max(tolerance_of(part) for part in parts),
        source="; ".join(dict.fromkeys(part.source for part in named if part.source)),
        kind=kinds.pop() if len(kinds) == 1 else "",
    )


def _joined(geometries: list[BaseGeometry]) -> BaseGeometry:
    if len(geometries) == 1:
        return geometries[0]
    return shapely.union_all([normalised(geometry) for geometry in geometries])
