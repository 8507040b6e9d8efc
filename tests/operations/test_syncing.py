"""What the server answers to phones: stored once, told what is wrong, never overwritten (JOB.md, D 1-40; FIELD.md, 2)."""

import dataclasses
import json

import pytest
from sqlmodel import col, select

from api.domain.places.positions import Fix
from api.entities.sync import Conflict, Receipt
from api.exchange.books import read_book
from api.operations.importing import import_files
from api.operations.pulling import pull
from api.operations.syncing import MOST_IN_A_BATCH, Operation, push
from api.store.audit import first_broken
from api.store.ids import new_id
from api.store.seasons import season_from
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import write_season

PHONE = Actor("ann", "phone-1")
EMPTY = {
    "format": "creekledger trips 1",
    "zone": phones.ZONE,
    "trips": [],
    "people": {"ann": "Ann Oake", "ben": "Ben Oake"},
}


@pytest.fixture
def season(store, tmp_path):
    """Give a store with a permit and two people, and no trip yet."""
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    return store


def answers(store, *operations, actor=PHONE):
    return [told.answer for told in push(store, operations, actor)]


def trips_in(store):
    with store.reading() as session:
        return season_from(session).trips


def test_a_day_is_stored_with_codes_that_people_can_say(season):
    trip = phones.trip("ann")
    first, second = phones.haul(trip), phones.haul(trip, start="2027-08-01T09:00", end="2027-08-01T09:08")
    told = push(season, [trip, first, phones.line(first), phones.line(first, fate="dead", count=1), second], PHONE)
    assert [one.answer for one in told] == ["stored"] * 5
    assert [one.code for one in told] == ["T27-001", "T27-001-1", "T27-001-1-a", "T27-001-1-b", "T27-001-2"]
    (stored,) = trips_in(season)
    assert [(haul.id, [line.count.best for line in haul.lines]) for haul in stored.hauls] == [
        ("T27-001-1", [3, 1]),
        ("T27-001-2", []),
    ]
    with season.reading() as session:
        assert first_broken(session)[1] is None


def test_where_the_crew_stood_as_its_trip_began_is_kept_amended_and_taken_away(season):
    place = {"lat": -42.302562, "lon": 153.627205, "radius_m": 8.5, "confidence": 0.68, "source": "handheld"}
    trip = phones.trip("ann", arrived=place)
    assert answers(season, trip) == ["stored"]
    assert trips_in(season)[0].arrived == Fix(**place)
    (told,) = [one for one in pull(season, 0, 1000).changes if one.kind == "trip"]
    assert told.record["arrived"] == place
    # FIELD.md: a position without a radius is not one with a radius of zero.
    moved = phones.amended(trip, 1, arrived={"lat": -42.0, "lon": 153.0})
    assert answers(season, moved) == ["stored"]
    assert trips_in(season)[0].arrived == Fix(lat=-42.0, lon=153.0, radius_m=None)
    without = {name: value for name, value in trip.record.items() if name != "arrived"}
    assert answers(season, dataclasses.replace(moved, id=new_id(), record=without, based_on=2)) == ["stored"]
    assert trips_in(season)[0].arrived is None


@pytest.mark.parametrize(
    ("place", "where", "what"),
    [
        ({"lat": -95.0, "lon": 153.0}, "arrived", "latitude"),
        ({"lat": -42.0}, "arrived", "'lon' is missing."),
        ({"lat": -42.0, "lon": 153.0, "radius_m": 1e301}, "arrived", "wider than the earth"),
        ({"lat": -42.0, "lon": 153.0, "source": "x" * 61}, "arrived: source", "60"),
    ],
)
def test_a_place_that_cannot_be_is_refused_with_the_part_that_is_wrong(season, place, where, what):
    (told,) = push(season, [phones.trip("ann", arrived=place)], PHONE)
    assert told.answer == "refused"
    assert told.problems[0].where == where
    assert what in told.problems[0].what


