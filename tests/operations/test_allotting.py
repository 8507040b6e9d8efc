"""Allotments in the store: granted once, returned at trip close, reclaimed by a person, never above what is left."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from api.domain.allotments import NothingLeftError, Pool, UnknownPoolError
from api.operations import allotting
from api.operations.allotting import ReasonMissingError, TripOverError, UnknownAllotmentError
from api.operations.importing import import_files
from api.operations.syncing import push
from api.operations.trips import UnknownTripError
from api.store.audit import first_broken
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import authority_file, write_season
from tests.operations.test_syncing import EMPTY

OFFICE = Actor("ann")


@pytest.fixture
def season(store, tmp_path):
    """Give a store with a permit of 10 galaxias a year, and no trip."""
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    return store


def planned(store, **changes):
    """Plan a trip; gives its operation."""
    trip = phones.trip("ann", status="planned", **changes)
    assert [told.answer for told in push(store, [trip], OFFICE)] == ["stored"]
    return trip


def grant(store, trip, amount):
    return allotting.grant(store, OFFICE, str(trip.record["id"]), authority="permit", number="1", amount=amount)


def test_a_room_tells_what_the_trip_itself_took_of_it(season):
    first, second = planned(season), planned(season)
    grant(season, first, 5)
    haul = phones.haul(first)
    push(season, [haul, phones.line(haul, count="about 3 (2-4)")], Actor("ann", "phone-1"))
    (own,), (other,) = (allotting.rooms_of(season, str(one.record["id"])) for one in (first, second))
    assert (own.held, own.used) == (5, 4)  # at most
    assert (other.held, other.used) == (0, 0)


def left(store, trip):
    (room,) = allotting.rooms_of(store, str(trip.record["id"]))
    return room.left


def test_two_crews_get_what_there_is_and_the_third_is_told_what_is_left(season):
    first, second, third = (planned(season) for _ in range(3))
    assert left(season, first) == 10
    assert grant(season, first, 5).amount == 5
    assert grant(season, second, 4).amount == 4
    with pytest.raises(NothingLeftError, match="has 1 left to give"):
        grant(season, third, 2)
    assert grant(season, third, 1).amount == 1
    assert left(season, first) == 0


def test_a_trip_after_the_permits_last_day_is_given_nothing(season):
    # The builders' permit ends on 30 June 2028, Hobart time.
    late, last = planned(season, depart="2028-07-01T00:00"), planned(season, depart="2028-06-30T23:59")
    assert allotting.rooms_of(season, str(late.record["id"])) == []
    with pytest.raises(UnknownPoolError):
        grant(season, late, 1)
    assert grant(season, last, 1).amount == 1


def test_the_database_refuses_what_a_wrong_decision_would_grant(season, monkeypatch):
    first, second = planned(season), planned(season)
    grant(season, first, 8)
    monkeypatch.setattr(Pool, "check", lambda *_: None)
    with pytest.raises(IntegrityError, match="granted_within_room"):
        grant(season, second, 3)
    assert left(season, second) == 2


def test_more_is_added_to_what_a_trip_has(season):
    trip = planned(season)
    grant(season, trip, 3)
    assert grant(season, trip, 2).amount == 5
    assert [one.amount for one in allotting.allotments(season)] == [5]


def test_closing_the_trip_gives_back_what_was_not_used(season):
    crew, other = planned(season), planned(season)
    grant(season, crew, 8)
    haul = phones.haul(crew)
    push(season, [haul, phones.line(haul, count=3)], Actor("ann", "phone-1"))
    assert left(season, other) == 2
    assert [told.answer for told in push(season, [phones.amended(crew, 1, status="closed")], OFFICE)] == ["stored"]
    assert left(season, other) == 7
    (told,) = allotting.allotments(season)
    assert (told.state, told.ended_at) == ("returned", season.clock())


def test_what_goes_beyond_an_allotment_is_stored_and_gone_for_the_others(season):
    # JOB.md D 1: over-take is recorded and flagged, nothing is dropped or trimmed.
    crew, other = planned(season), planned(season)
    grant(season, crew, 2)
    haul = phones.haul(crew)
    told = push(season, [haul, phones.line(haul, count=6)], Actor("ann", "phone-1"))
    assert [one.answer for one in told] == ["stored", "stored"]
    assert left(season, other) == 4


def test_a_trip_that_never_came_back_keeps_its_allotment_until_a_person_reclaims_it(season, clock):
    crew, other = planned(season), planned(season)
    held = grant(season, crew, 10)
    clock.forward(days=90)
    with pytest.raises(NothingLeftError):
        grant(season, other, 1)
    with pytest.raises(ReasonMissingError):
        allotting.reclaim(season, OFFICE, held.id, "  ")
    told = allotting.reclaim(season, OFFICE, held.id, "boat lost, nobody hurt, nothing kept")
    assert (told.state, told.why) == ("reclaimed", "boat lost, nobody hurt, nothing kept")
    with pytest.raises(UnknownAllotmentError):
        allotting.reclaim(season, OFFICE, held.id, "again")
    assert grant(season, other, 10).amount == 10
    with season.reading() as session:
        assert first_broken(session)[1] is None


def test_what_cannot_be_granted_is_told(season):
    trip = planned(season)
    with pytest.raises(UnknownTripError):
        allotting.grant(season, OFFICE, "nowhere", authority="permit", number="1", amount=1)
    with pytest.raises(UnknownPoolError, match="those at this time are permit 1"):
        allotting.grant(season, OFFICE, str(trip.record["id"]), authority="permit", number="99", amount=1)
    push(season, [phones.amended(trip, 1, status="cancelled")], OFFICE)
    with pytest.raises(TripOverError):
        grant(season, trip, 1)


def test_the_next_permit_year_has_room_of_its_own(season, tmp_path):
    longer, _ = write_season(tmp_path, authority_file(last_day="2029-06-30"), EMPTY)
    import_files(season, tmp_path / "files", [longer], [], Actor())
    this, following = planned(season), planned(season, depart="2028-07-02T07:00")
    grant(season, this, 10)
    assert left(season, following) == 10


def test_the_database_itself_refuses_an_over_grant(season):
    grant(season, planned(season), 4)
    with pytest.raises(IntegrityError, match="granted_within_room"), season.writing(OFFICE) as work:
        work.session.connection().execute(text("UPDATE allotment_pool SET granted = room + 1"))
