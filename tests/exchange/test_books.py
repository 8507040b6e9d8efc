"""Books and seasons from real files and folders: shared files, several faults at once, records merged."""

import json
from copy import deepcopy
from pathlib import Path

import pytest

from api.exchange import season_files
from api.exchange.books import read_book, read_season
from api.exchange.tables import TABLE_SUFFIXES
from tests.exchange.example_records import AUTHORITY, SEASON, TAXA, TRIP, book, changed, texts

SQUARE = [[147.0, -43.0], [147.1, -43.0], [147.1, -42.9], [147.0, -42.9], [147.0, -43.0]]


def area(name, shift=0.0):
    ring = [[lon + shift, lat] for lon, lat in SQUARE]
    geometry = {"type": "Polygon", "coordinates": [ring]}
    return {"type": "Feature", "properties": {"id": name, "name": name}, "geometry": geometry}


AREAS = {"type": "FeatureCollection", "features": [area("inner bay"), area("heron arm", 0.2)]}
PERMIT = changed(AUTHORITY, taxa="taxa.json", areas="areas.geojson")
LICENCE = changed(PERMIT, id="licence", amendments=[], title="Licence")


def write(folder: Path, **files) -> Path:
    for name, content in files.items():
        suffix = ".geojson" if name == "areas" else ".json"
        (folder / f"{name}{suffix}").write_text(json.dumps(content), "utf-8")
    return folder


@pytest.fixture
def folder(tmp_path):
    return write(tmp_path, permit=PERMIT, licence=LICENCE, taxa=TAXA, areas=AREAS)


def test_two_authorities_share_their_taxa_and_areas(folder):
    found, faults = read_book([folder / "permit.json", folder / "licence.json"])

    assert faults == []
    assert [authority.id for authority in found.authorities] == ["permit", "licence"]
    assert set(found.areas) == {"inner bay", "heron arm"}
    assert found.issued_names == {"Mugil cephalus": "Mugil dobula"}
    assert found.taxa == book().taxa


def test_a_folder_stands_for_the_authorities_in_it(folder):
    found, faults = read_book([folder])

    assert faults == []
    assert [authority.id for authority in found.authorities] == ["licence", "permit"]


def test_taxa_and_areas_may_stand_in_the_file_itself_or_be_lists(tmp_path):
    first, second = TAXA["taxa"][:4], TAXA["taxa"][3:]
    write(
        tmp_path,
        inline=changed(AUTHORITY, taxa=TAXA["taxa"], areas=AREAS),
        lists=changed(AUTHORITY, taxa=["first.json", "second.json"], areas=["areas.geojson"]),
        first={"format": "creekledger taxa 1", "taxa": first},
        second={"format": "creekledger taxa 1", "taxa": second},
        areas=AREAS,
    )

    inline, lists = (read_book([tmp_path / f"{name}.json"]) for name in ("inline", "lists"))

    assert inline[1] == lists[1] == []
    assert inline[0].taxa.taxa == lists[0].taxa.taxa
    assert set(inline[0].areas) == set(lists[0].areas) == {"inner bay", "heron arm"}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"taxa": "taxon.json"}, "taxa: The file 'taxon.json' is not there."),
        ({"taxa": "/taxa.json"}, "taxa: '/taxa.json' is not a path beside this file."),
        ({"taxa": None}, "taxa: 'taxa' is missing."),
        ({"areas": "area.geojson"}, "areas: The file 'area.geojson' is not there."),
        ({"areas": ["areas.geojson", 3]}, "areas[1]: The number 3 stands where areas are wanted."),
        ({"areas": None}, "conditions[2] (5): areas[0]: The area 'inner bay' is not known."),
        ({"format": "creekledger trips 1"}, "format: This is no authority file: its format is 'creekledger trips 1'."),
        (
            {"areas": {"type": "FeatureCollection", "features": [area("inner bay"), {"type": "Feature"}]}},
            "areas: feature 2: The feature has no geometry.",
        ),
    ],
)
def test_what_is_wrong_with_an_authority_file(folder, changes, told):
    write(folder, permit=changed(PERMIT, **changes))

    found, faults = read_book([folder / "permit.json"])

    assert found is None
    assert texts(faults) == [told]


def test_a_name_like_the_missing_file_is_proposed(folder):
    write(folder, permit=changed(PERMIT, taxa="taxon.json"))

    assert "'taxa.json'" in read_book([folder / "permit.json"])[1][0].mend


def test_faults_of_every_file_come_at_once(folder):
    (folder / "broken.json").write_text("{", "utf-8")
    write(folder, taxa={**TAXA, "taxa": [*TAXA["taxa"], {"id": "X", "rank": "x"}]}, permit=changed(PERMIT, zone="Mars"))

    found, faults = read_book([folder / name for name in ("permit.json", "broken.json", "none.json")])

    assert found is None
    assert sorted({fault.file for fault in faults}) == ["broken.json", "none.json", "permit.json", "taxa.json"]
    assert len(faults) == 4


