"""What spreadsheets make of a table, and files that are not what they say."""

# ruff: noqa: DTZ001  # the dates of a spreadsheet's cells have no zone
import datetime as dt
import time
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.exchange.table_xlsx import read_xlsx
from api.exchange.tables import read_tables
from tests.exchange.typed_tables import (
    GOBY,
    NO_BOOK,
    TRIP,
    TRIP_TITLES,
    csv_file,
    hauls_of,
    lines_of,
    told,
    workbook,
)

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
                assert cell.text == " ".join(value.split())  # any run of white space is one blank, as on paper


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


def test_rows_behind_thousands_of_empty_ones_are_not_lost_without_a_word(tmp_path):
    cells = ["t1", 1, "2027-06-11 21:30", GOBY, 12]
    path = workbook(tmp_path, lines=[["trip", "haul", "start", "taxon", "count"], cells, *[[""]] * 6_000, cells])
    part = "xl/worksheets/sheet1.xml"
    repacked(
        path, lambda held: {**held, part: held[part].replace(b"</sheetData>", b"<row/>" * 6_000 + b"</sheetData>")}
    )

    raw, _, faults = read_tables(path, NO_BOOK)

    assert raw["trips"] == []
    assert told(faults)[0].endswith("More than 5000 empty rows follow; what may stand behind them was not read.")


@pytest.mark.slow
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