def test_the_source_of_a_haul_s_position_is_refused_where_its_column_is_too_short(season):
    trip = phones.trip("ann")
    fix = {"lat": -42.3, "lon": 153.6, "radius_m": 8, "source": "x" * 61}
    told = push(season, [trip, phones.haul(trip, fixes=[fix])], PHONE)
    assert [one.answer for one in told] == ["stored", "refused"]
    assert told[1].problems[0].where == "fixes[0]: source"


def test_the_same_operation_again_is_told_so_and_stored_once(season):
    # JOB.md D 22: upload retried 4 times on bad signal, same id, one record.
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    batch = [trip, haul, phones.line(haul)]
    assert answers(season, *batch) == ["stored"] * 3
    for _ in range(4):
        assert answers(season, *batch) == ["already had"] * 3
    assert answers(season, batch[2], batch[2]) == ["already had"] * 2
    assert sum(len(one.lines) for one in trips_in(season)[0].hauls) == 1


def test_twice_in_one_batch_is_once(season):
    trip = phones.trip("ann")
    assert answers(season, trip, trip) == ["stored", "already had"]
    assert len(trips_in(season)) == 1


def test_the_same_id_with_other_content_is_a_problem_and_no_overwrite(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line], PHONE)
    other = dataclasses.replace(line, record={**line.record, "count": 300})
    (told,) = push(season, [other], PHONE)
    assert told.answer == "refused"
    assert "came before with another content" in told.problems[0].what
    assert trips_in(season)[0].hauls[0].lines[0].count.best == 3


def test_a_fact_that_breaks_the_permit_is_stored(season):
    # The builders' permit allows 10 galaxias a year.
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    assert answers(season, trip, haul, phones.line(haul, count=5000)) == ["stored"] * 3


@pytest.mark.parametrize(
    ("change", "where", "what"),
    [
        ({"taxon": "Galaxias maculatis"}, "taxon", "not in the list of taxa"),
        ({"count": -1}, "count", "below"),
        ({"fate": "eaten"}, "fate", "not a word known here"),
        ({"authority": "other"}, "authority", "is not known"),
        ({"person": "nobody"}, "person", "no person 'nobody'"),
        ({"colour": "red"}, "", "key 'colour' is not known"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_mending(season, change, where, what):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    good, bad = phones.line(haul), phones.line(haul, **change)
    told = push(season, [trip, haul, bad, good], PHONE)
    assert [one.answer for one in told] == ["stored", "stored", "refused", "stored"]
    (problem,) = told[2].problems
    assert what in problem.what
    assert problem.mend
    assert problem.where == where


def test_a_child_before_its_parent_is_refused_and_taken_when_it_comes_again(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    (told,) = push(season, [haul], PHONE)
    assert told.answer == "refused"
    assert "Send the trip first" in told.problems[0].mend
    assert answers(season, trip, haul) == ["stored", "stored"]
    with season.reading() as session:
        receipt = session.get_one(Receipt, haul.id)
        assert (receipt.answer, receipt.problems) == ("stored", [])


def test_refused_and_sent_again_in_one_batch(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    assert answers(season, haul, trip, haul) == ["refused", "stored", "stored"]


def test_an_open_trip_is_amended_without_a_reason(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line], PHONE)
    (told,) = push(season, [phones.amended(line, 1, count=4)], PHONE)
    assert (told.answer, told.version, told.code) == ("stored", 2, "T27-001-1-a")
    (stored,) = trips_in(season)
    assert stored.hauls[0].lines[0].count.best == 4


def test_a_closed_trip_is_amended_with_a_reason_and_the_old_value_stays_readable(season):
    # JOB.md D 40: allowed only as a correction.
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line, phones.amended(trip, 1, status="closed", back="2027-08-01T12:00")], PHONE)
    (refused,) = push(season, [phones.amended(line, 1, count=2)], PHONE)
    assert refused.answer == "refused"
    assert "needs its reason" in refused.problems[0].what
    assert answers(season, phones.amended(line, 1, why="recounted at the door", count=2)) == ["stored"]
    with season.reading() as session:
        found = season_from(session)
    (correction,) = found.corrections
    assert (correction.record, correction.field, correction.by, correction.why) == (
        "T27-001-1-a",
        "count",
        "ann",
        "recounted at the door",
    )
    assert '"best":3' in correction.old
    assert '"best":2' in correction.new
    assert found.trips[0].hauls[0].lines[0].count.best == 2


def test_two_phones_amend_one_record_and_both_versions_are_kept(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line], PHONE)
    mine, yours = phones.amended(line, 1, count=4), phones.amended(line, 1, count=5)
    assert answers(season, mine) == ["stored"]
    (told,) = push(season, [yours], Actor("ben", "phone-2"))
    assert (told.answer, told.version) == ("conflict", 2)
    (again,) = push(season, [yours], Actor("ben", "phone-2"))
    assert (again.answer, again.conflict) == ("conflict", told.conflict)
    with season.reading() as session:
        (kept,) = session.exec(select(Conflict)).all()
    assert '"best":4' in kept.stands
    assert '"best":5' in kept.offered
    assert trips_in(season)[0].hauls[0].lines[0].count.best == 4


def test_two_phones_that_count_on_to_the_same_number_are_kept_apart(season):
    # Each saw an animal of its own, or both the same one: only a person knows (JOB.md D 23).
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line, phones.amended(line, 1, count=4)], PHONE)
    (told,) = push(season, [phones.amended(line, 1, count=4)], Actor("ben", "phone-2"))
    assert (told.answer, told.version) == ("conflict", 2)
    # A third version between them does not hide that the second phone began from the first.
    push(season, [phones.amended(line, 2, count=5)], PHONE)
    (told,) = push(season, [phones.amended(line, 1, count=5)], Actor("cat", "phone-3"))
    assert (told.answer, told.version) == ("conflict", 3)


