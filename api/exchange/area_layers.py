"""Shapefiles and GeoPackages, in any reference system, through the geospatial tables (loaded only here)."""

from __future__ import annotations

import os
import warnings
import zipfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import shapely

from api.domain.places.area_faults import AreaFault
from api.exchange.area_geojson import Feature, UnreadableError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from api.domain.places.answers import Area

_MOST_BYTES = 200_000_000
_SHAPEFILE_MARK = b"\x00\x00\x27\x0a"
_SQLITE_MARK = b"SQLite format 3\x00"
_GEOPACKAGE_IDS = (b"GPKG", b"GP10", b"GP11")
_LAYER = "areas"


def read_shapefile(path: Path) -> list[tuple[list[Feature], str | None]]:
    """Read a .shp or a .zip that holds some: per layer its features and its system (None if not told).

    Raises UnreadableError when it cannot be read.
    """
    if path.suffix.lower() == ".zip":
        return [_layer(f"/vsizip/{path.resolve()}/{name}", None) for name in _zipped(path)]
    _check_shapefile(_head(path), path.stat().st_size, path.name)
    for suffix in (".shx", ".dbf"):
        if not _beside(path, suffix):
            raise UnreadableError(
                "",
                f"The {suffix} file that belongs to this shapefile is missing.",
                f"Put {path.stem}{suffix} beside it, or give all its files in one .zip.",
            )
    return [_layer(str(path), None)]


def read_geopackage(path: Path) -> list[tuple[list[Feature], str | None]]:
    """Read every layer of a GeoPackage that has geometries; raises UnreadableError when it cannot be read."""
    head = _head(path)
    _check_mark(head, _SQLITE_MARK, "GeoPackage")
    # Requirement 2 of OGC 12-128: the application id stands at byte 68 of the SQLite header.
    if head[68:72] not in _GEOPACKAGE_IDS:
        raise UnreadableError("", "This database is not marked as a GeoPackage.", "Export it as GeoPackage again.")
    return [_layer(str(path), name) for name in _layer_names(path)]


def write_geopackage(areas: Sequence[Area], path: Path) -> None:
    """Write areas as a GeoPackage in WGS84, replacing what was there; it appears whole or not at all."""
    import geopandas as gpd  # noqa: PLC0415

    columns = ("id", "name", "kind", "edge_tolerance_m", "source", "drawn")
    rows = {column: [getattr(area, column) for area in areas] for column in columns}
    frame = gpd.GeoDataFrame(rows, geometry=[area.geometry for area in areas], crs="EPSG:4326")
    unfinished = path.with_name(f".{path.stem}.unfinished.gpkg")
    unfinished.unlink(missing_ok=True)
    try:
        frame.to_file(unfinished, driver="GPKG", layer=_LAYER, engine="pyogrio")
        os.replace(unfinished, path)  # noqa: PTH105 - the atomic form
    finally:
        unfinished.unlink(missing_ok=True)


def _beside(path: Path, suffix: str) -> bool:
    return any(path.with_suffix(form).exists() for form in (suffix, suffix.upper()))


def _check_shapefile(head: bytes, size: int, name: str) -> None:
    """Look at a shapefile's first 100 bytes: its mark, and the length it says it has (in 16-bit words)."""
    _check_mark(head, _SHAPEFILE_MARK, f"shapefile ({name})")
    if len(head) < 100 or size < 2 * int.from_bytes(head[24:28], "big"):
        raise UnreadableError(
            "", f"The shapefile ({name}) is cut short.", "Export or copy it again, with all its parts."
        )


def _head(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(100)


def _check_mark(head: bytes, mark: bytes, name: str) -> None:
    """Look at the first bytes, so that no other kind of file is opened under a borrowed name."""
    if not head.startswith(mark):
        raise UnreadableError("", f"This is no {name}, whatever its name says.", "Export the areas again.")


def _zipped(path: Path) -> list[str]:
    """Give the names of the shapefiles within a .zip, after a look at what it would unpack to."""
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            if sum(member.file_size for member in members) > _MOST_BYTES:
                raise UnreadableError("", "The .zip unpacks to more than 200 MB.", "Give the areas alone.")
            names = [member.filename for member in members if PurePosixPath(member.filename).suffix.lower() == ".shp"]
            names = [name for name in names if not PurePosixPath(name).name.startswith("._")]
            for name in names:
                with archive.open(name) as file:
                    head, size = file.read(100), archive.getinfo(name).file_size
                _check_shapefile(head, size, PurePosixPath(name).name)
    # NotImplementedError is zipfile's word for a packing that it does not know, RuntimeError for a password.
    except (zipfile.BadZipFile, OSError, NotImplementedError, RuntimeError, EOFError):
        raise UnreadableError("", "The .zip is broken, locked or cut short.", "Pack or copy it again.") from None
    if not names:
        raise UnreadableError("", "There is no .shp in the .zip.", "Pack the .shp with its .shx, .dbf and .prj.")
    return names


def _errors() -> tuple[type[Exception], ...]:
    from pyogrio import errors  # noqa: PLC0415

    own = (
        errors.DataSourceError,
        errors.DataLayerError,
        errors.FeatureError,
        errors.FieldError,
        errors.GeometryError,
        errors.CRSError,
    )
    return (*own, ValueError, TypeError, RuntimeError, OSError, OverflowError, shapely.errors.ShapelyError)


def _layer_names(path: Path) -> list[str]:
    from pyogrio import list_layers  # noqa: PLC0415

    try:
        layers = list_layers(path)
    except _errors() as error:
        raise _broken(error) from None
    names = [str(name) for name, kind in layers if kind is not None]
    if not names:
        raise UnreadableError("", "The GeoPackage holds no layer with areas.", "Export the areas into it.")
    return names


def _layer(source: str, layer: str | None) -> tuple[list[Feature], str | None]:
    import geopandas as gpd  # noqa: PLC0415

    try:
        with warnings.catch_warnings():
            # What the reader warns of shows as a missing geometry or attribute, which is reported as such.
            warnings.simplefilter("ignore")
            frame = gpd.read_file(source, layer=layer, engine="pyogrio", on_invalid="ignore", force_2d=True)
    except _errors() as error:
        raise _broken(error) from None
    if not isinstance(frame, gpd.GeoDataFrame):
        raise UnreadableError("", "The file holds a table without geometries.", "Export the areas with their outlines.")
    system = None if frame.crs is None else frame.crs.to_wkt()
    names = [str(column) for column in frame.columns if column != frame.geometry.name]
    table = frame[names].astype(object).to_dict("records") if names else [{} for _ in range(len(frame))]
    return [_feature(row, shape) for row, shape in zip(table, frame.geometry, strict=True)], system


def _feature(row: dict[Any, Any], shape: BaseGeometry | None) -> Feature:
    attributes = {str(name): value for name, value in row.items()}
    if shape is None:
        fault = AreaFault("the geometry is missing or broken", None, "Draw the area again and export it.")
        return Feature(attributes, None, [fault])
    return Feature(attributes, shape)


def _broken(error: Exception) -> UnreadableError:
    if isinstance(error, UnicodeDecodeError):
        return UnreadableError(
            "",
            "The attributes are in an encoding the file does not name.",
            "Export it in UTF-8 (with a .cpg file).",
        )
    return UnreadableError("", "The file is broken or cut short.", "Export or copy it again, with all its parts.")
