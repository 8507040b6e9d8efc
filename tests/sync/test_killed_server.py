"""A real server, killed with SIGKILL while three phones deliver to it, and started again on what it stored.

Twelve runs, nine on SQLite and three on PostgreSQL. In each the server dies five times: twice by a SIGKILL from
outside while a delivery is under way, and three times by one that it sends itself at a drawn place, at the n-th
statement, right before a commit and right after one. What is compared is what ``test_under_fire.py`` compares. A
failing seed is printed; ``CREEKLEDGER_SEED=4 python -m pytest tests/sync/test_killed_server.py`` plays it alone,
though what meets what is left to the machine, so that it may need several plays.
"""

from __future__ import annotations

import os

import pytest

from tests.sync.power import AFTER_COMMIT, BEFORE_COMMIT, STATEMENT
from tests.sync.siege import FROM_OUTSIDE, besiege
from tests.sync.simulation import told

pytestmark = pytest.mark.slow

FILE = "test_killed_server.py"
ONLY = os.environ.get("CREEKLEDGER_SEED")
SQLITE, POSTGRESQL = ([int(ONLY)], [int(ONLY)]) if ONLY else (range(9), range(9, 12))


def check(seed, ground, launcher):
    outcome = besiege(seed, ground, launcher)
    if outcome.differences:
        pytest.fail(told(outcome, seed, FILE), pytrace=False)
    deaths = {one.removeprefix("killed: "): n for one, n in outcome.met.items() if one.startswith("killed: ")}
    assert deaths == {STATEMENT: 1, BEFORE_COMMIT: 1, AFTER_COMMIT: 1, FROM_OUTSIDE: 2}
    assert any(one.startswith("cut off") for one in outcome.met)


@pytest.mark.parametrize("seed", SQLITE)
def test_nothing_is_lost_or_doubled_when_the_server_is_killed(seed, sqlite, launcher):
    check(seed, sqlite, launcher)


@pytest.mark.parametrize("seed", POSTGRESQL)
def test_nothing_is_lost_or_doubled_when_the_server_is_killed_on_postgresql(seed, postgresql, launcher):
    check(seed, postgresql, launcher)
