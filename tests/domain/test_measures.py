"""Quantities held to NIST Handbook 44 Appendix C, ASTM E29 and printed size limits."""

import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from api.domain import measures
from api.domain.measures import (
    HANDBOOK_CONTAINERS,
    Container,
    InexactLengthError,
    Quantity,
    compare_length,
    container_litres,
    decimal_text,
    exact_number,
    find_unit,
    format_exact,
    frustum_litres,
    length_tenths,
    parse_quantity,
    quantity_text,
)

VECTORS = [
    vector
    for vector in json.loads((Path(__file__).parents[1] / "vectors" / "field.json").read_text("utf-8"))
    if vector["id"].startswith("unit.")
]
# What each name of the handbook's vectors asks for: an amount here and the unit it is wanted in.
HANDBOOK_NAMES = {
    "bushel_us_L": ("1 US bushel", "L"),
    "peck_L": ("1 peck", "L"),
    "dry_quart_in3": ("1 dry quart", "in3"),
    "liquid_quart_L": ("1 liquid quart", "L"),
    "liquid_quart_in3": ("1 liquid quart", "in3"),
    "pound_kg": ("1 lb", "kg"),
    "ounce_g": ("1 oz", "g"),
    "inch_mm": ("1 in", "mm"),
    "foot_m": ("1 ft", "m"),
    "mile_m": ("1 mile", "m"),
}


def as_written(value):
    """Give a JSON number as the decimal its digits say."""
    return Fraction(str(value))


def check_handbook_unit(i, expected, tolerance):
    text, unit = HANDBOOK_NAMES[i["unit"]]
    exact = parse_quantity(text).expressed_in(unit)

    # Held exactly: the tolerance allowed there is for binary floats, which are not used here.
    assert 0 <= tolerance < 1e-8
    assert exact == as_written(expected)


def check_quarts(i, expected, tolerance):
    assert i["question"] == "dry quart / liquid quart"
    ratio = parse_quantity("1 dry quart").exact / parse_quantity("1 liquid quart").exact

    assert abs(ratio - as_written(expected)) <= as_written(tolerance)


def check_size_limit(i, expected, tolerance):
    limit = parse_quantity(f"{i['inches']} in")

    assert tolerance == 0
    assert limit.exact == Fraction(expected)
    assert decimal_text(limit.exact) == expected


def check_float_trap(i, expected, tolerance):
    """In floats a fish of exactly the limit is short; here it is at the limit."""
    assert tolerance == 0
    assert i["expr"] == "3.5*25.4 >= 88.9 , 12*25.4 >= 304.8 (binary floats)"
    assert [3.5 * 25.4 >= 88.9, 12 * 25.4 >= 304.8] == expected
    assert compare_length(length_tenths(88.9, "mm"), parse_quantity("3 1/2 in")) == 0
    assert compare_length(length_tenths(304.8, "mm"), parse_quantity("12 in")) == 0


def check_parenthetical(i, expected, tolerance):
    limit = parse_quantity(i["rule"].split(" (")[0])

    assert tolerance < 1e-8
    assert limit.expressed_in("cm") == as_written(expected["exact_cm"])
    assert format_exact(limit.expressed_in("cm"), 1) == str(expected["printed_cm"])
    # Between the two a fish passes one and fails the other; the first printed unit decides.
    assert compare_length(2288, limit) == 1
    assert compare_length(2288, Quantity(as_written(expected["printed_cm"]), "cm", "length")) == -1


def check_rounding(i, expected, tolerance):
    """126.95 mm cannot be stored in tenths; its neighbours fall on the same sides as E29 says."""
    measured = parse_quantity(f"{i['measured_mm']} mm")
    limit = parse_quantity(f"{i['limit_in']} in")
    printed = format_exact(measured.exact, i["display_decimals_mm"])

    assert tolerance == 0
    assert (measured.exact >= limit.exact) is expected["raw_meets_minimum"]
    assert (Fraction(printed) >= limit.exact) is expected["rounded_meets_minimum"]
    with pytest.raises(InexactLengthError) as caught:
        length_tenths(i["measured_mm"], "mm")
    assert compare_length(caught.value.below, limit) == -1
    assert compare_length(caught.value.above, limit) == 0


HANDLERS = {f"unit.{name}": check_handbook_unit for name in HANDBOOK_NAMES} | {
    "unit.quarts": check_quarts,
    "unit.size_in.": check_size_limit,
    "unit.float_trap": check_float_trap,
    "unit.parenthetical": check_parenthetical,
    "unit.round_limit": check_rounding,
}


