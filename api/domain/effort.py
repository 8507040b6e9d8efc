"""Effort and catch: areas and hours fished, catch per effort, counts from subsamples, length classes.

Every interval names its model, because animals come in clumps: between hauls use the hauls' own variation,
not Poisson. Sources: Garwood 1936 (exact Poisson), Cochran (ratio estimator), Wilson 1927; checks named
beside the tests. scipy is imported inside the functions that need it: it costs half a second of start-up
that most commands never use.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from statistics import NormalDist, fmean
from typing import TYPE_CHECKING, Final, Literal

from api.domain.measures import Number, exact_number

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

Estimator = Literal["ratio of sums", "mean of ratios"]

SMALL_COUNT: Final = 30
"""Below so many counted animals the normal interval misleads and the exact one is used (common practice)."""

_MOST_CLASSES: Final = 10_000


def quarter_circle_area(net_m: float) -> float:
    """Give the area (m2) swept by a seine (length in m) pulled round one end through a quarter circle.

    Raises ValueError unless the length exceeds zero.
    """
    _positive("net length (m)", net_m)
    return math.pi * net_m**2 / 4


def rectangle_area(distance_m: float, opening_m: float) -> float:
    """Give the area (m2) swept by a net: distance hauled times its opening as fished, both in metres.

    The opening as fished is less than the net is long: measure it. Raises ValueError unless both exceed zero.
    """
    _positive("distance (m)", distance_m)
    _positive("net opening (m)", opening_m)
    return distance_m * opening_m


def soak_hours(set_at: datetime, lifted_at: datetime) -> Fraction:
    """Give the exact hours from set to lift, true over a change of the clocks.

    Raises ValueError for a time without an offset from UTC or a lift before the set.
    """
    for what, moment in (("set", set_at), ("lifted", lifted_at)):
        if moment.tzinfo is None or moment.utcoffset() is None:
            raise ValueError(f"{what} time {moment} has no offset from UTC; say in which zone it was read")
    # Python subtracts two times of one zone by the wall clock and so loses or doubles the changed hour.
    soak = lifted_at.astimezone(UTC) - set_at.astimezone(UTC)
    if soak < timedelta(0):
        raise ValueError(f"lifted at {lifted_at}, before it was set at {set_at}")
    return Fraction(soak // timedelta(microseconds=1), 3_600_000_000)


@dataclass(frozen=True, slots=True)
class CatchRate:
    """Catch per unit of effort over hauls, with its interval.

    ``low`` is cut at zero, below which no catch can be. Standard error and bounds are None where the hauls
    give none; ``why_no_interval`` then says why in words to print.
    """

    estimator: Estimator
    effort_unit: str
    hauls: int
    rate: float
    confidence: float
    standard_error: float | None
    low: float | None
    high: float | None
    why_no_interval: str = ""


def ratio_of_sums(
    catches: Sequence[float], efforts: Sequence[float], effort_unit: str, confidence: float = 0.95
) -> CatchRate:
    """Give all catch over all effort: each unit of effort weighs the same.

    Cochran's ratio estimator, linearised, no finite population correction, Student t with n - 1 degrees of
    freedom. One entry a haul, hauls that caught nothing included. Raises ValueError for lists of unequal
    length, none at all, a negative catch, or an effort that is not above zero.
    """
    _check_hauls(catches, efforts)
    rate = math.fsum(catches) / math.fsum(efforts)
    scale = fmean(efforts)
    residuals = [(c - rate * e) / scale for c, e in zip(catches, efforts, strict=True)]
    return _with_interval("ratio of sums", effort_unit, rate, residuals, confidence)


def mean_of_ratios(
    catches: Sequence[float], efforts: Sequence[float], effort_unit: str, confidence: float = 0.95
) -> CatchRate:
    """Give the mean of each haul's catch per effort: each haul weighs the same, long or short.

    Interval, hauls without catch and errors as in `ratio_of_sums`.
    """
    _check_hauls(catches, efforts)
    rates = [c / e for c, e in zip(catches, efforts, strict=True)]
    rate = fmean(rates)
    return _with_interval("mean of ratios", effort_unit, rate, [each - rate for each in rates], confidence)


def _check_hauls(catches: Sequence[float], efforts: Sequence[float]) -> None:
    if len(catches) != len(efforts):
        raise ValueError(f"each haul needs a catch and an effort, got {len(catches)} and {len(efforts)}")
    if not catches:
        raise ValueError("no hauls: a catch per effort needs at least one, caught nothing or not")
    for number, (catch, effort) in enumerate(zip(catches, efforts, strict=True), start=1):
        if not 0 <= catch < math.inf:
            raise ValueError(f"haul {number}: a catch must be zero or more, got {catch}")
        _positive(f"haul {number}: effort", effort)


def _with_interval(
    estimator: Estimator, effort_unit: str, rate: float, residuals: Sequence[float], confidence: float
) -> CatchRate:
    """Put the t interval of the residuals round the rate, or say why there is none."""
    _check_confidence(confidence)
    hauls = len(residuals)
    # Residuals of equal hauls are rounding noise, never exactly zero.
    alike = all(abs(residual) <= 1e-12 * max(rate, 1) for residual in residuals)
    if hauls == 1 or alike:
        why = "no interval from one haul" if hauls == 1 else "no interval: the hauls do not differ"
        return CatchRate(estimator, effort_unit, hauls, rate, confidence, None, None, None, why)
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to import, see the module's docstring

    error = math.sqrt(math.fsum(r**2 for r in residuals) / (hauls - 1) / hauls)
    reach = float(stdtrit(hauls - 1, (1 + confidence) / 2)) * error
    return CatchRate(estimator, effort_unit, hauls, rate, confidence, error, max(0.0, rate - reach), rate + reach)


def poisson_interval(count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Give Garwood's exact interval for the mean behind one count, as (low, high); 0 gives 0 to 3.689.

    Right only if animals come singly and independently; clumped ones need replicate hauls and a t interval.
    Raises ValueError for a negative count or a confidence not between 0 and 1, TypeError for a broken count.
    """
    _whole("count", count)
    _check_confidence(confidence)
    from scipy.special import gammaincinv  # noqa: PLC0415 - slow to import, see the module's docstring

    # chi2(p, 2k) / 2 is the same as the inverse incomplete gamma function of k.
    tail = (1 - confidence) / 2
    low = float(gammaincinv(count, tail)) if count else 0.0
    return low, float(gammaincinv(count + 1, 1 - tail))


