"""A season judged as it grows gives what judging it whole gives: after every step, in any order of coming.

The measure is the whole judge, which a second, plain judge is held against (tests/oracle). Worlds are the
oracle's own; a failure prints the seed and the line that plays it again.
"""

from __future__ import annotations

import datetime as dt
import os
import random
from collections import Counter
from dataclasses import replace

import pytest

from api.domain.conditions import Prohibited
from api.domain.counts import exactly
from api.domain.facts import Book, known_by
from api.domain.judge import judge
from api.domain.live.season import LiveSeason
from api.domain.rules.finding import Finding
from api.domain.trips import Haul, Line, Movement, Season, Trip
from tests.oracle.seasons import SEASONS, seasons

WORLDS = max(200, SEASONS // 20)


def _key(finding: Finding) -> tuple:
    own = {name: getattr(finding, name) for name in finding.__slots__ if name not in ("records", "over")}
    return (*own.items(), tuple(sorted(finding.records)), tuple(sorted(finding.over)))


def whole(book: Book, season: Season, as_of: dt.datetime) -> Counter:
    """Every finding of the season judged whole."""
    return Counter(_key(finding) for finding in judge(book, known_by(season, as_of)[0], as_of).findings)


def live_findings(live: LiveSeason) -> Counter:
    """Every finding of the season as it grew."""
    return Counter(_key(finding) for question in live.questions for finding in question.findings())


def _versions(dice: random.Random, trip: Trip) -> list[Trip | None]:
    """A trip as it comes: haul by haul, perhaps with something wrong that is mended, perhaps taken out once."""
    growing = [number for number in range(len(trip.hauls)) if dice.random() < 0.4]
    shown: list[Trip | None] = [replace(trip, hauls=trip.hauls[:number]) for number in growing]
    if trip.hauls and dice.random() < 0.3:
        shown.append(replace(trip, hauls=trip.hauls[::-1][:-1]))
    if trip.hauls and dice.random() < 0.3:
        # The position of another haul, mended with the next version.
        place, fixes = dice.randrange(len(trip.hauls)), dice.choice(trip.hauls).fixes
        moved = replace(trip.hauls[place], fixes=tuple(replace(one, lat=one.lat + 0.01) for one in fixes))
        shown.append(replace(trip, hauls=(*trip.hauls[:place], moved, *trip.hauls[place + 1 :])))
    if dice.random() < 0.1:
        shown += [trip, None]
    return [*shown, trip]


def _steps(dice: random.Random, season: Season) -> list[tuple[str, str, object]]:
    """Everything that comes, shuffled; the versions of one trip keep their order."""
    lanes: list[list[tuple[str, str, object]]] = [
        [("trip", trip.id, version) for version in _versions(dice, trip)] for trip in season.trips
    ]
    for kind, papers in (
        ("notice", season.notices), ("incident", season.incidents),
        ("movement", season.movements), ("filing", season.filings),
    ):  # fmt: skip
        lanes += [[(kind, paper.id, paper)] for paper in papers]
    lanes += [[("totals", "", season.shared_totals[: number + 1])] for number in range(len(season.shared_totals))]
    steps = []
    while lanes:
        lane = dice.choice(lanes)
        steps.append(lane.pop(0))
        lanes = [one for one in lanes if one]
    return steps


class Growing:
    """A live season and the plain records that it was given."""

    def __init__(self, book: Book, season: Season, as_of: dt.datetime) -> None:
        self.book, self.names = book, Season(people=season.people, sites=season.sites)
        self.live = LiveSeason(book, as_of)
        self.live.put_names(season.people, season.sites)
        self.trips: dict[str, Trip] = {}
        self.papers: dict[str, dict[str, object]] = {"notice": {}, "incident": {}, "movement": {}, "filing": {}}
        self.totals: tuple = ()

    def step(self, kind: str, record: str, value: object) -> None:
        if kind == "trip":
            self.live.put_trip(record, value)
            self.trips.pop(record, None)
            if value is not None:
                self.trips[record] = value
        elif kind == "totals":
            self.totals = value if len(value) > len(self.totals) else self.totals
            self.live.put_totals(self.totals)
        else:
            self.live.put_paper(kind, record, value)
            self.papers[kind][record] = value

    def season(self) -> Season:
        # A movement of a line that has not come yet speaks of nothing.
        return replace(
            self.names,
            trips=tuple(self.trips.values()),
            notices=tuple(self.papers["notice"].values()),
            incidents=tuple(self.papers["incident"].values()),
            movements=tuple(self.papers["movement"].values()),
            filings=tuple(self.papers["filing"].values()),
            shared_totals=self.totals,
        )

    def differences(self, as_of: dt.datetime) -> list[str]:
        """What only one of the two ways of judging gives."""
        self.live.look(as_of)
        grown, judged = live_findings(self.live), whole(self.book, self.season(), as_of)
        return [f"only as it grew: {one}" for one in (grown - judged).elements()] + [
            f"only whole: {one}" for one in (judged - grown).elements()
        ]


def grown_differences(seed: int) -> list[str]:
    """Grow a world step by step and compare after most steps, the clock going on meanwhile."""
    book, season, as_of = seasons(seed)
    dice = random.Random(f"{seed} growing")
    steps = _steps(dice, season)
    first = as_of - dt.timedelta(days=dice.choice((0, 0, 3, 30, 500)))
    moments = sorted(first + (as_of - first) * dice.random() for _ in steps)
    growing = Growing(book, season, first)
    for number, (step, moment) in enumerate(zip(steps, moments, strict=True)):
        growing.step(*step)
        if dice.random() < 0.5:
            found = growing.differences(moment)
            if found:
                return [f"after step {number} ({step[0]} {step[1]}) as of {moment}", *found]
    return growing.differences(as_of)


def test_a_season_that_grew_is_judged_as_it_is_judged_whole() -> None:
    only = os.environ.get("CREEKLEDGER_SEED")
    for seed in [int(only)] if only else range(WORLDS):
        found = grown_differences(seed)
        if found:
            again = f"CREEKLEDGER_SEED={seed} python -m pytest tests/domain/live/test_growing.py"
            pytest.fail(f"seed {seed}; play it again with: {again}\n" + "\n".join(found[:12]), pytrace=False)


def test_the_worlds_grow_by_every_kind_of_record() -> None:
    kinds = Counter(step[0] for seed in range(60) for step in _steps(random.Random(seed), seasons(seed)[1]))
    assert set(kinds) == {"trip", "notice", "incident", "movement", "filing", "totals"}
    born = [
        one for seed in range(60) for one in seasons(seed)[1].movements if isinstance(one, Movement) and not one.line
    ]
    assert born


def test_what_waits_for_a_moment_waits_once_however_often_it_is_judged() -> None:
    # A season is looked at for months; what waits for its end must not pile up.
    for seed in range(40):
        book, season, as_of = seasons(seed)
        growing = Growing(book, season, as_of - dt.timedelta(days=3))
        waiting = []
        for round_ in range(6):
            for trip in season.trips:
                growing.step("trip", trip.id, trip)
            growing.live.look(as_of - dt.timedelta(days=3) + dt.timedelta(minutes=round_))
            waiting.append(growing.live.waiting)
        assert len(set(waiting[1:])) == 1, f"seed {seed}: {waiting}"


def test_what_is_not_over_at_its_very_moment_is_over_after_it() -> None:
    # An encounter is to be told of within 24 hours: at the 24th hour it still may be, a moment later it is too late.
    book, _, _ = seasons(7)
    told = Prohibited(number="1", text="tell", taxa=("Portunus armatus",), report_within_hours=24, report_to="office")
    authority = replace(book.authorities[0], conditions=(told,), amendments=())
    caught = dt.datetime(2027, 3, 1, 2, tzinfo=dt.UTC)
    line = Line(id="a", taxon="Portunus armatus", fate="released", count=exactly(1))
    haul = Haul(id="A-1", start=caught, end=caught, lines=(line,))
    growing = Growing(replace(book, authorities=(authority,)), Season(), caught)
    growing.step(
        "trip", "A", Trip(id="A", zone="UTC", leader="p1", authority=authority.id, status="closed", hauls=(haul,))
    )
    outcomes = []
    for later in (dt.timedelta(hours=1), dt.timedelta(hours=24), dt.timedelta(hours=24, seconds=1)):
        assert growing.differences(caught + later) == []
        outcomes.append([one.outcome for one in growing.live.questions[1].findings() if one.label == "report"])
    assert outcomes == [["open"], ["open"], ["broken"]]
