"""Seasons from raw objects: every good record, every fault; clocks, names, units, references."""

import time
from copy import deepcopy
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.domain.counts import Count, exactly
from api.exchange.season_json import season_of
from tests.exchange.example_records import SEASON, TRIP, book, changed, texts

BOOK = book()


def read(raw):
    return season_of(raw, "night.json", BOOK)


def season(**changes):
    """Give the sample season with its one trip, haul or line changed: ``line__count=...``, ``haul__end=...``."""
    raw = deepcopy(SEASON)
    trip = raw["trips"][0]
    places = {"trip": trip, "haul": trip["hauls"][0], "line": trip["hauls"][0]["lines"][1], "season": raw}
    for key, value in changes.items():
        place, _, name = key.partition("__")
        places[place][name] = value
    return raw


def lines_of(found):
    return [line.id for trip in found.trips for haul in trip.hauls for line in haul.lines]


def test_a_sound_season():
    found, faults = read(SEASON)

    assert faults == []
    (trip,) = found.trips
    (haul,) = trip.hauls
    assert trip.zone == "Australia/Hobart"
    assert haul.start == datetime(2027, 6, 11, 11, 30, tzinfo=UTC)  # ten hours ahead of UTC in winter
    assert (haul.gear.length_mm, haul.gear.mesh_mm) == (12000, Fraction("6.35"))
    assert (haul.fixes[0].radius_m, haul.fixes[0].confidence) == (8.0, 0.95)
    assert haul.readings[0].value == "11.40"
    mullet, yelloweye, wrack = haul.lines
    assert (mullet.taxon, mullet.name_as_written, mullet.count) == (
        "Mugil cephalus",
        "Mugil dobula",
        Count(150, 200, 250),
    )
    assert (mullet.method, mullet.fate, mullet.unit) == ("by eye", "kept", "individuals")
    assert (yelloweye.count, yelloweye.raw_counted, yelloweye.raw_share) == (Count(504, 600, 696), 120, "1/5")
    assert (yelloweye.name_as_written, yelloweye.fate) == ("", "released")
    assert yelloweye.measurements[0].values == (635, 700, 889)  # 3 1/2 in is 88.9 mm
    assert (wrack.count, wrack.unit, wrack.measured_as) == (exactly(40), "L", "2 round baskets")
    assert found.movements[0].count == exactly(3)


def test_what_a_line_says_itself_goes_before_what_its_count_means():
    line = read(season(line__method="by volume", line__name_as_written="yelloweye", line__count="about 9"))[0]
    line = line.trips[0].hauls[0].lines[1]

    assert (line.method, line.name_as_written, line.count) == ("by volume", "yelloweye", Count(6, 9, 12))


def test_a_count_may_be_given_as_what_was_counted_in_which_share():
    raw = season(line__raw_counted=120, line__raw_share="1/5")
    del raw["trips"][0]["hauls"][0]["lines"][1]["count"]

    found, faults = read(raw)

    assert faults == []
    assert found.trips[0].hauls[0].lines[1].count == Count(504, 600, 696)


@pytest.mark.parametrize(
    ("value", "tenths"), [("63.5", 635), (63.5, 635), (70, 700), ("7 cm", 700), ("3 1/2 in", 889), ("1/10", 1)]
)
def test_lengths_are_whole_tenths_of_a_millimetre(value, tenths):
    raw = season(line__measurements=[{"measure": "fork length", "variant": "live", "values": [value]}])

    assert read(raw)[0].trips[0].hauls[0].lines[1].measurements[0].values == (tenths,)


@pytest.mark.parametrize(("value", "tenths"), [(12.5, 125), ("12.5", 125), ("0.4 kg", 4000), ("1 g", 10)])
def test_weights_are_whole_tenths_of_a_gram(value, tenths):
    raw = season(line__measurements=[{"measure": "weight", "values": [value]}], line__weight="1.5 kg")

    line = read(raw)[0].trips[0].hauls[0].lines[1]
    assert line.measurements[0].values == (tenths,)
    assert line.weight == exactly(1500)


