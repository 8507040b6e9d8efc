"""Places labels beside points so that none covers another label or another point. Pure.

Greedy: each label tries the places around its point, nearest first, then rings farther out with a leader line to the
point.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from reports.drawing import Point, text_width

_AROUND = (
    0,
    90,
    180,
    270,
    45,
    135,
    315,
    225,
    22,
    158,
    338,
    202,
    68,
    112,
    292,
    248,
)  # degrees, the best-read places first
_RINGS = (5.0, 13.0, 22.0, 32.0, 44.0, 58.0)  # from the point to the near edge of the label
Box = tuple[float, float, float, float]


class PlacedLabel(NamedTuple):
    """A label with the start of its baseline, the box it takes, and a line to its point when it stands away from it."""

    text: str
    at: Point
    box: Box
    leader: tuple[Point, Point] | None


def _box(spot: Point, angle: float, distance: float, wide: float, high: float) -> Box:
    """Return the box of a label in a direction from its point, its near edge at a distance."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    x = spot[0] + cos * (distance + wide / 2)
    y = spot[1] + sin * (distance + high / 2)
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def overlap(one: Box, other: Box) -> float:
    """Return the area two boxes share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0 and high > 0 else 0.0


def _outside(box: Box, frame: Box) -> float:
    """How much of a box lies outside the frame."""
    return (box[2] - box[0]) * (box[3] - box[1]) - overlap(box, frame)


def _leader(spot: Point, box: Box) -> tuple[Point, Point]:
    """From the point to the nearest point of a box."""
    return spot, (min(max(spot[0], box[0]), box[2]), min(max(spot[1], box[1]), box[3]))


def _crossed(spot: Point, box: Box, labels: Sequence[Box]) -> int:
    """How many steps of the leader line to a box run over other labels."""
    (x0, y0), (x1, y1) = _leader(spot, box)
    steps = [(x0 + (x1 - x0) * n / 12, y0 + (y1 - y0) * n / 12) for n in range(13)]
    return sum(b[0] <= x <= b[2] and b[1] <= y <= b[3] for x, y in steps for b in labels)


def place_labels(
    spots: Sequence[Point], texts: Sequence[str], size: float, frame: Box, dot: float = 3.4
) -> list[PlacedLabel]:
    """Return a place for each text beside its spot, inside the frame. `dot` is half the width of the sign at each spot.

    When even the farthest ring is full, the place that covers least is taken, so every label is printed.
    """
    taken: list[Box] = [(x - dot, y - dot, x + dot, y + dot) for x, y in spots]
    placed: list[PlacedLabel] = []
    for spot, text in zip(spots, texts, strict=True):
        wide, high = text_width(text, size) + 1.5, size
        best: tuple[float, float, Box] | None = None
        for distance in _RINGS:
            for angle in _AROUND:
                box = _box(spot, angle, distance, wide, high)
                cost = sum(overlap(box, other) for other in taken) + 4 * _outside(box, frame)
                cost += 3 * _crossed(spot, box, taken[len(spots) :])
                if best is None or cost < best[0] - 1e-9:
                    best = (cost, distance, box)
            if best is not None and best[0] == 0:
                break
        if best is None:
            continue
        _, distance, box = best
        taken.append(box)
        leader = _leader(spot, box) if distance > _RINGS[0] else None
        placed.append(PlacedLabel(text, (box[0] + 0.75, box[1] + 0.14 * size), box, leader))
    return placed
