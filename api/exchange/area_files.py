"""Areas from files and to files: GeoJSON, shapefile (also zipped), GeoPackage; any system into WGS84.

Every fault of a file is collected before anything is said. A feature with a fault gives no area.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from api.domain.places.answers import Area
from api.domain.places.area_faults import (
    AreaFault,
    Reference,
    faults_of,
    looks_misplaced,
    looks_shifted,
    looks_swapped,
)
from api.domain.places.outlines import normalised
from api.exchange.area_geojson import Feature, UnreadableError, read_geojson
from api.exchange.area_layers import read_geopackage, read_shapefile, write_geopackage
from api.exchange.faults import Fault

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

__all__ = ["KINDS", "read_areas", "to_geojson", "write_geopackage"]

KINDS = ("permitted", "closed", "feature", "shoreline", "water")

# Text takes up to forty times its size once read: this keeps the worst of it under half a gigabyte.
_MOST_BYTES = {".geojson": 8_000_000, ".json": 8_000_000}
_MOST_BYTES_ELSE = 200_000_000
_WIDTH_DECIMALS = 8
# A shapefile cuts names of attributes to ten letters.
_NAMES = {"edge_toler": "edge_tolerance_m", "edge_tol_m": "edge_tolerance_m"}


def read_areas(
    path: Path, near: Sequence[Reference] = (), known: Sequence[Area] = ()
) -> tuple[list[Area], list[Fault]]:
    """Read the areas of a file, and everything that is wrong with it; never raises for what a file holds.

    ``near`` are positions (lon, lat) or bounds of the same work, ``known`` areas on record: with them swapped
    coordinates, a lost sign and a wrong datum are noticed. Attributes read: id, name, kind (see KINDS),
    edge_tolerance_m, source, drawn.
    """
    try:
        layers = _layers(path)
    except UnreadableError as error:
        return [], [Fault(path.name, error.where, error.what, error.mend)]
    except OSError as error:
        return [], [
            Fault(path.name, "", f"The file cannot be opened ({error.strerror}).", "Look at its name and place.")
        ]
    found: list[tuple[str, Area]] = []
    faults: list[Fault] = []
    number = 0
    for features, system in layers:
        into_degrees = _converter(path, system)
        if isinstance(into_degrees, Fault):
            faults.append(into_degrees)
            continue
        for feature in features:
            number += 1
            where = _where(number, feature.attributes)
            area, wrong = _area(feature, number, into_degrees)
            faults += [_fault(path, where, one) for one in wrong]
            if area is not None:
                found.append((where, area))
    if not number and not faults:
        faults.append(Fault(path.name, "", "The file holds no area.", "Export the areas again."))
    areas, doubts = _without_doubts(path, found, near, known)
    return areas, faults + doubts


def to_geojson(areas: Sequence[Area]) -> dict[str, Any]:
    """Give areas as a GeoJSON FeatureCollection (RFC 7946): right-hand rule, antimeridian split, WGS84."""
    return {"type": "FeatureCollection", "features": [_written(area) for area in areas]}


def _written(area: Area) -> dict[str, Any]:
    rounded = shapely.transform(normalised(area.geometry), lambda xy: np.round(xy, _WIDTH_DECIMALS))
    return {
        "type": "Feature",
        "id": area.id,
        "properties": {
            "id": area.id,
            "name": area.name,
            "kind": area.kind,
            "edge_tolerance_m": area.edge_tolerance_m,
            "source": area.source,
            "drawn": area.drawn,
        },
        "geometry": shapely.geometry.mapping(rounded),
    }


def _layers(path: Path) -> list[tuple[list[Feature], str | None]]:
    suffix = path.suffix.lower()
    limit = _MOST_BYTES.get(suffix, _MOST_BYTES_ELSE)
    if path.stat().st_size > limit:
        raise UnreadableError(
            "",
            f"The file is larger than {limit // 1_000_000} MB.",
            "Give only the areas, with fewer corners.",
        )
    if suffix in (".geojson", ".json"):
        features, system = read_geojson(path.read_bytes())
        return [(features, "OGC:CRS84" if system is None else system)]
    if suffix in (".shp", ".zip"):
        return read_shapefile(path)
    if suffix == ".gpkg":
        return read_geopackage(path)
    raise UnreadableError(
        "",
        f"Files ending in '{suffix}' are not read.",
        "Give .geojson, .shp, a .zip of a shapefile, or .gpkg.",
    )


class _Converter:
    """Takes geometries from one reference system to WGS84 degrees, longitude first."""

    def __init__(self, system: CRS) -> None:
        self.datum = "WGS84" if system.equals(CRS("OGC:CRS84"), ignore_axis_order=True) else system.name
        self._transformer = None if self.datum == "WGS84" else Transformer.from_crs(system, "OGC:CRS84", always_xy=True)

    def __call__(self, geometry: BaseGeometry) -> BaseGeometry | None:
        """Convert; None where a corner has no place on earth in that system."""
        if self._transformer is None:
            return geometry
        xy = shapely.get_coordinates(geometry)
        lon, lat = self._transformer.transform(xy[:, 0], xy[:, 1])
        moved = np.column_stack((lon, lat))
        if not np.isfinite(moved).all():
            return None
        copy = shapely.from_wkb(shapely.to_wkb(shapely.force_2d(geometry)))
        return shapely.set_coordinates(copy, moved)


def _converter(path: Path, system: str | None) -> _Converter | Fault:
    if system is None:
        mend = "Add the .prj file that belongs to it (zone and datum), or export it again with one."
        return Fault(path.name, "", "The file does not say in which reference system its numbers are.", mend)
    try:
        return _Converter(CRS.from_user_input(system))
    except (CRSError, ProjError):
        what = f"The reference system '{system[:60]}' is not known or has no place on earth."
        return Fault(path.name, "crs", what, "Declare it by its EPSG number, or export in WGS84.")


def _where(number: int, attributes: Mapping[str, Any]) -> str:
    label = _text(_tidy(attributes).get("name")) or _text(_tidy(attributes).get("id"))
    return f"feature {number} '{label[:60]}'" if label else f"feature {number}"


def _fault(path: Path, where: str, wrong: AreaFault) -> Fault:
    place = "" if wrong.where is None else f" at longitude {wrong.where[0]:.10g}, latitude {wrong.where[1]:.10g}"
    return Fault(path.name, where, f"{wrong.what[:1].upper()}{wrong.what[1:]}{place}.", wrong.mend)


def _area(feature: Feature, number: int, into_degrees: _Converter) -> tuple[Area | None, list[AreaFault]]:
    faults = list(feature.faults)
    attributes = _tidy(feature.attributes)
    kind = _text(attributes.get("kind")).lower()
    if kind and kind not in KINDS:
        faults.append(AreaFault(f"the kind '{kind[:40]}' is not known", None, f"Give one of {', '.join(KINDS)}."))
    tolerance = _tolerance(attributes.get("edge_tolerance_m"))
    if tolerance is None:
        faults.append(AreaFault("edge_tolerance_m is no number of metres", None, "Give metres, zero or more."))
    geometry, wrong = _sound(feature.geometry, into_degrees)
    faults += wrong
    if faults or geometry is None or tolerance is None:
        return None, faults
    name = _text(attributes.get("name"))
    own_id = _text(attributes.get("id")) or name or f"area {number}"
    return Area(
        id=own_id,
        name=name or own_id,
        geometry=geometry,
        edge_tolerance_m=tolerance,
        source=_text(attributes.get("source")),
        drawn=_text(attributes.get("drawn")),
        datum=into_degrees.datum,
        kind=kind,
    ), []


def _sound(geometry: BaseGeometry | None, into_degrees: _Converter) -> tuple[BaseGeometry | None, list[AreaFault]]:
    """Bring a geometry to WGS84 within -180 ... 180, or tell what is wrong with it."""
    if geometry is None:
        return None, []
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        return None, faults_of(geometry)
    moved = into_degrees(geometry)
    if moved is None:
        mend = "Look whether the declared zone and datum are those it was drawn in."
        return None, [AreaFault("a corner has no place on earth in the declared reference system", None, mend)]
    faults = faults_of(moved)
    return (None, faults) if faults else (normalised(moved), [])


def _without_doubts(
    path: Path, found: Sequence[tuple[str, Area]], near: Sequence[Reference], known: Sequence[Area]
) -> tuple[list[Area], list[Fault]]:
    """Set aside areas that look swapped, misplaced or shifted, or that share an id."""
    areas, faults = [], []
    taken: set[str] = set()
    frames = [area.geometry.bounds for _, area in found]
    outside = [*near, *(area.geometry.bounds for area in known)]
    for number, (where, area) in enumerate(found):
        # Two areas cannot outvote each other: the file's own areas speak only where there are three or more.
        others = [frame for at, frame in enumerate(frames) if at != number] if len(frames) > 2 else []
        doubts = list(_doubts(area, outside or others, known))
        if area.id in taken:
            doubts.append(
                AreaFault(f"the id '{area.id[:40]}' is there twice", None, "Give each area an id of its own.")
            )
        taken.add(area.id)
        faults += [_fault(path, where, doubt) for doubt in doubts]
        if not doubts:
            areas.append(area)
    return areas, faults


def _doubts(area: Area, reference: Sequence[Reference], known: Sequence[Area]) -> Iterator[AreaFault]:
    doubt = looks_swapped(area.geometry, reference) or looks_misplaced(area.geometry, reference)
    if doubt is not None:
        yield doubt
    for other in known:
        if (other.id, other.name) == (area.id, area.name) or (other.name and other.name == area.name):
            shifted = looks_shifted(area.geometry, other.geometry)
            if shifted is not None:
                yield replace(shifted, what=f"{shifted.what} ('{other.name}')")


def _tidy(attributes: Mapping[str, Any]) -> dict[str, Any]:
    lowered = {str(name).strip().lower(): value for name, value in attributes.items()}
    return {_NAMES.get(name, name): value for name, value in lowered.items()}


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)) or isinstance(value, dict | list):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _tolerance(value: Any) -> float | None:
    if _text(value) == "":
        return 0.0
    try:
        metres = float(_text(value))
    except ValueError:
        return None
    return metres if math.isfinite(metres) and metres >= 0 else None