@pytest.mark.parametrize(
    ("changes", "where", "what"),
    [
        ({"line__taxon": "Mugil cefalus"}, "taxon", "'Mugil cefalus' is not in the list"),
        ({"line__taxon": "Mugil cf. cephalus"}, "taxon", "is not in the list of taxa"),
        ({"line__one_of": ["Mugilidae", "Mugil"]}, "one_of[1]", "'Mugil' is not in the list"),
        ({"line__count": "many"}, "count", "cannot be read"),
        ({"line__count": "400 g", "line__unit": "L"}, "count", "is in g, but the unit is given as L"),
        ({"line__fate": "keptt"}, "fate", "not a word known here"),
        ({"line__unit": "kg"}, "unit", "not a word known here"),
        ({"line__authority": "licence"}, "authority", "'licence' is not known"),
        ({"line__id": ""}, "id", "The id is empty"),
        ({"line__weight": "3 L"}, "weight", "is in L, but the unit is given as g"),
        ({"line__sexx": "f"}, "", "'sexx' is not known here"),
        (
            {"line__measurements": [{"measure": "total length", "values": ["63.55"]}]},
            "measurements[0]: values[0]",
            "no whole",
        ),
        (
            {"line__measurements": [{"measure": "total length", "values": ["6 g"]}]},
            "measurements[0]: values[0]",
            "length",
        ),
        ({"line__measurements": [{"measure": "weight", "values": ["6 mm"]}]}, "measurements[0]: values[0]", "weight"),
        ({"line__measurements": [{"measure": "weight", "values": [0.05]}]}, "measurements[0]: values[0]", "no whole"),
        ({"line__measurements": [{"measure": "weight", "values": [0]}]}, "measurements[0]", "above 0"),
        ({"line__measurements": [{"measure": "total length"}]}, "measurements[0]", "'values' is missing"),
        ({"line__measurements": [{"values": [3]}]}, "measurements[0]", "'measure' is missing"),
        ({"line__measurements": {"measure": "weight"}}, "measurements", "A list is wanted"),
        ({"line__at": "2027-06-11"}, "at", "not a date and time"),
    ],
)
def test_a_faulty_line_alone_is_left_out(changes, where, what):
    found, faults = read(season(**changes))

    assert len(faults) == 1, texts(faults)
    own = (
        "trips[0] (T1): hauls[0] (H1): lines[1] (L2)"
        if changes.get("line__id") is None
        else "trips[0] (T1): hauls[0] (H1): lines[1]"
    )
    assert faults[0].where == (f"{own}: {where}" if where else own)
    assert what in faults[0].what
    assert lines_of(found) == ["L1", "L3"]


@pytest.mark.parametrize(
    ("changes", "where", "what"),
    [
        ({"haul__end": "2027-06-11T21:20"}, "end", "ends before it starts"),
        ({"haul__checks": ["2027-06-11T21:00"]}, "checks", "looked at before it was set"),
        ({"haul__start": "2027-10-03T02:30"}, "start", "did not exist in Australia/Hobart"),
        ({"haul__start": "2027-04-04T02:30"}, "start", "came twice"),
        ({"haul__start": "11.6.2027 21:30"}, "start", "not a date and time"),
        ({"haul__start": "0001-01-01T00:00"}, "start", "The year"),
        ({"haul__start": None}, "start", "A date and time is wanted"),
        ({"haul__gear": {"gear": "seine", "length_mm": "12 kg"}}, "gear: length_mm", "is a mass"),
        ({"haul__gear": {"length_mm": "12 m"}}, "gear", "'gear' is missing"),
        ({"haul__fixes": [{"lat": -142.8, "lon": 147.5}]}, "fixes[0]", "latitude -142.8 lies outside"),
        ({"haul__fixes": [{"lat": "south", "lon": 147.5}]}, "fixes[0]: lat", "Cannot read 'south'"),
        ({"haul__fixes": [{"lat": -42, "lon": 147, "confidence": 95}]}, "fixes[0]", "confidence 95"),
        ({"haul__also_under": ["licence"]}, "also_under[0]", "'licence' is not known"),
        ({"haul__lost": "no"}, "lost", "true or false"),
    ],
)
def test_a_fault_of_the_haul_costs_the_haul_alone(changes, where, what):
    raw = season(**changes)
    raw["trips"][0]["hauls"].append({"id": "H2", "start": "2027-06-11T22:30"})

    found, faults = read(raw)

    told = [fault for fault in faults if "M1" not in fault.where]
    assert len(told) == 1, texts(faults)
    assert told[0].where == f"trips[0] (T1): hauls[0] (H1): {where}"
    assert what in told[0].what
    assert [haul.id for haul in found.trips[0].hauls] == ["H2"]


