"""Spreadsheets typed from wet paper: which row belongs to which haul, and which time to which night."""

# ruff: noqa: DTZ001  # the dates of a spreadsheet's cells have no zone
import datetime as dt

import openpyxl
import pytest

from api.exchange.season_json import season_of
from api.exchange.tables import first_of_each_set, read_tables
from tests.exchange.damage_season import BOOK
from tests.exchange.typed_tables import (
    GOBY,
    HAUL_TITLES,
    LINE_TITLES,
    NO_BOOK,
    TRIP,
    TRIP_TITLES,
    csv_file,
    hauls_of,
    lines_of,
    single,
    told,
    workbook,
)

# --- layouts


def test_four_sheets_become_the_raw_season(tmp_path):
    path = workbook(
        tmp_path,
        Trips=[[*TRIP_TITLES, "crew", "papers"], [*TRIP, "p-ana: holder; p-ben: Assistant", "permit copy; tags"]],
        HAULS=[
            ["Trip", "Haul No", "Start", "End", "Gear", "Mesh (mm)", "Gear length", "Lat", "LONGITUDE", "radius_m"],
            ["t1", 1, "21:30", "21:50", "seine", 6, "12 m", -42.88, 147.33, 8],
        ],
        lines=[["haul", "species", "fate", "number", "weight (g)"], [1, GOBY, "K", 12, 30.5], ["", GOBY, "r", "~200"]],
        readings=[["haul", "quantity", "value", "unit", "time"], [1, "Salinity", 31.4, "PSU", "21:20"]],
    )

    raw, rows, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert raw == {
        "format": "creekledger trips 1",
        "trips": [
            {
                "id": "t1",
                "zone": "Australia/Hobart",
                "leader": "p-ana",
                "crew": [{"person": "p-ana", "role": "holder"}, {"person": "p-ben", "role": "assistant"}],
                "papers": ["permit copy", "tags"],
                "hauls": [
                    {
                        "id": "t1-h1",
                        "start": "2027-06-11T21:30",
                        "end": "2027-06-11T21:50",
                        "gear": {"gear": "seine", "mesh_mm": "6 mm", "length_mm": "12 m"},
                        "fixes": [{"lat": -42.88, "lon": 147.33, "radius_m": 8.0}],
                        "lines": [
                            {"id": "t1-h1-1", "taxon": GOBY, "count": 12, "fate": "kept", "weight": "30.5 g"},
                            {"id": "t1-h1-2", "taxon": GOBY, "count": "~200", "fate": "released"},
                        ],
                        "readings": [
                            {"quantity": "salinity", "value": "31.4", "unit": "PSU", "at": "2027-06-11T21:20"}
                        ],
                    }
                ],
            }
        ],
    }
    assert rows["trips[0]"] == "sheet 'Trips', row 2"
    assert rows["trips[0]: hauls[0]: lines[1]"] == "sheet 'lines', row 3"
    assert rows["trips[0]: hauls[0]: readings[0]"] == "sheet 'readings', row 2"


def test_what_a_table_gives_is_a_season(tmp_path):
    """The whole way: the raw form is what the JSON reader takes, and its faults are told by row."""
    good = workbook(
        tmp_path,
        trips=[[*TRIP_TITLES, "authority"], [*TRIP, "P-1"]],
        hauls=[[*HAUL_TITLES, "gear", "gear length", "mesh"], ["t1", 1, "21:30", "00:10", "seine", "12 m", "1/4 in"]],
        lines=[
            [*LINE_TITLES, "lengths", "measure"],
            ["t1", 1, GOBY, "K", "about 200 (180-240)", "63.5 70", "total length"],
        ],
    )
    raw, rows, faults = read_tables(good, BOOK)
    season, more = season_of(raw, good.name, BOOK, rows)

    assert [str(fault) for fault in (*faults, *more)] == []
    haul = season.trips[0].hauls[0]
    assert (haul.start.isoformat(), haul.end.isoformat()) == ("2027-06-11T11:30:00+00:00", "2027-06-11T14:10:00+00:00")
    assert haul.gear.mesh_mm == haul.gear.mesh_mm.__class__("6.35")
    line = haul.lines[0]
    assert (line.count.low, line.count.best, line.count.high, line.fate) == (180, 200, 240, "kept")
    assert line.measurements[0].values == (635, 700)

    raw["trips"][0]["hauls"][0]["lines"][0]["taxon"] = "Nemo"
    _, more = season_of(raw, good.name, BOOK, rows)
    assert [fault.where.partition(":")[0] for fault in more] == ["sheet 'lines', row 2"]


