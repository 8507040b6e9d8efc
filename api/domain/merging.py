"""Two changes of one catch line that did not know of each other, laid together upon what both began from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from api.domain.counts import Count
from api.domain.trips import Line, Measurement

ADDED_UP = ("count", "weight", "measurements")
"""The fields of a line that grow with every animal: the same value reached twice may be two animals."""


class _ContradictionError(Exception):
    """Only a person can say what the record shall say."""


def together(base: Line, stands: Line, offered: Line) -> Line | None:
    """Give the line with what either version added to ``base``, or took off it; None where they contradict.

    Counts, weights and lengths add up. Of every other field the version that changed it has it; where both did,
    each to something else, nobody can say it but a person. An amount is added up only upon an exact one: of a
    guess it cannot be told whether the next guess has the animals of the first in it.
    """
    try:
        return Line(**{each.name: _merged(each.name, base, stands, offered) for each in fields(Line)})
    except _ContradictionError:
        return None


def _merged(name: str, *versions: Line) -> Any:
    was, one, other = (getattr(version, name) for version in versions)
    if was == other:
        return one
    if was == one:
        return other
    if name not in ADDED_UP:
        if one == other:
            return one
        raise _ContradictionError
    if isinstance(was, Count) and isinstance(one, Count) and isinstance(other, Count):
        return _added_counts(was, one, other)
    if name == "measurements":
        return _added_runs(was, one, other)
    raise _ContradictionError


def _added_counts(base: Count, one: Count, other: Count) -> Count:
    low, best, high = (getattr(one, bound) + getattr(other, bound) - base.best for bound in ("low", "best", "high"))
    if not base.exact or low < 0:
        raise _ContradictionError
    return Count(low, best, high)


def _added_runs(
    base: Sequence[Measurement], one: Sequence[Measurement], other: Sequence[Measurement]
) -> tuple[Measurement, ...]:
    """Put what was measured in either version behind what both began from, which has to stand in both."""
    were, ones, others = (_by_measure(runs) for runs in (base, one, other))
    added = []
    for key in {**were, **ones, **others}:
        was, mine, yours = (runs.get(key, ()) for runs in (were, ones, others))
        if mine[: len(was)] != was or yours[: len(was)] != was:
            raise _ContradictionError
        measure, variant = key
        added.append(Measurement(measure=measure, variant=variant, values=mine + yours[len(was) :]))
    return tuple(added)


def _by_measure(runs: Sequence[Measurement]) -> dict[tuple[str, str], tuple[int, ...]]:
    found: dict[tuple[str, str], tuple[int, ...]] = {}
    for run in runs:
        found[run.measure, run.variant] = found.get((run.measure, run.variant), ()) + run.values
    return found
