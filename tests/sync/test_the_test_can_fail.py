"""The simulation has to turn red for a server or a phone that is wrong: each is wrong here in one way.

The same seeds pass on the same lines with the real ones. Each kind is asked for in two seeds at least, which are
far fewer than it was seen in.
"""

from __future__ import annotations

from collections import Counter

import pytest

from api.operations import syncing
from tests.sync import faulty_servers
from tests.sync.simulated_phone import Phone
from tests.sync.simulation import IN_PROCESS, KILLED, kinds_of, run

pytestmark = pytest.mark.slow

SEEDS = range(1, 9)
LATE = {**IN_PROCESS, "delivered late": 40, "delivered twice": 20}
DARK = {**IN_PROCESS, KILLED: 130}
ERRORS = {**IN_PROCESS, "error in place of the request": 30}


def red(ground, faults, kind=Phone, seeds=SEEDS):
    """Play seeds on bad lines; gives in how many of them each kind of difference was told."""
    found: Counter[str] = Counter()
    for seed in seeds:
        found.update(kinds_of(run(seed, ground, kind, faults).differences))
    return found


@pytest.mark.parametrize("faults", [LATE, DARK, ERRORS])
def test_the_real_ones_stand_on_lines_as_bad(sqlite, faults):
    assert red(sqlite, faults) == {}


def test_a_server_that_ignores_its_receipts_doubles(sqlite, monkeypatch):
    # The ids and versions of records catch most repeats by themselves: what is left are clashes that nobody made,
    # where a record was amended twice before its first delivery came again.
    monkeypatch.setattr(syncing, "_take", faulty_servers.take_without_looking_at_receipts)
    assert red(sqlite, LATE, seeds=range(1, 25))["doubled"] >= 2


def test_a_server_that_keeps_no_receipts_is_noticed_in_every_run(sqlite, monkeypatch):
    monkeypatch.setattr(syncing, "_write_receipt", lambda *_: None)
    assert red(sqlite, IN_PROCESS)["lost"] == len(SEEDS)


def test_a_server_that_commits_receipts_before_the_records_loses(sqlite, monkeypatch):
    monkeypatch.setattr(syncing, "push", faulty_servers.push_receipts_first)
    assert red(sqlite, DARK)["lost"] >= 2


def test_a_server_that_answers_before_its_commit_loses(sqlite, monkeypatch):
    monkeypatch.setattr(syncing, "push", faulty_servers.push_answering_too_early)
    assert red(sqlite, DARK)["lost"] >= 2


def test_a_phone_that_counts_an_error_as_sent_loses(sqlite):
    assert red(sqlite, ERRORS, faulty_servers.BelievesErrors)["lost"] >= 2


def test_a_phone_that_counts_any_page_as_sent_loses(sqlite):
    assert red(sqlite, IN_PROCESS, faulty_servers.BelievesPages)["lost"] >= 2


def test_a_phone_that_drops_refusals_leaves_them_untold(sqlite):
    assert red(sqlite, IN_PROCESS, faulty_servers.DropsRefusals)["untold"] >= 2


def test_a_phone_that_makes_new_ids_for_each_try_doubles(sqlite):
    assert red(sqlite, LATE, faulty_servers.NamesAnew)["doubled"] >= 2