@pytest.mark.parametrize(
    ("changes", "where", "what"),
    [
        ({"trip__zone": "Hobart"}, "zone", "not a time zone"),
        ({"trip__back": "2027-06-11T19:00"}, "back", "back before it departed"),
        ({"trip__crew": [{"person": "lou", "role": "cook"}]}, "crew[0]: role", "'cook' is not a word"),
        ({"trip__status": "done"}, "status", "'done' is not a word"),
        ({"trip__paper_record": 1}, "paper_record", "true or false"),
    ],
)
def test_a_fault_of_the_trip_costs_the_trip_alone(changes, where, what):
    raw = season(**changes)
    raw["trips"].append({"id": "T2", "leader": "kim"})

    found, faults = read(raw)

    assert faults[0].where == f"trips[0] (T1): {where}"
    assert what in faults[0].what
    assert [trip.id for trip in found.trips] == ["T2"]
    # What speaks of the faulty trip is not called mistaken.
    assert texts(faults)[1:] == [
        "movements[0] (M1): line: The catch line 'L1' is left out for its own faults.",
        "notices[0] (N1): trip: The trip 'T1' is left out for its own faults.",
    ]


def test_small_records_are_left_out_alone():
    raw = season(
        haul__readings=[{"quantity": "salinity", "value": "about 30", "unit": ""}, TRIP["hauls"][0]["readings"][0]],
        trip__cleanings=[{"at": "2027-06-12T00:10"}],
    )

    found, faults = read(raw)

    assert texts(faults) == [
        "trips[0] (T1): hauls[0] (H1): readings[0]: value: The reading 'about 30' is no number.",
        "trips[0] (T1): cleanings[0]: 'method' is missing.",
    ]
    assert len(found.trips[0].hauls[0].readings) == 1
    assert lines_of(found) == ["L1", "L2", "L3"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"season__format": "creekledger trips 2"}, "format: The format 'creekledger trips 2' is not a trips file's."),
        ({"season__tripps": []}, ": The key 'tripps' is not known here."),
        ({"season__zone": "Mars"}, "zone: 'Mars' is not a time zone."),
        ({"season__people": ["kim"]}, "people: Names by their ids are wanted, but a list [ ] was found."),
        ({"season__notices": "none"}, "notices: A list is wanted here, but 'none' was found."),
        (
            {"season__filings": [{"id": "F", "authority": "permit", "condition": "44", "filed": "2027-12-01T00:00Z"}]},
            "filings[0] (F): condition: The authority 'permit' has no condition '44'.",
        ),
        (
            {
                "season__shared_totals": [
                    {"authority": "permit", "condition": "x", "as_of": "2027-12-01T00:00Z", "total": 9}
                ]
            },
            "shared_totals[0]: condition: The authority 'permit' has no condition 'x'.",
        ),
        (
            {
                "trip__attestations": [
                    {"authority": "permit", "condition": "8", "person": "kim", "at": "2027-06-12T01:00", "kept": "kept"}
                ]
            },
            "trips[0] (T1): condition: The authority 'permit' has no condition '8'.",
        ),
        (
            {"season__incidents": [{"id": "I", "authority": "permit", "about": ["L1", "L7"], "to": "officer"}]},
            "incidents[0] (I): about: There is no record 'L7'.",
        ),
        (
            {
                "season__notices": [
                    {"id": "N", "authority": "permit", "trip": "T9", "to": "o", "sent": "2027-06-01T08:00"}
                ]
            },
            "notices[0] (N): trip: There is no trip 'T9'.",
        ),
        (
            {"season__people": {"lou": "Lou", "kim": "Kim"}, "line__person": "lu"},
            "trips[0] (T1): hauls[0] (H1): lines[1] (L2): The person 'lu' is not in 'people'.",
        ),
        (
            {"season__sites": {"jetty": "The jetty"}, "haul__site": "jety"},
            "trips[0] (T1): hauls[0] (H1): The site 'jety' is not in 'sites'.",
        ),
    ],
)
def test_what_is_wrong_around_the_trips(changes, told):
    found, faults = read(season(**changes))

    assert told in texts(faults)
    assert len(found.trips) == (0 if "season__zone" in changes else 1)


