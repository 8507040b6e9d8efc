"""Corrections in plain words: what a phone amended reads as what somebody typed would.

The words for counts are those in which counts are typed ("about 200 (150-260)"), so what is printed can be read back.
"""

import json
from dataclasses import fields
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.counts import Count
from api.domain.trips import Filing, Haul, Incident, Line, Movement, Notice, Person, Trip
from api.exchange import correction_words
from api.exchange.canonical import canonical
from api.exchange.correction_words import Naming, field_words, value_words
from api.exchange.count_text import parse_count
from api.exchange.season_out import record_to_json, time_text

NAMING = Naming(
    "Australia/Hobart",
    people={"ann": "Ann Oake", "bo": "Bo Larch"},
    sites={"s-1": "Otter Stairs"},
    authorities={"permit": "collecting permit XP 1", "licence": "fishing licence RL 7"},
)

# Expected words are written by hand from the record; Hobart is UTC+10 in August and UTC+11 in January.
WORDS = [
    ("count", {"low": 12, "best": 12, "high": 12}, "12"),
    ("count", {"low": 150, "best": 200, "high": 260}, "about 200 (150-260)"),
    ("count", {"low": 0, "best": 0, "high": "unknown"}, "unknown"),
    ("count", {"low": 5, "best": 5, "high": "unknown"}, "at least 5"),
    ("count", {"low": 5, "best": 8, "high": "unknown"}, "about 8 (at least 5)"),
    ("weight", {"low": "7/2", "best": "7/2", "high": "7/2"}, "3.5 g"),
    ("weight", {"low": "1/3", "best": "1/3", "high": "1/3"}, "1/3 g"),
    ("start", "2027-08-01T08:00:00Z", "1 Aug 2027 18:00"),
    ("end", "2028-01-01T08:00:00Z", "1 Jan 2028 19:00"),
    ("depart", "2027-08-01T14:30:07Z", "2 Aug 2027 00:30:07"),
    ("at", "2027-08-01T14:30:00.250000Z", "2 Aug 2027 00:30:00.25"),
    ("checks", ["2027-08-01T08:00:00Z", "2027-08-01T20:00:00Z"], "1 Aug 2027 18:00, 2 Aug 2027 06:00"),
    ("checks", [], "none"),
    ("leader", "bo", "Bo Larch"),
    ("person", "cas", "cas"),
    ("site", "s-1", "Otter Stairs"),
    ("authority", "licence", "fishing licence RL 7"),
    ("may_stand_under", ["permit", "licence"], "collecting permit XP 1, fishing licence RL 7"),
    ("crew", [{"person": "ann", "role": "holder"}, {"person": "bo", "role": "assistant"}],
     "Ann Oake (holder), Bo Larch (assistant)"),
    ("papers", ["permit", "notice"], "permit, notice"),
    ("papers", [], "none"),
    ("one_of", ["Galaxias maculatus", "Galaxias brevipinnis"], "Galaxias maculatus, Galaxias brevipinnis"),
    ("gear", {"gear": "seine", "length_mm": "12000 mm"}, "seine, length 12 m"),
    ("gear", {"gear": "seine", "length_mm": "12345 mm", "mesh_mm": "999 mm"}, "seine, length 12.345 m, mesh 999 mm"),
    ("gear", {"gear": "trap", "opening_mm": "125/2 mm", "number": 3, "marked": False, "tag": "R 9"},
     "trap, opening 62.5 mm, 3 of them, not marked, tag R 9"),
    ("fixes", [{"lat": -42.3, "lon": 153.6, "radius_m": 8.0}], "-42.3, 153.6 (within 8 m)"),
    ("fixes", [{"lat": -42.3000001, "lon": 153.0, "confidence": 0.68}, {"lat": 1.5, "lon": 2.5, "source": "map"}],
     "-42.3000001, 153 (68 % sure); 1.5, 2.5 (map)"),
    ("arrived", {"lat": -42.3, "lon": 153.6, "radius_m": 8.0}, "-42.3, 153.6 (within 8 m)"),
    ("measurements", [{"measure": "total length", "values": ["12.3 mm", "140.0 mm"], "variant": "tail squeezed"},
                      {"measure": "weight", "values": ["2.0 g"]}],
     "total length 12.3 mm, 140.0 mm (tail squeezed); weight 2.0 g"),
    ("cleanings", [{"at": "2027-08-01T08:00:00Z", "method": "dried", "minutes": "5/2", "done": False, "person": "ann"}],
     "dried, 1 Aug 2027 18:00 (not done, 2.5 min, Ann Oake)"),
    ("attestations", [{"authority": "permit", "condition": "2.4", "person": "bo", "at": "2027-08-01T08:00:00Z",
                       "kept": "not kept", "reason": "rain"}],
     "collecting permit XP 1 2.4: not kept (Bo Larch, 1 Aug 2027 18:00), reason: rain"),
    ("readings", [{"quantity": "salinity", "value": "31.20", "unit": "ppt", "at": "2027-08-01T08:00:00Z",
                   "instrument": "meter 2", "note": "at the surface"}],
     "salinity 31.20 ppt (1 Aug 2027 18:00, meter 2), note: at the surface"),
    ("lost", True, "yes"),
    ("in_sight", False, "no"),
    ("clock_fast_s", 95, "95 s"),
    ("raw_counted", 120, "120"),
    ("swept_m", "61/2 m", "30.5 m"),
    ("taxon", "Galaxias", "Galaxias"),
]  # fmt: skip


def as_kept(value):
    """Give a value of a record as a correction that came by sync keeps it."""
    return value if isinstance(value, str) else canonical(value).decode("utf-8")