def poisson_rate(count: int, effort: float, confidence: float = 0.95) -> tuple[float, float, float]:
    """Give one count per effort with Garwood's interval, as (low, rate, high).

    Raises ValueError as `poisson_interval` does, and for an effort that is not above zero.
    """
    _positive("effort", effort)
    low, high = poisson_interval(count, confidence)
    return low / effort, count / effort, high / effort


def wilson_interval(part: int, whole: int, confidence: float = 0.95) -> tuple[float, float]:
    """Give Wilson's interval for a proportion, as (low, high) in 0..1.

    Raises ValueError unless 0 <= part <= whole, whole > 0 and the confidence lies between 0 and 1.
    """
    _whole("part", part)
    _whole("whole", whole)
    if part > whole or whole == 0:
        raise ValueError(f"a proportion needs a part within a whole above zero, got {part} of {whole}")
    z = _normal(confidence)
    share = part / whole
    middle = share + z**2 / (2 * whole)
    reach = z * math.sqrt(share * (1 - share) / whole + z**2 / (4 * whole**2))
    shrink = 1 + z**2 / whole
    # The ends are exact at 0 and all; without this, rounding leaves -1e-18.
    low = (middle - reach) / shrink if part else 0.0
    return low, (middle + reach) / shrink if part < whole else 1.0


@dataclass(frozen=True, slots=True)
class RaisedCount:
    """A total raised from a part that was counted; print both the part and the total, marked estimated.

    ``low`` to ``high`` is the interval at ``confidence`` under ``model``, in whole animals, and never below
    the ``counted`` ones. ``factor`` is total over sample.
    """

    low: int
    best: int
    high: int
    counted: int
    factor: Fraction
    confidence: float
    model: str


