"""Seeded seasons by the thousand: the engine and the plain judge must give the same answers.

Nothing outside is the measure here but the words of CHECKS themselves, read twice: the plain judge was
written from them without the engine. A failure prints the seed and the line that plays it again. Three
hundred seasons are tried; ``CREEKLEDGER_SEASONS=10000`` tries ten thousand, in some two minutes on one core.
"""

from __future__ import annotations

import os

import pytest

from tests.oracle.agreement import differences_of
from tests.oracle.seasons import SEASONS, seasons


def _check(seeds: range | list[int]) -> None:
    for seed in seeds:
        found = differences_of(seed)
        if found:
            again = f"CREEKLEDGER_SEED={seed} python -m pytest tests/oracle/test_agreement.py"
            pytest.fail(f"seed {seed}; play it again with: {again}\n" + "\n".join(found), pytrace=False)


def test_the_two_judges_agree() -> None:
    only = os.environ.get("CREEKLEDGER_SEED")
    _check([int(only)] if only else range(SEASONS))


def test_a_seed_gives_the_same_world_each_time() -> None:
    assert seasons(7)[1:] == seasons(7)[1:]
    assert seasons(7)[0].authorities == seasons(7)[0].authorities
    assert seasons(7)[1] != seasons(8)[1]
