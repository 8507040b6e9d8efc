"""What the demo shows besides the sample season: the permit that follows, and a trip planned under it for that day.

The scenario is invented (sample_trips/STORY.md); what is expected is worked out here from its own words.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from api.domain.calendar import instant
from api.domain.counts import exactly
from api.domain.judge import judge
from api.domain.permits import version_at, versions_of
from api.domain.places.positions import Fix
from api.domain.trips import GearUse, Haul, Line
from api.entities.accounts import Account
from api.operations import allotting, demonstration
from api.operations.compliance import now as now_of
from api.operations.demonstration import NEXT_PERMIT, PLANNED_TRIP
from api.store.books import book_from
from api.store.engine import open_engine
from api.store.seasons import season_from
from api.store.unit_of_work import Store
from tests.builders import SAMPLE
from tests.test_sample_season import expected

BEGAN = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo(tmp_path_factory, sqlite_maker):
    """Give the store of a demo that has just begun."""
    store = Store(open_engine(sqlite_maker()), demonstration.DemoClock(lambda: BEGAN))
    demonstration.set_up(store, tmp_path_factory.mktemp("demo") / "files", SAMPLE)
    yield store
    store.engine.dispose()


def test_the_clock_of_a_kept_demo_goes_on_over_a_restart(tmp_path):
    first = demonstration.clock_in(tmp_path / "kept", lambda: BEGAN)
    assert first() == demonstration.BEGINS
    later = demonstration.clock_in(tmp_path / "kept", lambda: BEGAN + timedelta(minutes=7))
    assert later() == demonstration.BEGINS + timedelta(minutes=7)


@pytest.fixture(scope="module")
def book(demo):
    with demo.reading() as session:
        return book_from(session)


def test_the_season_whose_report_is_owed_is_shown_first_and_answered_as_in_its_story(demo):
    with now_of(demo) as now:
        assert [one.id for one in now.book.authorities] == ["kelloran-permit", "recreational-licence", NEXT_PERMIT]
        found = {(one.id, each.number): each.outcome for one in now.book.authorities[:2] for each in now.under(one.id)}
    assert found == expected()


def test_the_permit_that_follows_has_the_terms_of_the_one_before_as_amended(book):
    before, after = (
        next(one for one in book.authorities if one.id == name) for name in ("kelloran-permit", NEXT_PERMIT)
    )
    assert (before.last_day, after.first_day) == ("2028-06-30", "2028-07-01")
    assert after.amendments == ()
    terms = {
        one.number: one
        for one in version_at(versions_of(before), datetime(2028, 6, 30, tzinfo=UTC)).conditions.values()
    }
    renewed = {one.number: one for one in after.conditions}
    assert list(renewed) == list(terms)
    # What names a day of the year, and the words of the amendment.
    differ = {number for number in terms if terms[number] != renewed[number]}
    assert differ == {"2.1", "2.11", "4.6", "4.7", "6.2"}
    for number in ("2.1", "2.11"):
        assert replace(terms[number], text="") == replace(renewed[number], text="")
    assert {one.id for one in after.people} >= {"r-achterberg", "i-calloway", "j-pereira", "d-fenwick", "m-tanabe"}


def test_the_planned_trip_is_the_demos_collectors_and_its_notice_is_in_time(demo):
    with demo.reading() as session:
        (trip,) = [one for one in season_from(session).trips if one.authority == NEXT_PERMIT]
        account = session.exec(select(Account).where(Account.login == "demo-collector")).one()
    assert (trip.id, trip.status, trip.leader) == (PLANNED_TRIP, "planned", account.person_id)
    assert demonstration.BEGINS < trip.depart < instant("2028-07-14T16:00", "Australia/Hobart")
    with now_of(demo) as now:
        outcomes = {one.number: one.outcome for one in now.under(NEXT_PERMIT)}
    # By hand: told on 12 July at 09:10 and 09:20, more than 24 hours before 12:30 on the 14th. Nothing else came yet.
    assert {number for number, outcome in outcomes.items() if outcome != "not used"} == {"5.4"}
    assert outcomes["5.4"] == "met"


def test_what_it_may_take_was_granted_by_the_demos_administrator(demo):
    held = {(one.number, one.label): (one.amount, one.granted_by) for one in allotting.allotments(demo)}
    assert held == {
        ("2.1", ""): (12, "r-achterberg"),
        ("2.6", "greenback flounder"): (2, "r-achterberg"),
        ("2.7", ""): (6, "r-achterberg"),
    }
    rooms = {(one.pool.number, one.pool.label): (one.left, one.held) for one in allotting.rooms_of(demo, PLANNED_TRIP)}
    assert rooms["2.1", ""] == (150 - 12, 12)
    assert rooms["2.6", "greenback flounder"] == (8 - 2, 2)
    assert rooms["2.7", ""] == (60 - 6, 6)


def test_on_the_demos_afternoon_work_at_the_jetty_is_within_the_permit(demo, book):
    # The seine, site and position are those of haul K28-01-1 of the sample season.
    def at(clock):
        return instant(f"2028-07-14T{clock}", "Australia/Hobart")

    line = Line(id="a", taxon="Atherinosoma microstoma", count=exactly(12), fate="kept")
    gear = GearUse(gear="seine", length_mm=12_000, mesh_mm=6)
    fix = Fix(lat=-42.294299, lon=153.608444, radius_m=6)
    with demo.reading() as session:
        season = season_from(session)
    haul = Haul(id="h", start=at("12:40"), end=at("12:52"), gear=gear, site="jetty-beach", lines=(line,), fixes=(fix,))
    haul = replace(haul, waterbody="Kelloran Inlet")
    trips = tuple(replace(one, status="open", hauls=(haul,)) if one.id == PLANNED_TRIP else one for one in season.trips)
    answers = judge(book, replace(season, trips=trips), at("13:00")).answers
    outcomes = {one.number: one.outcome for one in answers if one.authority == NEXT_PERMIT}
    for number in ("term", "2.1", "2.2", "2.3", "2.4", "4.1", "4.2", "4.3", "4.4", "4.6", "4.7", "4.8"):
        assert outcomes[number] == "met", number
    for number in ("5.1", "5.2", "5.3", "5.4"):
        assert outcomes[number] == "met", number
    assert "broken" not in outcomes.values()
