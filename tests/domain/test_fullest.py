"""The tally that stands for a limit, its per cents, and the order in which tallies are read. Figures are worked by hand."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.counts import NOTHING, Amount, Count, exactly
from api.domain.reckoning.fullest import fullest_of_each, reading_order, standing_for, used
from api.domain.rules.finding import Finding, Tally
from api.domain.vocabulary import Outcome


def tally(after: Count, limit: Amount) -> Tally:
    return Tally(
        limit=limit, operator="at most", unit="individuals", before=NOTHING, here=after, after=after, left=NOTHING
    )


def finding(about: str, after: Count, *, limit: Amount = 150, label: str = "", outcome: Outcome = "met") -> Finding:
    return Finding(
        authority="permit", number="2.4", kind="take limit", version=1, outcome=outcome, about=about, sentence="",
        label=label, tally=tally(after, limit), settle="count again" if outcome == "open" else "",
    )  # fmt: skip


def test_the_gravest_stands_for_a_limit_then_the_fullest_by_the_most_that_may_be() -> None:
    full, doubtful = finding("day 3 Oct 2027", exactly(62)), finding("day 9 Dec 2027", Count(10, 20, 63))
    assert fullest_of_each([full, doubtful]) == {"": doubtful}
    broken = finding("day 1 Nov 2027", exactly(4), limit=3, outcome="broken")
    assert fullest_of_each([full, broken, doubtful]) == {"": broken}
    nothing_known = finding("day 2 Nov 2027", Count(0, 0, math.inf))
    assert fullest_of_each([full, nothing_known]) == {"": nothing_known}


def test_each_limit_of_a_condition_has_its_own_and_an_amended_one_is_weighed_like_any_other() -> None:
    crew = finding("crew of K-1: day 3 Oct 2027", exactly(68), limit=120, label="whole crew")
    first = finding("Ann: day 2 Oct 2027", exactly(38), limit=50)
    later = finding("Bo: day 10 Feb 2028", exactly(20), limit=50)
    assert fullest_of_each([crew, later, first]) == {"whole crew": crew, "": first}


def test_of_several_limits_the_gravest_and_fullest_stands_for_the_condition() -> None:
    tallies = [
        finding("Ann: day 2 Oct 2027", exactly(38), limit=50),  # 76 %
        finding("Bo: day 3 Oct 2027", exactly(30), limit=50),
        finding("crew of K-1: day 2 Oct 2027", exactly(68), limit=120, label="whole crew"),  # 57 %
        finding("crew of K-2: day 9 Oct 2027", exactly(114), limit=120, label="whole crew"),  # 95 %
    ]
    assert standing_for(tallies) == [3, 0]
    assert standing_for([]) == []


def test_of_equals_the_first_in_reading_order_stands_whatever_order_they_come_in() -> None:
    equals = [finding(f"day {day}", exactly(7)) for day in ("10 Nov 2027", "2 Nov 2027", "3 Dec 2026")]
    assert {fullest_of_each(order)[""].about for order in permutations(equals)} == {"day 3 Dec 2026"}


@pytest.mark.parametrize(
    ("after", "limit", "expected"),
    [
        (Count(136, 136, 147), 150, (91, 98)),  # 90.67 and 98 exactly
        (exactly(62), 150, (41, 41)),  # 41.33
        (exactly(1), 8, (12, 12)),  # 12.5, the half goes to the even number
        (exactly(199), 200, (99, 99)),  # 99.5 is short of the limit, and is not 100
        (exactly(200), 200, (100, 100)),
        (exactly(201), 200, (101, 101)),  # 100.5 would be 101 as well
        (exactly(1001), 1000, (101, 101)),  # 100.1 is beyond the limit, and is not 100
        (exactly(Fraction(55, 10)), 8, (69, 69)),  # 68.75
        (Count(5, 5, math.inf), 10, (50, None)),
        (exactly(3), 0, (None, None)),
    ],
)
def test_per_cents_are_rounded_and_never_across_the_limit(
    after: Count, limit: Amount, expected: tuple[int | None, int | None]
) -> None:
    assert used(tally(after, limit)) == expected


@given(st.integers(0, 3000), st.integers(1, 1000))
def test_all_of_a_limit_is_said_of_all_of_it_alone(taken: int, limit: int) -> None:
    low, high = used(tally(exactly(taken), limit))
    assert low is not None
    assert low == high
    assert (low < 100, low == 100) == (taken < limit, taken == limit)


def test_days_are_read_as_days_and_numbers_as_numbers() -> None:
    about = [
        "7 days up to 8 Sep 2027", "7 days up to 2 Oct 2027", "7 days up to 18 Nov 2027", "7 days up to 9 Dec 2027",
        "7 days up to 11 Jan 2028", "haul K27-2-1", "haul K27-10-1", "September 2027", "January 2028",
    ]  # fmt: skip
    found = sorted((finding(one, exactly(1)) for one in reversed(about)), key=reading_order)
    read = [one.about for one in found]
    for part in (about[:5], about[5:7], about[7:]):
        assert [one for one in read if one in part] == part
    labels = sorted((finding("x", exactly(1), label=one) for one in ("10 cm", "2 cm")), key=reading_order)
    assert [one.label for one in labels] == ["2 cm", "10 cm"]
