"""A season goes into the store and comes out as it was, on both engines."""

from datetime import datetime

import pytest

from api.domain.facts import Facts
from api.domain.judge import judge_facts
from api.exchange.books import read_book, read_season
from api.exchange.canonical import canonical
from api.exchange.faults import FaultyFileError
from api.exchange.snapshot import finding_to_json, freeze
from api.operations.importing import import_files
from api.store.audit import first_broken
from api.store.books import book_from
from api.store.seasons import season_from
from api.store.unit_of_work import Actor
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, trips_file, write_season

ACTOR = Actor("i-calloway")


@pytest.fixture(scope="module")
def sample():
    book, faults = read_book(SAMPLE_AUTHORITIES)
    season, season_faults = read_season([SAMPLE], book)
    assert [*faults, *season_faults] == []
    return book, season


def test_the_sample_season_comes_back_as_it_went_in(store, tmp_path, sample):
    book, season = sample
    taken = import_files(store, tmp_path, SAMPLE_AUTHORITIES, [SAMPLE], ACTOR)
    assert (taken.authorities, taken.trips, taken.lines) == (2, 21, 454)
    with store.reading() as session:
        again, found = book_from(session), season_from(session)
        assert first_broken(session)[1] is None
    assert again.authorities == book.authorities
    assert again.taxa == book.taxa
    assert again.areas == book.areas
    assert again.issued_names == book.issued_names
    by_id = {trip.id: trip for trip in season.trips}
    assert {trip.id: trip for trip in found.trips} == by_id
    for kind in ("notices", "incidents", "movements", "filings"):
        assert sorted(getattr(found, kind), key=lambda one: one.id) == sorted(
            getattr(season, kind), key=lambda one: one.id
        )
    assert found.corrections == season.corrections
    assert set(found.shared_totals) == set(season.shared_totals)
    assert season.people.items() <= found.people.items()
    assert found.sites == season.sites


def test_it_is_judged_and_reported_as_from_files(store, tmp_path, sample, clock):
    book, season = sample
    import_files(store, tmp_path, SAMPLE_AUTHORITIES, [SAMPLE], ACTOR)
    with store.reading() as session:
        again, found = book_from(session), season_from(session)
    from_files = judge_facts(Facts.of(book, season, clock()))
    from_store = judge_facts(Facts.of(again, found, clock()))
    assert [finding_to_json(one) for one in from_store.findings] == [
        finding_to_json(one) for one in from_files.findings
    ]
    frozen = freeze(again, found, clock(), "kelloran-permit", {"revision": 0})
    assert frozen.fingerprint == freeze(again, found, clock(), "kelloran-permit", {"revision": 0}).fingerprint


def test_the_same_files_again_add_nothing(store, tmp_path):
    import_files(store, tmp_path, SAMPLE_AUTHORITIES, [SAMPLE], ACTOR)
    taken = import_files(store, tmp_path, SAMPLE_AUTHORITIES, [SAMPLE], ACTOR)
    assert (taken.authorities, taken.taxa, taken.areas, taken.trips, taken.lines, taken.papers) == (0, 0, 0, 0, 0, 0)


def test_another_record_under_the_same_id_is_told_and_nothing_is_taken_in(store, tmp_path):
    authority, trips = write_season(tmp_path)
    import_files(store, tmp_path / "data", [authority], [trips], ACTOR)
    changed = trips_file([{"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 8}])
    changed["trips"].append({**changed["trips"][0], "id": "T2", "hauls": []})
    _, other = write_season(tmp_path, trips=changed)
    with pytest.raises(FaultyFileError, match="'T1' is in the store already and says something else"):
        import_files(store, tmp_path / "data", [], [other], ACTOR)
    with store.reading() as session:
        assert [trip.id for trip in season_from(session).trips] == ["T1"]


def test_counts_that_no_float_holds_come_back_exactly(store, tmp_path):
    sand = {"taxon": "shell, clean", "fate": "kept", "unit": "L"}
    lines = [
        {"id": "L1", **sand, "count": {"low": "1/3", "best": "7/3", "high": "unknown"}},
        {"id": "L2", "taxon": "Galaxias maculatus", "fate": "released", "count": "100 in 1/7", "weight": "3.7 g"},
        {"id": "L3", **sand, "count": "0.1"},
    ]
    authority, trips = write_season(tmp_path, trips=trips_file(lines))
    import_files(store, tmp_path / "data", [authority], [trips], ACTOR)
    book, _ = read_book([authority])
    wanted, faults = read_season([trips], book)
    assert faults == []
    with store.reading() as session:
        (found,) = season_from(session).trips
    assert found == wanted.trips[0]


def test_a_time_of_any_zone_comes_back_as_the_same_instant(store, tmp_path):
    trips = trips_file()
    trips["trips"][0]["hauls"][0] |= {"start": "2027-08-01T08:00:00.250-08:00", "end": None}
    trips["trips"][0] |= {"back": None}
    authority, path = write_season(tmp_path, trips=trips)
    import_files(store, tmp_path / "data", [authority], [path], ACTOR)
    with store.reading() as session:
        (found,) = season_from(session).trips
    assert found.hauls[0].start == datetime.fromisoformat("2027-08-01T16:00:00.250+00:00")
    assert canonical(found.hauls[0].start.isoformat()) == b'"2027-08-01T16:00:00.250000+00:00"'


def test_some_trips_alone_are_read_as_in_the_whole(store, tmp_path):
    import_files(store, tmp_path, SAMPLE_AUTHORITIES, [SAMPLE], ACTOR)
    with store.reading() as session:
        whole = season_from(session)
        part = season_from(session, ["K27-03", "K27-05"])
    assert part.trips == tuple(trip for trip in whole.trips if trip.id in ("K27-03", "K27-05"))
