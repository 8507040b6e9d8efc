"""Maps of a report: areas, lines and numbered sites in a frame with graticule, scale bar, north arrow, legend. Pure.

Projection: local equirectangular around the middle of the map, with the ellipsoid's own radii at that latitude (WGS
84: a = 6378137 m, 1/f = 298.257223563, NIMA TR8350.2). Over the tens of kilometres of an estuary the scale stays
true to well under one part in a hundred. North is up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reports.axes import nice_step, tick_text, ticks
from reports.drawing import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    GREY,
    VERMILION,
    WHITE,
    Clip,
    Colour,
    Drawing,
    Hatch,
    Item,
    Line,
    Marker,
    Point,
    Polygon,
    Polyline,
    Shape,
    Stroke,
    Text,
    box,
    text_width,
)
from reports.labels import place_labels

AreaStyle = Literal["permitted", "closed", "conditional", "land", "water"]
LineStyle = Literal["shore", "boundary", "track"]

_A, _F = 6378137.0, 1 / 298.257223563
_E2 = _F * (2 - _F)

_MARGIN = 30.0  # around the frame, for degree labels
_FOOT = 30.0  # under them, for scale bar and notes
_LEGEND_LINE = 12.0


class MapError(ValueError):
    """What was given makes no map; the message says why."""


@dataclass(frozen=True, slots=True)
class MapArea:
    """An area: rings of (longitude, latitude) in decimal degrees, holes by the even-odd rule.

    `name` stands in the legend.
    """

    style: AreaStyle
    rings: tuple[tuple[Point, ...], ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class MapLine:
    """A line of (longitude, latitude) points."""

    style: LineStyle
    points: tuple[Point, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class MapSite:
    """A numbered site at (longitude, latitude)."""

    label: str
    at: Point
    shape: Shape = "circle"


_AREA_LOOKS: dict[AreaStyle, tuple[Stroke | None, Colour | None, Hatch | None]] = {
    "water": (None, (0.955, 0.97, 0.985), None),
    "land": (None, (0.91, 0.905, 0.89), None),
    "permitted": (Stroke(1.1, BLUISH_GREEN), None, Hatch((45.0,), 5.0, Stroke(0.35, (0.2, 0.55, 0.42)))),
    "conditional": (Stroke(1.0, BLUE, (1.2, 2.2)), None, Hatch((0.0,), 4.5, Stroke(0.35, BLUE))),
    "closed": (Stroke(1.5, VERMILION, (5.0, 2.5)), None, Hatch((45.0, 135.0), 4.5, Stroke(0.35, (0.62, 0.25, 0.0)))),
}
_LINE_LOOKS: dict[LineStyle, Stroke] = {
    "shore": Stroke(0.8, (0.2, 0.2, 0.2)),
    "boundary": Stroke(0.7, BLACK, (6.0, 2.0, 1.0, 2.0)),
    "track": Stroke(0.7, BLUE, (2.0, 1.5)),
}
_ORDER: dict[AreaStyle, int] = {"water": 0, "land": 1, "permitted": 2, "conditional": 3, "closed": 4}


def metres_per_degree(latitude: float) -> tuple[float, float]:
    """Metres in one degree of longitude and of latitude at a latitude, from the ellipsoid's radii of curvature."""
    sine = math.sin(math.radians(latitude))
    bend = 1 - _E2 * sine * sine
    across = _A / math.sqrt(bend) * math.cos(math.radians(latitude))
    along = _A * (1 - _E2) / bend**1.5
    return math.radians(across), math.radians(along)


@dataclass(frozen=True, slots=True)
class Projection:
    """From degrees to points on the drawing.

    `centre` is (longitude, latitude); `middle` its place; `scale` points in a metre.
    """

    centre: Point
    middle: Point
    scale: float

    def at(self, place: Point) -> Point:
        """Return the point of a place.

        Longitudes are taken the short way round, so a map may lie across 180 degrees.
        """
        east, north = metres_per_degree(self.centre[1])
        turn = (place[0] - self.centre[0] + 180) % 360 - 180
        return (
            self.middle[0] + turn * east * self.scale,
            self.middle[1] + (place[1] - self.centre[1]) * north * self.scale,
        )


def _focus(areas: Sequence[MapArea], lines: Sequence[MapLine], sites: Sequence[MapSite]) -> list[Point]:
    """Return the points the map must show: areas of the permit and sites.

    Land, water and lines only when there is nothing else.
    """
    points = [site.at for site in sites]
    points += [point for area in areas if _ORDER[area.style] > 1 for ring in area.rings for point in ring]
    ground = [point for area in areas if _ORDER[area.style] <= 1 for ring in area.rings for point in ring]
    ground += [point for line in lines for point in line.points]
    if not points + ground:
        raise MapError("There is nothing to show on the map; leave it out and say so in words.")
    for lon, lat in points + ground:
        if not (math.isfinite(lon) and math.isfinite(lat) and -180 <= lon <= 360 and -85 <= lat <= 85):
            raise MapError(
                f"({lon}, {lat}) is no place for a map; give longitude, latitude in degrees within 85 of the equator."
            )
    return points or ground


