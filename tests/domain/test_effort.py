"""Effort, catch per effort and intervals held to printed examples and to scipy.stats."""

import json
import math
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from api.domain import effort
from api.domain.effort import (
    class_floor,
    length_classes,
    mean_of_ratios,
    poisson_interval,
    poisson_rate,
    raised_count,
    ratio_of_sums,
    soak_hours,
    wilson_interval,
)

VECTORS = [
    vector
    for vector in json.loads((Path(__file__).parents[1] / "vectors" / "field.json").read_text("utf-8"))
    if vector["id"].startswith("stat.")
]


def near(tolerance):
    return {"abs": tolerance, "rel": 0}


def check_weed_seeds(i, expected, tolerance):
    """98 subsamples: the interval of the total, shared out over them."""
    total = sum(seeds * times for seeds, times in enumerate(i["counts_0_to_10"]))
    for name, confidence in (("ci95", 0.95), ("ci99", 0.99)):
        low, mean, high = poisson_rate(total, i["n"], confidence)

        assert sum(i["counts_0_to_10"]) == i["n"]
        assert mean == pytest.approx(expected["mean"], **near(tolerance))
        assert [low, high] == pytest.approx(expected[name], **near(tolerance))


def check_count(i, expected, tolerance):
    intervals = {f"ci{c}": poisson_interval(i["count"], c / 100) for c in (90, 95, 99)}
    # The source prints the 99 % limits to whole numbers and one decimal: held to what is printed.
    steps = {"ci90": tolerance, "ci95": tolerance, "ci99": 0.05}
    for name, step in steps.items():
        assert list(intervals[name]) == pytest.approx(expected[name], **near(step))


def check_rate(i, expected, tolerance):
    low, rate, high = poisson_rate(i["count"], i["effort"])

    assert [low, high] == pytest.approx(expected["ci95"], **near(tolerance))
    assert rate == pytest.approx(expected["rate"], **near(tolerance))


def check_nothing_caught(i, expected, tolerance):
    assert list(poisson_interval(i["count"])) == pytest.approx(expected, **near(tolerance))


def check_catch_rate(i, expected, tolerance):
    ratio = ratio_of_sums(i["catch"], i["effort"], "hour")
    mean = mean_of_ratios(i["catch"], i["effort"], "hour")
    found = {
        "ratio_se": ratio.standard_error,
        "ratio_ci": [ratio.low, ratio.high],
        "mean_se": mean.standard_error,
        "mean_ci": [mean.low, mean.high],
    }

    assert ratio.hauls - 1 == i["df"]
    for name, value in found.items():
        assert value == pytest.approx(expected[name], **near(tolerance))


def check_proportion(i, expected, tolerance):
    part = i["length_class_counts"][int(i["classes"]) - 1]
    share = part / i["n"]
    low, high = wilson_interval(part, i["n"])

    assert [100 * share, 100 * low, 100 * high] == pytest.approx(expected, **near(tolerance))


def check_first_class(i, expected, tolerance):
    assert tolerance == 0
    assert [class_floor(i["minimum_length"], width) for width in i["widths"]] == expected


def check_class_edges(i, expected, tolerance):
    assert tolerance == 0
    assert length_classes(i["lengths_mm"], i["width"]) == {int(k): n for k, n in expected.items()}


def check_float_bins(i, expected, tolerance):
    """Floored as floats, lengths fall a class too low; whole millimetres do not."""
    width = i["width_cm"]
    as_floats = [math.floor(length / width) * width for length in i["lengths_cm"]]
    millimetres = [round(length * 10) for length in i["lengths_cm"]]

    assert as_floats == pytest.approx(expected["float_floor"], **near(tolerance))
    assert [class_floor(mm, 1) for mm in millimetres] == expected["integer_mm"]


HANDLERS = {
    "stat.poisson.nag": check_weed_seeds,
    "stat.poisson.25": check_count,
    "stat.poisson.rate": check_rate,
    "stat.poisson.0": check_nothing_caught,
    "stat.cpue.ci": check_catch_rate,
    "stat.lengthprop.SQ": check_proportion,
    "stat.bins.start": check_first_class,
    "stat.bins.edges": check_class_edges,
    "stat.bins.float": check_float_bins,
}


