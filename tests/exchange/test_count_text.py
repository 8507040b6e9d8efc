"""Counts as people write them. The meaning of "about" and of a raised count is this project's own decision."""

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.domain.counts import Count, exactly
from api.domain.effort import raised_count
from api.exchange.count_text import containers_of, parse_count
from api.exchange.plain_words import WrongValueError
from tests.exchange.example_records import book

CONTAINERS = {**containers_of(*book().authorities), "fish box (small)": Fraction(25, 2)}


@pytest.mark.parametrize(
    ("text", "count", "unit", "method"),
    [
        (12, exactly(12), "individuals", "counted"),
        ("12", exactly(12), "individuals", "counted"),
        (Decimal("12.0"), exactly(12), "individuals", "counted"),
        (0, exactly(0), "individuals", "counted"),
        ("12 animals", exactly(12), "individuals", "counted"),
        ("about 200", Count(150, 200, 250), "individuals", "by eye"),
        ("~200", Count(150, 200, 250), "individuals", "by eye"),
        ("About 200 animals", Count(150, 200, 250), "individuals", "by eye"),
        ("~3", Count(2, 3, 4), "individuals", "by eye"),  # 2.25 to 3.75, outward to whole animals
        ("about 200 (180-240)", Count(180, 200, 240), "individuals", "by eye"),
        ("180-240", Count(180, 210, 240), "individuals", "by eye"),
        ("180 to 241", Count(180, 210, 241), "individuals", "by eye"),  # the middle, rounded down
        ("180\N{EN DASH}240", Count(180, 210, 240), "individuals", "by eye"),
        ({"low": 180, "best": 200, "high": 240}, Count(180, 200, 240), "individuals", "by eye"),
        ({"low": 180, "high": "241"}, Count(180, 210, 241), "individuals", "by eye"),
        ({"low": 5, "best": 5, "high": 5}, exactly(5), "individuals", "counted"),
        ({"low": 5, "best": 5, "high": "unknown"}, Count(5, 5, math.inf), "individuals", "by eye"),
        ("unknown", Count(0, 0, math.inf), "individuals", "by eye"),
        ("3.5 L", exactly(Fraction(7, 2)), "L", "by volume"),
        ("400 g", exactly(400), "g", "by weight"),
        ("1 1/2 kg", exactly(1500), "g", "by weight"),
        ("about 3 L", Count(Fraction(9, 4), 3, Fraction(15, 4)), "L", "by volume"),
        ("2-3 L", Count(2, Fraction(5, 2), 3), "L", "by volume"),
        ("1 lb", exactly(Fraction("453.59237")), "g", "by weight"),  # NIST Handbook 44, Appendix C
    ],
)
def test_what_a_count_means(text, count, unit, method):
    found = parse_count(text, CONTAINERS)

    assert (found.count, found.unit, found.method) == (count, unit, method)


def test_whole_counts_are_whole_numbers():
    count = parse_count("about 200 (180-240)", {}).count

    assert [type(amount) for amount in (count.low, count.best, count.high)] == [int, int, int]


def test_a_raised_count_keeps_what_was_counted_and_the_share():
    found = parse_count("120 in 1/5", {})
    # Normal to binomial: 600 +- 1.96 sqrt(120 x 0.8) x 5, as the module for effort computes it.
    assert found.count == Count(504, 600, 696)
    assert (found.method, found.raw_counted, found.raw_share) == ("raised", 120, "1/5")


@pytest.mark.parametrize(("text", "part"), [("12 in 20 %", "1/5"), ("12 in 0.2", "1/5"), ("12 in 1/5", "1/5")])
def test_a_share_may_be_written_in_three_ways(text, part):
    whole = raised_count(12, part, 1)

    assert parse_count(text, {}).count == Count(whole.low, whole.best, whole.high)


@pytest.mark.parametrize(
    ("text", "litres"),
    [
        ("2 round basket", 40),
        ("2 Round Baskets", 40),
        ("1/2 round basket", 10),
        ("1 1/2 round baskets", 30),
        ("2 fish box (small)", 25),
        # NIST Handbook 44, Appendix C: 2150.42 cubic inches in the struck bushel.
        ("2 US struck bushel", 2 * Fraction("2150.42") * Fraction("0.254") ** 3),
    ],
)
def test_containers_are_litres_and_keep_their_words(text, litres):
    found = parse_count(text, CONTAINERS)

    assert (found.count, found.unit, found.method, found.measured_as) == (exactly(litres), "L", "by volume", text)


