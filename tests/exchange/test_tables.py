"""Spreadsheets typed from wet paper: what a crew would type, what spreadsheets make of it, and hostile files."""

# ruff: noqa: DTZ001  # the dates of a spreadsheet's cells have no zone
import csv
import datetime as dt
import io
import time
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.domain.facts import Book
from api.domain.taxa import Taxa
from api.exchange.season_json import season_of
from api.exchange.table_xlsx import read_xlsx
from api.exchange.tables import first_of_each_set, read_tables
from tests.exchange.damage_season import BOOK

NO_BOOK = Book((), Taxa.of([]))
LINE_TITLES = ["trip", "haul", "taxon", "fate", "count"]
HAUL_TITLES = ["trip", "haul", "start", "end"]
TRIP_TITLES = ["trip", "date", "leader", "zone"]
TRIP = ["t1", "2027-06-11", "p-ana", "Australia/Hobart"]
GOBY = "Pseudogobius olorum"


def csv_file(tmp_path, *rows, name="night.csv", separator=",", encoding="utf-8"):
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows(rows)
    path = tmp_path / name
    path.write_bytes(text.getvalue().encode(encoding))
    return path


def workbook(tmp_path, name="night.xlsx", **sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / name
    book.save(path)
    return path


def hauls_of(raw):
    return [haul for trip in raw["trips"] for haul in trip.get("hauls", [])]


def lines_of(raw):
    return [line for haul in hauls_of(raw) for line in haul.get("lines", [])]


def told(faults):
    return [f"{fault.where}: {fault.what}" for fault in faults]


def single(tmp_path, titles, *cells, **options):
    """One catch line in a single file, with more columns than it needs."""
    row = ["t1", "1", "2027-06-11", "21:30", GOBY, "12"]
    at = {"trip": 0, "haul": 1, "date": 2, "start": 3, "taxon": 4, "count": 5}
    for title, cell in zip(titles, cells, strict=True):
        if title in at:
            row[at[title]] = cell
    more = [(title, cell) for title, cell in zip(titles, cells, strict=True) if title not in at]
    path = csv_file(tmp_path, [*at, *(title for title, _ in more)], [*row, *(cell for _, cell in more)], **options)
    return read_tables(path, NO_BOOK)


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


# --- what a cell may say


@pytest.mark.parametrize(
    ("typed", "unit", "expected"),
    [
        ("63.5 70 81", "", ["63.5", "70", "81"]),
        ("63.5;70 ; 81", "", ["63.5", "70", "81"]),
        ("63.5, 70, 81", "", ["63.5", "70", "81"]),
        ("6.4 7 cm", "", ["6.4 cm", "7 cm"]),
        ("6.4 7", "cm", ["6.4 cm", "7 cm"]),
        ('3 1/2 in 4 1/4"', "", ["3 1/2 in", "4 1/4 in"]),
        ("63.5", "mm", ["63.5 mm"]),
    ],
)
def test_lengths_are_a_run_of_numbers(tmp_path, typed, unit, expected):
    raw, _, faults = single(
        tmp_path, ["lengths", "measure", "variant", "length unit"], typed, "total length", "squeezed", unit
    )

    assert told(faults) == []
    assert lines_of(raw)[0]["measurements"] == [{"measure": "total length", "variant": "squeezed", "values": expected}]


@pytest.mark.parametrize(
    "typed", ["12", "~200", "about 200 (180-240)", "180-240", "120 in 1/5", "2 round basket", "3.5 L"]
)
def test_counts_keep_their_words(tmp_path, typed):
    raw, _, faults = single(tmp_path, ["count"], typed)

    assert told(faults) == []
    assert str(lines_of(raw)[0]["count"]) == typed


@pytest.mark.parametrize(
    ("column", "typed", "what"),
    [
        ("count", "3,5", "'3,5' has a decimal comma."),
        ("count", "1,200", "'1,200' has a comma: it may mark thousands or a decimal."),
        ("count", "-3", "The count '-3' is below 0."),
        ("count", "1e308", "'1e308' is not a count."),
        ("count", "NaN", "'NaN' is not a count."),
        ("count", "Infinity", "'Infinity' is not a count."),
        ("count", "=3+4", "The cell holds a formula."),
        ("lengths", "63,5 70", "'63,5' has a decimal comma."),
        ("lengths", "63.5 70; tl", "The lengths break off at 'tl'."),
        ("lengths", "-5", "The lengths break off at '-5'."),
        ("weight", "1e308", "'1e308' cannot be."),
        ("lat", "NaN", "'NaN' is not a plain number."),
        ("lat", "42 52.8 S", "'42 52.8 S' is not a plain number."),
        ("mesh", "6", "'6' has no unit."),
        ("gear number", "two", "'two' is not a plain number."),
        ("marked", "perhaps", "'perhaps' is neither yes nor no."),
        ("date", "03/04/2027", "'03/04/2027' can be read day first or month first."),
        ("date", "2027-02-30", "'2027-02-30' is not a date."),
        ("start", "25:10", "'25:10' is not a time of day."),
        ("start", "dusk", "'dusk' is not a time."),
        ("crew", "p-ana", "'p-ana' does not say who did what."),
        ("end lat", "-42.8", "The row has a 'end lat' without a 'end lon'."),
    ],
)
def test_a_cell_that_cannot_stand_is_told_with_its_mending(tmp_path, column, typed, what):
    _, _, faults = single(tmp_path, [column, "gear"], typed, "seine")

    mine = [fault for fault in faults if fault.what == what]
    assert len(mine) == 1, told(faults)
    assert mine[0].where.startswith("row 2")
    assert mine[0].mend


def test_lengths_without_a_measure_are_not_guessed(tmp_path):
    raw, _, faults = single(tmp_path, ["lengths"], "63.5 70")

    assert told(faults) == ["row 2: The lengths do not say what was measured."]
    assert lines_of(raw) == []


def test_one_bad_row_leaves_the_good_ones_and_every_fault_is_told(tmp_path):
    rows = [
        ["t1", 1, GOBY, "kept", 12],
        ["t1", 1, "", "kept", "x,"],
        ["t1", 1, GOBY, "kept", "3,5"],
        ["t1", 7, GOBY, "", 1],
    ]
    path = workbook(
        tmp_path,
        trips=[TRIP_TITLES, TRIP],
        hauls=[HAUL_TITLES, ["t1", 1, "21:30", "25:00"]],
        lines=[LINE_TITLES, *rows, ["t1", 1, GOBY, "dead", 2]],
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert [(line["id"], line["count"]) for line in lines_of(raw)] == [("t1-h1-1", 12), ("t1-h1-4", 2)]
    assert told(faults) == [
        "sheet 'hauls', row 2, column 'end': '25:00' is not a time of day.",
        "sheet 'lines', row 3: The row has no taxon.",
        "sheet 'lines', row 4, column 'count': '3,5' has a decimal comma.",
        "sheet 'lines', row 5: Trip 't1' has no haul '7'.",
    ]


def test_blank_is_not_zero(tmp_path):
    titles = ["trip", "haul", "date", "start", "end", "kind", "nothing caught"]
    rows = [
        ["t1", "1", "2027-06-11", "21:30", "", "haul", ""],
        ["t1", "2", "", "22:30", "", "haul", "yes"],
        ["t1", "3", "", "22:40", "", "set", ""],
    ]

    _, _, faults = read_tables(csv_file(tmp_path, titles, *rows, name="x-hauls.csv"), NO_BOOK)

    assert told(faults) == ["row 2: The haul has no catch line and does not say that nothing was caught."]


def test_a_haul_that_says_nothing_and_has_a_line_is_told(tmp_path):
    _, _, faults = single(tmp_path, ["nothing caught"], "yes")

    assert told(faults) == ["row 2: The haul says that nothing was caught, and has 1 catch lines."]


def test_an_unknown_title_is_told_with_the_nearest(tmp_path):
    _, _, faults = single(tmp_path, ["wheight"], "12")

    assert told(faults) == ["row 1: The column title 'wheight' is not known."]
    assert faults[0].mend.startswith("Did you mean 'weight'?")


def test_a_value_under_no_title_is_told(tmp_path):
    path = csv_file(tmp_path, LINE_TITLES, ["t1", "1", GOBY, "kept", "3", "5"], name="x-lines.csv")
    csv_file(tmp_path, [*HAUL_TITLES, "date"], ["t1", "1", "21:30", "", "2027-06-11"], name="x-hauls.csv")

    _, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == ["row 2, column 6: '5' stands under no title."]


def test_the_zone_of_the_authorities_stands_for_trips_without_one(tmp_path):
    path = csv_file(
        tmp_path, ["trip", "haul", "date", "start", "taxon", "count"], ["t1", "1", "2027-06-11", "21:30", GOBY, "3"]
    )

    assert read_tables(path, BOOK)[0]["zone"] == BOOK.authorities[0].zone


# --- what spreadsheets do


def test_a_formula_is_told_from_its_value(tmp_path):
    path = workbook(
        tmp_path, lines=[["trip", "haul", "start", "taxon", "count"], ["t1", 1, "2027-06-11 21:30", GOBY, "=3+4"]]
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == ["sheet 'lines', row 2, column 'count': The cell holds a formula."]
    assert lines_of(raw) == []


@pytest.mark.parametrize("error", ["#REF!", "#N/A"])
def test_an_error_value_is_told(tmp_path, error):
    path = workbook(
        tmp_path, lines=[["trip", "haul", "start", "taxon", "count"], ["t1", 1, "2027-06-11 21:30", GOBY, error]]
    )

    _, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == [f"sheet 'lines', row 2, column 'count': The cell holds the error '{error}'."]


def test_a_count_that_became_a_date_is_told(tmp_path):
    cells = ["t1", 1, "2027-06-11 21:30", GOBY, dt.date(2027, 4, 3)]
    path = workbook(tmp_path, lines=[["trip", "haul", "start", "taxon", "count"], cells])

    _, _, faults = read_tables(path, NO_BOOK)

    assert len(faults) == 1
    assert "turned what was typed into a date or time (2027-04-03)" in faults[0].what


def test_numbers_typed_as_text_are_numbers(tmp_path):
    path = workbook(
        tmp_path,
        lines=[
            ["trip", "haul", "start", "taxon", "count", "lat", "lon"],
            ["t1", "1", "2027-06-11 21:30", GOBY, "12", "-42.88", " 147.3 "],
        ],
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert lines_of(raw)[0]["count"] == 12
    assert hauls_of(raw)[0]["fixes"] == [{"lat": -42.88, "lon": 147.3}]


def merged(tmp_path, cells):
    book = openpyxl.Workbook()
    book.active.append(["trip", "haul", "start", "taxon", "count"])
    book.active.append(["t1", 1, "2027-06-11 21:30", GOBY, 12])
    book.active.append([None, None, None, GOBY, None if cells == "E2:E3" else 3])
    book.active.merge_cells(cells)
    book.save(tmp_path / "n.xlsx")
    return read_tables(tmp_path / "n.xlsx", NO_BOOK)


def test_a_haul_merged_down_its_rows_means_as_above(tmp_path):
    raw, _, faults = merged(tmp_path, "B2:B3")

    assert told(faults) == []
    assert [line["count"] for line in lines_of(raw)] == [12, 3]


def test_a_count_merged_over_two_rows_is_told(tmp_path):
    raw, _, faults = merged(tmp_path, "E2:E3")

    assert told(faults) == [
        "sheet 'Sheet', row 2: Cells of 1 columns and 2 rows are merged.",
        "sheet 'Sheet', row 3: The row has no count.",
    ]
    assert lines_of(raw) == []


def test_trailing_empty_rows_are_nothing(tmp_path):
    rows = [["trip", "haul", "start", "taxon", "count"], ["t1", 1, "2027-06-11 21:30", GOBY, 12], *[[None]] * 500]
    path = workbook(tmp_path, lines=rows, notes=[["anything"]])

    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert len(lines_of(raw)) == 1


def test_a_sheet_nobody_knows_is_told(tmp_path):
    path = workbook(tmp_path, trips=[TRIP_TITLES, TRIP], Tally=[["x"], ["y"]])

    assert told(read_tables(path, NO_BOOK)[2]) == ["sheet 'Tally': What this sheet holds is not known."]


CELLS = st.one_of(
    st.none(),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=12).map(
        lambda text: f"x{text.strip()}"
    ),
    st.integers(-(10**9), 10**9),
    st.floats(-1e6, 1e6).map(lambda number: round(number, 3)),
    st.booleans(),
    st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2100, 1, 1)).map(lambda at: at.replace(microsecond=0)),
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(st.lists(CELLS, min_size=1, max_size=5), min_size=1, max_size=6))
def test_cells_read_as_the_reference_library_reads_them(tmp_path, rows):
    """openpyxl writes the workbook and reads it back; our reader must see the same values in the same places."""
    path = workbook(tmp_path, lines=[["title"], *rows])

    found = {(number, at): cell for number, cells in read_xlsx(path)[0].rows for at, cell in cells.items()}

    expected = {}
    for number, row in enumerate(openpyxl.load_workbook(path)["lines"].iter_rows(values_only=True), start=1):
        expected |= {(number, at): value for at, value in enumerate(row) if value not in (None, "")}
    assert set(found) == set(expected)
    for place, value in expected.items():
        cell = found[place]
        match value:
            case bool():
                assert cell.text == ("yes" if value else "no")
            case dt.datetime():
                moment = cell.moment
                assert (dt.datetime.combine(moment, dt.time()) if type(moment) is dt.date else moment) == value
            case int() | float():
                assert float(cell.text) == pytest.approx(value, rel=1e-14)
            case _:
                assert cell.text == value.strip()


# --- files that are not what they say


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "The file is empty."),
        (b" \r\n", "The file is empty."),
        ("trip,caf\u00e9\r\n".encode("cp1252"), "The file is not in UTF-8 (it may be Windows-1252)"),
        ("trip,haul\r\n".encode("utf-16"), "The file is in UTF-16."),
        (b"trip,haul\r\nt1,\x00\r\n", "The file holds NUL bytes"),
        (b"PK\x03\x04abc", "This is a workbook, not CSV."),
        (b'trip,haul\r\nt1,"1\r\n', "The row cannot be taken apart"),
        (b'trip,haul\r\nt1,"1"x\r\n', "The row cannot be taken apart"),
    ],
)
def test_a_csv_that_cannot_be_read_is_told_once(tmp_path, content, what):
    path = tmp_path / "n.csv"
    path.write_bytes(content)

    raw, _, faults = read_tables(path, NO_BOOK)

    assert raw["trips"] == []
    assert len(faults) == 1
    assert faults[0].what.startswith(what)
    assert faults[0].mend