def test_every_statistics_vector_has_one_handler_and_every_handler_a_vector():
    ids = [vector["id"] for vector in VECTORS]

    assert sorted(ids) == sorted(HANDLERS)
    assert len(ids) == 9


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_vector(vector):
    HANDLERS[vector["id"]](vector["inputs"], vector["expected"], vector["tolerance"])


def test_seine_quarter_circle():
    """A 30.5 m net fully out sweeps 730.6 m2 (computed; method of the VIMS seine survey)."""
    assert effort.quarter_circle_area(30.5) == pytest.approx(730.6, abs=0.05)


def test_seine_rectangle():
    assert effort.rectangle_area(25, 4.5) == pytest.approx(112.5)


@pytest.mark.parametrize("size", [0, -3, math.nan, math.inf])
def test_net_without_size_is_refused(size):
    with pytest.raises(ValueError, match="above zero"):
        effort.quarter_circle_area(size)
    with pytest.raises(ValueError, match="opening"):
        effort.rectangle_area(20, size)
    with pytest.raises(ValueError, match="distance"):
        effort.rectangle_area(size, 4)


SYDNEY = ZoneInfo("Australia/Sydney")


@pytest.mark.parametrize(
    ("set_at", "lifted_at", "hours"),
    [
        # Friday evening to Monday morning, no change of clocks.
        (datetime(2026, 1, 9, 17, tzinfo=SYDNEY), datetime(2026, 1, 12, 9, tzinfo=SYDNEY), 64),
        # Clocks forward on 5 October 2025 at 2 h: a night of 11 hours by the wall clock has 10.
        (datetime(2025, 10, 4, 20, tzinfo=SYDNEY), datetime(2025, 10, 5, 7, tzinfo=SYDNEY), 10),
        # Clocks back on 6 April 2025 at 3 h: 12.
        (datetime(2025, 4, 5, 20, tzinfo=SYDNEY), datetime(2025, 4, 6, 7, tzinfo=SYDNEY), 12),
        # The hour that comes twice: half past two, and half past two again.
        (datetime(2025, 4, 6, 2, 30, tzinfo=SYDNEY), datetime(2025, 4, 6, 2, 30, fold=1, tzinfo=SYDNEY), 1),
        # Set by one zone's clock, lifted by another's.
        (datetime(2026, 1, 9, 17, tzinfo=SYDNEY), datetime(2026, 1, 9, 6, 20, tzinfo=UTC), Fraction(1, 3)),
    ],
)
def test_soak_hours_over_clock_changes(set_at, lifted_at, hours):
    assert soak_hours(set_at, lifted_at) == hours


def test_wall_clock_subtraction_is_the_trap():
    """What Python does with two times of one zone, so that the test above guards something."""
    wall = datetime(2025, 10, 5, 7, tzinfo=SYDNEY) - datetime(2025, 10, 4, 20, tzinfo=SYDNEY)

    assert wall == timedelta(hours=11)


def test_soak_without_offset_or_backwards_is_refused():
    aware = datetime(2026, 1, 9, 17, tzinfo=UTC)
    with pytest.raises(ValueError, match=r"set time .* no offset"):
        soak_hours(aware.replace(tzinfo=None), aware)
    with pytest.raises(ValueError, match=r"lifted time .* no offset"):
        soak_hours(aware, aware.replace(tzinfo=None))
    with pytest.raises(ValueError, match="before it was set"):
        soak_hours(aware, aware - timedelta(seconds=1))


def test_catch_rate_published_answers():
    """IASRI worked answer 14.125 for the mean of ratios; 820 / 75 for the ratio of sums."""
    catch, hours = [70, 200, 300, 250], [5, 20, 40, 10]
    mean, ratio = mean_of_ratios(catch, hours, "hour"), ratio_of_sums(catch, hours, "hour")

    assert (mean.estimator, mean.rate) == ("mean of ratios", 14.125)
    assert (ratio.estimator, ratio.rate) == ("ratio of sums", pytest.approx(820 / 75))
    assert (mean.effort_unit, mean.hauls, mean.confidence) == ("hour", 4, 0.95)


@pytest.mark.parametrize("estimate", [ratio_of_sums, mean_of_ratios])
def test_one_haul_gives_no_interval(estimate):
    found = estimate([12], [3], "haul")

    assert found.rate == 4
    assert (found.low, found.high, found.standard_error) == (None, None, None)
    assert found.why_no_interval == "no interval from one haul"