def test_authorities_name_each_other_only(folder):
    common = {**AUTHORITY["conditions"][0], "in_common_with": ["licence", "consent"]}
    holding = {"kind": "holding", "number": "9", "text": "t", "under": "licens"}
    write(folder, permit=changed(PERMIT, conditions=[common, holding], amendments=[]))

    _, faults = read_book([folder / "permit.json", folder / "licence.json"])

    assert texts(faults) == [
        "conditions[0] (4.1): in_common_with: The authority 'consent' is not among those given.",
        "conditions[1] (9): under: The authority 'licens' is not among those given.",
    ]


def test_two_authorities_of_one_id_and_areas_that_differ_are_told(folder):
    moved = {"type": "FeatureCollection", "features": [area("inner bay", 0.01)]}
    (folder / "moved.geojson").write_text(json.dumps(moved), "utf-8")
    write(folder, licence=changed(LICENCE, id="permit", areas=["areas.geojson", "moved.geojson"]))

    _, faults = read_book([folder / "permit.json", folder / "licence.json"])

    assert sorted(texts(faults)) == [
        "id: Two authorities bear the id 'permit'.",
        "inner bay: The area 'inner bay' is in two files, and they differ.",
    ]


def test_no_file_is_no_book(tmp_path):
    found, faults = read_book([tmp_path])

    assert found is None
    assert [fault.what for fault in faults] == ["There is no authority."]


def test_a_folder_of_trips_passes_over_other_kinds_and_merges(folder):
    office = {key: value for key, value in SEASON.items() if key != "trips"}
    trips = {"format": SEASON["format"], "zone": SEASON["zone"], "trips": [TRIP]}
    write(folder, night=trips, night_again=trips, office=office)
    found_book, _ = read_book([folder])

    found, faults = read_season([folder], found_book)

    assert faults == []
    assert [trip.id for trip in found.trips] == ["T1"]
    # The movement's catch line stands in another file.
    assert [one.line for one in found.movements] == ["L1"]


def test_the_same_id_in_two_files_that_differ_is_told(folder):
    write(folder, a=SEASON, b={**SEASON, "trips": [changed(TRIP, note="typed again")]})

    found, faults = read_season([folder / "a.json", folder / "b.json"], book())

    assert [(fault.file, fault.where, fault.what) for fault in faults] == [
        ("b.json", "trips[0] (T1)", "Two trip records bear the id 'T1'; the other one is in a.json.")
    ]
    assert found.trips[0].note == ""


def test_names_of_people_from_two_files_are_one_table(folder):
    write(
        folder,
        a={**SEASON, "people": {"kim": "Kim Arden"}},
        b={"format": SEASON["format"], "people": {"kim": "Kim A."}},
    )

    _, faults = read_season([folder / "a.json", folder / "b.json"], book())

    assert texts(faults) == ["people: kim: 'kim' is called 'Kim Arden' and 'Kim A.'."]


def test_what_speaks_of_a_faulty_line_in_another_file_is_told_so(folder):
    trips = deepcopy(SEASON)
    trips["trips"][0]["hauls"][0]["lines"][0]["count"] = "many"
    office = {"format": SEASON["format"], "zone": SEASON["zone"], "movements": trips.pop("movements")}
    write(folder, a=trips, b=office)

    _, faults = read_season([folder / "a.json", folder / "b.json"], book())

    assert [(fault.file, fault.what) for fault in faults][1:] == [
        ("b.json", "The catch line 'L1' is left out for its own faults.")
    ]


def test_unknown_files_are_told(folder):
    (folder / "list.json").write_text('{"format": "shopping"}', "utf-8")
    (folder / "cut.json").write_text('{"format": ', "utf-8")

    _, faults = read_season([folder, folder / "photo.jpg", folder / "none.json", folder / "permit.json"], book())

    assert [(fault.file, fault.what.split(":")[0].split(" (")[0]) for fault in faults] == [
        ("photo.jpg", "Files ending in '.jpg' are not read as trips."),
        ("cut.json", "The file breaks off there."),
        ("list.json", "This is no trips file"),
        ("permit.json", "This is no trips file"),
        ("none.json", "The file cannot be opened"),
    ]


def test_a_table_and_a_trips_file_are_one_season(folder):
    (folder / "creek.csv").write_text(
        "trip,haul,date,leader,start,end,line,taxon,fate,count\n"
        "T7,H7,2027-06-20,kim,21:30,21:50,L7,Mugil dobula,kept,~40\n"
        ",,,,,,L8,Mugil cefalus,kept,3\n",
        "utf-8",
    )
    write(folder, a=SEASON)

    found, faults = read_season([folder / "a.json", folder / "creek.csv"], book())

    assert [fault.file for fault in faults] == ["creek.csv"]
    assert "row 3" in faults[0].where
    assert "'Mugil cephalus'" in faults[0].mend
    assert [trip.id for trip in found.trips] == ["T1", "T7"]
    assert [line.id for line in found.trips[1].hauls[0].lines] == ["L7"]


def test_every_kind_of_table_is_looked_for():
    assert (".json", *TABLE_SUFFIXES) == season_files._READ
