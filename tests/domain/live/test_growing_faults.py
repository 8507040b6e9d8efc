"""A season that grows carelessly is noticed: with any one of the ways of hearing of a change cut, worlds differ."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from api.domain.conditions import (
    Bound,
    CleaningMethod,
    CleaningRule,
    Condition,
    GearAllowed,
    GearRule,
    Only,
    ReportRule,
    ShareLimit,
    TakeLimit,
    Trigger,
)
from api.domain.counts import exactly
from api.domain.facts import Facts
from api.domain.live import by_trip, held, over_all, season, take
from api.domain.places.positions import Fix
from api.domain.trips import Cleaning, Filing, GearUse, Haul, Line, Season, Trip
from tests.domain.live.test_growing import Growing, grown_differences
from tests.oracle.seasons import seasons

FISH = "Acanthopagrus australis"
MOST = 120
"""Worlds within which a fault must show."""


def _deaf(*_: object, **__: object) -> None:
    return None


FAULTS: dict[str, tuple[type, str, Callable]] = {
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
    for seed in range(MOST):
        try:
            seen = grown_differences(seed)
        except Exception as problem:  # noqa: BLE001 - a fault may also break the bookkeeping itself
            seen = [repr(problem)]
        if seen:
            break
    assert seen, f"no world of {MOST} noticed it"


AS_OF = dt.datetime(2027, 6, 1, tzinfo=dt.UTC)


def _trip(code: str, *hauls: Haul, **more: object) -> Trip:
    authority = seasons(7)[0].authorities[0].id
    return Trip(id=code, zone="UTC", leader="p1", authority=authority, status="closed", hauls=hauls, **more)


def _haul(code: str, day: int, *lines: Line, **more: object) -> Haul:
    start = dt.datetime(2027, 3, day, 2, tzinfo=dt.UTC)
    return Haul(id=code, lines=lines, **{"start": start, "end": start + dt.timedelta(minutes=9), **more})


def _traps(code: str, day: int, days: int, number: int) -> Trip:
    start = dt.datetime(2027, 3, day, 2, tzinfo=dt.UTC)
    end = start + dt.timedelta(days=days)
    return _trip(code, _haul(f"{code}-1", day, kind="set", end=end, gear=GearUse(gear="trap", number=number)))


def _fish(line: str, fate: str, number: int) -> Line:
    return Line(id=line, taxon=FISH, fate=fate, count=exactly(number))


def _at(area: str) -> Fix:
    inside = seasons(7)[0].areas[area].geometry.representative_point()
    return Fix(lat=inside.y, lon=inside.x, radius_m=5)


def _fished_in(area: str) -> Trip:
    return _trip("A", _haul("A-1", 1, _fish("A-1-a", "kept", 5), fixes=(_at(area),)))


FEW: dict[str, tuple[Condition, list[tuple[str, object]], str, tuple[type, str, Callable]]] = {
    "traps of a trip that comes late count with those that stood meanwhile": (
        GearRule(number="1", text="four traps", gear=(GearAllowed(gear="trap", together=4),)),
        [("trip", _traps("C", 5, 3, 2)), ("trip", _traps("A", 1, 9, 2)), ("trip", _traps("B", 3, 4, 1))],
        "haul C-1",
        (by_trip.Gear, "_touch_beside", _deaf),
    ),
    "a cleaning told of by a trip without a haul lies between two hauls of others": (
        CleaningRule(number="1", text="cleaned", methods=(CleaningMethod(method="dried"),)),
        [
            ("trip", _trip("A", _haul("A-1", 1, waterbody="north"))),
            ("trip", _trip("C", _haul("C-1", 5, waterbody="south"))),
            ("trip", _trip("B", cleanings=(Cleaning(at=dt.datetime(2027, 3, 3, tzinfo=dt.UTC), method="rinsed"),))),
        ],
        "haul C-1",
        (over_all.Cleanings, "_touch_around", _deaf),
    ),
    "animals of no recorded site may be of any site": (
        ShareLimit(number="1", text="few may die", percent="10", per="site"),
        [
            ("trip", _trip("A", _haul("A-1", 1, _fish("a", "kept", 9), _fish("b", "dead", 3), site="s1"))),
            ("trip", _trip("B", _haul("B-1", 2, _fish("c", "kept", 90)))),
        ],
        "",
        (by_trip.ByGroup, "_touch", lambda self, group: self._touched.add(group)),
    ),
    "a report after a trip that is filed late is filed": (
        ReportRule(number="1", text="after each trip", due="days after trip", days=5),
        [
            ("trip", _trip("A", _haul("A-1", 1))),
            ("filing", Filing(
                id="f1", authority=seasons(7)[0].authorities[0].id, condition="1",
                filed=dt.datetime(2027, 3, 2, tzinfo=dt.UTC), covers="A",
            )),
        ],
        "",
        (by_trip.ByTrip, "papers", _deaf),
    ),
    # A limit that begins beyond two animals and counts area by area: what lies beyond is placed anew at every look.
    "a position that is mended moves the line to another area": (
        TakeLimit(
            number="1", text="one in each area", taxa=(FISH,), limits=(Bound(amount="1", period="term"),), holder="area",
            only=Only(areas=("west reach", "east reach")), after=Trigger(amount="2", period="term"),
        ),
        [("trip", _fished_in("west reach")), ("trip", _fished_in("east reach"))],
        "East reach: whole term",
        (Facts, "forget_places", _deaf),
    ),
}  # fmt: skip
"""Seasons of few records under one condition: what comes, what is broken in the end ("" for nothing), and the fault."""


def _few_differences(few: str) -> list[str]:
    """Grow a season record by record under one condition; gives what differs from judging it whole."""
    condition, steps, broken, _ = FEW[few]
    book, _, _ = seasons(7)
    authority = replace(book.authorities[0], conditions=(condition,), amendments=())
    growing, found = Growing(replace(book, authorities=(authority,)), Season(), AS_OF), []
    for kind, record in steps:
        growing.step(kind, record.id, record)
        found += growing.differences(AS_OF)
    told = [one.about for one in growing.live.questions[1].findings() if one.outcome == "broken"]
    return found + ([] if told == ([broken] if broken else []) else [f"broken was {told}"])


@pytest.mark.parametrize("few", FEW)
def test_a_few_records_in_an_order_of_their_own(few: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert _few_differences(few) == []
    monkeypatch.setattr(*FEW[few][3])
    assert _few_differences(few), "the fault was not noticed"
