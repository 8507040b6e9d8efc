"""Damaged tracks and areas, and folders where a file should be."""

from __future__ import annotations

import json
import shutil

from tests.exchange.damage_season import (
    AREAS,
    GPX,
    ROWS,
    SQUARE,
    Damages,
    csv_bytes,
    cut,
    write_gpkg,
    write_shapefile,
    zipped,
)

# --- tracks


def tracks(made: Damages) -> None:
    table = csv_bytes([[cell for at, cell in enumerate(row) if at not in (6, 7)] for row in ROWS])
    point = '<trkpt lat="-41.95" lon="153.05">'
    for name, text in (
        ("no bytes", ""),
        ("text", "lat lon\n"),
        ("entities within entities", GPX.replace("<gpx", f"{_entities()}<gpx", 1).replace("handheld", "&e9;")),
        ("an outside entity", GPX.replace("<gpx", '<!DOCTYPE gpx [<!ENTITY e SYSTEM "file:///etc/hostname">]><gpx', 1)),
        ("an outside document type", GPX.replace("<gpx", '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd"><gpx', 1)),
        ("elements 10,000 deep", GPX.replace("<trk>", "<a>" * 10_000, 1)),
        ("latitude NaN", GPX.replace('lat="-41.95"', 'lat="NaN"', 1)),
        ("latitude 1e308", GPX.replace('lat="-41.95"', 'lat="1e308"', 1)),
        ("latitude 95", GPX.replace('lat="-41.95"', 'lat="95"', 1)),
        ("no longitude", GPX.replace(point, '<trkpt lat="-41.95">', 1)),
        ("a time that is none", GPX.replace("2027-06-12T11:30:00Z", "soon", 1)),
        ("another version", GPX.replace('version="1.1"', 'version="3"')),
        ("another kind", GPX.replace("gpx", "kml")),
        ("no points", GPX.replace("trkpt", "rtept")),
    ):
        made.beside(f"night.gpx of {name}", "night.gpx", text.encode(), "night.csv", table)
    for at, short in cut(GPX.encode(), 6):
        made.beside(f"night.gpx cut at byte {at}", "night.gpx", short, "night.csv", table)
    made.beside("night.gpx in UTF-16 that says UTF-8", "night.gpx", GPX.encode("utf-16"), "night.csv", table)
    made.beside(
        "night.gpx with NUL bytes", "night.gpx", GPX.replace("<ele", "<").encode()[:90] + b"\0", "night.csv", table
    )


def _entities() -> str:
    nested = "".join(f'<!ENTITY e{at} "{f"&e{at - 1};" * 10}">' for at in range(1, 10))
    return f'<!DOCTYPE gpx [<!ENTITY e0 "ha">{nested}]>'


# --- areas


def area_files(made: Damages) -> None:
    def shape(geometry: object, **more: object) -> bytes:
        feature = {"type": "Feature", "id": "reach", "properties": {"id": "reach"}, "geometry": geometry, **more}
        return json.dumps({"type": "FeatureCollection", "features": [feature]}).encode()

    def polygon(*rings: object) -> bytes:
        return shape({"type": "Polygon", "coordinates": list(rings)})

    for name, content in (
        ("a ring that crosses itself", polygon([[153, -42], [153.1, -41.9], [153.1, -42], [153, -41.9], [153, -42]])),
        ("an open ring", polygon(SQUARE[:-1])),
        ("a ring of two corners", polygon([[153, -42], [153.1, -42], [153, -42]])),
        ("a hole outside", polygon(SQUARE, [[10, 10], [10, 11], [11, 11], [10, 10]])),
        ("a corner of letters", polygon([["a", "b"], *SQUARE[1:]])),
        ("a corner at NaN", polygon(SQUARE).replace(b"-41.9", b"NaN", 1)),
        ("a corner at Infinity", polygon(SQUARE).replace(b"-41.9", b"-Infinity", 1)),
        ("a corner at 1e308", polygon(SQUARE).replace(b"-41.9", b"1e308", 1)),
        ("a corner at 1e999", polygon(SQUARE).replace(b"-41.9", b"1e999", 1)),
        ("a latitude of 142", polygon([[at[1], at[0]] for at in SQUARE])),
        ("an unknown geometry", shape({"type": "Blob", "coordinates": []})),
        ("no geometry", shape(None)),
        ("no features", b'{"type": "FeatureCollection", "features": []}'),
        ("features that are numbers", b'{"type": "FeatureCollection", "features": [1, 2]}'),
        (
            "an unknown system",
            json.dumps({**AREAS, "crs": {"type": "name", "properties": {"name": "EPSG:0"}}}).encode(),
        ),
        ("a kind unknown", json.dumps(AREAS).replace("permitted", "perhaps").encode()),
        (
            "coordinates 10,000 deep",
            shape(None).replace(b"null", b'{"type": "Polygon", "coordinates": ' + b"[" * 10_000 + b"]" * 10_000 + b"}"),
        ),
    ):
        made.areas(f"areas.geojson of {name}", "areas.geojson", content)
    for missing in (".shx", ".dbf", ".prj"):
        path = made.areas(f"areas.shp without its {missing}", "areas.shp", None)
        write_shapefile(path)
        path.with_suffix(missing).unlink()
    for suffix in (".shp", ".dbf", ".shx"):
        path = made.areas(f"areas.shp with its {suffix} cut in half", "areas.shp", None)
        write_shapefile(path)
        part = path.with_suffix(suffix)
        part.write_bytes(part.read_bytes()[: part.stat().st_size // 2])
    for name, content in (("no bytes", b""), ("text", b"area"), ("NUL bytes", b"\0" * 200)):
        made.areas(f"areas.shp of {name}", "areas.shp", content)
    for part in range(1, 8):
        path = made.areas(f"areas.gpkg cut at {part}/8", "areas.gpkg", None)
        write_gpkg(path)
        path.write_bytes(path.read_bytes()[: path.stat().st_size * part // 8])
    for name, content in (("no bytes", b""), ("text", b"area"), ("the head alone", b"SQLite format 3\0")):
        made.areas(f"areas.gpkg of {name}", "areas.gpkg", content)
    made.areas("areas.zip of no shapefile", "areas.zip", zipped({"a.txt": b"x"}))
    made.areas("areas.zip of no bytes", "areas.zip", b"")
    made.areas("areas.zip that climbs out", "areas.zip", zipped({"../../a.shp": b"x"}))
    made.areas("areas.kml of another kind", "areas.kml", b"<kml/>")


# --- places where a file should be


def places(made: Damages) -> None:
    for file in ("trips.json", "night.csv", "night.xlsx"):
        path = made.trips(f"{file} that is not there", file, None)
        assert not path.exists()
    for file in ("night.csv", "night.xlsx"):
        path = made.trips(f"{file} linked to nothing", file, None)
        path.symlink_to(path.parent / "nowhere")
    made.trips("trips of an unknown kind", "night.ods", b"x")
    for file in ("areas.geojson", "areas.gpkg", "areas.shp"):
        path = made.areas(f"{file} that is a folder", file, None)
        if path.exists():
            path.unlink()
        path.mkdir()
    shutil.copy(
        made.trips("trips that are an authority", "other.json", None).parent / "authority.json", made.cases[-1].file
    )