def test_every_measures_vector_has_one_handler_and_every_handler_a_vector():
    ids = [vector["id"] for vector in VECTORS]

    assert len(ids) == 21
    for i in ids:
        matching = [p for p in HANDLERS if (i.startswith(p) if p.endswith(".") else i == p)]
        assert len(matching) == 1, i
    assert all(any(i.startswith(prefix) for i in ids) for prefix in HANDLERS)


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_vector(vector):
    handler = next(
        handler
        for prefix, handler in HANDLERS.items()
        if vector["id"] == prefix or (prefix.endswith(".") and vector["id"].startswith(prefix))
    )

    handler(vector["inputs"], vector["expected"], vector["tolerance"])


def test_field_vectors_belong_to_the_four_field_tests():
    """A vector with another prefix would be read by no test."""
    everything = json.loads((Path(__file__).parents[1] / "vectors" / "field.json").read_text("utf-8"))

    assert {vector["id"].split(".")[0] for vector in everything} == {"sal", "sun", "unit", "stat"}
    assert len({vector["id"] for vector in everything}) == len(everything)
    assert all(vector["source"] for vector in everything)


@pytest.mark.parametrize(
    ("text", "value", "unit", "exact"),
    [
        ("3 1/2 in", "7/2", "in", "88.9"),
        ("3-1/2 inches", "7/2", "in", "88.9"),
        ("3\N{VULGAR FRACTION ONE HALF} in", "7/2", "in", "88.9"),
        ("3 8/32 in", "13/4", "in", "82.55"),
        ('4 1/8"', "33/8", "in", "104.775"),
        ("3.5in", "7/2", "in", "88.9"),
        ("24 inches", "24", "in", "609.6"),
        ("63.5 mm", "63.5", "mm", "63.5"),
        ("1/2 IN", "1/2", "in", "12.7"),
        ("5 lb", "5", "lb", "2267.96185"),
        ("0.5 kg", "1/2", "kg", "500"),
        ("1.5 tonnes", "3/2", "t", "1500000"),
        ("1 gallon", "1", "gal", "3.785411784"),
        ("2 US bushels", "2", "US bushel", "70.47814033376"),
        ("1 U.S. struck bushel", "1", "US bushel", "35.23907016688"),
        ("1 dry qt", "1", "dry quart", "1.101220942715"),
        ("1 fl oz", "1", "fl oz", "0.0295735295625"),
        ("1 acre", "1", "acre", "4046.8564224"),
        ("10 m2", "10", "m2", "10"),
        ("1 nautical mile", "1", "nmi", "1852000"),
        ("  12 ", "12", "count", "12"),
        ("40 animals", "40", "count", "40"),
        ("0", "0", "count", "0"),
    ],
)
def test_quantity_is_read_exactly(text, value, unit, exact):
    """Equivalents from NIST Handbook 44, Appendix C; 3 8/32 in stands in Maine's lobster law."""
    quantity = parse_quantity(text)

    assert (quantity.value, quantity.unit) == (Fraction(value), unit)
    assert quantity.exact == Fraction(exact)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1 quart", "dry or a liquid quart"),
        ("2 qts", "dry or a liquid quart"),
        ("3 pints", "dry or a liquid pint"),
        ("1 pt", "dry or a liquid pint"),
        ("2 bushels", "which bushel.*struck.*heaped"),
        ("1 bu", "which bushel"),
        ("1 ton", "which ton"),
        ("2 tubs", "no fixed size"),
        ("1,5 mm", "comma"),
        ("1,500 mm", "comma"),
        ("12 stone", "unknown unit 'stone'; write one of mm"),
        ("3.5", "whole number"),
        ("1/2", "whole number"),
        ("3 5/4 in", "below one"),
        ("3 2/2 in", "below one"),
        ("1/0 in", "divides by zero"),
        ("-3 in", "below zero"),
        ("\N{MINUS SIGN}3 in", "below zero"),
        ("2 ft 6 in", "one number and one unit"),
        ("1e3 mm", "one number and one unit"),
        ("3.5.2 in", "one number and one unit"),
        ("1 000 mm", "one number and one unit"),
        ("about 5 in", "one number and one unit"),
        ("in", "one number and one unit"),
        ("", "one number and one unit"),
        ("nan mm", "one number and one unit"),
        ("\N{ARABIC-INDIC DIGIT THREE} in", "one number and one unit"),
        ("9" * 100 + " mm", "100|103 characters"),
    ],
)
def test_unclear_quantity_is_refused_with_the_way_out(text, words):
    with pytest.raises(ValueError, match=words):
        parse_quantity(text)


