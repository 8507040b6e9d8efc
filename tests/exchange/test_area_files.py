from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import zipfile
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from pyproj import Transformer

from api.domain.places.areas import Area, Fix, judge_fix
from api.exchange.area_files import read_areas, to_geojson, write_geopackage

NORTH = shapely.box(150.10, -36.20, 150.12, -36.19)
SOUTH = shapely.Polygon(
    shapely.box(150.10, -36.24, 150.12, -36.22).exterior, [shapely.box(150.105, -36.235, 150.11, -36.23).exterior]
)
ATTRIBUTES = {
    "id": "n1",
    "name": "North bank",
    "kind": "permitted",
    "edge_tolerance_m": 7.5,
    "source": "plan 4",
    "drawn": "1:25 000",
}


def feature(geometry, **properties):
    mapped = shapely.geometry.mapping(geometry) if isinstance(geometry, shapely.Geometry) else geometry
    return {"type": "Feature", "properties": properties, "geometry": mapped}


def collection(*features, **more):
    return {"type": "FeatureCollection", "features": list(features), **more}


def written(folder: Path, document, name="areas.geojson") -> Path:
    path = folder / name
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return path


def frame(crs, *areas):
    import geopandas as gpd

    table = gpd.GeoDataFrame(
        {"id": [a.id for a in areas], "name": [a.name for a in areas], "kind": [a.kind for a in areas],
         "edge_toler": [a.edge_tolerance_m for a in areas]},
        geometry=[a.geometry for a in areas], crs="EPSG:4326",
    )  # fmt: skip
    return table.to_crs(crs) if crs else table.set_crs(None, allow_override=True)


AREAS = [
    Area("n1", "North bank", NORTH, edge_tolerance_m=7.5, kind="permitted"),
    Area("s1", "Süd-Sand", SOUTH, edge_tolerance_m=2, kind="closed"),
]


def same_place(one, other, degrees=1e-7):
    return shapely.equals_exact(shapely.normalize(one), shapely.normalize(other), tolerance=degrees)


# --- what is read ----------------------------------------------------------------------------------------------


def test_plain_geojson_is_read_with_all_attributes(tmp_path):
    areas, faults = read_areas(
        written(tmp_path, collection(feature(NORTH, **ATTRIBUTES), feature(SOUTH, name="South")))
    )
    assert faults == []
    north, south = areas
    assert (north.id, north.name, north.kind, north.edge_tolerance_m) == ("n1", "North bank", "permitted", 7.5)
    assert (north.source, north.drawn, north.datum) == ("plan 4", "1:25 000", "WGS84")
    assert (south.id, south.name, south.edge_tolerance_m) == ("South", "South", 0)
    assert same_place(north.geometry, NORTH)
    assert same_place(south.geometry, SOUTH)
    assert len(south.geometry.interiors) == 1