def raised_count(counted: int, sampled: Number, total: Number, confidence: float = 0.95) -> RaisedCount:
    """Raise the animals counted in a part to the whole: 120 in 1 L of 5 L gives 600, 95 % 504 to 696.

    ``sampled`` and ``total`` are amounts in one unit. Model: well mixed, so each of N animals lands in the
    part independently with chance p = sampled / total (binomial). From `SMALL_COUNT` animals on the interval
    is normal, counted / p +- z sqrt(counted (1 - p)) / p, rounded to the nearest animal; below it, exact.
    Raises ValueError for a negative count, or unless 0 < sampled <= total; TypeError for a broken count.
    """
    _whole("counted", counted)
    part, whole = exact_number(sampled), exact_number(total)
    if not 0 < part <= whole:
        raise ValueError(f"the part counted must be above zero and within the whole, got {sampled} of {total}")
    z = _normal(confidence)
    factor = whole / part
    best = _nearest(counted * factor)
    if factor == 1:
        return RaisedCount(counted, counted, counted, counted, factor, confidence, "all counted")
    if counted < SMALL_COUNT:
        low, high = _binomial_bounds(counted, float(1 / factor), confidence)
        return RaisedCount(min(low, best), best, max(high, best), counted, factor, confidence, "exact binomial")
    reach = z * math.sqrt(counted * (1 - 1 / factor)) * factor
    middle = float(counted * factor)
    low, high = _nearest(middle - reach), _nearest(middle + reach)
    return RaisedCount(max(low, counted), best, high, counted, factor, confidence, "normal to binomial")


def _binomial_bounds(counted: int, chance: float, confidence: float) -> tuple[int, int]:
    """Give the smallest and largest N that make the count no rarer than the tails allow (inverted tests)."""
    from scipy.special import bdtr  # noqa: PLC0415 - slow to import, see the module's docstring

    tail = (1 - confidence) / 2

    def enough(animals: int) -> bool:
        return counted == 0 or 1 - float(bdtr(counted - 1, animals, chance)) >= tail

    def too_many(animals: int) -> bool:
        return float(bdtr(counted, animals, chance)) < tail

    return _first(counted, enough), max(counted, _first(counted, too_many) - 1)


def _first(start: int, holds: Callable[[int], bool]) -> int:
    """Find the first number from start on for which a condition holds that, once true, stays true."""
    step = 1
    while not holds(start + step - 1):
        step *= 2
    below, above = start - 1, start + step - 1
    while above - below > 1:
        middle = (below + above) // 2
        below, above = (below, middle) if holds(middle) else (middle, above)
    return above


def class_floor(length: int, width: int) -> int:
    """Give the lower bound of the class a length falls in: classes are closed on the left, open on the right.

    Both whole and in one unit (millimetres or tenths of one): floats misbin, 0.3 / 0.1 is 2.999... Raises
    TypeError for a float, ValueError for a negative length or a width below one.
    """
    _whole("length", length)
    _whole("class width", width)
    if width == 0:
        raise ValueError("a class width must be at least one")
    return length // width * width


def length_classes(lengths: Iterable[int], width: int) -> dict[int, int]:
    """Count lengths by class, as {lower bound: animals} in rising order, empty classes between shown.

    The first class is the smallest length rounded down to the width. Only one kind of length (total, fork,
    ...) belongs in a list. No lengths give an empty dictionary. Raises as `class_floor` does, and ValueError
    when a stray length would make thousands of classes.
    """
    counts = Counter(class_floor(length, width) for length in lengths)
    if not counts:
        return {}
    first, last = min(counts), max(counts)
    if (last - first) // width >= _MOST_CLASSES:
        raise ValueError(f"lengths from {first} to {last} make too many classes of {width}; check the units")
    return {lower: counts[lower] for lower in range(first, last + 1, width)}


def _nearest(value: Fraction | float) -> int:
    """Round to the nearest whole animal, halves up."""
    return math.floor(value + Fraction(1, 2)) if isinstance(value, Fraction) else math.floor(value + 0.5)


def _normal(confidence: float) -> float:
    """Give the two-sided normal quantile of a confidence: 1.96 for 0.95."""
    _check_confidence(confidence)
    return NormalDist().inv_cdf((1 + confidence) / 2)


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, as in 0.95, got {confidence}")


def _positive(what: str, value: float) -> None:
    if not 0 < value < math.inf:
        raise ValueError(f"{what} must be above zero, got {value}")


def _whole(what: str, value: int) -> None:
    # A spreadsheet hands over 3.0 where a whole number was meant, and 2.9999 by the same way: both refused.
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError(f"{what} must be a whole number, got {value!r}")
    if value < 0:
        raise ValueError(f"{what} must be zero or more, got {value}")
