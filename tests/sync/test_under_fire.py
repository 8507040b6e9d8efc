"""Sync under fire: three phones, bad lines, a server that loses its power; nothing lost, nothing doubled, all told.

One of the phones was not updated, and speaks the protocol before.

Three hundred seeds on SQLite and fifteen more on PostgreSQL, every tenth through the whole app. After each run the
outboxes hold nothing but told refusals, the season is exactly what the phones recorded, the receipts, changes,
corrections, conflicts and audit entries match it one to one, and a phone that was in no creek pulls the same
(FIELD.md, 2; STYLE.md, 5). A failure prints the seed and the line that plays it again:
``CREEKLEDGER_SEED=17 python -m pytest tests/sync/test_under_fire.py`` plays that seed alone on both engines.
"""

from __future__ import annotations

import os
import random
import uuid
from collections import Counter
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from tests.sync.faulty_lines import FAULTS
from tests.sync.power import PLACES
from tests.sync.simulated_phone import Phone
from tests.sync.simulation import KILLED, run, told

FILE = "test_under_fire.py"
ONLY = os.environ.get("CREEKLEDGER_SEED")
MANY = 50
HAS_TO_HAPPEN = {
    *FAULTS,
    KILLED,
    *PLACES,
    "before the answer",
    "phone restarted",
    "stored",
    "already had",
    "stored, protocol 1",
    "stored, protocol 2",
    "already had, protocol 1",
    "already had, protocol 2",
    "clock compared",
    "refused",
    "conflict",
    "mended",
    "never mended",
    "corrected",
    "breaks the permit",
    "a slip",
    "a parent was missing",
    "a person was missing",
    "a reason was missing",
    "the record to amend was missing",
    "what a paper speaks of was missing",
}
"""What every block of many seeds has to meet: a fire that went out would pass any server."""


def blocks(*bounds):
    """Give the seeds between bounds in blocks; the first block of all is short and quick."""
    if ONLY:
        return [pytest.param([int(ONLY)], id=f"seed {ONLY}")]
    return [
        pytest.param(range(begin, end), id=f"{begin} to {end - 1}", marks=[pytest.mark.slow] if begin else [])
        for begin, end in pairwise(bounds)
    ]


def check(seeds, ground):
    met: Counter[str] = Counter()
    for seed in seeds:
        outcome = run(seed, ground)
        if outcome.differences:
            pytest.fail(told(outcome, seed, FILE), pytrace=False)
        met += outcome.met
    if len(seeds) >= MANY:
        assert {one for one in HAS_TO_HAPPEN if not met[one]} == set()


@pytest.mark.parametrize("seeds", blocks(0, 15, 72, 129, 186, 243, 300))
def test_every_record_is_stored_exactly_once_and_every_refusal_is_told(seeds, sqlite):
    check(seeds, sqlite)


@pytest.mark.parametrize("seeds", blocks(300, 315))
def test_every_record_is_stored_exactly_once_and_every_refusal_is_told_on_postgresql(seeds, postgresql):
    check(seeds, postgresql)


def test_a_seed_plays_the_same_run_each_time(sqlite):
    assert run(7, sqlite).met == run(7, sqlite).met != run(8, sqlite).met


def test_ids_made_on_a_phone_are_uuids_of_version_7():
    """The example of RFC 9562, appendix A.6 (from memory): 2022-02-22 14:22:22 at -05:00."""
    at = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)

    class Drawn(random.Random):
        def getrandbits(self, k):
            return {12: 0xCC3, 62: 0x18C4DC0C0C07398F}[k]

    phone = Phone("", "", "", "", None, Drawn(), lambda: at)
    found = uuid.UUID(phone.new_id())
    assert str(found) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    assert (found.version, found.variant) == (7, uuid.RFC_4122)