def test_plain_geojson_does_not_load_the_geospatial_tables(tmp_path):
    path = written(tmp_path, collection(feature(NORTH)))
    code = (
        "import sys, time; from pathlib import Path; from api.exchange.area_files import read_areas;"
        f"areas, _ = read_areas(Path({str(path)!r})); print(len(areas), 'geopandas' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.split() == ["1", "False"]


@pytest.mark.parametrize("document", [feature(NORTH, name="N"), shapely.geometry.mapping(NORTH)])
def test_a_single_feature_or_bare_geometry_is_an_area(tmp_path, document):
    areas, faults = read_areas(written(tmp_path, document, "one.json"))
    assert (len(areas), faults) == (1, [])


def test_lines_and_points_are_features_to_keep_away_from(tmp_path):
    line, point = shapely.LineString([(150, -36), (150.1, -36)]), shapely.Point(150, -36.1)
    areas, faults = read_areas(written(tmp_path, collection(feature(line, id=1, kind="feature"), feature(point, id=2))))
    assert faults == []
    assert [area.geometry.geom_type for area in areas] == ["LineString", "Point"]
    assert [area.id for area in areas] == ["1", "2"]


def test_either_ring_direction_is_read_and_heights_are_left_aside(tmp_path):
    # RFC 7946, 3.1.6: parsers should not reject polygons that do not follow the right-hand rule.
    ring = [[x, y, 12.5] for x, y in reversed(NORTH.exterior.coords)]
    areas, faults = read_areas(written(tmp_path, feature({"type": "Polygon", "coordinates": [ring]})))
    assert faults == []
    assert same_place(areas[0].geometry, NORTH)


def test_longitudes_beyond_180_are_split_on_reading(tmp_path):
    areas, faults = read_areas(written(tmp_path, feature(shapely.box(179.9, -17, 180.1, -16.9))))
    assert faults == []
    assert [part.bounds[0] for part in areas[0].geometry.geoms] in ([-180, 179.9], [179.9, -180])
    assert judge_fix(areas[0], Fix(lat=-16.95, lon=180, radius_m=1000)).verdict == "inside"


def test_a_legacy_reference_system_is_honoured(tmp_path):
    # MGA zone 56 on GDA94, EPSG 28356; the "crs" member is that of GeoJSON 2008.
    into = Transformer.from_crs("OGC:CRS84", "EPSG:28356", always_xy=True)
    metres = shapely.transform(NORTH, lambda xy: __import__("numpy").column_stack(into.transform(xy[:, 0], xy[:, 1])))
    system = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::28356"}}
    areas, faults = read_areas(written(tmp_path, collection(feature(metres), crs=system)))
    assert faults == []
    assert same_place(areas[0].geometry, NORTH)
    assert areas[0].datum == "GDA94 / MGA zone 56"


def test_a_legacy_name_for_wgs84_changes_nothing(tmp_path):
    for name in ("urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326", "urn:ogc:def:crs:EPSG::4326"):
        system = {"type": "name", "properties": {"name": name}}
        areas, faults = read_areas(written(tmp_path, collection(feature(NORTH), crs=system)))
        assert (faults, areas[0].datum) == ([], "WGS84")
        assert same_place(areas[0].geometry, NORTH, 1e-12)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:28356", "EPSG:7844", "EPSG:3577", "EPSG:3857"])
def test_a_shapefile_in_any_system_comes_to_wgs84(tmp_path, crs):
    frame(crs, *AREAS).to_file(tmp_path / "areas.shp", encoding="utf-8")
    areas, faults = read_areas(tmp_path / "areas.shp")
    assert faults == []
    assert [(a.id, a.name, a.kind, a.edge_tolerance_m) for a in areas] == [
        ("n1", "North bank", "permitted", 7.5), ("s1", "Süd-Sand", "closed", 2.0)]  # fmt: skip
    for area, drawn in zip(areas, AREAS, strict=True):
        # GDA94 and GDA2020 stand within two metres of WGS84, or on it, as PROJ's operation of choice says.
        assert same_place(area.geometry, drawn.geometry, 3e-5)


def test_a_zipped_shapefile_is_read_in_place(tmp_path):
    frame("EPSG:28356", *AREAS).to_file(tmp_path / "areas.shp")
    with zipfile.ZipFile(tmp_path / "my areas.zip", "w") as archive:
        for part in tmp_path.glob("areas.*"):
            archive.write(part, f"inner folder/{part.name}")
    areas, faults = read_areas(tmp_path / "my areas.zip")
    assert (len(areas), faults) == (2, [])


def test_a_geopackage_keeps_everything_and_carries_its_marks(tmp_path):
    path = tmp_path / "areas.gpkg"
    fiji = Area("f", "Strait", shapely.box(179.9, -17, 180.0, -16.9), source="chart", drawn="2019")
    write_geopackage([AREAS[0], AREAS[1], fiji], path)
    areas, faults = read_areas(path, near=[area.geometry.bounds for area in [*AREAS, fiji]])
    assert faults == []
    assert [(a.id, a.name, a.kind, a.edge_tolerance_m, a.source, a.drawn, a.datum) for a in areas] == [
        (a.id, a.name, a.kind, a.edge_tolerance_m, a.source, a.drawn, "WGS84") for a in [*AREAS, fiji]]  # fmt: skip
    assert all(same_place(a.geometry, b.geometry, 0) for a, b in zip(areas, [*AREAS, fiji], strict=True))
    assert [file.name for file in tmp_path.iterdir()] == ["areas.gpkg"]
    with sqlite3.connect(path) as database:
        # OGC 12-128r19, requirement 2: 0x47504B47 (vector fmt.gpkg.appid).
        assert database.execute("pragma application_id").fetchone() == (1196444487,)
        systems = {row[0] for row in database.execute("select srs_id from gpkg_spatial_ref_sys")}
        assert {-1, 0, 4326} <= systems
    database.close()


def test_a_geopackage_point_is_the_published_blob(tmp_path):
    # OGC 12-128r19, 2.1.3; x is longitude (vector fmt.gpkg.blob).
    write_geopackage([Area("p", "P", shapely.Point(-75, 45))], tmp_path / "p.gpkg")
    database = sqlite3.connect(tmp_path / "p.gpkg")
    (blob,) = database.execute("select geom from areas").fetchone()
    database.close()
    assert blob.hex() == "47500001e610000001010000000000000000c052c00000000000804640"


def test_geojson_is_written_by_the_right_hand_rule_and_split(tmp_path):
    # RFC 7946, 3.1.6 and 3.1.9 (vector fmt.geojson.ring: a counterclockwise ring has positive area in degrees).
    clockwise = shapely.Polygon(list(shapely.box(-75, 45, -74.99, 45.01, ccw=False).exterior.coords))
    document = to_geojson([Area("a", "A", clockwise), AREAS[1], Area("f", "F", shapely.box(179.9, -17, 180.1, -16.9))])
    box, holed, fiji = (one["geometry"] for one in document["features"])
    assert signed_area(box["coordinates"][0]) > 0
    assert signed_area(holed["coordinates"][0]) > 0 > signed_area(holed["coordinates"][1])
    assert fiji["type"] == "MultiPolygon"
    areas, faults = read_areas(written(tmp_path, document), near=[(-75, 45), (150, -36), (180, -17)])
    assert faults == []
    assert [area.id for area in areas] == ["a", "s1", "f"]


def signed_area(ring) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) / 2


