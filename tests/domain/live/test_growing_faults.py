"""A season that grows carelessly is noticed: with any one of the ways of hearing of a change cut, worlds differ."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest
from shapely import Point

from api.domain.conditions import Bound, GearAllowed, GearRule, Only, TakeLimit, Trigger
from api.domain.counts import exactly
from api.domain.facts import Facts
from api.domain.live import by_trip, held, over_all, season, take
from api.domain.places.positions import Fix
from api.domain.trips import GearUse, Haul, Line, Season, Trip
from tests.domain.live.test_growing import Growing, grown_differences
from tests.oracle.seasons import seasons

FISH = "Acanthopagrus australis"
MOST = 120
"""Worlds within which a fault must show."""

FIRST = {"papers of no trip": 250, "lines that may be of any group": 550, "a cleaning between two hauls": 560}
"""The first world tried, where only few worlds hold what a fault needs; 0 for the others."""


def _deaf(*_: object, **__: object) -> None:
    return None


FAULTS: dict[str, tuple[type, str, Callable]] = {
    "papers of no trip": (by_trip.ByTrip, "papers", _deaf),
    "lines that may be of any group": (by_trip.ByGroup, "_touch", lambda self, group: self._touched.add(group)),
    "a cleaning between two hauls": (over_all.Cleanings, "_touch_around", _deaf),
    "time that goes by": (season.LiveSeason, "wake", _deaf),
    "published totals, births and gifts": (take.Take, "papers", _deaf),
    "lines lent to a new tally": (take.Tallies, "_touch_lent", _deaf),
    "lines lent at all": (take.Tallies, "_lenders", lambda *_: iter(())),
    "a late trip below a trigger": (
        take.Trigger,
        "_mark",
        lambda self, period, row: self._from.setdefault(period, row.order),
    ),
    "a late trip in what is held": (held.HeldWalk, "_cut", _deaf),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_change_that_is_not_heard_of_is_noticed(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    owner, name, instead = FAULTS[fault]
    monkeypatch.setattr(owner, name, instead)
    seen = []
    first = FIRST.get(fault, 0)
    for seed in range(first, first + MOST):
        try:
            seen = grown_differences(seed)
        except Exception as problem:  # noqa: BLE001 - a fault may also break the bookkeeping itself
            seen = [repr(problem)]
        if seen:
            break
    assert seen, f"no world of {MOST} from {first} on noticed it"


def _trapping(code: str, day: int, days: int, traps: int) -> Trip:
    start = dt.datetime(2027, 4, day, 2, tzinfo=dt.UTC)
    haul = Haul(id=f"{code}-1", kind="set", start=start, end=start + dt.timedelta(days=days))
    haul = replace(haul, gear=GearUse(gear="trap", number=traps))
    return Trip(
        id=code, zone="UTC", leader="p1", authority=seasons(7)[0].authorities[0].id, status="closed", hauls=(haul,)
    )


def _trapping_differences() -> list[str]:
    """Three trips whose traps stood at once, coming in an order of their own; at most four are permitted."""
    book, _, _ = seasons(7)
    rule = GearRule(number="1", text="four traps", gear=(GearAllowed(gear="trap", together=4),))
    authority = replace(book.authorities[0], conditions=(rule,), amendments=())
    book = replace(book, authorities=(authority,))
    as_of = dt.datetime(2027, 6, 1, tzinfo=dt.UTC)
    growing = Growing(book, Season(), as_of)
    found = []
    for trip in (_trapping("C", 5, 3, 2), _trapping("A", 1, 9, 2), _trapping("B", 3, 4, 1)):
        growing.step("trip", trip.id, trip)
        found += growing.differences(as_of)
    broken = [one.about for one in growing.live.questions[1].findings() if one.outcome == "broken"]
    return found + ([] if broken == ["haul C-1"] else [f"broken was {broken}"])


def test_traps_of_trips_that_come_late_count_with_those_that_stood_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _trapping_differences() == []
    monkeypatch.setattr(by_trip.Gear, "_touch_beside", _deaf)
    assert _trapping_differences()


def test_a_position_that_is_mended_moves_the_line_to_another_area(monkeypatch: pytest.MonkeyPatch) -> None:
    # A limit that begins beyond two animals and counts area by area: what lies beyond is placed anew at every look.
    def differences() -> list[str]:
        book, _, _ = seasons(7)
        north, south = "west reach", "east reach"
        limit = TakeLimit(
            number="1", text="one in each area", taxa=(FISH,), limits=(Bound(amount="1", period="term"),), holder="area",
            only=Only(areas=(north, south)), after=Trigger(amount="2", period="term"),
        )  # fmt: skip
        authority = replace(book.authorities[0], conditions=(limit,), amendments=())
        as_of = dt.datetime(2027, 6, 1, tzinfo=dt.UTC)
        growing, found = Growing(replace(book, authorities=(authority,)), Season(), as_of), []
        for area in (north, south):
            inside = book.areas[area].geometry.representative_point()
            growing.step("trip", "A", _fishing(authority.id, inside))
            found += growing.differences(as_of)
        return found

    assert differences() == []
    monkeypatch.setattr(Facts, "forget_places", _deaf)
    assert differences()


def _fishing(authority: str, place: Point) -> Trip:
    start = dt.datetime(2027, 4, 1, 2, tzinfo=dt.UTC)
    line = Line(id="A-1-a", taxon=FISH, fate="kept", count=exactly(5))
    fix = Fix(lat=place.y, lon=place.x, radius_m=5)
    haul = Haul(id="A-1", start=start, end=start, fixes=(fix,), lines=(line,))
    return Trip(id="A", zone="UTC", leader="p1", authority=authority, status="closed", hauls=(haul,))
