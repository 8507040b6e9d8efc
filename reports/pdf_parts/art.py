"""Drawings turned into content operators, and the small shapes that stand in front of notes and cells."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from reports.drawing import Circle, Clip, Line, Marker, Polygon, Polyline, Text
from reports.pdf_parts.fonts import clean
from reports.pdf_parts.sheet import num

if TYPE_CHECKING:
    from collections.abc import Iterable

    from reports.document import Mark
    from reports.drawing import Colour, Drawing, Hatch, Item, Point, Stroke
    from reports.pdf_parts.fonts import Fonts
    from reports.pdf_parts.sheet import Sheet

_ARC = 0.5523  # control length of a quarter circle, as a share of the radius


def _colour(colour: Colour, *, stroke: bool) -> str:
    red, green, blue = (num(part) for part in colour)
    if red == green == blue:
        return f"{red} {'G' if stroke else 'g'}"
    return f"{red} {green} {blue} {'RG' if stroke else 'rg'}"


def _pen(stroke: Stroke) -> str:
    dash = " ".join(num(part) for part in stroke.dash)
    return f"{_colour(stroke.colour, stroke=True)} {num(stroke.width)} w [{dash}] 0 d"


def _path(points: Iterable[Point], *, close: bool) -> str:
    steps = [f"{num(x)} {num(y)} {'l' if place else 'm'}" for place, (x, y) in enumerate(points)]
    return " ".join(steps) + (" h" if close else "")


def circle_path(x: float, y: float, r: float) -> str:
    """Return a circle as four Bezier curves."""
    k = r * _ARC
    corners = [
        (x + r, y + k, x + k, y + r, x, y + r),
        (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r),
        (x + k, y - r, x + r, y - k, x + r, y),
    ]
    curves = " ".join(" ".join(num(v) for v in corner) + " c" for corner in corners)
    return f"{num(x + r)} {num(y)} m {curves} h"


def _painted(path: str, stroke: Stroke | None, fill: Colour | None, *, even_odd: bool = False) -> list[str]:
    star = "*" if even_odd else ""
    if fill is not None and stroke is not None:
        return [_colour(fill, stroke=False), _pen(stroke), f"{path} B{star}"]
    if fill is not None:
        return [_colour(fill, stroke=False), f"{path} f{star}"]
    return [_pen(stroke), f"{path} S"] if stroke is not None else []


def _hatch(hatch: Hatch, path: str, points: list[Point]) -> list[str]:
    """Hatch lines over the bounding circle of the points, seen through the path.

    Lines of one angle share one grid on the page.
    """
    xs, ys = [x for x, _ in points], [y for _, y in points]
    mid = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    reach = math.hypot(max(xs) - min(xs), max(ys) - min(ys)) / 2
    ops = ["q", f"{path} W* n", _pen(hatch.stroke)]
    for angle in hatch.angles:
        along = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
        across = (-along[1], along[0])
        along_mid = mid[0] * along[0] + mid[1] * along[1]
        across_mid = mid[0] * across[0] + mid[1] * across[1]
        first = math.ceil((across_mid - reach) / hatch.gap)
        for step in range(first, math.floor((across_mid + reach) / hatch.gap) + 1):
            offset = step * hatch.gap
            ends = [
                (across[0] * offset + along[0] * t, across[1] * offset + along[1] * t)
                for t in (along_mid - reach, along_mid + reach)
            ]
            ops.append(_path(ends, close=False) + " S")
    return [*ops, "Q"]


def _polygon(item: Polygon) -> list[str]:
    rings = [ring for ring in item.rings if len(ring) > 2]
    if not rings:
        return []
    path = " ".join(_path(ring, close=True) for ring in rings)
    ops = _painted(path, None, item.fill, even_odd=True)
    if item.hatch is not None:
        ops += _hatch(item.hatch, path, [point for ring in rings for point in ring])
    return ops + _painted(path, item.stroke, None)


def _marker(item: Marker) -> list[str]:
    (x, y), r = item.at, item.size / 2
    match item.shape:
        case "circle":
            path = circle_path(x, y, r)
        case "square":
            path = _path(((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)), close=True)
        case "triangle":
            path = _path(((x - r, y - 0.8 * r), (x + r, y - 0.8 * r), (x, y + r)), close=True)
        case "diamond":
            path = _path(((x - r, y), (x, y - r), (x + r, y), (x, y + r)), close=True)
        case "cross":
            arms = (((x - r, y - r), (x + r, y + r)), ((x - r, y + r), (x + r, y - r)))
            return [_pen(item.stroke), *(_path(arm, close=False) + " S" for arm in arms)]
    return _painted(path, item.stroke, item.fill)


class Artist:
    """Paints drawings on sheets."""

    def __init__(self, fonts: Fonts) -> None:
        self._fonts = fonts

    def paint(self, sheet: Sheet, drawing: Drawing, x: float, y: float, scale: float) -> None:
        """Paint a drawing with its lower left corner at (x, y)."""
        font = sheet.font
        sheet.ops.append(f"q {scale:.5f} 0 0 {scale:.5f} {num(x)} {num(y)} cm 1 j")
        self._items(sheet, drawing.items)
        sheet.ops.append("Q")
        sheet.font = font  # Q brings back the font selected before

    def _items(self, sheet: Sheet, items: tuple[Item, ...]) -> None:
        for item in items:
            match item:
                case Line():
                    sheet.ops += [_pen(item.stroke), _path((item.start, item.end), close=False) + " S"]
                case Polyline():
                    if len(item.points) > 1:
                        sheet.ops += [_pen(item.stroke), _path(item.points, close=False) + " S"]
                case Polygon():
                    sheet.ops += _polygon(item)
                case Circle():
                    sheet.ops += _painted(circle_path(*item.centre, item.radius), item.stroke, item.fill)
                case Marker():
                    sheet.ops += _marker(item)
                case Text():
                    self._text(sheet, item)
                case Clip():
                    self._clip(sheet, item)

    def _clip(self, sheet: Sheet, item: Clip) -> None:
        x0, y0, x1, y1 = item.box
        font = sheet.font
        sheet.ops.append(f"q {num(x0)} {num(y0)} {num(x1 - x0)} {num(y1 - y0)} re W n")
        self._items(sheet, item.items)
        sheet.ops.append("Q")
        sheet.font = font

    def _text(self, sheet: Sheet, item: Text) -> None:
        face = self._fonts.narrow.face(bold=item.bold, italic=item.italic)
        words = clean(item.text).replace("\n", " ")
        pieces = face.pieces(words)
        if not pieces:
            return
        wide = face.width(words) * item.size
        back = {"start": 0.0, "middle": wide / 2, "end": wide}[item.anchor]
        cos, sin = math.cos(math.radians(item.rotation)), math.sin(math.radians(item.rotation))
        x, y = item.at[0] - back * cos, item.at[1] - back * sin
        place = f"{cos:.4f} {sin:.4f} {-sin:.4f} {cos:.4f} {num(x)} {num(y)} Tm"
        shown = "".join(f"{sheet.font_op(name, item.size)}{operand}Tj " for name, operand in pieces)
        if item.halo:
            # Stroke first, then fill over it: the letters keep their shape. Both passes select their font anew.
            sheet.font = None
            edge = "".join(f"{sheet.font_op(name, item.size)}{operand}Tj " for name, operand in pieces)
            sheet.font = None
            shown = "".join(f"{sheet.font_op(name, item.size)}{operand}Tj " for name, operand in pieces)
            sheet.ops.append(f"q 1 G 1.8 w 1 J 1 j [] 0 d BT 1 Tr {place} {edge}ET Q")
        sheet.ops.append(f"{_colour(item.colour, stroke=False)} BT {place} {shown}ET")


def mark_ops(kind: Mark, x: float, y: float, size: float) -> list[str]:
    """Return the shape of a kind in a box of `size` with its lower left corner at (x, y).

    Told apart by outline, not by colour.
    """
    r = size / 2
    cx, cy = x + r, y + r
    thin = f"q 0 G 0 g {num(size * 0.11)} w 1 J 1 j [] 0 d"

    def line(*points: tuple[float, float]) -> str:
        return _path(((x + px * size, y + py * size) for px, py in points), close=False) + " S"

    def outline(*points: tuple[float, float]) -> str:
        return _path(((x + px * size, y + py * size) for px, py in points), close=True) + " S"

    dot = circle_path(cx, y + 0.2 * size, size * 0.04) + " f"
    match kind:
        case "met":
            ops = [circle_path(cx, cy, r * 0.92) + " S", line((0.27, 0.5), (0.44, 0.32), (0.74, 0.68))]
        case "broken":
            solid = f"{num(x)} {num(y)} {num(size)} {num(size)} re f 1 G"
            ops = [solid, line((0.27, 0.27), (0.73, 0.73)), line((0.27, 0.73), (0.73, 0.27))]
        case "open":
            ops = [circle_path(cx, cy, r * 0.92) + " S", line((0.5, 0.76), (0.5, 0.5), (0.68, 0.4))]
        case "caution":
            ops = [outline((0.02, 0.06), (0.98, 0.06), (0.5, 0.94)), line((0.5, 0.62), (0.5, 0.36)), dot]
        case "unknown":
            ops = [outline((0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5)), line((0.34, 0.5), (0.66, 0.5))]
        case "note":
            ops = [outline((0.12, 0.04), (0.88, 0.04), (0.88, 0.96), (0.12, 0.96))]
            ops += [line((0.32, 0.66), (0.68, 0.66)), line((0.32, 0.4), (0.68, 0.4))]
    return [thin, *ops, "Q"]