def test_two_phones_that_measure_the_same_length_are_kept_apart(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    run = [{"measure": "total length", "values": ["41 mm"]}]
    push(season, [trip, haul, line, phones.amended(line, 1, measurements=run)], PHONE)
    (told,) = push(season, [phones.amended(line, 1, measurements=run)], Actor("ben", "phone-2"))
    assert told.answer == "conflict"


def test_what_a_later_version_offers_takes_the_place_of_what_the_phone_offered_before(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line, phones.amended(line, 1, count=4)], PHONE)
    for phone, count in (("phone-2", 5), ("phone-3", 6), ("phone-2", 7)):
        push(season, [phones.amended(line, 1, count=count)], Actor("ben", phone))
    with season.reading() as session:
        kept = session.exec(select(Conflict).order_by(col(Conflict.made_at), col(Conflict.id))).all()
    assert [(json.loads(one.offered)["count"]["best"], one.state) for one in kept] == [
        (5, "followed"),
        (6, "open"),
        (7, "open"),
    ]


def test_the_same_words_by_two_phones_are_no_conflict(season):
    # What adds no animal says the same thing twice.
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul)
    push(season, [trip, haul, line, phones.amended(line, 1, note="in the shade")], PHONE)
    (told,) = push(season, [phones.amended(line, 1, note="in the shade")], Actor("ben", "phone-2"))
    assert (told.answer, told.version) == ("stored", 2)
    (told,) = push(season, [phones.amended(line, 2, note="in the shade")], Actor("ben", "phone-2"))
    assert (told.answer, told.version) == ("stored", 2)


def test_an_amendment_of_what_is_not_here_is_refused(season):
    trip = phones.trip("ann")
    (told,) = push(season, [phones.amended(trip, 3)], PHONE)
    assert told.answer == "refused"
    assert "no such record here to amend" in told.problems[0].what


