"""The phone's checks beside the core on whole seasons: every finding of the kinds that both judge is the same."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from api.exchange.books import read_book, read_season
from tests.builders import SAMPLE
from tests.frontend.reckoning import reckoned
from tests.frontend.worlds import JUDGED_BY_THE_PHONE, world, write
from tests.oracle.seasons import SEASONS, seasons

MOST = 500
"""Worlds tried at most: each is judged twice, and written out between."""

pytestmark = pytest.mark.slow


def laid_beside(node, worlds: Path) -> None:
    node("node_modules/vitest/vitest.mjs", "run", "--reporter=dot", CREEKLEDGER_WORLDS=str(worlds))


def test_the_phone_finds_what_the_core_finds_in_random_seasons(node, tmp_path):
    number = min(SEASONS, MOST)
    made = (world(f"seed {seed}", *seasons(seed)) for seed in range(number))
    assert write(tmp_path / "worlds.jsonl", made) == number
    laid_beside(node, tmp_path / "worlds.jsonl")


def test_the_phone_reckons_as_the_core_does(node, tmp_path):
    """Geodesics, the sun, edges, chances, days and counts: the functions themselves, on drawn places and days."""
    (tmp_path / "numbers.json").write_text(json.dumps(reckoned(seed=1)), "utf-8")
    node("node_modules/vitest/vitest.mjs", "run", "--reporter=dot", CREEKLEDGER_NUMBERS=str(tmp_path / "numbers.json"))


def sample() -> dict:
    book, faults = read_book(sorted(SAMPLE.glob("authority-*.json")))
    assert book is not None, faults
    season, faults = read_season([SAMPLE], book)
    assert not faults
    return world("the sample season", book, season, datetime(2028, 7, 14, 12, tzinfo=UTC))


def test_the_phone_finds_what_the_core_finds_in_the_sample_season(node, tmp_path):
    told = sample()
    assert {one["kind"] for one in told["findings"]} == JUDGED_BY_THE_PHONE
    write(tmp_path / "worlds.jsonl", [told])
    laid_beside(node, tmp_path / "worlds.jsonl")


@pytest.mark.parametrize("change", ["outcome", "sentence", "tally"])
def test_a_difference_in_one_finding_is_seen(node, tmp_path, change):
    """A finding of the core's changed after the fact stands for a core that judges otherwise."""
    told = sample()
    one = next(found for found in told["findings"] if found["tally"] and found["outcome"] == "met")
    if change == "tally":
        one["tally"]["left"][0] = "999"
    else:
        one[change] = "broken" if change == "outcome" else "Another sentence."
    write(tmp_path / "worlds.jsonl", [told])
    with pytest.raises(RuntimeError, match="the sample season"):
        laid_beside(node, tmp_path / "worlds.jsonl")
