"""CSV out: RFC 4180 in the machine form, the OWASP guard in the spreadsheet form."""

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.exchange.csv_out import csv_text, spreadsheet_csv

MARK = b"\xef\xbb\xbf"


def test_quotes_where_rfc_4180_asks_for_them():
    # fmt.csv.rfc4180 - RFC 4180 section 2, rules 5-7: CRLF, quoting, doubled quotes.
    written = csv_text(["one", "two", "three", "four"], [['a"b', "c,d", "e\nf", "g"]])

    assert written == b'one,two,three,four\r\n"a""b","c,d","e\nf",g\r\n'


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        # fmt.csv.owasp1 and fmt.csv.owasp2 - OWASP community page "CSV Injection", table of examples.
        ('=1+2";=1+2', '"\'=1+2"";=1+2"'),
        ("=1+2'\" ;,=1+2", '"\'=1+2\'"" ;,=1+2"'),
    ],
)
def test_guards_formulas_as_owasp_prints_them(cell, expected):
    assert spreadsheet_csv(["note"], [[cell]]) == MARK + b'"note"\r\n' + expected.encode() + b"\r\n"


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_every_sign_of_the_owasp_list_is_disarmed(sign):
    # OWASP "CSV Injection": "= + - @ Tab (0x09) Carriage return (0x0D) Line feed (0x0A)".
    assert spreadsheet_csv(["note"], [[f"{sign}x"]]).decode("utf-8-sig") == f'"note"\r\n"\'{sign}x"\r\n'


def test_blanks_before_a_sign_do_not_hide_it():
    assert spreadsheet_csv(["note"], [["  =1+2"]]).endswith(b'"\'  =1+2"\r\n')


def test_a_title_that_would_run_is_guarded_too():
    assert spreadsheet_csv(["@sum"], []) == MARK + b'"\'@sum"\r\n'


def test_negative_coordinates_stay_numbers():
    # The trap of that guard (our own check): longitudes that begin with "-" (here southern latitudes) are no formulas.
    rows = [[-42.881, Decimal("-0.50"), "-42.8810", "-3+4"]]

    written = spreadsheet_csv(["lat", "offset", "lat text", "lat faked"], rows, numbers=("lat text", "lat faked"))

    assert written.decode("utf-8-sig").splitlines()[1] == '-42.881,-0.50,-42.8810,"\'-3+4"'


def test_the_machine_form_is_never_guarded():
    # Our own decision: a prefix in a machine export would change the data.
    assert csv_text(["note", "lat"], [["=1+2", -42.881]]) == b"note,lat\r\n=1+2,-42.881\r\n"


def test_nothing_and_yes_are_written_plainly():
    assert csv_text(["a", "b", "c"], [[None, True, Decimal("1E+3")]]) == b"a,b,c\r\n,true,1000\r\n"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN")])
@pytest.mark.parametrize("write", [csv_text, spreadsheet_csv])
def test_a_number_that_is_none_is_refused(write, value):
    with pytest.raises(ValueError, match="cannot stand in a table"):
        write(["a"], [[value]])


@pytest.mark.parametrize("write", [csv_text, spreadsheet_csv])
def test_a_row_of_another_width_is_refused(write):
    with pytest.raises(ValueError, match="row 2 has 3 cells for 2 columns"):
        write(["a", "b"], [["x", "y"], ["x", "y", "z"]])


TEXTS = st.lists(st.lists(st.text(st.characters(codec="utf-8")), min_size=2, max_size=2), max_size=5)


@given(TEXTS)
def test_what_is_written_is_read_back(rows):
    read = list(csv.reader(io.StringIO(csv_text(["a", "b"], rows).decode(), newline=""), strict=True))

    assert read == [["a", "b"], *rows]


@given(TEXTS)
def test_guarded_text_is_read_back_but_for_the_apostrophe_and_never_begins_a_formula(rows):
    written = spreadsheet_csv(["a", "b"], rows).decode("utf-8-sig")

    read = list(csv.reader(io.StringIO(written, newline=""), strict=True))[1:]

    for row, found in zip(rows, read, strict=True):
        for text, cell in zip(row, found, strict=True):
            assert cell in (text, f"'{text}")
            assert cell[:1] not in ("=", "+", "-", "@", "\t", "\r", "\n")