@pytest.mark.parametrize(
    ("movement", "what"),
    [
        ({"line": "L9"}, "There is no catch line 'L9'"),
        ({"count": "3 L"}, "counted in L, its catch line 'L1' in individuals"),
        ({"count": 2.5}, "A number of animals is whole"),
        ({"line": "L3", "count": "3 animals"}, "counted in individuals, its catch line 'L3' in L"),
        ({"line": ""}, "neither which catch line"),
        ({"what": "dyed"}, "'dyed' is not a word"),
        ({"at": "2027-06-12"}, "not a date and time"),
    ],
)
def test_a_faulty_movement_is_left_out(movement, what):
    raw = season(season__movements=[{**SEASON["movements"][0], **movement}])

    found, faults = read(raw)

    assert len(faults) == 1, texts(faults)
    assert what in faults[0].what
    assert found.movements == ()


def test_births_and_parts_of_material_are_sound_movements():
    born = {
        "id": "M2",
        "at": "2027-06-12T08:00",
        "what": "born",
        "taxon": "Mugil dobula",
        "authority": "permit",
        "count": 9,
    }
    used = {"id": "M3", "at": "2027-06-12T08:00", "what": "used up", "line": "L3", "count": "1/2 round basket"}

    found, faults = read(season(season__movements=[born, used, {**used, "id": "M4", "count": 2.5}]))

    assert faults == []
    assert [one.count for one in found.movements] == [exactly(9), exactly(10), exactly(Fraction(5, 2))]
    assert found.movements[0].taxon == "Mugil cephalus"


def test_a_time_without_any_zone_is_told_and_an_offset_settles_it():
    raw = season()
    del raw["zone"]
    raw["trips"][0] |= {"depart": "2027-06-11T20:00+10:00", "back": "2027-06-11T14:30Z"}

    _, faults = read(raw)

    assert "trips[0] (T1): hauls[0] (H1): start: The time '2027-06-11T21:30' has no zone." in texts(faults)
    assert not any("depart" in told or ": back" in told for told in texts(faults))


def test_ids_are_unique_and_the_same_trip_twice_is_one():
    twice = season()
    twice["trips"].append(deepcopy(twice["trips"][0]))
    other = season()
    other["trips"].append(changed(TRIP, id="T2"))
    differing = season()
    differing["trips"].append(changed(TRIP, note="another"))

    assert read(twice) == read(SEASON)
    assert texts(read(other)[1]) == ["trips[1] (T2): Two haul records bear the id 'H1'."]
    assert texts(read(differing)[1]) == ["trips[1] (T1): Two trip records bear the id 'T1'."]
    raw = season(line__id="L1")
    found, faults = read(raw)
    assert texts(faults) == ["trips[0] (T1): Two catch line records bear the id 'L1'."]
    assert lines_of(found) == ["L1", "L3"]