@pytest.mark.parametrize("estimate", [ratio_of_sums, mean_of_ratios])
@pytest.mark.parametrize("catches", [[0, 0, 0], [0.3, 0.3, 0.3]])
def test_equal_hauls_give_no_interval_of_no_width(estimate, catches):
    """A t interval of 0 to 0 after three empty hauls would claim that there are none."""
    found = estimate(catches, [0.1, 0.1, 0.1], "haul")

    assert (found.low, found.high) == (None, None)
    assert found.why_no_interval == "no interval: the hauls do not differ"


def test_empty_hauls_stay_in():
    with_empty, without = (ratio_of_sums(c, [10] * len(c), "m2") for c in ([5, 0, 7, 0], [5, 7]))

    assert (with_empty.rate, with_empty.hauls) == (pytest.approx(0.3), 4)
    assert without.rate == pytest.approx(0.6)


def test_low_end_is_cut_at_zero():
    """Clumped catch: the bare t interval of 0, 0, 0, 40 would begin below zero."""
    found = mean_of_ratios([0, 0, 0, 40], [1, 1, 1, 1], "haul")

    assert found.low == 0
    assert found.high == pytest.approx(10 + 3.182446 * 10, abs=1e-4)


@pytest.mark.parametrize(
    ("catches", "efforts", "words"),
    [
        ([], [], "no hauls"),
        ([1, 2], [1], "got 2 and 1"),
        ([1, -1], [1, 1], "haul 2: a catch"),
        ([1, math.nan], [1, 1], "haul 2: a catch"),
        ([1, 1], [1, 0], "haul 2: effort"),
    ],
)
@pytest.mark.parametrize("estimate", [ratio_of_sums, mean_of_ratios])
def test_unusable_hauls_are_named(estimate, catches, efforts, words):
    with pytest.raises(ValueError, match=words):
        estimate(catches, efforts, "haul")


HAULS = st.lists(st.tuples(st.integers(0, 500), st.integers(1, 50)), min_size=2, max_size=12)


@given(HAULS, st.sampled_from([0.8, 0.95, 0.99]))
def test_mean_of_ratios_agrees_with_scipy(hauls, confidence):
    rates = np.array([catch / worked for catch, worked in hauls])
    found = mean_of_ratios([c for c, _ in hauls], [e for _, e in hauls], "haul", confidence)
    if found.standard_error is None:
        assert np.ptp(rates) < 1e-9
    else:
        low, high = stats.t.interval(confidence, len(rates) - 1, rates.mean(), stats.sem(rates))

        assert [found.low, found.high] == pytest.approx([max(0, low), high])


@given(HAULS, st.integers(1, 20))
def test_equal_effort_makes_both_estimators_one(hauls, worked):
    catches = [catch for catch, _ in hauls]
    one, other = (f(catches, [worked] * len(catches), "haul") for f in (ratio_of_sums, mean_of_ratios))

    assert one.rate == pytest.approx(other.rate)
    assert (one.low, one.high) == pytest.approx((other.low, other.high))


@given(st.integers(0, 5000), st.floats(0.5, 0.999))
def test_poisson_interval_agrees_with_chi_square(count, confidence):
    """Garwood's limits as printed: half of chi-square quantiles with 2k and 2k + 2 degrees of freedom."""
    tail = (1 - confidence) / 2
    low, high = poisson_interval(count, confidence)

    assert low == pytest.approx(stats.chi2.ppf(tail, 2 * count) / 2 if count else 0, rel=1e-8)
    assert high == pytest.approx(stats.chi2.ppf(1 - tail, 2 * count + 2) / 2, rel=1e-8)
    assert low <= count <= high


@given(st.integers(1, 2000), st.integers(0, 2000), st.floats(0.5, 0.999))
def test_wilson_agrees_with_scipy(whole, part, confidence):
    part = min(part, whole)
    expected = stats.binomtest(part, whole).proportion_ci(confidence, method="wilson")

    assert wilson_interval(part, whole, confidence) == pytest.approx((expected.low, expected.high), abs=1e-9)


def test_wilson_published_example():
    """FSA psdCI after Brenden et al. 2008: classes 3 and 4 of 130, 491, 253, 123 are 37.7 % (34.8-40.8)."""
    low, high = wilson_interval(253 + 123, 997)

    assert [100 * low, 100 * high] == pytest.approx([34.8, 40.8], abs=0.06)


