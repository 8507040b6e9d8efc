"""The season of a store is judged as it grows, and stands as judging it whole would have it (CHECKS.md, Rules)."""

import dataclasses
import json
from collections import Counter
from datetime import timedelta

import pytest

from api.domain.live.season import LiveSeason
from api.operations import compliance, living
from api.operations.compliance import Asked
from api.operations.importing import import_files
from api.operations.syncing import Operation, push
from api.store.engine import open_engine
from api.store.ids import new_id
from api.store.seasons import season_from
from api.store.unit_of_work import Actor, Store
from tests import phones
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, authority_file, write_season

PHONE = Actor("ann", "phone-1")
REPORT = {
    "kind": "report",
    "number": "2",
    "text": "A report by 31 July.",
    "due": "days after end",
    "days": 31,
}


@pytest.fixture
def season(store, tmp_path):
    """Give a store with a permit, a report due, a trip, and its season judged."""
    terms = authority_file()
    terms["conditions"].append(REPORT)
    authority, trips = write_season(tmp_path, terms)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    living.warm(store)
    return store


def told(finding):
    own = {name: getattr(finding, name) for name in finding.__slots__ if name not in ("records", "over")}
    return (*own.items(), tuple(sorted(finding.records)), tuple(sorted(finding.over)))


def as_it_stands(store):
    with compliance.now(store) as now:
        return Counter(told(finding) for one in now.standings for finding in one.findings())


def judged_whole(store):
    return Counter(told(finding) for finding in compliance.judged(store).checked.judgement.findings)


def limit_of(store):
    with compliance.now(store) as now:
        (balance,) = now.balances("permit")
        return balance.findings[0].outcome, balance.findings[0].tally.after.best


def pushed(store, *operations, actor=PHONE):
    answers = push(store, operations, actor)
    assert {one.answer for one in answers} == {"stored"}, answers
    return answers


def test_the_sample_season_stands_as_it_is_judged_whole(store, tmp_path):
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    assert as_it_stands(store) == judged_whole(store)
    with compliance.now(store) as now:
        for authority in now.book.authorities:
            whole = [one for one in compliance.judged(store).checked.judgement.answers if one.authority == authority.id]
            assert [(one.number, one.outcome) for one in now.under(authority.id)] == [
                (one.number, one.outcome) for one in whole
            ]


def test_every_kind_of_record_that_a_phone_delivers_is_followed(season):
    stood = living.living(season).season
    trip = phones.trip("ann")
    haul, other = phones.haul(trip), phones.haul(trip, start="2027-08-01T09:00", end="2027-08-01T09:08")
    line = phones.line(haul, count=2)
    office = {"authority": "permit", "to": "Inlet Office"}
    steps = [
        [trip],
        [haul, line],
        [other, phones.line(other, fate="dead", count=1)],
        [phones.amended(line, 1, count=4)],
        [_paper("notice", trip=trip.record["id"], sent="2027-07-30T09:00+10:00", channel="e-mail", **office)],
        [_paper("incident", about=[line.record["id"]], told="2027-08-01T10:00+10:00", **office)],
        [_paper("movement", line=line.record["id"], at="2027-08-03T09:00+10:00", what="died", count=1)],
        [phones.amended(trip, 1, status="closed", back="2027-08-01T12:00")],
    ]
    for step in steps:
        pushed(season, *step)
        assert as_it_stands(season) == judged_whole(season), step[0].kind
    assert limit_of(season) == ("broken", 13)
    assert living.living(season).season is stood, "it was begun anew instead of followed"


def _paper(kind, **record):
    return Operation(id=new_id(), kind=kind, record={"id": new_id(), **record})


def test_a_late_trip_rejudges_what_followed_it(season):
    # JOB.md D: a trip that arrives late takes its place in the order of capture; the one after it is now over.
    first = phones.trip("ann", depart="2027-07-20T07:00")
    haul = phones.haul(first, start="2027-07-20T08:00", end="2027-07-20T08:10")
    assert limit_of(season) == ("met", 9)
    pushed(season, first, haul, phones.line(haul, count=3))
    with compliance.now(season) as now:
        (balance,) = now.balances("permit")
        assert (balance.findings[0].outcome, tuple(balance.findings[0].over)) == ("broken", ("L1",))