def test_many_faults_at_once_lose_no_good_line():
    raw = season()
    haul = raw["trips"][0]["hauls"][0]
    good = [{"id": f"G{at}", "taxon": "Mugilidae", "count": at} for at in range(50)]
    bad = [{"id": f"B{at}", "taxon": "Mugilidae", "count": "x"} for at in range(50)]
    haul["lines"] += [line for pair in zip(good, bad, strict=True) for line in pair]

    found, faults = read(raw)

    assert len(faults) == 50
    assert lines_of(found) == ["L1", "L2", "L3", *(line["id"] for line in good)]


def test_rows_of_a_spreadsheet_stand_for_places():
    # The first row begins the trip, its haul and a line; the second haul begins on row 5.
    raw = season()
    hauls = raw["trips"][0]["hauls"]
    hauls[0]["lines"][0]["count"] = "many"
    hauls.append(
        {"id": "H2", "start": "2027-06-11T22:00", "lines": [{"id": "L4", "taxon": "Mugilidae", "count": "few"}]}
    )
    rows = {
        "trips[0]": "row 2",
        "trips[0]: hauls[0]": "row 2",
        "trips[0]: hauls[0]: lines[0]": "row 2",
        "trips[0]: hauls[0]: lines[1]": "row 3",
        "trips[0]: hauls[1]": "row 5",
        "trips[0]: hauls[1]: lines[0]": "row 5",
    }

    _, faults = season_of(raw, "night.xlsx", BOOK, rows)

    assert [fault.where for fault in faults] == ["row 2: count", "row 5: count", "movements[0]: line"]


@pytest.mark.parametrize(
    "raw", [None, [], 3, "x", {}, {"trips": {}}, {"trips": [None, 3, [], {}]}, {"movements": [{}]}]
)
def test_whatever_stands_there_is_told_not_raised(raw):
    found, faults = read(raw)

    assert found.trips == ()
    assert bool(faults) == (raw != {})


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-5, 3000)
    | st.floats()
    | st.sampled_from(["", "x", "L1", "2027-06-11T21:40"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["id", "lines", "low", "count"]), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_damage_makes_it_fall_or_loses_another_line(data):
    raw = deepcopy(SEASON)
    target, path = raw, []
    while True:
        keys = list(target) if isinstance(target, dict) else list(range(len(target)))
        key = data.draw(st.sampled_from(keys))
        path.append(key)
        if isinstance(target[key], dict | list) and target[key] and data.draw(st.integers(0, 3)):
            target = target[key]
            continue
        target[key] = data.draw(JSON)
        break

    found, faults = read(raw)

    assert all(fault.file == "night.json" and fault.what for fault in faults)
    if path[:4] == ["trips", 0, "hauls", 0] and len(path) > 6 and path[4] == "lines":
        others = [name for at, name in enumerate(("L1", "L2", "L3")) if at != path[5]]
        assert [name for name in lines_of(found) if name in others] == others or "id" in path


@pytest.mark.slow
def test_a_hundred_thousand_lines_are_read_in_seconds():
    line = {
        "taxon": "Mugil dobula",
        "count": "about 200",
        "fate": "kept",
        "measurements": [{"measure": "weight", "values": [5]}],
    }
    trips = [
        {
            "id": f"T{at}",
            "leader": "kim",
            "authority": "permit",
            "hauls": [
                {
                    "id": f"H{at}",
                    "start": "2027-06-11T21:30",
                    "lines": [{"id": f"{at}-{n}", **line} for n in range(100)],
                }
            ],
        }
        for at in range(1000)
    ]
    began = time.perf_counter()

    found, faults = read({"zone": "Australia/Hobart", "trips": trips})

    assert faults == []
    assert len(lines_of(found)) == 100_000
    # About 4 s on two busy cores; the bound only catches work that grows with the square.
    assert time.perf_counter() - began < 60