def test_no_spelling_names_two_units():
    spellings = [spelling.lower() for unit in measures._UNITS for spelling in {unit.symbol.lower(), *unit.spellings}]

    assert len(spellings) == len(set(spellings))
    assert not set(measures._AMBIGUOUS) & set(measures._UNIT_BY_SPELLING)


@pytest.mark.parametrize(
    ("value", "unit", "dimension", "words"),
    [
        (Fraction(1), "inch", "length", "unknown unit symbol"),
        (Fraction(1), "in", "mass", "measures length, not mass"),
        (Fraction(-1), "in", "length", "below zero"),
        (Fraction(1, 3), "count", "count", "whole number"),
    ],
)
def test_quantity_keeps_its_own_rules(value, unit, dimension, words):
    with pytest.raises(ValueError, match=words):
        Quantity(value, unit, dimension)


def test_volume_does_not_become_mass_or_count():
    with pytest.raises(ValueError, match="only by a factor"):
        parse_quantity("1 dry quart").expressed_in("kg")
    with pytest.raises(ValueError, match="cannot be compared"):
        compare_length(100, parse_quantity("5 lb"))


@pytest.mark.parametrize(
    ("reading", "unit", "tenths"),
    [
        ("3 1/2", "in", 889),
        (88.9, "mm", 889),
        (Decimal("8.89"), "cm", 889),
        (Fraction(7, 2), "inch", 889),
        (0, "mm", 0),
    ],
)
def test_length_as_measured_in_tenths(reading, unit, tenths):
    assert length_tenths(reading, unit) == tenths


@pytest.mark.parametrize(
    ("reading", "unit", "below"), [("4 1/8", "in", 1047), ("126.95", "mm", 1269), (3.5 * 25.4, "mm", 888)]
)
def test_length_is_never_rounded_to_fit(reading, unit, below):
    """A rounded reading would be compared afterwards: the absolute method of ASTM E29 forbids it."""
    with pytest.raises(InexactLengthError, match="no whole number of tenths") as caught:
        length_tenths(reading, unit)

    assert (caught.value.below, caught.value.above) == (below, below + 1)
    assert below < caught.value.exact_mm * 10 < below + 1


@pytest.mark.parametrize(
    ("reading", "unit", "error"),
    [
        ("3 in", "in", ValueError),
        (-1, "mm", ValueError),
        (float("nan"), "mm", ValueError),
        (float("inf"), "mm", ValueError),
        ("", "mm", ValueError),
        (5, "lb", ValueError),
        (True, "mm", TypeError),
    ],
)
def test_unreadable_length_is_refused(reading, unit, error):
    with pytest.raises(error):
        length_tenths(reading, unit)


@pytest.mark.parametrize(
    ("tenths", "limit", "expected"),
    [
        (1269, "5 in", -1),
        (1270, "5 in", 0),
        (1271, "5 in", 1),
        (1047, "4 1/8 in", -1),
        (1048, "4 1/8 in", 1),
        (635, "63.5 mm", 0),
        (825, "3 1/4 in", -1),
        (826, "3 1/4 in", 1),
    ],
)
def test_length_is_compared_exactly(tenths, limit, expected):
    """Limits of the kind in state law; 3 1/4 in is 8.255 cm though one rule prints 8.26."""
    assert compare_length(tenths, parse_quantity(limit)) == expected


def test_negative_measured_length_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        compare_length(-1, parse_quantity("5 in"))


def test_two_tubs_are_not_two_bushels():
    """COMAR 08.02.04.04 tub, 18 / 16.5 x 12 in: 2806 in3, 45.99 L (computed), 1.305 US bushels."""
    litres = frustum_litres(18, "16.5", 12)
    tub = Container("oyster tub", litres, "COMAR 08.02.04.04")

    assert litres / measures.CUBIC_INCH_L == pytest.approx(2806, abs=0.5)
    assert format_exact(container_litres(1, tub), 2) == "45.99"
    assert format_exact(container_litres(2, tub), 2) == "91.97"
    assert format_exact(parse_quantity("2 US bushels").exact, 2) == "70.48"
    assert format_exact(litres / HANDBOOK_CONTAINERS["US struck bushel"].litres, 3) == "1.305"


def test_round_basket():
    """The same rule's basket, 16.5 / 13.5 x 14.25 in: 41.40 L, 0.900 tub (computed)."""
    basket = frustum_litres("16 1/2", "13 1/2", "14 1/4")

    assert format_exact(basket, 2) == "41.40"
    assert format_exact(basket / frustum_litres(18, 16.5, 12), 3) == "0.900"


