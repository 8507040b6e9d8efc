"""What a cell typed from wet paper may say, and what is told of one that cannot stand."""

import pytest

from api.exchange.tables import read_tables
from tests.exchange.damage_season import BOOK
from tests.exchange.typed_tables import (
    GOBY,
    HAUL_TITLES,
    LINE_TITLES,
    NO_BOOK,
    TRIP,
    TRIP_TITLES,
    csv_file,
    lines_of,
    single,
    told,
    workbook,
)

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


def test_a_message_is_one_line_whatever_the_cells_hold(tmp_path):
    _, _, faults = single(tmp_path, ["wh\nei\x1b[2Jght", "gear\r\nlength"], "12", "-\x071 m")

    assert told(faults) == [
        "row 1: The column title 'wh ei?[2Jght' is not known.",
        "row 2, column 'gear length': '-?1 m' cannot be.",
    ]


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
