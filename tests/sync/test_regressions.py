"""Faults of the server that the simulation found, each once by its name.

Each was found by a seed of ``test_under_fire.py`` (or while it was written), and mended where it stood.
"""

import dataclasses
import json

import pytest
from sqlmodel import select

from api.entities.sync import Change, Conflict
from api.operations.importing import import_files
from api.operations.pulling import pull
from api.operations.syncing import push
from api.store.seasons import season_from
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import authority_file, write_season

PHONE = Actor("ann", "phone-1")
NO_TRIPS = {"format": "creekledger trips 1", "zone": phones.ZONE, "trips": [], "people": {"ann": "Ann Oake"}}


@pytest.fixture
def season(store, tmp_path):
    """Give a store with two permits, whose baskets differ, and no trip yet."""
    permits = [
        authority_file(id=name, number=f"XP {name}", containers=[{"name": "basket", "litres": litres}])
        for name, litres in (("permit", "10"), ("licence", "25"))
    ]
    first, trips = write_season(tmp_path, permits[0], NO_TRIPS)
    second = tmp_path / "authority-2.json"
    second.write_text(json.dumps(permits[1]), encoding="utf-8")
    import_files(store, tmp_path / "files", [first, second], [trips], Actor())
    return store


def answers(store, *operations):
    return [told.answer for told in push(store, operations, PHONE)]


def a_day():
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    return trip, haul, phones.line(haul)


def trips_in(store):
    with store.reading() as session:
        return season_from(session).trips


def test_somebody_renamed_twice_has_three_versions_and_no_conflict(season):
    # Seed 1: a person was taken to be at version 1 for ever, so that the second new name was told to be a conflict.
    person = phones.person("Cat")
    told = push(season, [person, phones.amended(person, 1, name="Cat Reed")], PHONE)
    told += push(season, [phones.amended(person, 2, name="Catherine Reed")], PHONE)
    assert [(one.answer, one.version) for one in told] == [("stored", 1), ("stored", 2), ("stored", 3)]
    with season.reading() as session:
        assert season_from(session).people[str(person.record["id"])] == "Catherine Reed"
        mine = Change.record == person.record["id"]
        assert session.exec(select(Change.version).where(mine).order_by(Change.seq)).all() == [1, 2, 3]


def test_a_page_of_a_pull_gives_each_record_with_the_version_that_stands(season):
    # Seed 2: a page that ended before a record's newest change gave the newest content under an older number. An
    # amendment based on that number was a conflict with what the phone had before its eyes.
    trip, haul, line = a_day()
    push(season, [trip, haul, line, phones.amended(haul, 1, note="by the jetty")], PHONE)
    before = next(one.seq for one in pull(season, 0).changes if one.id == trip.record["id"])
    page = pull(season, before, 1)
    (found,) = page.changes
    assert (found.id, found.version, found.record["note"]) == (haul.record["id"], 2, "by the jetty")
    assert page.more
    again = phones.amended(haul, found.version, note="by the old jetty")
    assert answers(season, again) == ["stored"]


def test_a_trip_that_was_closed_is_closed_for_the_rest_of_the_batch(season):
    # Seed 0: the lines had been looked up while the trip was open, and were changed without reason or correction.
    trip, haul, line = a_day()
    push(season, [trip, haul, line], PHONE)
    close = phones.amended(trip, 1, status="closed", back="2027-08-01T12:00")
    (closed, refused) = push(season, [close, phones.amended(line, 1, count=2)], PHONE)
    assert (closed.answer, refused.answer) == ("stored", "refused")
    assert refused.problems[0].where == "why"
    assert answers(season, close, phones.amended(line, 1, why="recounted", count=2)) == ["already had", "stored"]
    with season.reading() as session:
        assert [one.field for one in season_from(session).corrections] == ["count"]


def test_what_is_entered_after_a_trip_was_amended_is_read_as_the_trip_now_says(season):
    # Of the same family: zone and authority of what had been looked up stayed those of the trip as it was.
    trip, haul, line = a_day()
    push(season, [trip, haul, line], PHONE)
    moved = phones.amended(trip, 1, zone="Australia/Perth", authority="licence")
    fresh = phones.line(haul, taxon="shell, clean", count="2 basket", unit="L", at="2027-08-01T08:05")
    assert answers(season, moved, fresh) == ["stored", "stored"]
    shell = trips_in(season)[0].hauls[0].lines[1]
    assert shell.count.best == 50
    assert shell.at.isoformat() == "2027-08-01T00:05:00+00:00"


def test_a_hauls_own_authority_holds_for_lines_of_the_same_batch(season):
    trip, haul, line = a_day()
    push(season, [trip, haul, line], PHONE)
    moved = phones.amended(haul, 1, authority="licence")
    fresh = phones.line(haul, taxon="shell, clean", count="2 basket", unit="L")
    assert answers(season, moved, fresh) == ["stored", "stored"]
    assert trips_in(season)[0].hauls[0].lines[1].count.best == 50
    # And a trip that changes its own afterwards changes nothing of the haul's.
    assert answers(season, phones.amended(trip, 1, note="wind"), phones.line(haul, **dict(fresh.record, id="x"))) == [
        "stored",
        "stored",
    ]
    assert trips_in(season)[0].hauls[0].lines[2].count.best == 50


def test_what_was_refused_for_want_of_a_reason_makes_no_conflict_when_it_comes_once_more(season):
    # Seed 96: it had been sent anew with its reason, and amended again, when the first delivery arrived at last.
    trip, haul, line = a_day()
    push(season, [trip, haul, line, phones.amended(trip, 1, status="closed", back="2027-08-01T12:00")], PHONE)
    bare = phones.amended(line, 1, count=2)
    assert answers(season, bare) == ["refused"]
    reasoned = dataclasses.replace(phones.amended(line, 1, count=2), why="recounted")
    assert answers(season, reasoned, phones.amended(line, 2, why="and again", count=1)) == ["stored", "stored"]
    assert answers(season, bare) == ["refused"]
    with season.reading() as session:
        assert session.exec(select(Conflict)).all() == []


def test_a_clash_in_a_closed_trip_is_kept_once_its_reason_is_given(season):
    trip, haul, line = a_day()
    push(season, [trip, haul, line, phones.amended(trip, 1, status="closed", back="2027-08-01T12:00")], PHONE)
    assert answers(season, phones.amended(line, 1, why="recounted", count=2)) == ["stored"]
    assert answers(season, phones.amended(line, 1, count=1)) == ["refused"]
    assert answers(season, phones.amended(line, 1, why="two were counted twice", count=1)) == ["conflict"]
    with season.reading() as session:
        (kept,) = session.exec(select(Conflict)).all()
    assert kept.why == "two were counted twice"


@pytest.mark.parametrize("based_on", [1, None])
def test_a_line_that_is_moved_to_another_haul_is_refused_and_not_said_to_be_stored(season, based_on):
    # Found in reading: the answer was "stored", and the line stayed where it was.
    trip, haul, line = a_day()
    other = phones.haul(trip, start="2027-08-01T09:00", end="2027-08-01T09:10")
    push(season, [trip, haul, line, other], PHONE)
    moved = dataclasses.replace(phones.amended(line, 1), parent=str(other.record["id"]), based_on=based_on)
    (told,) = push(season, [moved], PHONE)
    assert told.answer == "refused"
    assert told.problems[0].where == "parent"
    assert "stays there" in told.problems[0].what
    assert [len(one.lines) for one in trips_in(season)[0].hauls] == [1, 0]
