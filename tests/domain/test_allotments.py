"""What may be given of a limit (CHECKS.md, Allotments; JOB.md D 1)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.allotments import BadAmountError, NothingLeftError, Pool
from api.domain.reckoning.buckets import Key

KEY = Key("", "", None, "")


def pool(room=40, unit="individuals", **taken):
    return Pool("permit", "1", "", unit, room, KEY, "whole term", taken)


def test_two_crews_share_forty_and_a_third_gets_none():
    # JOB.md D 1: limit 40, allocations 20 and 20.
    assert pool().left({}) == 40
    assert pool().left({"a": 20}) == 20
    assert pool().left({"a": 20, "b": 20}) == 0
    with pytest.raises(NothingLeftError) as told:
        pool().check(1, {"a": 20, "b": 20})
    assert told.value.left == 0


def test_of_fewer_than_a_hundred_litres_the_last_one_is_not_given():
    # The sample permit's 2.20: less than 100 litres; 81 are taken, and 19 more would reach it.
    sand = Pool("permit", "2.20", "", "L", 100, KEY, "whole term", {"a": 81}, short=True)
    with pytest.raises(NothingLeftError, match="has less than 19 L left to give; ask for less than that"):
        sand.check(19, {})
    sand.check(18.5, {})


def test_what_a_crew_took_of_its_own_allotment_is_not_counted_twice():
    assert pool(a=15).left({"a": 20}) == 20


def test_what_a_crew_took_beyond_its_allotment_is_gone_for_the_others():
    # JOB.md D 1, ignored: 25 and 25 of 40.
    assert pool(a=25).left({"a": 20}) == 15
    assert pool(a=25, b=25).left({"a": 20, "b": 20}) == 0


def test_what_was_taken_without_an_allotment_is_gone():
    assert pool(c=30).left({"a": 5}) == 5


@pytest.mark.parametrize("amount", [0, -1, 1.5])
def test_no_part_of_an_animal_is_given(amount):
    with pytest.raises(BadAmountError):
        pool().check(amount, {})


def test_of_litres_any_amount_is_given():
    pool(unit="L").check(1.5, {})


EVENTS = st.lists(
    st.tuples(st.sampled_from(["grant", "take", "close", "sneak"]), st.sampled_from("abc"), st.integers(1, 25)),
    max_size=40,
)


@given(limit=st.integers(0, 60), events=EVENTS)
def test_whatever_happens_no_grant_lifts_grants_and_take_above_the_limit(limit, events):
    """Crews are granted, take, close and take without allotment ("sneak") in any order.

    Held to a plain reckoning of its own: what is out (granted, or taken beyond that) and what was taken by others.
    """
    granted: dict[str, int] = {}
    taken: dict[str, int] = {}
    for deed, crew, number in events:
        if deed == "grant":
            before = sum(max(taken.get(one, 0), granted.get(one, 0)) for one in {*taken, *granted})
            fits = number <= pool(limit, **taken).left(granted)
            assert fits == (before + number <= limit)
            if fits:
                pool(limit, **taken).check(number, granted)
                granted[crew] = granted.get(crew, 0) + number
            else:
                with pytest.raises(NothingLeftError):
                    pool(limit, **taken).check(number, granted)
        elif deed == "take":
            # A crew that stays within its own allotment.
            room = granted.get(crew, 0) - taken.get(crew, 0)
            taken[crew] = taken.get(crew, 0) + max(0, min(number, room))
        elif deed == "close":
            granted.pop(crew, None)
        else:
            taken[f"{crew}-other"] = taken.get(f"{crew}-other", 0) + number
    if not any(deed == "sneak" for deed, *_ in events):
        assert sum(taken.values()) <= limit
