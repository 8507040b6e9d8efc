"""Plots of a report as drawings: bars, a cumulative take against its limit, a histogram. Pure.

Every plot reads in black and white: series are told apart by fill, line style and labels in place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reports.axes import (
    AXIS,
    LABEL,
    Scale,
    along_axis,
    names,
    nice_step,
    tick_text,
    ticks,
    titles,
    value_axis,
)
from reports.drawing import (
    BLACK,
    BLUE,
    PALE,
    VERMILION,
    WHITE,
    Colour,
    Drawing,
    Hatch,
    Item,
    Line,
    Polygon,
    Polyline,
    Stroke,
    Text,
    box,
    text_width,
)

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FILLS: tuple[tuple[Colour, Hatch | None], ...] = (
    ((0.30, 0.30, 0.30), None),
    (WHITE, Hatch((45.0,), 3.2, Stroke(0.45))),
    ((0.80, 0.80, 0.80), None),
    (WHITE, Hatch((0.0, 90.0), 3.6, Stroke(0.35))),
)


class PlotError(ValueError):
    """The values given make no plot; the message says why."""


@dataclass(frozen=True, slots=True)
class Series:
    """Named values, one for each category of a bar plot. None leaves a gap: not recorded is not zero."""

    name: str
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Level:
    """A running total from a day on: lowest, best and highest reading of what was counted or estimated."""

    day: date
    low: float
    best: float
    high: float


def _finite(values: Sequence[float], what: str) -> None:
    if not values:
        raise PlotError(f"{what}: there are no values to draw; leave the plot out and say so in words.")
    if not all(math.isfinite(value) for value in values):
        raise PlotError(f"{what}: a value is not a finite number.")


def _top_of(values: Sequence[float]) -> float:
    """Return a round upper end of a scale that starts at zero."""
    highest = max(*values, 0.0)
    step = nice_step(highest or 1.0, 5)
    return max(math.ceil(highest * 1.02 / step), 1) * step


def _legend(series: Sequence[Series], right: float, y: float) -> list[Item]:
    items: list[Item] = []
    x = right - sum(text_width(one.name, LABEL) + 20 for one in series)
    for one, (fill, hatch) in zip(series, _FILLS, strict=False):
        items.append(Polygon((box(x, y - 1, x + 9, y + 6),), Stroke(0.5), fill, hatch))
        items.append(Text((x + 12, y), one.name, LABEL))
        x += text_width(one.name, LABEL) + 20
    return items


def bar_plot(
    categories: Sequence[str],
    series: Sequence[Series],
    *,
    y_title: str,
    x_title: str,
    alt: str,
    italic: bool = False,
    width: float = 480,
    height: float = 190,
) -> Drawing:
    """Bars side by side, up to four series, from zero up; `italic` sets the categories as species names.

    Raises PlotError for no values, negative ones, or lengths that differ.
    """
    if not 1 <= len(series) <= len(_FILLS):
        raise PlotError(f"{y_title}: a bar plot takes one to four series, not {len(series)}.")
    if any(len(one.values) != len(categories) for one in series):
        raise PlotError(f"{y_title}: each series needs one value for each of the {len(categories)} categories.")
    present = [value for one in series for value in one.values if value is not None]
    _finite(present, y_title)
    if min(present) < 0:
        raise PlotError(f"{y_title}: a bar cannot stand for a value below zero.")
    left, bottom, right, top = 36.0, 28.0, width - 6, height - 16
    scale = Scale(0, _top_of(present), bottom, top)
    items = value_axis(scale, left, right)
    slot = (right - left) / len(categories)
    wide = min(slot * 0.74 / len(series), 26)
    for place in range(len(categories)):
        start = left + slot * (place + 0.5) - wide * len(series) / 2
        for number, one in enumerate(series):
            items += _bar(one.values[place], scale, start + wide * number, wide, number)
    items.append(Line((left, bottom), (right, bottom), AXIS))
    items += names([(left + slot * (i + 0.5), name) for i, name in enumerate(categories)], bottom, italic=italic)
    items += titles((left, bottom, right, top), x_title, y_title)
    if len(series) > 1:
        items += _legend(series, right, top + 7)
    return Drawing(width, height, tuple(items), alt)


def _bar(value: float | None, scale: Scale, x: float, wide: float, number: int) -> list[Item]:
    base = scale.start
    if value is None:
        return [Text((x + wide / 2, base + 2.5), "n/r", LABEL - 1, "middle")]
    fill, hatch = _FILLS[number]
    bar = Polygon((box(x, base, x + wide, scale.at(value)),), Stroke(0.5), fill, hatch)
    figure = f"{value:g}"
    fits = text_width(figure, LABEL - 0.5) <= wide + 6
    above = [Text((x + wide / 2, scale.at(value) + 2), figure, LABEL - 0.5, "middle", halo=True)] if fits else []
    return [bar, *above] if value else [*above]


def _month_ticks(scale: Scale, first: date, last: date) -> list[tuple[float, str]]:
    """Return the first of each month between two days; the year is written with the first label and each January."""
    found: list[tuple[float, str]] = []
    day = first if first.day == 1 else date(first.year + first.month // 12, first.month % 12 + 1, 1)
    while day <= last:
        year = f" {day.year}" if not found or day.month == 1 else ""
        found.append((scale.at(day.toordinal()), f"{_MONTHS[day.month - 1]}{year}"))
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return found


def _day_ticks(scale: Scale, first: date, last: date) -> list[tuple[float, str]]:
    """Days at even distances for a short season."""
    step = max(1, math.ceil((last - first).days / 8))
    days = [first + timedelta(days=n) for n in range(0, (last - first).days + 1, step)]
    return [(scale.at(day.toordinal()), f"{day.day} {_MONTHS[day.month - 1]}") for day in days]


def _steps(points: Sequence[tuple[float, float]], end: float) -> tuple[tuple[float, float], ...]:
    """Return a staircase: each level holds until the next point, the last one until `end`."""
    path: list[tuple[float, float]] = []
    for x, y in points:
        if path:
            path.append((x, path[-1][1]))
        path.append((x, y))
    path.append((end, path[-1][1]))
    return tuple(path)


def step_plot(
    levels: Sequence[Level],
    limit: float | Sequence[tuple[date, float]],
    *,
    first: date,
    last: date,
    y_title: str,
    alt: str,
    limit_name: str = "Limit",
    width: float = 480,
    height: float = 170,
) -> Drawing:
    """Return a cumulative take from `first` to `last` against its limit.

    The best reading is a line, lowest to highest a band around it. ``limit`` is one value, or the day from which each
    holds, where it was changed on the way. Raises PlotError when levels are not in order of
    days, lie outside the span, or have low > best or best > high.
    """
    if first >= last:
        raise PlotError(f"{y_title}: the season must end after it starts.")
    days = [level.day for level in levels]
    if days != sorted(days) or any(not first <= day <= last for day in days):
        raise PlotError(f"{y_title}: levels must be in order of days and inside the season.")
    if any(not 0 <= level.low <= level.best <= level.high for level in levels):
        raise PlotError(f"{y_title}: each level needs 0 <= low <= best <= high.")
    values = [level.high for level in levels]
    bounds = [(first, limit)] if isinstance(limit, int | float) else [(max(first, day), value) for day, value in limit]
    _finite([*(value for _, value in bounds), *values], y_title)
    left, bottom, right, top = 36.0, 14.0, width - 6, height - 16
    up = Scale(0, _top_of([*(value for _, value in bounds), *values]), bottom, top)
    along = Scale(first.toordinal(), last.toordinal(), left, right)
    items = value_axis(up, left, right)
    items += _take(levels, along, up)
    items += _bounds(bounds, limit_name, along, up)
    items.append(Line((left, bottom), (right, bottom), AXIS))
    marks = _month_ticks(along, first, last)
    items += names(marks if len(marks) >= 3 else _day_ticks(along, first, last), bottom)
    items += titles((left, bottom, right, top), "", y_title)
    return Drawing(width, height, tuple(items), alt)


def _bounds(bounds: Sequence[tuple[date, float]], name: str, along: Scale, up: Scale) -> list[Item]:
    """Return the limit as a dashed staircase, each step named at its start, where the take is still low."""
    points = [(along.at(day.toordinal()), up.at(value)) for day, value in bounds]
    items: list[Item] = [Polyline(_steps(points, along.end), Stroke(1.1, VERMILION, (5.0, 2.5)))]
    for (x, y), (_, value) in zip(points, bounds, strict=True):
        items.append(Text((x + 4, y + 3), f"{name} {value:g}", LABEL, bold=True, halo=True))
    return items


def _take(levels: Sequence[Level], along: Scale, up: Scale) -> list[Item]:
    """Return the band and the line of a cumulative take, from zero at the start of the season."""
    zero = (along.start, up.start)
    xs = [along.at(level.day.toordinal()) for level in levels]
    low, best, high = (
        _steps([zero, *((x, up.at(getattr(level, name))) for x, level in zip(xs, levels, strict=True))], along.end)
        for name in ("low", "best", "high")
    )
    items: list[Item] = []
    if any(level.low < level.high for level in levels):
        ring = (*high, *reversed(low))
        items.append(Polygon((ring,), Stroke(0.3, (0.4, 0.4, 0.4)), PALE))
    items.append(Polyline(best, Stroke(1.4, BLUE)))
    if levels:
        last = levels[-1]
        text = f"{last.best:g}" if last.low == last.high else f"{last.best:g} ({last.low:g}\N{EN DASH}{last.high:g})"
        items.append(Text((along.end - 3, up.at(last.high) + 3), text, LABEL, "end", colour=BLACK, halo=True))
    return items


def histogram(
    values: Sequence[float],
    *,
    x_title: str,
    y_title: str,
    alt: str,
    bin_width: float | None = None,
    limits: Sequence[tuple[float, str]] = (),
    width: float = 480,
    height: float = 180,
) -> Drawing:
    """Draw counts of values in bins that start on multiples of their width.

    A value on an edge belongs to the bin above it. `limits` are values to mark with an upright line and a name, such as
    a least size. Raises PlotError for no or infinite values.
    """
    _finite(values, x_title)
    step = bin_width or nice_step((max(values) - min(values)) or 1.0, 12)
    if step <= 0:
        raise PlotError(f"{x_title}: the width of a bin must be above 0.")
    counts: dict[int, int] = {}
    for value in values:
        place = math.floor(value / step + 1e-9)
        counts[place] = counts.get(place, 0) + 1
    low, high = min(counts), max(counts) + 1
    low = min([low, *(math.floor(value / step) for value, _ in limits)])
    high = max([high, *(math.ceil(value / step) for value, _ in limits)])
    if high - low > 400:
        raise PlotError(f"{x_title}: {high - low} bins of {step:g} are too many to see; choose a wider bin.")
    left, bottom, right, top = 36.0, 28.0, width - 6, height - 16
    up = Scale(0, _top_of([float(count) for count in counts.values()]), bottom, top)
    along = Scale(low * step, high * step, left, right)
    items = _whole_counts(up, left, right)
    for place, count in sorted(counts.items()):
        x0, x1 = along.at(place * step), along.at((place + 1) * step)
        items.append(Polygon((box(x0, bottom, x1, up.at(count)),), Stroke(0.5), (0.80, 0.80, 0.80)))
    for value, name in limits:
        x = along.at(value)
        items.append(Line((x, bottom), (x, top), Stroke(1.0, VERMILION, (5.0, 2.5))))
        anchor, shift = ("end", -3) if x > (left + right) / 2 else ("start", 3)
        items.append(Text((x + shift, top - 7), name, LABEL, "end" if anchor == "end" else "start", halo=True))
    items.append(Line((left, bottom), (right, bottom), AXIS))
    items += along_axis(along, bottom, 12)
    items += titles((left, bottom, right, top), x_title, y_title)
    items.append(Text((right, top + 7), f"n = {len(values)}", LABEL, "end"))
    return Drawing(width, height, tuple(items), alt)


def _whole_counts(up: Scale, left: float, right: float) -> list[Item]:
    """Return a value axis with whole numbers only."""
    step = max(1.0, nice_step(up.high, 6))
    items: list[Item] = []
    for value in ticks(0, up.high, step):
        y = up.at(value)
        items.append(Line((left, y), (right, y), Stroke(0.25, (0.82, 0.82, 0.82))))
        items.append(Text((left - 4, y - 0.36 * LABEL), tick_text(value, step), LABEL, "end"))
    return items