# --- what is wrong ---------------------------------------------------------------------------------------------


BOW = {"type": "Polygon", "coordinates": [[[150, -36], [150.02, -36.02], [150.02, -36], [150, -36.02], [150, -36]]]}
OPEN = {"type": "Polygon", "coordinates": [[[150, -36], [150.02, -36], [150.02, -36.02], [150, -36.02]]]}


def test_every_fault_of_a_file_is_told_with_its_place_and_the_sound_areas_are_kept(tmp_path):
    path = written(
        tmp_path,
        collection(
            feature(NORTH, name="Good"),
            feature(BOW, name="Bow"),
            feature(OPEN, name="Open"),
            feature(None, name="None"),
            feature(NORTH, name="Odd", kind="secret", edge_tolerance_m="wide"),
            feature({"type": "Polygon", "coordinates": [[["150", -36], [150, -36], [150, -36]]]}),
            feature({"type": "Polygon", "coordinates": "here"}),
            feature({"type": "Curve", "coordinates": []}),
            7,
        ),
    )
    areas, faults = read_areas(path)
    assert [area.name for area in areas] == ["Good"]
    told = [str(fault) for fault in faults]
    assert told == [
        (
            "areas.geojson: feature 2 'Bow': The outline crosses itself at longitude 150.01, latitude -36.01. "
            "Put the corners in order there."
        ),
        (
            "areas.geojson: feature 3 'Open': An outline is not closed at longitude 150, latitude -36.02. "
            "Repeat its first corner as its last."
        ),
        "areas.geojson: feature 4 'None': The feature has no geometry. Draw the area again and export it.",
        (
            "areas.geojson: feature 5 'Odd': The kind 'secret' is not known. "
            "Give one of permitted, closed, feature, shoreline, water."
        ),
        "areas.geojson: feature 5 'Odd': Edge_tolerance_m is no number of metres. Give metres, zero or more.",
        (
            "areas.geojson: feature 6: The coordinates hold a list where a longitude and a latitude are wanted. "
            "Draw the area again and export it."
        ),
        (
            "areas.geojson: feature 7: The coordinates hold 'here' where a list is wanted. "
            "Draw the area again and export it."
        ),
        (
            "areas.geojson: feature 8: The geometry is of type 'Curve', which is no area, line or point. "
            "Draw the area again and export it."
        ),
        "areas.geojson: feature 9: This is no feature. Export the areas again.",
    ]