def _fit(points: list[Point], frame: tuple[float, float, float, float], least_metres: float) -> Projection:
    """Return the projection that shows all points inside the frame with a little air around them."""
    home = points[0][0]
    turned = [home + (lon - home + 180) % 360 - 180 for lon, _ in points]
    lats = [lat for _, lat in points]
    centre = ((min(turned) + max(turned)) / 2, (min(lats) + max(lats)) / 2)
    east, north = metres_per_degree(centre[1])
    wide = max((max(turned) - min(turned)) * east, least_metres) * 1.2
    high = max((max(lats) - min(lats)) * north, least_metres) * 1.2
    x0, y0, x1, y1 = frame
    scale = min((x1 - x0) / wide, (y1 - y0) / high)
    return Projection(centre, ((x0 + x1) / 2, (y0 + y1) / 2), scale)


def _degrees(value: float, step: float, signs: str) -> str:
    if signs == "EW":
        value = (value + 180) % 360 - 180
    sign = signs[0] if value >= 0 else signs[1]
    return f"{tick_text(abs(value), step)}\N{DEGREE SIGN} {sign}"


def _graticule(projection: Projection, frame: tuple[float, float, float, float]) -> tuple[list[Item], list[Item]]:
    """Grid lines for inside the frame, and ticks with degree labels around it."""
    x0, y0, x1, y1 = frame
    east, north = metres_per_degree(projection.centre[1])
    half_lon = (x1 - x0) / 2 / projection.scale / east
    half_lat = (y1 - y0) / 2 / projection.scale / north
    lon, lat = projection.centre
    step = min(nice_step(2 * half_lon, 5), nice_step(2 * half_lat, 3))
    if len(ticks(lat - half_lat, lat + half_lat, step)) < 2:  # one line alone gives no measure
        step = nice_step(step / 2.5, 1)
    grid: list[Item] = []
    labels: list[Item] = []
    pen, tick = Stroke(0.25, (0.7, 0.7, 0.7)), Stroke(0.5)
    for value in ticks(lon - half_lon, lon + half_lon, step):
        x = projection.at((value, lat))[0]
        grid.append(Line((x, y0), (x, y1), pen))
        labels += [Line((x, y0), (x, y0 - 3), tick), Line((x, y1), (x, y1 + 3), tick)]
        labels.append(Text((x, y0 - 10), _degrees(value, step, "EW"), 6.5, "middle"))
    for value in ticks(lat - half_lat, lat + half_lat, step):
        y = projection.at((lon, value))[1]
        grid.append(Line((x0, y), (x1, y), pen))
        labels += [Line((x0, y), (x0 - 3, y), tick), Line((x1, y), (x1 + 3, y), tick)]
        labels.append(Text((x0 - 5, y), _degrees(value, step, "NS"), 6.5, "middle", rotation=90))
    return grid, labels


def scale_bar(scale: float, room: float) -> tuple[float, str]:
    """Length in metres of a scale bar no longer than `room` points, a round number, and its words.

    `scale` is points in a metre.
    """
    most = room / scale
    power = 10.0 ** math.floor(math.log10(most))
    length = next(power * factor for factor in (5, 2, 1) if power * factor <= most * (1 + 1e-9))
    return length, f"{length / 1000:g} km" if length >= 1000 else f"{length:g} m"


def _draw_scale_bar(projection: Projection, x: float, y: float, room: float) -> list[Item]:
    length, words = scale_bar(projection.scale, room)
    part = length * projection.scale / 4
    items: list[Item] = [
        Polygon((box(x + part * n, y, x + part * (n + 1), y + 3.6),), Stroke(0.5), BLACK if n % 2 == 0 else WHITE)
        for n in range(4)
    ]
    half = length / 2
    middle = f"{half / 1000:g}" if length >= 1000 else f"{half:g}"
    items.append(Text((x, y + 6), "0", 6.5, "middle"))
    items.append(Text((x + 2 * part, y + 6), middle, 6.5, "middle"))
    items.append(Text((x + 4 * part, y + 6), words, 6.5, "middle"))
    return items


def _north_arrow(x: float, y: float) -> list[Item]:
    """Return an arrow that points up, half of it filled, on a white ground."""
    ground = Polygon((box(x - 9, y - 5, x + 9, y + 30),), Stroke(0.4), WHITE)
    left = Polygon((((x, y + 20), (x - 5, y), (x, y + 4)),), Stroke(0.5), WHITE)
    right = Polygon((((x, y + 20), (x, y + 4), (x + 5, y)),), Stroke(0.5), BLACK)
    return [ground, left, right, Text((x, y + 22), "N", 7, "middle", bold=True)]


