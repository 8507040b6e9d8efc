"""Two phones' versions of one record: kept side by side until a person decides (JOB.md A 32, D 23)."""

from __future__ import annotations

import pytest

from api.operations.conflicts import SettlingReasonMissingError, UnknownConflictError, conflicts, settle
from api.operations.importing import import_files
from api.operations.syncing import push
from api.store.seasons import season_from
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import write_season
from tests.operations.test_syncing import EMPTY

CURATOR = Actor("ben")


@pytest.fixture
def clash(store, tmp_path):
    """Give a store with one open conflict: 4 stands, 5 is offered."""
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(store, [trip, haul, line, phones.amended(line, 1, count=4)], Actor("ann", "phone-1"))
    push(store, [phones.amended(line, 1, count=5)], Actor("ben", "phone-2"))
    (one,) = conflicts(store)
    return one


def count(store):
    with store.reading() as session:
        return season_from(session).trips[0].hauls[0].lines[0].count.best


def test_both_versions_stand_side_by_side(clash):
    assert (clash.stands["count"]["best"], clash.offered["count"]["best"]) == (4, 5)


@pytest.mark.parametrize(("take", "stands", "state"), [("stands", 4, "ours"), ("offered", 5, "theirs")])
def test_a_person_decides_and_both_stay_readable(store, clash, take, stands, state):
    told = settle(store, CURATOR, clash.id, take, "recounted together")
    assert count(store) == stands
    assert (told.state, told.settled_by, told.why) == (state, "ben", "recounted together")
    assert conflicts(store) == []
    (kept,) = conflicts(store, state="")
    assert (kept.stands, kept.offered) == (clash.stands, clash.offered)
    with pytest.raises(UnknownConflictError):
        settle(store, CURATOR, clash.id, "stands", "again")


def test_a_decision_needs_its_reason(store, clash):
    with pytest.raises(SettlingReasonMissingError):
        settle(store, CURATOR, clash.id, "offered", "  ")
    assert count(store) == 4