def test_a_unit_said_elsewhere_holds_for_bare_numbers():
    assert parse_count("3/2", {}, "L").count == exactly(Fraction(3, 2))
    assert parse_count({"low": "7/2", "best": 4, "high": 5}, {}, "g").count == Count(Fraction(7, 2), 4, 5)
    assert parse_count(Decimal("2.5"), {}, "any").count == exactly(Fraction(5, 2))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "null"),
        (True, "true"),
        ([12], "a list"),
        ("", "cannot be read"),
        ("many", "cannot be read"),
        ("about", "cannot be read"),
        ("-3", "cannot be read"),
        (-3, "below 0"),
        ("12,5", "cannot be read"),
        ("240-180", "cannot be read"),
        ("about 180-240", "cannot be read"),
        ("200 (240-300)", "low <= best <= high"),
        ("3.5", "whole"),
        (3.5, "whole"),
        ("3.5-4", "whole"),
        ("about 3.5", "whole"),
        (float("nan"), "finite"),
        ("12 mm", "no count"),
        ("3 tubs", "neither a unit nor a container"),
        ("3 creels", "neither a unit nor a container"),
        ("2 bushels", "which bushel"),
        ("1/0 L", "divides by zero"),
        ("5 in 0", "between 0 and 1"),
        ("5 in 6/5", "between 0 and 1"),
        ("5 in 120 %", "between 0 and 1"),
        ("9999999 in 1/9999", "thousand million"),
        (10**12, "thousand million"),
        (Decimal("1e-39"), "whole"),
        ({"low": 3, "best": 2, "high": 4}, "low <= best <= high"),
        ({"low": 3}, "make no count"),
        ({"low": 3, "high": 4, "bset": 3}, "make no count"),
        ({"low": 1, "best": "x", "high": 3}, "Cannot read"),
    ],
)
def test_what_is_no_count_is_refused_in_words(text, words):
    with pytest.raises(WrongValueError) as refused:
        parse_count(text, CONTAINERS)

    assert words in str(refused.value)


def test_a_unit_that_contradicts_the_one_said_elsewhere_is_refused():
    with pytest.raises(WrongValueError, match="is in g, but the unit is given as L"):
        parse_count("400 g", {}, "L")
    with pytest.raises(WrongValueError, match="counts animals"):
        parse_count("12 in 1/5", {}, "L")


def test_a_container_on_whose_size_two_authorities_differ_is_not_known():
    (permit,) = book().authorities
    other = type(permit.containers[0])(name="round basket", litres="25")
    licence = replace(permit, containers=(other,))

    assert containers_of(permit)["round basket"] == 20
    assert "round basket" not in containers_of(permit, licence)
    assert "US peck" in containers_of(permit, licence)


@settings(deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 10**6), st.integers(0, 10**6))
def test_ranges_keep_their_order_and_their_ends(first, second, third):
    low, best, high = sorted((first, second, third))

    assert parse_count(f"{best} ({low}-{high})", {}).count == Count(low, best, high)
    count = parse_count(f"{low}-{high}", {}).count
    assert (count.low, count.best, count.high) == (low, (low + high) // 2, high)


@settings(deadline=None)
@given(st.integers(0, 10**6))
def test_about_takes_in_a_quarter_either_way(best):
    count = parse_count(f"about {best}", {}).count

    assert count.best == best
    assert count.low <= best * Fraction(3, 4) < count.low + 1
    assert count.high - 1 < best * Fraction(5, 4) <= count.high


@settings(deadline=None)
@given(st.text(max_size=30) | st.text("0123456789 -/.%~()abLgin", max_size=20))
def test_no_text_makes_it_fall(text):
    try:
        found = parse_count(text, CONTAINERS)
    except WrongValueError as problem:
        assert problem.what  # noqa: PT017 - either a count or words
    else:
        assert 0 <= found.count.low <= found.count.best <= found.count.high
