"""Faults planted in the engine while a test runs: the agreement must notice each of them."""

from __future__ import annotations

import sys

import pytest

from api.domain import counts
from api.domain.facts import Facts
from api.domain.places.positions import Fix
from tests.oracle.agreement import differences_of

pytestmark = pytest.mark.slow

SEEDS = range(300)


def _caught() -> int:
    """How many of the seeded worlds the two judges answer differently."""
    return sum(bool(differences_of(seed)) for seed in SEEDS)


def test_without_a_fault_nothing_differs() -> None:
    assert _caught() == 0


def test_a_limit_that_breaks_when_it_is_just_reached_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    def strict(amount, limit, operator):
        return amount < limit

    monkeypatch.setattr(counts, "within", strict)
    assert _caught() > 0


def test_days_taken_in_utc_are_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    from datetime import UTC

    for name, module in list(sys.modules.items()):
        if name.startswith("api.domain") and hasattr(module, "local_day"):
            monkeypatch.setattr(module, "local_day", lambda at, zone: at.astimezone(UTC).date())
    assert _caught() > 0


def test_the_order_of_upload_in_place_of_the_order_of_capture_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    class Unsorted(list):
        def sort(self, *args, **kwargs) -> None:
            """Leave everything as it was handed in."""

    in_order = Facts._sort

    def as_uploaded(facts: Facts) -> None:
        facts.hauls, facts.lines = Unsorted(facts.hauls), Unsorted(facts.lines)
        in_order(facts)

    monkeypatch.setattr(Facts, "_sort", as_uploaded)
    assert _caught() > 0


def test_a_radius_that_is_ignored_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    tiny = property(lambda fix: None if fix.radius_m is None else 0.001)
    monkeypatch.setattr(Fix, "radius_95_m", tiny)
    assert _caught() > 0