def test_an_id_given_twice_is_a_fault(tmp_path):
    areas, faults = read_areas(written(tmp_path, collection(feature(NORTH, id="a"), feature(SOUTH, id="a"))))
    assert len(areas) == 1
    assert "the id 'a' is there twice" in str(faults[0]).lower()


def test_swapped_coordinates_are_noticed(tmp_path):
    swapped = shapely.transform(NORTH, lambda xy: xy[:, ::-1])
    areas, faults = read_areas(written(tmp_path, feature(swapped, name="N")))
    assert areas == []
    assert "latitude and longitude look swapped" in str(faults[0]).lower()
    near = [(17.2, 41.2)]
    areas, faults = read_areas(written(tmp_path, feature(shapely.box(41.1, 17.1, 41.2, 17.2))), near=near)
    assert areas == []
    assert "swapped" in faults[0].what


def test_the_odd_one_out_of_a_file_is_noticed_without_any_reference(tmp_path):
    others = [shapely.box(17.1 + step, 41, 17.15 + step, 41.1) for step in (0, 0.1, 0.2)]
    swapped = shapely.box(41, 17.5, 41.1, 17.6)
    document = collection(*(feature(shape, name=str(at)) for at, shape in enumerate([*others, swapped])))
    areas, faults = read_areas(written(tmp_path, document))
    assert [area.name for area in areas] == ["0", "1", "2"]
    assert [fault.where for fault in faults] == ["feature 4 '3'"]


def test_a_wrong_datum_is_noticed_beside_the_area_on_record(tmp_path):
    import numpy as np

    back = Transformer.from_crs("OGC:CRS84", "EPSG:4202", always_xy=True)  # AGD66
    unshifted = shapely.transform(NORTH, lambda xy: np.column_stack(back.transform(xy[:, 0], xy[:, 1])))
    areas, faults = read_areas(written(tmp_path, feature(unshifted, name="North bank")), known=AREAS)
    assert areas == []
    assert "wrong datum" in faults[0].mend
    system = {"type": "name", "properties": {"name": "EPSG:4202"}}
    declared = collection(feature(unshifted, name="North bank"), crs=system)
    areas, faults = read_areas(written(tmp_path, declared), known=AREAS)
    assert (len(areas), faults) == (1, [])


def test_metres_without_a_declared_system_are_named(tmp_path):
    areas, faults = read_areas(written(tmp_path, feature(shapely.box(250_000, 5_990_000, 251_000, 5_991_000))))
    assert areas == []
    assert "look like metres" in faults[0].what


def test_a_shapefile_without_a_reference_system_asks_for_the_prj(tmp_path):
    frame("EPSG:4326", *AREAS).to_file(tmp_path / "areas.shp")
    (tmp_path / "areas.prj").unlink()
    areas, faults = read_areas(tmp_path / "areas.shp")
    assert areas == []
    assert len(faults) == 1
    assert ".prj" in faults[0].mend


@pytest.mark.parametrize("name", ["EPSG:999999", "urn:nonsense", 'LOCAL_CS["x"]', ""])
def test_an_unknown_reference_system_is_a_fault(tmp_path, name):
    system = {"type": "name", "properties": {"name": name}}
    areas, faults = read_areas(written(tmp_path, collection(feature(NORTH), crs=system)))
    assert areas == []
    assert faults[0].where == "crs"