def test_a_quoted_cell_over_two_lines_is_one_row(tmp_path):
    # RFC 4180 section 2, rule 6: fields containing line breaks are enclosed in quotes.
    titles = ["trip", "haul", "date", "start", "taxon", "count", "note"]
    rows = [["t1", "1", "2027-06-11", "21:30", GOBY, "1", 'two\r\nlines, "quoted"'], ["", "", "", "", "", "2", ""]]

    raw, _, faults = read_tables(csv_file(tmp_path, titles, *rows), NO_BOOK)

    assert lines_of(raw)[0]["note"] == 'two\r\nlines, "quoted"'
    assert told(faults) == ["row 3: The row has no taxon."]


def repacked(path, change):
    """Write a workbook anew with its parts changed."""
    with zipfile.ZipFile(path) as parts:
        held = {entry.filename: parts.read(entry) for entry in parts.infolist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        for part, content in change(held).items():
            parts.writestr(part, content)
    return path


def test_a_sheet_that_lies_about_its_size_is_read_as_it_is(tmp_path):
    path = workbook(
        tmp_path, lines=[["trip", "haul", "start", "taxon", "count"], ["t1", 1, "2027-06-11 21:30", GOBY, 12]]
    )
    part = "xl/worksheets/sheet1.xml"
    repacked(path, lambda held: {**held, part: held[part].replace(b'ref="A1:E2"', b'ref="A1:XFD10000000"')})

    began = time.perf_counter()
    raw, _, faults = read_tables(path, NO_BOOK)

    assert told(faults) == []
    assert len(lines_of(raw)) == 1
    assert time.perf_counter() - began < 1


def test_a_season_of_a_workbook_is_read_in_seconds(tmp_path):
    titles = ["trip", "haul", "start", "taxon", "fate", "count", "lengths", "measure", "note"]
    rows = [
        [f"t{at // 200}", at // 10, "2027-06-11 21:30", GOBY, "kept", 12, "63.5 70 81", "total length", "wet"]
        for at in range(10_000)
    ]
    path = workbook(tmp_path, lines=[titles, *rows])

    began = time.perf_counter()
    raw, _, faults = read_tables(path, NO_BOOK)

    assert (len(lines_of(raw)), told(faults)) == (10_000, [])
    assert time.perf_counter() - began < 10
