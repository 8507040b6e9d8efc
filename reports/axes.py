"""Axes of plots: round tick values, a plotting area with grid, labels and units. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reports.drawing import BLACK, GREY, Item, Line, Stroke, Text, text_width

GRID = Stroke(0.25, (0.82, 0.82, 0.82))
AXIS = Stroke(0.6, BLACK)
LABEL = 7.0


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight map from values (low..high) to points (start..end)."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the point of a value."""
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.5
        return self.start + share * (self.end - self.start)


def nice_step(span: float, count: int) -> float:
    """Return the step of 1, 2 or 5 times a power of ten that cuts a span into about `count` parts or fewer."""
    if span <= 0 or not math.isfinite(span):
        return 1.0
    rough = span / max(count, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * (1 - 1e-9))


def ticks(low: float, high: float, step: float) -> list[float]:
    """Multiples of a step from `low` to `high`, both included when they fall on one."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def tick_text(value: float, step: float) -> str:
    """Return a tick value with as many decimals as its step needs."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    text = f"{value:.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}") if value < 0 else text


def value_axis(scale: Scale, left: float, right: float, count: int = 6) -> list[Item]:
    """Grid lines across a plot and the values beside them, for an upright axis."""
    step = nice_step(scale.high - scale.low, count)
    items: list[Item] = []
    for value in ticks(scale.low, scale.high, step):
        y = scale.at(value)
        items.append(Line((left, y), (right, y), GRID))
        items.append(Text((left - 4, y - 0.36 * LABEL), tick_text(value, step), LABEL, "end"))
    return items


def along_axis(scale: Scale, y: float, count: int = 8) -> list[Item]:
    """Ticks and values under a level axis at height y."""
    step = nice_step(scale.high - scale.low, count)
    items: list[Item] = []
    for value in ticks(scale.low, scale.high, step):
        x = scale.at(value)
        items.append(Line((x, y), (x, y - 2.5), AXIS))
        items.append(Text((x, y - 10), tick_text(value, step), LABEL, "middle"))
    return items


def names(pairs: Sequence[tuple[float, str]], bottom: float, *, italic: bool = False) -> list[Item]:
    """Labels under given points, leaving out those that would touch the one before."""
    items: list[Item] = []
    taken = -math.inf
    for x, label in pairs:
        half = text_width(label, LABEL) / 2
        if x - half < taken + 2:
            continue
        items.append(Line((x, bottom), (x, bottom - 2.5), AXIS))
        items.append(Text((x, bottom - 10), label, LABEL, "middle", italic=italic))
        taken = x + half
    return items


def titles(area: tuple[float, float, float, float], x_title: str, y_title: str) -> list[Item]:
    """Return the names of the axes with their units.

    The upright one stands level above its axis, where it is easiest to read.
    """
    left, bottom, right, top = area
    return [
        Text(((left + right) / 2, bottom - 21), x_title, LABEL + 0.5, "middle", colour=GREY),
        Text((left, top + 7), y_title, LABEL + 0.5, "start", colour=GREY),
    ]