@pytest.mark.parametrize("kept", [0.02, 0.3, 0.7, 0.98])
@pytest.mark.parametrize("suffix", [".shp", ".shx", ".dbf", ".zip", ".gpkg", ".geojson"])
def test_a_file_cut_short_gives_faults_and_never_raises(tmp_path, suffix, kept):
    many = [Area(f"a{n}", f"Area {n}", shapely.box(150 + n / 100, -36, 150.005 + n / 100, -35.99)) for n in range(60)]
    frame("EPSG:28356", *many).to_file(tmp_path / "areas.shp")
    write_geopackage(many, tmp_path / "areas.gpkg")
    written(tmp_path, to_geojson(many))
    with zipfile.ZipFile(tmp_path / "areas.zip", "w") as archive:
        for part in tmp_path.glob("areas.[sdp]*"):
            archive.write(part, part.name)
    path = tmp_path / f"areas{suffix}"
    whole = tmp_path / "areas.shp" if suffix in (".shx", ".dbf") else path
    assert [len(part) for part in read_areas(whole)] == [60, 0]
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * kept)])
    areas, faults = read_areas(whole)
    assert (areas, len(faults)) == ([], 1)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"[" * 10_000 + b"]" * 10_000, "nested far too deeply"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, "nested far too deeply"),
        (b'{"type":"Polygon","coordinates":' + b"[" * 900 + b"]" * 900 + b"}", "where a longitude and a latitude"),
        (b"[1]", "does not hold an object"),
        (b'"text"', "does not hold an object"),
        (b'{"type":"Topology"}', "its type is 'Topology'"),
        (b'{"type":["x"]}', "its type is a list"),
        (b'{"type":"FeatureCollection"}', "no list of features"),
        (b'{"type":"FeatureCollection","features":[]}', "holds no area"),
        (b'{"type":"FeatureCollection","features":{}}', "no list of features"),
        (b'{"type":"Point","coordinates":[NaN,1]}', "no number"),
        (b'{"type":"Point","coordinates":[1e999,1]}', "no number"),
        (b'{"type":"Point","coordinates":[1e308,-1e308]}', "nowhere on earth"),
        (b'{"type":"Point","coordinates":[' + b"9" * 400 + b",1]}", "far too large"),
        (b'{"type":"Point","coordinates":[' + b"9" * 5000 + b",1]}", "number too long"),
        (b'{"type":"Point","coordinates":[true,false]}', "longitude and a latitude are wanted"),
        (b'{"type":"Point","coordinates":[1,false]}', "longitude and a latitude are wanted"),
        (b'{"type":"Polygon","coordinates":[]}', "no corners"),
        (b'{"type":"Polygon","coordinates":[[]]}', "no corners"),
        (b'{"type":"Polygon","coordinates":[[[0,0],[1,1],[NaN,0],[0,0]]]}', "no number"),
        (b'{"type":"Polygon","coordinates":[[[0,0],[1e308,1],[1,-1e308],[0,0]]]}', "nowhere on earth"),
        (b'{"type":"MultiPolygon","coordinates":[[[0,0]]]}', "where a longitude and a latitude"),
        (b'{"type":"LineString","coordinates":[[0,0]]}', "fewer than two positions"),
        (b'{"type":"GeometryCollection","geometries":[]}', "no area, line or point"),
        (b'{"type":"FeatureCollection","features":[],"crs":5}', "not given by name"),
        (b'{"type":"Point"\xff}', "not in UTF-8"),
        ('{"type":"Point"}'.encode("utf-16"), "UTF-16"),
        (b"\x00" * 100, "no JSON there"),
        (b'{"type":"Feature","properties":{"name":"B\xe4nk"}}', "not in UTF-8"),
    ],
)  # fmt: skip
def test_a_broken_geojson_gives_one_clear_fault(tmp_path, content, words):
    path = tmp_path / "areas.geojson"
    path.write_bytes(content)
    areas, faults = read_areas(path)
    assert areas == []
    assert len(faults) == 1
    assert words in faults[0].what
    assert faults[0].mend


