"""GeoJSON (RFC 7946) read with nothing but the standard library and the geometry engine.

A legacy "crs" member (GeoJSON 2008), which RFC 7946 dropped but many files carry, is handed on, not applied
here.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from api.domain.places.area_faults import AreaFault, ring_faults

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

_NUMBERS = {int, float}
_KINDS = ("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon")


class UnreadableError(Exception):
    """The whole file cannot be read; carries where, what and how to mend it."""

    def __init__(self, where: str, what: str, mend: str) -> None:
        self.where, self.what, self.mend = where, what, mend
        super().__init__(f"{where}: {what} {mend}")


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature as it stands in a file: attributes, a geometry (None if faulty), and what is wrong."""

    attributes: Mapping[str, Any]
    geometry: BaseGeometry | None
    faults: Sequence[AreaFault] = field(default=())


def read_geojson(content: bytes) -> tuple[list[Feature], str | None]:
    """Read features and the name of a legacy reference system (None for plain WGS84).

    Raises UnreadableError when the content is no GeoJSON at all.
    """
    document = _parsed(_decoded(content))
    if not isinstance(document, dict):
        raise UnreadableError("", "This is no GeoJSON: the file does not hold an object.", "Export it as GeoJSON.")
    kind = document.get("type")
    if kind == "FeatureCollection":
        members = document.get("features")
        if not isinstance(members, list):
            raise UnreadableError("features", "The feature collection has no list of features.", "Export it again.")
        return [_feature(member) for member in members], _legacy_system(document)
    if kind == "Feature":
        return [_feature(document)], _legacy_system(document)
    if kind in (*_KINDS, "GeometryCollection"):
        return [_feature({"type": "Feature", "properties": {}, "geometry": document})], _legacy_system(document)
    raise UnreadableError("type", f"This is no GeoJSON: its type is {_shown(kind)}.", "A FeatureCollection is wanted.")


def _decoded(content: bytes) -> str:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise UnreadableError("", "The file is in UTF-16.", "Save it as UTF-8.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableError(f"byte {error.start + 1}", "The file is not in UTF-8.", "Save it as UTF-8.") from None


def _parsed(text: str) -> Any:
    if not text.strip():
        raise UnreadableError("", "The file is empty.", "Export the areas again.")
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        what = f"The file breaks off or is no JSON there ({error.msg})."
        raise UnreadableError(where, what, "Export or copy it again.") from None
    except RecursionError:
        raise UnreadableError("", "The file is nested far too deeply.", "Export the areas again.") from None
    except ValueError:
        raise UnreadableError("", "The file holds a number too long to be one.", "Export the areas again.") from None


def _legacy_system(document: Mapping[str, Any]) -> str | None:
    system = document.get("crs")
    if system is None:
        return None
    properties = system.get("properties") if isinstance(system, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str):
        raise UnreadableError(
            "crs",
            "The reference system is not given by name.",
            "Name it, such as urn:ogc:def:crs:EPSG::7844.",
        )
    return name


def _feature(member: Any) -> Feature:
    if not isinstance(member, dict) or member.get("type") != "Feature":
        return Feature({}, None, [AreaFault("this is no feature", None, "Export the areas again.")])
    properties = member.get("properties")
    attributes = dict(properties) if isinstance(properties, dict) else {}
    if "id" in member:
        attributes.setdefault("id", member["id"])
    try:
        return Feature(attributes, *_geometry(member.get("geometry")))
    except _ShapeError as error:
        return Feature(attributes, None, [AreaFault(str(error), None, "Draw the area again and export it.")])


class _ShapeError(Exception):
    """The coordinates are not nested as their type demands."""


def _geometry(written: Any) -> tuple[BaseGeometry | None, list[AreaFault]]:
    if not isinstance(written, dict):
        raise _ShapeError("the feature has no geometry")
    kind = written.get("type")
    if kind not in _KINDS:
        raise _ShapeError(f"the geometry is of type {_shown(kind)}, which is no area, line or point")
    nested = written.get("coordinates")
    if kind in ("Polygon", "MultiPolygon"):
        return _polygons([nested] if kind == "Polygon" else _listed(nested))
    if kind == "Point":
        return shapely.Point(_position(nested)), []
    if kind == "MultiPoint":
        return shapely.MultiPoint(_positions(nested)), []
    lines = [_positions(line) for line in ([nested] if kind == "LineString" else _listed(nested))]
    if not lines or min(map(len, lines)) < 2:
        raise _ShapeError("a line has fewer than two positions")
    return (shapely.LineString(lines[0]) if kind == "LineString" else shapely.MultiLineString(lines)), []


def _polygons(nested: list[Any]) -> tuple[BaseGeometry | None, list[AreaFault]]:
    parts = [[_positions(ring) for ring in _listed(part)] for part in nested]
    if not parts or not all(parts):
        return None, ring_faults([])
    rings = [ring for part in parts for ring in part]
    # A corner that is no number equals nothing, not even itself: look for those before looking for closed rings.
    if not all(np.isfinite(ring).all() for ring in rings):
        return None, [AreaFault("a corner is no number", None, "Give every corner a longitude and a latitude.")]
    faults = [fault for ring in rings for fault in ring_faults(ring)]
    if faults:
        return None, faults
    polygons = [shapely.Polygon(part[0], part[1:]) for part in parts]
    return (polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)), []


def _listed(nested: Any) -> list[Any]:
    if not isinstance(nested, list):
        raise _ShapeError(f"the coordinates hold {_shown(nested)} where a list is wanted")
    return nested


def _positions(nested: Any) -> list[tuple[float, float]]:
    positions = _listed(nested)
    # In place: each small list is let go as it is read, which halves what a large file takes.
    for number, position in enumerate(positions):
        positions[number] = _position(position)
    return positions


def _position(nested: Any) -> tuple[float, float]:
    """Read longitude and latitude; a height, where there is one, is left aside."""
    # By exact type: true and false are whole numbers to the language, but no coordinates.
    if type(nested) is list and len(nested) > 1 and {type(nested[0]), type(nested[1])} <= _NUMBERS:
        try:
            return float(nested[0]), float(nested[1])
        except OverflowError:
            raise _ShapeError("a coordinate is a number far too large") from None
    raise _ShapeError(f"the coordinates hold {_shown(nested)} where a longitude and a latitude are wanted")


def _shown(value: Any) -> str:
    """Show a value from a file briefly: it may be a megabyte of anything."""
    match value:
        case None:
            return "nothing"
        case dict() | list():
            return "a list" if isinstance(value, list) else "an object"
    text = str(value)
    return f"'{text[:40]}...'" if len(text) > 40 else f"'{text}'"
