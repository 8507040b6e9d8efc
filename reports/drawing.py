"""Drawing primitives for maps and plots. Pure: shapes in points, no PDF library, no fonts.

Coordinates are in points (1/72 inch) with the origin at the lower left and y upwards, as in PDF. Items are painted
in the order given. Colours are (red, green, blue) from 0 to 1; every meaning also has a line style, a hatch or a
shape, so that black and white suffice. The palette is that of Okabe and Ito (2008), "Color Universal Design", made
to be told apart by colour-blind readers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Colour = tuple[float, float, float]
Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
Shape = Literal["circle", "square", "triangle", "cross", "diamond"]

BLACK: Colour = (0.0, 0.0, 0.0)
WHITE: Colour = (1.0, 1.0, 1.0)
GREY: Colour = (0.45, 0.45, 0.45)
PALE: Colour = (0.88, 0.88, 0.88)
BLUE: Colour = (0.0, 0.447, 0.698)
VERMILION: Colour = (0.835, 0.369, 0.0)
SKY: Colour = (0.337, 0.706, 0.914)
BLUISH_GREEN: Colour = (0.0, 0.62, 0.451)
ORANGE: Colour = (0.902, 0.624, 0.0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn: width in points, colour, and dash lengths (empty for solid)."""

    width: float = 0.6
    colour: Colour = BLACK
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Hatch:
    """Parallel lines over an area: `angles` in degrees from the x axis, `gap` and `stroke` in points.

    Two angles make a cross-hatch.
    """

    angles: tuple[float, ...]
    gap: float = 4.0
    stroke: Stroke = Stroke(0.35)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    stroke: Stroke = Stroke()


@dataclass(frozen=True, slots=True)
class Polyline:
    """A line through points."""

    points: tuple[Point, ...]
    stroke: Stroke = Stroke()


@dataclass(frozen=True, slots=True)
class Polygon:
    """Closed rings (the first point need not be repeated), filled by the even-odd rule so that holes stay open."""

    rings: tuple[tuple[Point, ...], ...]
    stroke: Stroke | None = Stroke()
    fill: Colour | None = None
    hatch: Hatch | None = None


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    centre: Point
    radius: float
    stroke: Stroke | None = Stroke()
    fill: Colour | None = None


@dataclass(frozen=True, slots=True)
class Marker:
    """A sign at a point, `size` across."""

    at: Point
    shape: Shape = "circle"
    size: float = 5.0
    fill: Colour | None = WHITE
    stroke: Stroke = Stroke(0.8)


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text: `at` is on the baseline, at the place `anchor` names.

    `rotation` in degrees anticlockwise. `halo` paints a white edge first.
    """

    at: Point
    text: str
    size: float = 7.0
    anchor: Anchor = "start"
    rotation: float = 0.0
    colour: Colour = BLACK
    bold: bool = False
    italic: bool = False
    halo: bool = False


@dataclass(frozen=True, slots=True)
class Clip:
    """Items seen only inside a box (x0, y0, x1, y1)."""

    box: tuple[float, float, float, float]
    items: tuple[Item, ...]


Item: TypeAlias = Line | Polyline | Polygon | Circle | Marker | Text | Clip


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing, width and height in points.

    `alt` tells in words what it shows, for readers who cannot see it.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    alt: str


def box(x0: float, y0: float, x1: float, y1: float) -> tuple[Point, ...]:
    """Return the four corners of an upright rectangle, anticlockwise from the lower left."""
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def text_width(text: str, size: float) -> float:
    """Return a rough width of text in points, for keeping labels apart: 0.53 em a character, rather too wide."""
    return 0.53 * size * len(text)


def texts_of(items: tuple[Item, ...]) -> list[str]:
    """Every text in the items, in painting order."""
    found: list[str] = []
    for item in items:
        if isinstance(item, Text):
            found.append(item.text)
        elif isinstance(item, Clip):
            found.extend(texts_of(item.items))
    return found
