"""Where and when: the map, and a table of every haul with its position and how good it is."""

from __future__ import annotations

from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from api.domain.calendar import spoken_time
from api.domain.conditions import AreaRule
from api.domain.facts import HaulFact
from api.domain.trips import Haul
from reports.document import Block, Cell, Column, Figure, Heading, Paragraph, Row, Table
from reports.maps import AreaStyle, LineStyle, MapArea, MapLine, MapSite, map_frame
from reports.season.material import Material

_CLOSE_DEG = 0.0015
"""Hauls nearer than this to a site's first one share its number on the map (about 150 m)."""


_MAP_HEIGHT = 400.0
"""Points; a map nearly as high as wide suits an inlet better than a strip."""
_SHARED_NAMES: dict[str, str] = {"land": "Land and drying flats", "water": "Water"}


def places(material: Material) -> list[Block]:
    """Give the section on where and when."""
    blocks: list[Block] = [Heading(1, "Where and when")]
    figure = _map(material)
    if figure is not None:
        blocks.append(figure)
    blocks.append(_table(material))
    blocks.append(
        Paragraph(
            "Positions in decimal degrees, WGS 84; the radius is the one within which the device places itself with 95 % "
            "confidence. Times in the authority's zone.",
            small=True,
        )
    )
    without = [fact.haul.id for fact in material.hauls if not fact.haul.fixes]
    if without:
        blocks.append(Paragraph(f"Hauls without a recorded position: {', '.join(without)}."))
    return blocks


def _map(material: Material) -> Figure | None:
    areas, lines = _drawn(material)
    sites = _sites(material)
    if not areas and not sites:
        return None
    permitted = sum(area.style == "permitted" for area in areas)
    closed = sum(area.style == "closed" for area in areas)
    alt = (
        f"Map of the collecting area with {permitted} permitted and {closed} closed outlines and "
        f"{len(sites)} numbered places of hauls: "
        f"{'; '.join(f'{site.label} at {site.at[1]:.4f}, {site.at[0]:.4f}' for site in sites)}."
    )
    drawing = map_frame(
        areas, lines, sites, datum="WGS 84", alt=alt, site_name="Hauls, by place number", height=_MAP_HEIGHT
    )
    return Figure(drawing, "Permitted and closed areas and the places of hauls; numbers as in the table below.")


def _drawn(material: Material) -> tuple[list[MapArea], list[MapLine]]:
    """Give the areas that the authority's conditions name, with land, water and shoreline."""
    role = _roles(material)
    areas: list[MapArea] = []
    lines: list[MapLine] = []
    for area in material.facts.book.areas.values():
        style = role.get(area.id) or _BY_KIND.get(area.kind)
        if style == "shore" and isinstance(area.geometry, Polygon | MultiPolygon):
            style = "land"
        if style == "shore" or style == "boundary" or style == "track":  # noqa: PLR1714 - told apart by the type checker
            lines.extend(_lines(area.geometry, style, area.name))
        elif style is not None:
            areas.extend(_areas(area.geometry, style, _SHARED_NAMES.get(style, area.name)))
    return areas, lines


_BY_KIND: dict[str, AreaStyle | LineStyle] = {
    "land": "land",
    "island": "land",
    "water": "water",
    "shoreline": "shore",
    "feature": "boundary",
    "closed": "closed",
    "permitted": "permitted",
}


def _roles(material: Material) -> dict[str, AreaStyle | LineStyle]:
    """Tell what each area is to the authority, by its conditions."""
    roles: dict[str, AreaStyle | LineStyle] = {}
    words: dict[str, AreaStyle | LineStyle] = {"inside": "permitted", "outside": "closed", "keep away": "boundary"}
    for clauses in material.facts.clauses[material.authority.id].values():
        condition = clauses[-1].condition
        if isinstance(condition, AreaRule):
            for area in condition.areas:
                style = words[condition.where]
                polygonal = isinstance(material.facts.book.areas[area].geometry, Polygon | MultiPolygon)
                roles[area] = "conditional" if style == "boundary" and polygonal else style
                if style == "closed" and condition.dates:
                    roles[area] = "conditional"
    return roles