def test_papers_and_people_come_the_same_way(season):
    cat = phones.person("Cat Reed")
    trip = phones.trip(str(cat.record["id"]))
    haul = phones.haul(trip)
    line = phones.line(haul)
    record = {
        "id": new_id(),
        "line": line.record["id"],
        "at": "2027-08-01T15:00",
        "what": "died",
        "count": 1,
        "reason": "in transit",
    }
    notice = {
        "id": new_id(),
        "authority": "permit",
        "trip": trip.record["id"],
        "to": "desk",
        "sent": "2027-07-31T06:00Z",
    }
    incident = {"id": new_id(), "authority": "permit", "about": [line.record["id"]], "to": "desk"}
    batch = [cat, trip, haul, line]
    batch += [
        Operation(id=new_id(), kind=kind, record=one)
        for kind, one in (
            ("movement", {**record, "at": "2027-08-01T05:00Z"}),
            ("notice", notice),
            ("incident", incident),
        )
    ]
    assert answers(season, *batch) == ["stored"] * 7
    with season.reading() as session:
        found = season_from(session)
    assert found.movements[0].line == "T27-001-1-a"
    assert found.notices[0].trip == "T27-001"
    assert found.incidents[0].about == ("T27-001-1-a",)
    assert found.people[str(cat.record["id"])] == "Cat Reed"


@pytest.mark.parametrize("kind", ["", "trips", "haul " * 40, "audit_entry"])
def test_an_unknown_kind_is_refused(season, kind):
    (told,) = push(season, [Operation(id=new_id(), kind=kind, record={"id": "x"})], PHONE)
    assert told.answer == "refused"
    assert "no kind of record" in told.problems[0].what


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**60, "\ud800"])
def test_values_that_no_receipt_can_hold_are_refused(season, value):
    trip = phones.trip("ann", note=value)
    (told,) = push(season, [trip], PHONE)
    assert told.answer == "refused"
    assert trips_in(season) == ()


def test_a_batch_has_a_most(season):
    operation = phones.person()
    with pytest.raises(ValueError, match="send it in parts"):
        push(season, [operation] * (MOST_IN_A_BATCH + 1), PHONE)


def test_nothing_of_a_batch_that_fails_stays_behind(season, monkeypatch):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    seen = []

    def fail(*_args, **_more):
        seen.append(1)
        raise RuntimeError("the power went")

    monkeypatch.setattr("api.operations.syncing._write_receipt", fail)
    with pytest.raises(RuntimeError):
        push(season, [trip, haul], PHONE)
    monkeypatch.undo()
    assert seen
    assert trips_in(season) == ()
    assert answers(season, trip, haul) == ["stored", "stored"]


def test_the_book_that_phones_are_read_with_is_the_permit_as_keyed(season, tmp_path):
    book, _ = read_book([tmp_path / "authority-1.json"])
    trip = phones.trip("ann", authority=book.authorities[0].id)
    assert answers(season, trip) == ["stored"]


@pytest.mark.parametrize(
    ("kind", "change", "where"),
    [
        ("trip", {"note": "a\x00b"}, "note"),
        ("trip", {"id": "x" * 65}, "id"),
        ("trip", {"id": "a\x00"}, "id"),
        ("trip", {"crew": [{"person": "ann\x00", "role": "holder"}]}, "crew[0]: person"),
        ("haul", {"waterbody": "x" * 201}, "waterbody"),
        ("haul", {"gear": {"gear": "x" * 61}}, "gear: gear"),
        ("haul", {"readings": [{"quantity": "salinity", "value": "31", "unit": "x" * 31}]}, "readings[0]: unit"),
        ("line", {"cause": "x" * 201}, "cause"),
        ("line", {"note": "x" * 4001}, "note"),
    ],
)
def test_what_no_column_can_hold_is_refused_alike_on_every_engine(season, kind, change, where):
    trip = phones.trip("ann", **(change if kind == "trip" else {}))
    haul = phones.haul(trip, **(change if kind == "haul" else {}))
    line = phones.line(haul, **(change if kind == "line" else {}))
    told = dict(zip(("trip", "haul", "line"), push(season, [trip, haul, line], PHONE), strict=True))
    assert told[kind].answer == "refused"
    assert [one.where for one in told[kind].problems] == [where]
    assert told[kind].problems[0].mend
