"""The order of taxon rows against worked cases, which the phone's own runner reads as well."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.conditions import (
    Bound,
    Condition,
    Only,
    Part,
    Prohibited,
    SeasonRule,
    ShareLimit,
    SizeLimit,
    SizeRule,
    StageRule,
    StopRule,
    TakeLimit,
)
from api.domain.permits import NamedGroup
from api.domain.row_order import named_in, row_order
from api.domain.taxa import Taxa, Taxon

CASES = json.loads(Path(__file__).with_name("row_order_cases.json").read_text("utf-8"))["cases"]

# What a condition of each kind needs besides the taxa that a case speaks of.
MADE: dict[str, Any] = {
    "take limit": lambda **more: TakeLimit(limits=(Bound(amount="1", period="day"),), **more),
    "size limit": lambda **more: SizeLimit(rules=(SizeRule(measure="total length", smallest="1 mm"),), **more),
    "stage and sex": lambda **more: StageRule(stages=("berried",), **more),
    "prohibited taxon": Prohibited,
    "share limit": lambda **more: ShareLimit(percent="5", **more),
    "encounter and stop": lambda **more: StopRule(deaths=1, **more),
    "season": lambda **more: SeasonRule(closed_weekdays=("Sunday",), **more),
}


def condition(raw: dict[str, Any]) -> Condition:
    more: dict[str, Any] = {name: raw[name] for name in ("group", "unlisted") if name in raw}
    if "taxa" in raw:
        more["taxa"] = tuple(raw["taxa"])
    if "parts" in raw:
        more["parts"] = tuple(Part(label="part", amount="1", taxa=tuple(one["taxa"])) for one in raw["parts"])
    if "only" in raw:
        more["only"] = Only(taxa=tuple(raw["only"]["taxa"]))
    made: Condition = MADE[raw["kind"]](number="1", text="As issued.", **more)
    return made


def tree(parents: dict[str, str | None]) -> Taxa:
    return Taxa.of(Taxon(id=name, rank="species", parent=parent) for name, parent in parents.items())


@pytest.mark.parametrize("case", [pytest.param(one, id=one["name"]) for one in CASES])
def test_rows_come_in_the_order_worked_out_by_hand(case: dict[str, Any]) -> None:
    groups = {key: NamedGroup(id=key, title=key, taxa=tuple(names)) for key, names in case["groups"].items()}
    named = named_in([condition(one) for one in case["conditions"]], groups)
    caught = [(one["taxon"], datetime.fromisoformat(one["at"])) for one in case["lines"]]
    assert list(row_order(tree(case["taxa"]), caught, named)) == case["order"]


NAMES = ("a", "b", "c", "d", "e")
FLAT = tree(dict.fromkeys(NAMES))
CAUGHT = st.lists(
    st.tuples(
        st.sampled_from(NAMES), st.integers(0, 9).map(lambda one: datetime(2028, 1, 1, tzinfo=UTC) + timedelta(one))
    )
)


@given(CAUGHT, st.lists(st.sampled_from(NAMES)), st.randoms())
def test_every_name_has_one_row_whatever_the_order_of_lines(caught, named, chance) -> None:
    rows = row_order(FLAT, caught, named)
    assert sorted(rows) == sorted({taxon for taxon, _ in caught} | set(named))
    chance.shuffle(caught)
    assert row_order(FLAT, caught, named) == rows
    numbers = [sum(taxon == row for taxon, _ in caught) for row in rows]
    assert numbers == sorted(numbers, reverse=True)