def _area_items(areas: Sequence[MapArea], projection: Projection) -> list[Item]:
    items: list[Item] = []
    for area in sorted(areas, key=lambda one: _ORDER[one.style]):
        stroke, fill, hatch = _AREA_LOOKS[area.style]
        rings = tuple(tuple(projection.at(point) for point in ring) for ring in area.rings)
        items.append(Polygon(rings, stroke, fill, hatch))
    return items


def _site_items(
    sites: Sequence[MapSite], projection: Projection, frame: tuple[float, float, float, float]
) -> list[Item]:
    spots = [projection.at(site.at) for site in sites]
    labels = place_labels(spots, [site.label for site in sites], 7.5, frame)
    items: list[Item] = [Line(*label.leader, Stroke(0.4)) for label in labels if label.leader is not None]
    items += [Marker(spot, site.shape, 5.4) for spot, site in zip(spots, sites, strict=True)]
    items += [Text(label.at, label.text, 7.5, bold=True, halo=True) for label in labels]
    return items


def _legend_entries(
    areas: Sequence[MapArea], lines: Sequence[MapLine], sites: Sequence[MapSite], site_name: str
) -> list[tuple[AreaStyle | LineStyle | Shape, str]]:
    entries: list[tuple[AreaStyle | LineStyle | Shape, str]] = []
    ordered = sorted(areas, key=lambda one: (-_ORDER[one.style], one.name))
    for kind, name in [*((a.style, a.name) for a in ordered), *((line.style, line.name) for line in lines)]:
        if name and (kind, name) not in entries:
            entries.append((kind, name))
    if sites:
        entries.append((sites[0].shape, site_name))
    return entries


def _legend(
    entries: Sequence[tuple[AreaStyle | LineStyle | Shape, str]], x: float, top: float, columns: int, wide: float
) -> list[Item]:
    items: list[Item] = []
    for place, (kind, name) in enumerate(entries):
        left = x + (place % columns) * wide
        low = top - _LEGEND_LINE * (place // columns + 1)
        if kind in _AREA_LOOKS:
            stroke, fill, hatch = _AREA_LOOKS[kind]
            items.append(Polygon((box(left, low, left + 18, low + 8),), stroke, fill, hatch))
        elif kind in _LINE_LOOKS:
            items.append(Line((left, low + 4), (left + 18, low + 4), _LINE_LOOKS[kind]))
        else:
            items.append(Marker((left + 9, low + 4), kind, 5.4))  # type: ignore[arg-type]
        room = int((wide - 30) / (0.53 * 7))
        items.append(
            Text((left + 24, low + 1.6), name if len(name) <= room else name[: room - 1] + "\N{HORIZONTAL ELLIPSIS}", 7)
        )
    return items


def map_frame(
    areas: Sequence[MapArea],
    lines: Sequence[MapLine],
    sites: Sequence[MapSite],
    *,
    datum: str,
    alt: str,
    site_name: str = "Collecting site, by number",
    width: float = 480,
    height: float = 330,
    least_metres: float = 200,
) -> Drawing:
    """Return a map of areas, lines and numbered sites, `width` by `height` points with all its furniture.

    `datum` is printed below the frame, for example "WGS 84"; `least_metres` keeps a single site from being shown at
    a false scale. Raises MapError when nothing is given or a place is not on the map.
    """
    entries = _legend_entries(areas, lines, sites, site_name)
    longest = max((text_width(name, 7) + 38 for _, name in entries), default=1)
    columns = max(1, min(3, int((width - 24) / longest)))
    legend = _LEGEND_LINE * math.ceil(len(entries) / columns)
    frame = (18.0, legend + _FOOT + 16, width - 8, height - 6)
    if frame[3] - frame[1] < 60:
        raise MapError(f"A map {height:g} points high leaves no room beside its legend; make it higher.")
    projection = _fit(_focus(areas, lines, sites), frame, least_metres)
    grid, labels = _graticule(projection, frame)
    inside = _area_items(areas, projection) + grid
    inside += [
        Polyline(tuple(projection.at(point) for point in line.points), _LINE_LOOKS[line.style]) for line in lines
    ]
    inside += _site_items(sites, projection, (frame[0], frame[1], frame[2] - 26, frame[3]))
    inside += _north_arrow(frame[2] - 15, frame[3] - 37)
    items: list[Item] = [Clip(frame, tuple(inside)), Polygon((box(*frame),), Stroke(0.7)), *labels]
    foot = frame[1] - 31
    items += _draw_scale_bar(projection, frame[0] + 4, foot, (frame[2] - frame[0]) / 3)
    note = f"Datum {datum}. Local equirectangular projection, north up."
    items.append(Text((frame[2], foot + 6), note, 6.5, "end", colour=GREY))
    items += _legend(entries, frame[0], legend + 4, columns, (frame[2] - frame[0]) / columns)
    return Drawing(width, height, tuple(items), alt)