def _areas(geometry: BaseGeometry, style: AreaStyle, name: str) -> list[MapArea]:
    parts = list(geometry.geoms) if isinstance(geometry, MultiPolygon) else [geometry]
    found = []
    for part in parts:
        if isinstance(part, Polygon):
            rings = tuple(tuple((x, y) for x, y, *_ in ring.coords) for ring in (part.exterior, *part.interiors))
            found.append(MapArea(style, rings, name))
    return found


def _lines(geometry: BaseGeometry, style: LineStyle, name: str) -> list[MapLine]:
    if isinstance(geometry, Polygon | MultiPolygon):
        geometry = geometry.boundary
    if isinstance(geometry, Point):
        geometry = geometry.buffer(0.0006).boundary
    parts = list(geometry.geoms) if isinstance(geometry, MultiLineString) else [geometry]
    return [
        MapLine(style, tuple((x, y) for x, y, *_ in part.coords), name)
        for part in parts
        if isinstance(part, LineString)
    ]


def place_numbers(material: Material) -> dict[str, int]:
    """Give each haul with a position the number of its place; hauls close together share one."""
    spots: list[tuple[float, float]] = []
    numbers: dict[str, int] = {}
    for fact in material.hauls:
        if not fact.haul.fixes:
            continue
        fix = fact.haul.fixes[0]
        for number, (lon, lat) in enumerate(spots, start=1):
            if abs(fix.lon - lon) < _CLOSE_DEG and abs(fix.lat - lat) < _CLOSE_DEG:
                numbers[fact.haul.id] = number
                break
        else:
            spots.append((fix.lon, fix.lat))
            numbers[fact.haul.id] = len(spots)
    return numbers


def _sites(material: Material) -> list[MapSite]:
    sites: dict[int, MapSite] = {}
    for fact in material.hauls:
        if fact.haul.fixes:
            number = place_numbers(material)[fact.haul.id]
            fix = fact.haul.fixes[0]
            sites.setdefault(number, MapSite(str(number), (fix.lon, fix.lat)))
    return list(sites.values())


def _table(material: Material) -> Table:
    numbers = place_numbers(material)
    rows = tuple(_row(material, fact, numbers.get(fact.haul.id)) for fact in material.hauls)
    return Table(
        "Every haul and set, in order of landing or lift",
        (
            Column("Haul", 1.4, kind="heading"),
            Column("Place", 0.7, kind="number"),
            Column("Site", 1.9),
            Column("Gear", 1.2),
            Column("Start", 1.6),
            Column("End", 1.6),
            Column("Latitude", 1.2, kind="number"),
            Column("Longitude", 1.3, kind="number"),
            Column("Radius m", 0.8, kind="number"),
        ),
        rows,
        empty="No haul was made.",
    )


def _gear(haul: Haul) -> str:
    if haul.gear is None:
        return ""
    return haul.gear.gear if haul.gear.number == 1 else f"{haul.gear.number} {haul.gear.gear}s"


def _row(material: Material, fact: HaulFact, number: int | None) -> Row:
    haul = fact.haul
    fix = haul.fixes[0] if haul.fixes else None
    radius = fix.radius_95_m if fix else None
    missing = "not recorded"
    return Row(
        (
            Cell(haul.id),
            Cell(str(number) if number else "\N{EN DASH}"),
            Cell(material.site(haul.site) or missing),
            Cell(_gear(haul) or missing),
            Cell(spoken_time(haul.start, material.zone)),
            Cell(spoken_time(haul.end, material.zone) if haul.end else ("lost" if haul.lost else missing)),
            Cell(f"{fix.lat:.5f}" if fix else missing),
            Cell(f"{fix.lon:.5f}" if fix else missing),
            Cell(f"{radius:.0f}" if radius is not None else missing),
        ),
        anchor=f"haul-{material.haul_row_of[haul.id]}",
    )
