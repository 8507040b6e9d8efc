"""Two phones' versions of one record: kept side by side until a person decides (JOB.md A 32, D 23)."""

from __future__ import annotations

import pytest
from sqlmodel import select

from api.entities.catches import CatchLine
from api.operations.conflicts import (
    NotTogetherError,
    SettlingReasonMissingError,
    UnknownConflictError,
    conflicts,
    settle,
)
from api.operations.importing import import_files
from api.operations.syncing import Operation, push
from api.store.ids import new_id
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
    assert (clash.base["count"]["best"], clash.together["count"]["best"]) == (3, 6)
    assert (clash.offered_by.person, clash.offered_by.device) == ("ben", "phone-2")


@pytest.mark.parametrize(
    ("take", "stands", "state"), [("stands", 4, "ours"), ("offered", 5, "theirs"), ("together", 6, "both")]
)
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


def test_together_is_upon_what_stands_when_it_is_settled(store, clash):
    with store.reading() as session:
        (line,) = session.exec(select(CatchLine)).all()
    more = {"id": line.id, "taxon": "Galaxias maculatus", "fate": "kept", "count": 9}
    amendment = Operation(id=new_id(), kind="line", record=more, parent=line.haul_id, based_on=2)
    (told,) = push(store, [amendment], Actor("ann", "phone-1"))
    assert told.answer == "stored"
    (now,) = conflicts(store)
    assert now.together["count"]["best"] == 9 + 5 - 3
    settle(store, CURATOR, clash.id, "together", "each had a bucket of its own")
    assert count(store) == 11


def test_versions_that_contradict_each_other_cannot_be_counted_together(store, clash):
    with store.reading() as session:
        (line,) = session.exec(select(CatchLine)).all()
    let_go = {"id": line.id, "taxon": "Galaxias maculatus", "fate": "released", "count": 5}
    died = {**let_go, "fate": "dead"}
    for phone, record in (("phone-1", let_go), ("phone-3", died)):
        amendment = Operation(id=new_id(), kind="line", record=record, parent=line.haul_id, based_on=2)
        push(store, [amendment], Actor("ann", phone))
    (_, theirs) = conflicts(store)
    assert theirs.together is None
    assert theirs.base["fate"] == "kept"
    with pytest.raises(NotTogetherError, match="take one of them"):
        settle(store, CURATOR, theirs.id, "together", "both right")
    assert [one.state for one in conflicts(store)] == ["open", "open"]