def test_raised_count_of_the_worked_case():
    """120 counted in 1 L of 5 L: 600, 95 % about 504-696 if well mixed (computed; both numbers are kept)."""
    found = raised_count(120, 1, 5)

    assert (found.low, found.best, found.high) == (504, 600, 696)
    assert (found.counted, found.factor, found.model) == (120, 5, "normal to binomial")


@pytest.mark.parametrize("counted", [0, 1, 5, 12, 29])
@pytest.mark.parametrize("chance", [Fraction(1, 5), Fraction(1, 2), Fraction(3, 100)])
def test_small_raised_count_is_exact(counted, chance):
    """Inverted binomial tests with scipy: the ends are possible, one beyond either end is not."""
    found = raised_count(counted, chance, 1)
    share = float(chance)

    assert found.model == "exact binomial"
    assert stats.binom.sf(counted - 1, found.low, share) >= 0.025 or found.low == found.best
    assert found.low == counted or stats.binom.sf(counted - 1, found.low - 1, share) < 0.025
    assert stats.binom.cdf(counted, found.high, share) >= 0.025
    assert stats.binom.cdf(counted, found.high + 1, share) < 0.025


def test_nothing_in_the_part_is_not_nothing_in_the_whole():
    """No animal in a fifth: with 16 in the whole that still happens in 2.8 % of cases, with 17 in 2.3 %."""
    found = raised_count(0, 1, 5)

    assert (found.low, found.best, found.high) == (0, 0, 16)


def test_everything_counted_is_exact():
    found = raised_count(17, "2.5", "2.5")

    assert (found.low, found.best, found.high, found.model) == (17, 17, 17, "all counted")


def test_raised_count_covers_what_was_there():
    """4000 well-mixed buckets of 600, a fifth counted: the interval holds 600 some 95 times in 100."""
    counted = np.random.default_rng(20260109).binomial(600, 0.2, size=4000)
    holds = [found.low <= 600 <= found.high for found in (raised_count(int(k), 1, 5) for k in counted)]

    assert np.mean(holds) == pytest.approx(0.95, abs=0.015)


@given(st.integers(0, 3000), st.integers(1, 50), st.integers(1, 50))
def test_raised_count_is_in_order(counted, one, other):
    part, whole = sorted((one, other))
    found = raised_count(counted, part, whole)

    assert counted <= found.low <= found.best <= found.high
    assert abs(found.best - counted * Fraction(whole, part)) <= Fraction(1, 2)
    assert all(type(number) is int for number in (found.low, found.best, found.high))


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: raised_count(10, 6, 5), ValueError, "within the whole"),
        (lambda: raised_count(10, 0, 5), ValueError, "above zero"),
        (lambda: raised_count(-1, 1, 5), ValueError, "counted must be zero or more"),
        (lambda: raised_count(1.5, 1, 5), TypeError, "counted must be a whole number"),
        (lambda: poisson_interval(-1), ValueError, "zero or more"),
        (lambda: poisson_interval(3, 95), ValueError, "between 0 and 1"),
        (lambda: poisson_rate(3, 0), ValueError, "effort must be above zero"),
        (lambda: wilson_interval(3, 2), ValueError, "3 of 2"),
        (lambda: wilson_interval(0, 0), ValueError, "0 of 0"),
        (lambda: wilson_interval(1, 2, 1), ValueError, "between 0 and 1"),
        (lambda: class_floor(0.3, 1), TypeError, "length must be a whole number"),
        (lambda: class_floor(-5, 5), ValueError, "length must be zero or more"),
        (lambda: class_floor(5, 0), ValueError, "at least one"),
        (lambda: length_classes([60, 10**9], 1), ValueError, "too many classes"),
    ],
)
def test_wrong_numbers_are_refused(call, error, words):
    with pytest.raises(error, match=words):
        call()


def test_empty_classes_are_shown():
    assert length_classes([812, 607, 600], 50) == {600: 2, 650: 0, 700: 0, 750: 0, 800: 1}
    assert length_classes([], 50) == {}


@given(st.lists(st.integers(0, 3000), min_size=1, max_size=60), st.integers(1, 200))
def test_classes_hold_every_length_once(lengths, width):
    classes = length_classes(lengths, width)

    assert sum(classes.values()) == len(lengths)
    assert list(classes) == list(range(min(classes), max(classes) + 1, width))
    assert min(classes) <= min(lengths) < min(classes) + width
    for lower, animals in classes.items():
        assert animals == sum(lower <= length < lower + width for length in lengths)