@pytest.mark.parametrize(("name", "value", "expected"), WORDS, ids=lambda one: str(one)[:30])
def test_a_value_of_a_record_is_told_in_words(name, value, expected):
    assert value_words(name, as_kept(value), NAMING) == expected


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("count", "about 200"),
        ("count", "120 in 1/5"),
        ("measurements", "226"),
        ("start", "a little after eight"),
        ("start", "2027-08-01T08:00"),  # without an offset nobody can say which zone was meant
        ("note", '{"low": 1}'),
        ("note", "[1, 2]"),
        ("cause", "true"),
        ("count", "{"),
        ("gear", "seine"),
        ("gear", "[" * 4000),
        ("something new", "12"),
    ],
)
def test_what_a_person_typed_stays_as_it_is(name, text):
    assert value_words(name, text, NAMING) == text


@pytest.mark.parametrize(
    ("name", "expected"), [("count", "nothing"), ("note", "nothing"), ("lost", "no"), ("clock_fast_s", "0 s")]
)
def test_what_was_not_there_is_said(name, expected):
    assert value_words(name, "", NAMING) == expected


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("something new", {"depth_m": 3, "sure": True}, "depth m 3, sure yes"),
        ("something new", [{"a": None}, []], "a nothing; nothing"),
        ("count", {"low": 1}, "low 1"),
        ("count", {"low": [], "best": 1, "high": 2}, "best 1, high 2, low nothing"),
        ("count", {"low": "1/0", "best": "1/0", "high": "1/0"}, "best 1/0, high 1/0, low 1/0"),
        ("crew", {"person": "ann"}, "person ann"),
        ("fixes", [{"lat": "x", "lon": 1}], "lat x, lon 1"),
    ],
)
def test_a_value_of_another_shape_is_told_without_brackets(name, value, expected):
    assert value_words(name, as_kept(value), NAMING) == expected


def test_material_is_told_in_its_unit():
    litres = Naming("UTC", unit="L")
    assert value_words("count", as_kept({"low": "7/2", "best": "7/2", "high": "7/2"}), litres) == "3.5 L"
    assert value_words("count", as_kept({"low": 3, "best": 4, "high": 5}), litres) == "about 4 L (3-5)"


amounts = st.integers(0, 10**6)


@given(st.lists(amounts, min_size=3, max_size=3).map(sorted))
def test_a_count_is_told_as_it_may_be_typed(bounds):
    low, best, high = bounds
    expected = str(low) if low == high else f"about {best} ({low}-{high})"
    line = Line(id="L", taxon="Galaxias", count=Count(low, best, high))
    text = as_kept(record_to_json(line)["count"])
    assert value_words("count", text, NAMING) == expected
    assert parse_count(expected, {}).count == Count(low, best, high)


@given(st.fractions(0, 1000, max_denominator=400))
def test_no_two_weights_read_alike(weight):
    text = as_kept({name: str(weight) for name in ("low", "best", "high")})
    words, _, unit = value_words("weight", text, NAMING).partition(" ")
    assert (Fraction(words), unit) == (weight, "g")


moments = st.integers(0, 3_000_000_000_000_000).map(
    lambda one: datetime(1990, 1, 1, tzinfo=UTC) + timedelta(microseconds=one)
)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@given(moments)
def test_a_time_is_told_in_the_zone_in_full(at):
    fixed = Naming("Etc/GMT-9")  # nine hours ahead of UTC; POSIX turns the sign
    local = at.astimezone(timezone(timedelta(hours=9)))
    expected = f"{local.day} {MONTHS[local.month - 1]} {local.year} {local.hour:02d}:{local.minute:02d}"
    if local.second or local.microsecond:
        expected += f":{local.second:02d}"
    if local.microsecond:
        expected += ("." + str(local.microsecond).rjust(6, "0")).rstrip("0")
    assert value_words("start", time_text(at), fixed) == expected


@pytest.mark.parametrize("record", [Person, Trip, Haul, Line, Notice, Incident, Movement, Filing])
def test_every_field_of_a_record_has_its_way_of_being_told(record):
    known = correction_words._PLAIN | set(correction_words._TEXTS) | set(correction_words._VALUES)
    assert {one.name for one in fields(record)} - known <= {"id", "hauls", "lines"}


@pytest.mark.parametrize("record", [Trip, Haul, Line])
def test_a_field_of_words_is_text_and_one_of_values_is_none(record):
    for one in fields(record):
        words = one.name in correction_words._PLAIN or one.name in correction_words._TEXTS
        said = str(one.type)
        simple = said in ("str", "datetime", "datetime | None", "Fraction | None") or one.name in (
            "doubt", "fate", "kind", "method", "status", "unit",
        )  # fmt: skip
        if one.name not in ("id", "hauls", "lines"):
            assert words == simple, one.name


plain = st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.text("abc ,", max_size=5)
keys = st.sampled_from(["low", "best", "high", "person", "role", "at", "gear", "measure", "values", "x_y"])
values = st.recursive(
    plain, lambda one: st.lists(one, max_size=3) | st.dictionaries(keys, one, max_size=4), max_leaves=8
)


@given(st.sampled_from(sorted(correction_words._VALUES)), values.filter(lambda one: isinstance(one, list | dict)))
def test_no_bracket_of_a_record_is_ever_printed(name, value):
    words = value_words(name, json.dumps(value), NAMING)
    assert words
    assert not set('{}[]"') & set(words)


def test_fields_are_named_as_people_call_them():
    assert [field_words(one) for one in ("count", "clock_fast_s", "may_stand_under", "some_thing")] == [
        "count",
        "phone clock ahead",
        "may stand under",
        "some thing",
    ]
