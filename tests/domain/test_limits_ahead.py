"""What every limit still leaves: the sample season's story, its numbers read by hand from sample_trips/STORY.md."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from api.domain.calendar import instant
from api.domain.counts import exactly
from api.domain.facts import Facts
from api.domain.limits_ahead import Ahead, limits_ahead
from api.domain.remaining import Given, Situation, keep_at_most
from api.domain.taxa import Identification
from api.domain.trips import Haul, Line, Trip
from api.exchange.books import read_book, read_season
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, authority_file, trips_file, write_season

PERMIT = "kelloran-permit"


def at(text: str):
    return instant(text, "Australia/Hobart")


@pytest.fixture(scope="module")
def sample() -> Facts:
    """Give the sample season on its permit's last evening."""
    book, faults = read_book(SAMPLE_AUTHORITIES)
    assert book is not None, faults
    season, faults = read_season([SAMPLE], book)
    assert not faults
    return Facts.of(book, season, at("2028-06-30T18:00"))


@pytest.fixture(scope="module")
def evening(sample: Facts) -> list[Ahead]:
    trip = Trip(id="K28-99", zone="Australia/Hobart", leader="i-calloway", authority=PERMIT)
    return list(limits_ahead(sample, PERMIT, trip, at("2028-06-30T18:00")))


# Of each limit what it allows less the most that the story says was taken of it; of 2.5 the bluespot goby.
STORY = {
    ("2.1", "", ""): 150 - 147,
    ("2.3", "per permit year", ""): 360 - 296,
    ("2.5", "Pseudogobius olorum", ""): 0,  # up to 32 with the fry
    ("2.6", "150 mm or longer", ""): 3 - 3,
    ("2.6", "greenback flounder", ""): 8 - 7,
    ("2.7", "females", ""): 24 - 22,
    ("2.8", "", ""): 12 - 9,
    ("2.9", "", ""): 4 - 3,
    ("2.11", "", "each site"): 25,
    ("2.11", "", "Gannet Flat"): 0,  # 28 stood there when the limit was lowered
    ("2.12", "", "each person"): 50,
    ("2.12", "whole crew", ""): 120,
    ("2.13", "", "each water"): 30,
    ("2.14", "", ""): 150 - 108,
    ("2.15", "", ""): 5,
    ("2.16", "", ""): 20 - 1 - 7,  # fewer than 20
    ("2.17", "", "all holders together"): 500 - 474,
    ("2.19", "per trip", ""): 3 * 24,
    ("2.19", "per permit year", ""): (12 - 8) * 24,
    ("2.20", "", ""): 100 - 81,
    ("2.22", "", ""): Fraction(8000 - 5500),
}


@pytest.mark.parametrize("key", STORY, ids=" ".join)
def test_what_is_left_on_the_last_evening_is_as_the_story_tells(
    evening: list[Ahead], key: tuple[str, str, str]
) -> None:
    (found,) = [one for one in evening if (one.number, one.label, one.whose) == key]
    assert found.left.low == STORY[key]
    assert found.given is None
    assert found.rest is None


def test_the_limits_come_in_the_permits_own_order_and_none_is_left_out(evening: list[Ahead]) -> None:
    numbers = list(dict.fromkeys(one.number for one in evening))
    assert numbers == [f"2.{number}" for number in range(1, 23)]
    (begins,) = [one for one in evening if one.number == "2.15"]
    assert begins.beyond == "100"
    (crates, _) = [one for one in evening if one.number == "2.19"]
    assert (crates.container, crates.unit, crates.limit) == ("shell crate of 24 L", "L", 72)


def test_every_name_that_has_a_tally_of_its_own_is_told(evening: list[Ahead]) -> None:
    whole, *begun = [one for one in evening if one.number == "2.18"]
    assert (whole.whose, whole.left.low) == ("", 12)
    assert all(one.by_name for one in (whole, *begun))
    # Story: 12 of 12 at most.
    assert min(one.left.low for one in begun) == 0
    assert all(one.left.low < 12 for one in begun)


def small(folder, *, count: int = 9) -> Facts:
    """Give the builders' season: so many galaxias kept of ten a permit year, on 1 August 2027, on trip T1."""
    line = {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": count}
    permit, trips = write_season(folder, authority_file(), trips_file([line]))
    book, _ = read_book([permit])
    assert book is not None
    season, faults = read_season([trips], book)
    assert not faults
    return Facts.of(book, season, at("2027-08-02T08:00"))


def test_an_allotment_has_its_rest_beside_what_the_limit_leaves(tmp_path) -> None:
    facts = small(tmp_path, count=3)
    given = [Given(authority="permit", number="1", amount=5)]
    (own,) = limits_ahead(facts, "permit", facts.trips["T1"], at("2027-08-01T13:00"), given)
    assert (own.left.low, own.given, own.rest) == (10 - 3, 5, 5 - 3)
    other = Trip(id="T2", zone="Australia/Hobart", leader="ann", authority="permit")
    (fresh,) = limits_ahead(facts, "permit", other, at("2027-08-01T13:00"), given)
    assert (fresh.left.low, fresh.given, fresh.rest) == (10 - 3, 5, 5)


def kept(facts: Facts, given: list[Given], trip: str = "T1"):
    situation = Situation(
        at=at("2027-08-01T13:00"), trip=facts.trips[trip], haul=Haul(id="", start=at("2027-08-01T13:00"))
    )
    return keep_at_most(facts, "permit", Identification("Galaxias maculatus"), situation, given)


def test_what_may_be_kept_is_the_least_of_limit_and_allotment(tmp_path) -> None:
    facts = small(tmp_path, count=3)
    allowance = kept(facts, [Given(authority="permit", number="1", amount=5)])
    assert allowance.binding is not None
    assert (allowance.more, allowance.binding.by) == (2, "allotment")
    assert [(one.by, one.left.low) for one in allowance.rooms] == [("limit", 7), ("allotment", 2)]
    # A generous one does not bind, one that is used up leaves nothing, another limit's is no matter.
    assert kept(facts, [Given(authority="permit", number="1", amount=50)]).more == 7
    assert kept(facts, [Given(authority="permit", number="1", amount=3)]).more == 0
    assert kept(facts, [Given(authority="permit", number="2", amount=1)]).more == 7
    assert kept(facts, [Given(authority="other", number="1", amount=1)]).more == 7
    assert kept(facts, []).more == 7


def test_against_an_allotment_counts_what_the_trip_may_have_taken_at_most(tmp_path) -> None:
    facts = small(tmp_path, count=3)
    trip = facts.trips["T1"]
    (haul,) = trip.hauls
    more = Line(id="L2", taxon="Galaxias", count=exactly(1).possible(nominal=True), fate="kept")
    trips = (replace(trip, hauls=(replace(haul, lines=(*haul.lines, more)),)),)
    facts = Facts.of(facts.book, replace(facts.season, trips=trips), facts.as_of)
    assert kept(facts, [Given(authority="permit", number="1", amount=5)]).more == 5 - 4