def test_a_push_judges_before_it_answers(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    pushed(season, trip, haul, phones.line(haul, count=5))
    assert living.living(season).changes == compliance.changes_now(season)


def test_another_process_follows_what_the_first_one_stored(season, database_url, clock):
    engine = open_engine(database_url)
    try:
        elsewhere = Store(engine, clock)
        assert limit_of(elsewhere) == ("met", 9)
        trip = phones.trip("ann")
        haul = phones.haul(trip)
        pushed(season, trip, haul, phones.line(haul, count=5))
        assert limit_of(elsewhere) == limit_of(season) == ("broken", 14)
    finally:
        engine.dispose()


def test_only_what_changed_is_read(season, monkeypatch):
    read = []
    whole = living.season_from
    monkeypatch.setattr(living, "season_from", lambda *asked, **more: read.append(asked[1:]) or whole(*asked, **more))
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    pushed(season, trip, haul, phones.line(haul))
    assert read == [([trip.record["id"]],)]
    as_it_stands(season)
    assert len(read) == 1


def test_new_terms_of_an_authority_are_judged_by(season, tmp_path):
    terms = authority_file()
    terms["conditions"][0]["limits"][0]["amount"] = "8"
    authority, _ = write_season(tmp_path, terms)
    import_files(season, tmp_path / "files", [authority], [], Actor())
    assert limit_of(season) == ("broken", 9)
    assert as_it_stands(season) == judged_whole(season)


def test_a_name_in_use_that_changes_is_said_anew(store, tmp_path):
    terms = authority_file()
    terms["conditions"][0] |= {"holder": "person"}
    authority, trips = write_season(tmp_path, terms)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    living.warm(store)
    pushed(store, dataclasses.replace(phones.person(), record={"id": "ann", "name": "Ann Ferrow"}, based_on=1))
    assert any("Ann Ferrow" in value for key in as_it_stands(store) for value in map(str, key))
    assert as_it_stands(store) == judged_whole(store)


def test_what_waits_for_a_day_is_judged_anew_when_it_has_come(season, clock):
    # The report is due on 31 July 2028, Hobart time; the clock stands at 14 July.
    def report():
        with compliance.now(season) as now:
            return now.mark, now.under("permit")[2].outcome

    early, outcome = report()
    assert outcome == "not used"
    assert report() == (early, "not used")
    clock.forward(days=18)
    late, outcome = report()
    assert outcome == "broken"
    assert late != early
    assert as_it_stands(season) == judged_whole(season)


def test_a_clock_set_back_begins_the_season_anew(season, clock):
    clock.forward(days=30)
    assert as_it_stands(season) == judged_whole(season)
    clock.forward(days=-30)
    with compliance.now(season) as now:
        assert now.as_of == clock()
    assert as_it_stands(season) == judged_whole(season)


def test_kept_animals_that_wait_for_an_authority_are_judged_whole(season):
    trip = phones.trip("ann", authority="", may_stand_under=["permit"])
    haul = phones.haul(trip)
    pushed(season, trip, haul, phones.line(haul, count=5))
    assert compliance.judged(season).checked.proposal.authority_of
    assert limit_of(season) == ("broken", 14)
    assert as_it_stands(season) == judged_whole(season)


def test_a_season_that_cannot_follow_takes_nothing_from_the_answer(season, monkeypatch):
    def fail(*_):
        raise RuntimeError("out of order")

    trip = phones.trip("ann")
    haul = phones.haul(trip)
    with monkeypatch.context() as patched:
        patched.setattr(LiveSeason, "look", fail)
        pushed(season, trip, haul, phones.line(haul, count=5))
    with season.reading() as session:
        assert len(season_from(session).trips) == 2
    assert limit_of(season) == ("broken", 14)


def test_findings_are_found_by_authority_trip_condition_and_outcome(season):
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    (code, *_) = [one.code for one in pushed(season, trip, haul, phones.line(haul, count=5))]
    whole = compliance.judged(season).checked
    with compliance.now(season) as now:
        for asked in (Asked(), Asked(authority="permit"), Asked(condition="1"), Asked(outcome="broken")):
            expected = [
                told(one)
                for one in whole.judgement.findings
                if asked.condition in ("", one.number) and asked.outcome in ("", one.outcome)
            ]
            assert sorted(map(repr, map(told, now.findings(asked)))) == sorted(map(repr, expected)), asked
        of_trip = now.findings(Asked(trip=code))
        own = {code, f"{code}-1", f"{code}-1-a"}
        assert {told(one) for one in of_trip} == {
            told(one) for one in whole.judgement.findings if not own.isdisjoint(one.records)
        }
        assert of_trip
        assert now.findings(Asked(trip="T00-000")) == []


def test_the_mark_stays_while_nothing_changes_and_moves_with_every_change(season, clock):
    def mark():
        with compliance.now(season) as now:
            return now.mark

    first = mark()
    clock.forward(minutes=3)
    assert mark() == first
    pushed(season, phones.person("Cleo Marsh"))
    assert mark() != first
    assert json.dumps(first)


def test_time_that_stands_still_is_no_time_set_back(season, clock):
    clock.forward(seconds=30)
    as_it_stands(season)
    clock.at -= timedelta(seconds=20)
    stood = living.living(season).season
    as_it_stands(season)
    assert living.living(season).season is stood