@pytest.mark.parametrize(
    ("name", "litres"),
    [
        ("US struck bushel", "35.23907016688"),
        ("US peck", "8.80976754172"),
        ("US dry quart", "1.101220942715"),
        ("US dry pint", "0.5506104713575"),
        ("US gallon", "3.785411784"),
        ("US liquid quart", "0.946352946"),
        ("US liquid pint", "0.473176473"),
    ],
)
def test_handbook_container(name, litres):
    """NIST Handbook 44, Appendix C, exact equivalents."""
    container = HANDBOOK_CONTAINERS[name]

    assert container_litres("2 1/2", container) == Fraction(litres) * Fraction(5, 2)
    assert "Handbook 44" in container.source


def test_heaped_bushel_as_printed():
    """Handbook 44 prints 2747.715 in3 = 1.278 struck bushels, and that 1 1/4 is frequently meant."""
    heaped = HANDBOOK_CONTAINERS["US heaped bushel"].litres

    assert format_exact(heaped / HANDBOOK_CONTAINERS["US struck bushel"].litres, 3) == "1.278"
    assert format_exact(heaped, 2) == "45.03"


def test_container_without_name_source_or_capacity_is_refused():
    with pytest.raises(ValueError, match="name and the source"):
        Container(" ", Fraction(1), "measured")
    with pytest.raises(ValueError, match="name and the source"):
        Container("red crate", Fraction(1), "")
    with pytest.raises(ValueError, match="more than zero"):
        Container("red crate", Fraction(0), "measured")
    with pytest.raises(ValueError, match="below zero"):
        container_litres(-1, HANDBOOK_CONTAINERS["US peck"])
    with pytest.raises(ValueError, match="above zero"):
        frustum_litres(18, 0, 12)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("126.95", 1, "127.0"),
        ("126.85", 1, "126.8"),
        ("2.675", 2, "2.68"),
        ("2.5", 0, "2"),
        ("0.04", 1, "0.0"),
        ("-0.04", 1, "0.0"),
        ("-1.26", 1, "-1.3"),
        ("1/3", 3, "0.333"),
        ("100", 2, "100.00"),
    ],
)
def test_print_rounds_half_to_even_in_decimals(value, places, text):
    """2.675 prints 2.68; as a binary float it would print 2.67. Half to even as in E29, from memory."""
    assert format_exact(Fraction(value), places) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("104.775", "104.775"),
        ("1/3", "0.333333"),
        ("100", "100"),
        ("0", "0"),
        ("-1/8", "-0.125"),
        ("1/9999999", "0"),
    ],
)
def test_decimal_text(value, text):
    assert decimal_text(Fraction(value)) == text


def test_negative_places_are_refused():
    with pytest.raises(ValueError, match="zero or more"):
        format_exact(Fraction(1), -1)


SYMBOLS = st.sampled_from([unit.symbol for unit in measures._UNITS if unit.dimension != "count"])
AMOUNTS = st.fractions(0, 10_000, max_denominator=999)


@given(AMOUNTS, SYMBOLS)
def test_written_quantity_reads_back(value, symbol):
    quantity = Quantity(value, symbol, find_unit(symbol).dimension)

    assert parse_quantity(quantity_text(quantity)) == quantity


@given(st.integers(0, 10**9))
def test_written_count_reads_back(number):
    assert quantity_text(parse_quantity(str(number))) == str(number)


@given(st.integers(0, 200), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_inch_fractions_are_exact(whole, top, bottom):
    assume(top < bottom)
    quantity = parse_quantity(f"{whole} {top}/{bottom} in")

    assert quantity.exact == Fraction(whole * bottom + top, bottom) * Fraction(254, 10)


@given(st.integers(0, 50_000), AMOUNTS, st.sampled_from(["mm", "in", "cm"]))
def test_comparison_follows_the_numbers(tenths, value, unit):
    limit = Quantity(value, unit, "length")
    sign = compare_length(tenths, limit)

    assert sign == (Fraction(tenths, 10) > limit.exact) - (Fraction(tenths, 10) < limit.exact)
    assert compare_length(tenths + 1, limit) >= sign


@given(st.integers(0, 10**6))
def test_tenths_of_a_millimetre_survive_json(tenths):
    """88.9 as a JSON number is a binary float; its shortest decimal is what was typed."""
    assert length_tenths(json.loads(json.dumps(tenths / 10)), "mm") == tenths


@given(st.fractions(-1000, 1000, max_denominator=2000), st.integers(0, 8))
def test_printed_value_is_within_half_a_step(value, places):
    assert abs(Fraction(format_exact(value, places)) - value) <= Fraction(1, 2 * 10**places)


@given(st.decimals(0, 10**6, places=5))
def test_decimal_text_is_exact_where_decimals_end(value):
    assert exact_number(decimal_text(Fraction(value))) == Fraction(value)
