"""Strict JSON: exact numbers, and each fault of a text with its line and column."""

import json
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.exchange import json_text
from api.exchange.json_text import DEEPEST, read_json


def only_fault(content):
    found, faults = read_json(content, "creek.json")
    assert found is None
    assert [fault.file for fault in faults] == ["creek.json"]
    assert faults[0].mend
    return faults[0]


def test_decimals_are_exact():
    found, faults = read_json(b'{"a": 0.1, "b": 63.50, "c": 12, "d": -1.5e2}', "creek.json")

    assert faults == []
    assert found["a"] == Decimal("0.1")
    assert Fraction(found["a"]) == Fraction(1, 10)
    assert str(found["b"]) == "63.50"
    assert found["c"] == 12
    assert isinstance(found["c"], int)
    assert found["d"] == -150


def test_every_double_is_read():
    # IEEE 754: the smallest and the largest double.
    found, faults = read_json(b"[5e-324, 1.7976931348623157e308]", "creek.json")

    assert faults == []
    assert [float(number) for number in found] == [5e-324, 1.7976931348623157e308]


def test_a_byte_order_mark_is_passed_over():
    assert read_json(b'\xef\xbb\xbf{"a": 1}', "creek.json") == ({"a": 1}, [])


@pytest.mark.parametrize(
    ("content", "where", "what"),
    [
        (b"", "", "empty"),
        (b" \n\t ", "", "empty"),
        ('{"a": 1}'.encode("utf-16"), "", "UTF-16"),
        ('{"a": 1}'.encode("utf-32"), "", "UTF-32"),
        ('{"a": 1}'.encode("utf-16-le"), "", "no text in UTF-8"),
        (b'{\n "name": "Gal\xe1xias"}', "line 2, column 14", "not in UTF-8"),
        (b'{"a": [1, 2', "line 1, column 12", "breaks off"),
        (b'{"a": "x', "line 1, column 7", "does not end"),
        (b'{"a": 1,}', "line 1, column 9", "no JSON"),
        (b'{"a": 1\n "b": 2}', "line 2, column 2", "no JSON"),
        (b"{'a': 1}", "line 1, column 2", "no JSON"),
        (b'{"a": 1} {"b": 2}', "line 1, column 10", "no JSON"),
        (b'{"a": .5}', "line 1, column 7", "no JSON"),
        (b'{"a": 012}', "line 1, column 8", "no JSON"),
        (b'{"a": "line\nbreak"}', "line 1, column 12", "no JSON"),
        (b'{"a": NaN}', "line 1, column 7", "'NaN' is no number"),
        (b'{"a":\n  -Infinity}', "line 2, column 3", "'-Infinity' is no number"),
        (b'{"a": 1e309}', "line 1, column 7", "beyond all measure"),
        (b'{"a": 1.8e308}', "line 1, column 7", "beyond all measure"),
        (b'{"a": -1e99999999999999999999}', "line 1, column 7", "beyond all measure"),
        (b'{"a": 1e-999999999}', "line 1, column 7", "beyond all measure"),
        (b'{"a": ' + b"9" * 5000 + b"}", "line 1, column 7", "has 5000 figures"),
        (b'{"a": 1,\n "a": 1}', "line 2, column 2", "'a' stands twice"),
        (b'{"a": 1, "\\u0061": 1}', "line 1, column 10", "'a' stands twice"),
        (b'{"a": "\\ud800"}', "line 1, column 7", "Half of a character"),
        (b'{"a": "\\u0000"}', "line 1, column 7", "U+0000"),
    ],
)
def test_each_fault_is_one_and_has_its_place(content, where, what):
    fault = only_fault(content)

    assert fault.where == where
    assert what in fault.what


def test_all_faults_of_the_values_come_at_once():
    _, faults = read_json(b'{"a": NaN, "b": 1e400,\n "b": {"c": 1, "c": 2}}', "creek.json")

    assert [fault.where for fault in faults] == [
        "line 1, column 7",
        "line 1, column 17",
        "line 2, column 2",
        "line 2, column 16",
    ]


def test_a_key_in_two_objects_is_no_fault_and_words_within_text_are_none():
    content = b'[{"a": "NaN", "b": "1e999"}, {"a": "\\ud83d\\ude00", "b": "{\\"b\\": 1, \\"b\\": 2}"}]'

    found, faults = read_json(content, "creek.json")

    assert faults == []
    assert found[1]["a"] == "\U0001f600"


@pytest.mark.parametrize("depth", [DEEPEST + 1, 10_000, 1_000_000])
def test_too_deep_nesting_is_a_fault(depth):
    assert "deep" in only_fault(b"[" * depth + b"]" * depth).what


def test_nesting_up_to_the_bound_is_read():
    found, faults = read_json(b"[" * DEEPEST + b"]" * DEEPEST, "creek.json")

    assert faults == []
    assert json.dumps(found) == "[" * DEEPEST + "]" * DEEPEST


def test_a_file_beyond_the_size_is_refused_unread(monkeypatch):
    monkeypatch.setattr(json_text, "MOST_BYTES", 1_000_000)

    assert "larger than 1 MB" in only_fault(b"[" + b" " * 1_000_000).what


@settings(deadline=None)
@given(
    st.binary(max_size=60)
    | st.text(max_size=60).map(str.encode)
    | st.text('[]{}",:0e-NaInf\\u\n', max_size=40).map(str.encode)
)
def test_no_bytes_make_it_fall(content):
    found, faults = read_json(content, "creek.json")

    assert found is None or faults == []
    if not faults:
        assert found == json.loads(content.decode("utf-8-sig"), parse_float=Decimal)


@settings(deadline=None)
@given(
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(10**18), 10**18)
        | st.text(st.characters(codec="utf-8", exclude_categories=["Cc"])),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.text(st.characters(codec="utf-8", exclude_categories=["Cc"])), inner, max_size=3)
        ),
        max_leaves=10,
    )
)
def test_what_another_writer_wrote_is_read_back(content):
    """The standard library's writer is the reference."""
    assert read_json(json.dumps(content).encode(), "creek.json") == (content, [])