@pytest.mark.parametrize("name", ["a.shp", "a.zip", "a.gpkg", "a.kml", "a"])
def test_a_file_that_is_not_what_its_name_says_is_refused(tmp_path, name):
    path = tmp_path / name
    path.write_text('<OGRVRTDataSource><OGRVRTLayer name="x"/></OGRVRTDataSource>')
    areas, faults = read_areas(path)
    assert (areas, len(faults)) == ([], 1)


def test_a_database_that_is_no_geopackage_is_refused(tmp_path):
    database = sqlite3.connect(tmp_path / "a.gpkg")
    database.execute("create table areas (id text)")
    database.commit()
    database.close()
    _, faults = read_areas(tmp_path / "a.gpkg")
    assert "not marked as a GeoPackage" in faults[0].what


def test_attributes_in_another_encoding_do_not_break_the_reading(tmp_path):
    frame("EPSG:4326", *AREAS).to_file(tmp_path / "areas.shp", encoding="ISO-8859-1")
    (tmp_path / "areas.cpg").write_text("UTF-8")  # a false label
    areas, faults = read_areas(tmp_path / "areas.shp")
    assert faults or [area.id for area in areas] == ["n1", "s1"]


def test_a_zip_without_a_shapefile_or_too_large_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("readme.txt", "nothing")
    assert "no .shp" in read_areas(tmp_path / "a.zip")[1][0].what
    with zipfile.ZipFile(tmp_path / "b.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.shp", bytes(201_000_000))
    assert "200 MB" in read_areas(tmp_path / "b.zip")[1][0].what


def test_a_missing_file_is_a_fault(tmp_path):
    assert "cannot be opened" in read_areas(tmp_path / "none.geojson")[1][0].what


def test_a_shapefile_that_lost_a_companion_says_which(tmp_path):
    frame("EPSG:4326", *AREAS).to_file(tmp_path / "areas.shp")
    (tmp_path / "areas.shx").unlink()
    assert ".shx" in read_areas(tmp_path / "areas.shp")[1][0].what


def hostile(folder: Path) -> list[Path]:
    """Files made to cost: deep nesting, many corners in a tangle, and as many tiny lists as the size allows."""
    tangle = ",".join(f"[{150 + n % 1000 / 1e4},{-36 - n % 997 / 1e4}]" for n in range(300_000))
    contents = {
        "deep": '{"type":"Polygon","coordinates":' + "[" * 3_000_000,
        "tangle": '{"type":"Polygon","coordinates":[[[150,-36],' + tangle + ",[150,-36]]]}",
        "tiny": '{"type":"Polygon","coordinates":[[' + "[0,0]," * 1_320_000 + "[0,0]]]}",
        "huge": '{"type":"Polygon","coordinates":[[' + "[0,0]," * 4_000_000 + "[0,0]]]}",
    }
    return [written(folder, content, f"{name}.geojson") for name, content in contents.items()]


@pytest.mark.slow
def test_hostile_files_stay_within_five_seconds_and_half_a_gigabyte(tmp_path):
    code = (
        "import sys, time; from pathlib import Path; from api.exchange.area_files import read_areas;"
        "areas, faults = read_areas(Path(sys.argv[1]));"
        "status = Path('/proc/self/status').read_text();"
        "print(len(areas), len(faults), status.split('VmHWM:')[1].split()[0], int(time.process_time() * 1000))"
    )
    for path in hostile(tmp_path):
        run = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, check=True)
        areas, faults, kilobytes, milliseconds = map(int, run.stdout.split())
        assert (areas, faults) == (0, 1)
        assert milliseconds < 5000  # of the processor, start-up included: another's load is no fault of the reader
        assert kilobytes < 500_000