def test_a_set_of_csv_files_is_read_whichever_is_named(tmp_path):
    lines = csv_file(tmp_path, LINE_TITLES, ["t1", "1", GOBY, "kept", "12"], name="2027-spring-lines.csv")
    hauls = csv_file(tmp_path, HAUL_TITLES, ["t1", "1", "21:30", ""], name="2027-Spring-Hauls.csv")
    trips = csv_file(tmp_path, TRIP_TITLES, TRIP, name="2027-spring-trips.csv")
    csv_file(tmp_path, ["quantity"], ["x"], name="2027-autumn-readings.csv")

    by_any = [read_tables(path, NO_BOOK) for path in (lines, hauls, trips)]

    assert [told(faults) for _, _, faults in by_any] == [[], [], []]
    assert by_any[0][0] == by_any[1][0] == by_any[2][0]
    assert by_any[0][1]["trips[0]: hauls[0]"] == "file '2027-Spring-Hauls.csv', row 2"
    assert by_any[0][1]["trips[0]: hauls[0]: lines[0]"] == "row 2"
    other = tmp_path / "season.json"
    assert first_of_each_set([hauls, other, lines, trips]) == [hauls, other]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_one_file_repeats_trip_and_haul_and_a_blank_means_as_above(tmp_path, separator, encoding):
    path = csv_file(
        tmp_path,
        ["trip", "date", "leader", "haul", "gear", "mesh", "start", "end", "lat", "lon", "taxon", "count"],
        ["t1", "2027-06-11", "p-ana", "1", "seine", "6 mm", "21:30", "21:50", "-42.88", "147.33", GOBY, "12"],
        ["", "", "", "", "", "", "", "", "", "", "Atherinosoma microstoma", "3"],
        ["", "", "", "2", "", "", "22:30", "22:40", "", "", GOBY, "4"],
        ["t2", "2027-06-12", "p-ben", "1", "hand net", "", "09:00", "", "", "", GOBY, "5"],
        name="2027-trips.csv",
        separator=separator,
        encoding=encoding,
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert [(trip["id"], trip["leader"]) for trip in raw["trips"]] == [("t1", "p-ana"), ("t2", "p-ben")]
    first, second, third = hauls_of(raw)
    assert [line["count"] for line in first["lines"]] == [12, 3]
    assert second["gear"] == {"gear": "seine", "mesh_mm": "6 mm"}
    assert "fixes" not in second  # a position is never carried from one haul to the next
    assert third["gear"] == {"gear": "hand net"}
    assert third["start"] == "2027-06-12T09:00"


def test_what_contradicts_an_earlier_row_of_a_haul_is_told(tmp_path):
    titles = ["trip", "haul", "date", "start", "taxon", "count"]
    rows = [["t1", "1", "2027-06-11", "21:30", GOBY, "1"], ["", "", "", "21:45", GOBY, "2"]]

    _, _, faults = read_tables(csv_file(tmp_path, titles, *rows), NO_BOOK)

    assert told(faults) == ["row 3, column 'start': '21:45' contradicts '21:30' (row 2, column 'start')."]


def test_a_ditto_mark_takes_the_cell_above(tmp_path):
    titles = ["trip", "haul", "date", "start", "taxon", "count", "fate"]
    rows = [["t1", "1", "2027-06-11", "21:30", GOBY, "1", "kept"], ["", "", "", "", '"', "2", "ditto"]]

    raw, _, faults = read_tables(csv_file(tmp_path, titles, *rows), NO_BOOK)

    assert told(faults) == []
    assert [(line["taxon"], line["fate"]) for line in lines_of(raw)] == [(GOBY, "kept")] * 2


def test_titles_may_stand_below_a_heading(tmp_path):
    path = csv_file(tmp_path, ["Spring sheet 4"], [], ["trip", "haul", "date", "start", "taxon", "count"])
    path.write_bytes(path.read_bytes() + f"t1,1,2027-06-11,21:30,{GOBY},3\r\n".encode())

    raw, rows, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert lines_of(raw)[0]["count"] == 3
    assert rows["trips[0]: hauls[0]: lines[0]"] == "row 4"


# --- times


@pytest.mark.parametrize(
    ("trip_cells", "starts", "expected"),
    [
        # Trip over midnight: with a departure, what lies before it is the next day's.
        ({"depart": "21:00"}, ["21:30", "00:40", "02:00"], ["11T21:30", "12T00:40", "12T02:00"]),
        ({"depart": "21:00"}, ["00:40"], ["12T00:40"]),
        # Without one, half a day back from the first haul is.
        ({}, ["21:30", "23:50", "00:40", "23:55"], ["11T21:30", "11T23:50", "12T00:40", "11T23:55"]),
        # A set lifted before, typed later, is not.
        ({}, ["18:00", "17:00"], ["11T18:00", "11T17:00"]),
        # Typed as on paper, with am and pm, or in full.
        ({}, ["2130", "9:45 pm", "2027-06-12 00:05", "12:10 am"], ["11T21:30", "11T21:45", "12T00:05", "12T00:10"]),
    ],
)
def test_a_time_of_day_belongs_to_its_night(tmp_path, trip_cells, starts, expected):
    hauls = [["t1", at, start, "yes"] for at, start in enumerate(starts, start=1)]
    path = workbook(
        tmp_path,
        trips=[[*TRIP_TITLES, *trip_cells], [*TRIP, *trip_cells.values()]],
        hauls=[["trip", "haul", "start", "nothing caught"], *hauls],
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert [haul["start"] for haul in hauls_of(raw)] == [f"2027-06-{at}" for at in expected]


def test_an_end_before_the_start_is_the_next_days(tmp_path):
    raw, _, faults = single(tmp_path, ["start", "end", "time"], "23:50", "00:15", "00:05")

    assert told(faults) == []
    assert hauls_of(raw)[0]["end"] == "2027-06-12T00:15"
    assert lines_of(raw)[0]["at"] == "2027-06-12T00:05"


def test_a_time_with_an_offset_stays_as_written(tmp_path):
    raw, _, faults = single(tmp_path, ["start", "end"], "2027-04-04T02:30+11:00", "2027-04-04T02:10+10:00")

    assert told(faults) == []
    assert hauls_of(raw)[0]["start"] == "2027-04-04T02:30:00+11:00"
    assert hauls_of(raw)[0]["end"] == "2027-04-04T02:10:00+10:00"


def test_looks_into_a_set_follow_each_other_over_midnight(tmp_path):
    raw, _, faults = single(
        tmp_path, ["start", "end", "checks", "kind"], "18:00", "2027-06-13 06:00", "23:00; 05:00; 17:00", "Set"
    )

    assert told(faults) == []
    assert hauls_of(raw)[0]["checks"] == ["2027-06-11T23:00", "2027-06-12T05:00", "2027-06-12T17:00"]
    assert hauls_of(raw)[0]["kind"] == "set"


def test_date_and_time_cells_of_a_spreadsheet_are_read(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "lines"
    sheet.append(["trip", "haul", "date", "start", "end", "taxon", "count", "lat", "lon"])
    end = dt.datetime(2027, 6, 12, 0, 29, 59, 999_600)
    sheet.append(["t1", 1, dt.date(2027, 6, 11), dt.time(21, 30), end, GOBY, 12.0, -70.1, 147.3])
    book.save(tmp_path / "n.xlsx")

    raw, _, faults = read_tables(tmp_path / "n.xlsx", NO_BOOK)

    assert told(faults) == []
    haul = hauls_of(raw)[0]
    assert (haul["start"], haul["end"]) == ("2027-06-11T21:30", "2027-06-12T00:30")
    # 70.1 is stored as 70.099999999999994 by spreadsheets that write 17 digits.
    assert haul["fixes"] == [{"lat": -70.1, "lon": 147.3}]
    assert haul["lines"][0]["count"] == 12


def test_dates_of_the_1904_system_are_read(tmp_path):
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.MAC_EPOCH
    book.active.append(["trip", "haul", "start", "taxon", "count"])
    book.active.append(["t1", 1, dt.datetime(2027, 6, 11, 21, 30), GOBY, 12])
    book.save(tmp_path / "n.xlsx")

    raw, _, _ = read_tables(tmp_path / "n.xlsx", NO_BOOK)

    assert hauls_of(raw)[0]["start"] == "2027-06-11T21:30"
