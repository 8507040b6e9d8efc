"""Two changes of a line upon what both began from: nothing that either added is lost, and nothing is counted twice.

The expected values are plain additions; that a three-way merge gives the other version where one side changed nothing,
and does not hang on which side is called first, is the definition of one.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.counts import Count, exactly
from api.domain.merging import together
from api.domain.trips import Line, Measurement

BASE = Line(
    id="K-1-a",
    taxon="Atherinosoma microstoma",
    fate="kept",
    count=exactly(4),
    measurements=(Measurement(measure="total length", values=(410, 385)),),
)


def run(*values: int, measure: str = "total length") -> Measurement:
    return Measurement(measure=measure, values=values)


counts = st.integers(0, 400)
ranges = st.tuples(counts, counts, counts).map(sorted).map(lambda three: Count(*three))
lengths = st.lists(st.integers(1, 5000), max_size=4).map(tuple)
texts = st.sampled_from(["", "in the shade", "by the weed"])
changed = st.builds(
    lambda count, more, note, stage: replace(
        BASE, count=count, measurements=(run(410, 385, *more),), note=note, stage=stage
    ),
    st.one_of(counts.map(exactly), ranges),
    lengths,
    texts,
    st.sampled_from(["", "juvenile"]),
)


@given(changed)
def test_a_version_upon_an_unchanged_one_is_itself(one):
    assert together(BASE, BASE, one) == one == together(BASE, one, BASE)


@given(changed, changed)
def test_what_either_added_is_in_it_whichever_came_first(one, other):
    first, second = together(BASE, one, other), together(BASE, other, one)
    assert (first is None) == (second is None)
    if first is None or second is None:
        added = one.count.low + other.count.low - 4
        contradict = {one.note, other.note} == {"in the shade", "by the weed"}
        assert contradict or added < 0
        return
    assert first.count == second.count
    assert sorted(first.measurements[0].values) == sorted(second.measurements[0].values)
    for bound in ("low", "best", "high"):
        added_up = getattr(one.count, bound) - 4 + getattr(other.count, bound) - 4
        assert getattr(first.count, bound) - 4 == added_up
    measured = [len(version.measurements[0].values) for version in (one, other, first)]
    assert measured[2] - 2 == measured[0] - 2 + measured[1] - 2
    assert first.measurements[0].values[:2] == (410, 385)


def test_two_that_came_to_one_number_are_two_more():
    one = replace(BASE, count=exactly(5))
    assert together(BASE, one, one) == replace(BASE, count=exactly(6))


def test_a_new_measure_in_either_stands_beside_the_other():
    one = replace(BASE, measurements=(run(410, 385), run(12, measure="weight")))
    other = replace(BASE, measurements=(run(410, 385, 300),))
    merged = together(BASE, one, other)
    assert merged is not None
    assert merged.measurements == (run(410, 385, 300), run(12, measure="weight"))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"count": exactly(1)}, {"count": exactly(2)}),  # 3 and 2 taken off 4
        ({"fate": "released"}, {"fate": "dead"}),
        ({"measurements": (run(411, 385),)}, {"measurements": (run(410, 385, 300),)}),
        ({"measurements": ()}, {"measurements": (run(410, 385, 300),)}),
        ({"weight": exactly(12)}, {"weight": exactly(13)}),
        ({"note": "by the weed"}, {"note": "in the shade"}),
    ],
)
def test_versions_that_contradict_each_other_give_none(one, other):
    assert together(BASE, replace(BASE, **one), replace(BASE, **other)) is None
    assert together(BASE, replace(BASE, **other), replace(BASE, **one)) is None


def test_a_guess_is_no_ground_to_add_upon():
    base = replace(BASE, count=Count(30, 40, 50))
    one, other = replace(base, count=Count(31, 41, 51)), replace(base, count=Count(32, 42, 52))
    assert together(base, one, other) is None
