"""Tiny random worlds: a book of one or two permits, and a season of a few trips under them.

``seasons(seed)`` gives the same world for the same number, whatever the day or the machine. Amounts are
small, so that limits are met exactly, passed by one, and left in doubt; times fall around midnight and
around the changes of the clock; positions fall near the edges of areas, but never so near that a few
centimetres would decide (see ``_fixes``).
"""

from __future__ import annotations

import datetime as dt
import functools
import os
import random
from fractions import Fraction

from api.domain.counts import Count
from api.domain.facts import Book
from api.domain.permits import (
    Amendment,
    Authority,
    NamedContainer,
    NamedGroup,
    NamedPerson,
    OtherPaper,
    Qualification,
)
from api.domain.places.positions import Fix
from api.domain.trips import (
    Attestation,
    Cleaning,
    CrewMember,
    GearUse,
    Haul,
    Line,
    Measurement,
    Season,
    Trip,
)
from tests.oracle import plain_places, season_papers
from tests.oracle import season_words as words
from tests.oracle.season_conditions import MAKERS, condition
from tests.oracle.season_dice import count_of, wall
from tests.oracle.season_picks import perhaps, some

Dice = random.Random

SEASONS = int(os.environ.get("CREEKLEDGER_SEASONS", "300"))
"""How many worlds the tests try."""

# Around these days clocks change, years turn, or a leap day falls.
_DAYS = (
    dt.date(2027, 4, 3), dt.date(2027, 10, 2), dt.date(2027, 12, 30), dt.date(2027, 6, 29),
    dt.date(2028, 2, 27), dt.date(2027, 3, 30), dt.date(2027, 9, 25), dt.date(2028, 1, 15),
)  # fmt: skip


def seasons(seed: int) -> tuple[Book, Season, dt.datetime]:
    """Give the world of a seed: the book, the season, and the moment as of which it is judged (UTC)."""
    dice = random.Random(seed)
    day = dice.choice(_DAYS)
    book = _book(dice, day)
    trips = [_trip(dice, day, book, n) for n in range(dice.choice((0, 1, 2, 2, 3, 3, 4, 5)))]
    days = dice.choice((4, 6, 12, 45, 420, 800))
    moment = dt.datetime.combine(day, dt.time(12), dt.UTC) + dt.timedelta(days=days, hours=dice.randint(0, 23))
    last = max((_end_of(trip) for trip in trips if trip.status in ("open", "closed")), default=moment)
    as_of = max(moment, last + dt.timedelta(hours=1))
    season = Season(
        trips=tuple(trips),
        notices=tuple(season_papers.notices(dice, trips, book)),
        incidents=tuple(season_papers.incidents(dice, trips, book)),
        movements=tuple(season_papers.movements(dice, trips, book, day)),
        filings=tuple(season_papers.filings(dice, book, day, trips)),
        shared_totals=tuple(season_papers.shared_totals(dice, book, day)),
    )
    return book, season, as_of


def _end_of(trip: Trip) -> dt.datetime:
    moments = [attestation.at for attestation in trip.attestations]
    moments += [trip.depart] if trip.depart else []
    for haul in trip.hauls:
        moments += [haul.start, haul.end or haul.start, *haul.checks]
        moments += [line.at for line in haul.lines if line.at]
    return max(moments, default=dt.datetime(2026, 1, 1, tzinfo=dt.UTC))


def _book(dice: Dice, day: dt.date) -> Book:
    ids = ("P1",) if dice.random() < 0.6 else ("P1", "P2")
    zone = dice.choice(words.ZONES)
    permits = [_authority(dice, day, one, tuple(o for o in ids if o != one), zone) for one in ids]
    return Book(tuple(permits), words.TAXA, dict(words.AREAS))


def _authority(dice: Dice, day: dt.date, name: str, others: tuple[str, ...], zone: str) -> Authority:
    first = day - dt.timedelta(dice.choice((0, 1, 20, 200, 200, 700)))
    last = max(first, day + dt.timedelta(dice.choice((0, 1, 2, 30, 400, 400, 400))))
    kinds = [dice.choice(("take limit", *MAKERS)) for _ in range(dice.randint(3, 8))]
    kinds = [dice.choice(("take limit", kind, kind, kind)) for kind in kinds]
    conditions = tuple(condition(dice, kind, str(n), day, others) for n, kind in enumerate(kinds, 1))
    lat, lon = (words.LAT_0, words.LON_0) if dice.random() < 0.7 else (None, None)
    return Authority(
        id=name,
        kind="collecting permit",
        number=name,
        title="Collecting permit",
        issuer="Quill Estuary Board",
        holder="Tarn Aquarium",
        zone=zone if dice.random() < 0.8 else dice.choice(words.ZONES),
        first_day=first.isoformat(),
        last_day=last.isoformat(),
        conditions=conditions,
        year_starts=dice.choice(("01-01", "02-29", "07-01", f"{day:%m-%d}", f"{day + dt.timedelta(1):%m-%d}", "04-04")),
        reference_lat=lat,
        reference_lon=lon,
        people=_people(dice, day),
        groups=(NamedGroup(id="minnows", title="Minnows", taxa=some(dice, words.ANIMALS, 3)),),
        containers=(NamedContainer(name="creek bucket", litres=dice.choice(("4", "2.5"))),),
        other_papers=tuple(_papers(dice, day)),
        amendments=tuple(_amendments(dice, day, kinds, others)),
    )


def _amendments(dice: Dice, day: dt.date, kinds: list[str], others: tuple[str, ...]) -> list[Amendment]:
    made = []
    moment = dt.datetime.combine(day, dt.time(0)) + dt.timedelta(hours=dice.choice((-24, -1, 0, 0, 5, 12, 24, 30)))
    for n in range(dice.choice((0, 0, 0, 1, 1, 2, 3))):
        changed = []
        for place in dice.sample(range(len(kinds)), dice.randint(0, min(2, len(kinds)))):
            kind = kinds[place] if dice.random() < 0.9 else dice.choice(tuple(MAKERS))
            changed.append(condition(dice, kind, str(place + 1), day, others))
        if dice.random() < 0.2:
            changed.append(condition(dice, dice.choice(tuple(MAKERS)), f"new {n}", day, others))
        gone = (str(dice.randint(1, len(kinds))),) if dice.random() < 0.15 else ()
        made.append(
            Amendment(
                number=str(n + 1),
                # With an offset, since a local time may fall where a clock change makes it double.
                from_moment=f"{moment.isoformat()}+10:00",
                conditions=tuple(changed),
                withdrawn=tuple(one for one in gone if one not in {c.number for c in changed}),
                people=_people(dice, day) if dice.random() < 0.2 else None,
                groups=(NamedGroup(id="minnows", title="Minnows", taxa=some(dice, words.ANIMALS, 3)),)
                if dice.random() < 0.2
                else (),
            )
        )
        moment += dt.timedelta(hours=dice.choice((0, 6, 24, 48)))
    return made


def _near(dice: Dice, day: dt.date) -> str:
    return (day + dt.timedelta(dice.randint(-1, 3))).isoformat()


def _people(dice: Dice, day: dt.date) -> tuple[NamedPerson, ...]:
    return tuple(
        NamedPerson(
            id=person,
            name=person.title(),
            role=dice.choice(("holder", "deputy", "named", "assistant", "student", "observer")),
            first_day=_near(dice, day) if dice.random() < 0.2 else "",
            last_day=_near(dice, day) if dice.random() < 0.2 else "",
            qualifications=tuple(
                Qualification(name=name, last_day=_near(dice, day)) for name in perhaps(dice, 0.5, words.QUALIFICATIONS)
            ),
        )
        for person in some(dice, words.PERSONS, 4)
    )


def _papers(dice: Dice, day: dt.date) -> list[OtherPaper]:
    return [
        OtherPaper(
            name=name,
            first_day=_near(dice, day) if dice.random() < 0.5 else "",
            last_day=(day + dt.timedelta(dice.choice((0, 1, 2, 90)))).isoformat() if dice.random() < 0.6 else "",
        )
        for name in perhaps(dice, 0.7, words.PAPERS, 3)
    ]


def _grams(dice: Dice) -> Count:
    low = Fraction(dice.choice(("10", "12.5", "20", "25", "28.349523125", "50")))
    return Count(low, low, low if dice.random() < 0.7 else low + 10)


def _litres(dice: Dice) -> Count:
    low = Fraction(dice.choice(("0.5", "1", "1.25", "2", "2.5", "4")))
    return Count(low, low, low if dice.random() < 0.7 else low + 1)


def _measurements(dice: Dice, count: Count) -> tuple[Measurement, ...]:
    runs = []
    for measure in perhaps(dice, 0.45, ("total length", "fork length", "weight"), 3):
        values = (80, 100, 150) if measure == "weight" else (880, 889, 899, 900, 901, 1016, 1020, 1100, 1101)
        values = tuple(dice.choice(values) for _ in range(dice.randint(1, max(1, int(count.low)))))
        variant = dice.choice(("", "tail squeezed")) if measure != "weight" else ""
        runs.append(Measurement(measure=measure, values=values, variant=variant))
    return tuple(runs)


def _line(dice: Dice, name: str, book: Book, haul_at: dt.datetime, crew: tuple[str, ...]) -> Line:
    fields: dict[str, object] = {}
    if dice.random() < 0.12:
        taxon = dice.choice(words.MATERIALS)
        unit = dice.choice(("L", "L", "g"))
        count = _litres(dice) if unit == "L" else _grams(dice)
    else:
        taxon, unit, count = dice.choice(words.ANIMALS), "individuals", count_of(dice)
        if taxon == "Zostera muelleri" and dice.random() < 0.5:
            unit, count = "g", _grams(dice)
        if dice.random() < 0.13:
            fields["doubt"] = dice.choice(("cf.", "aff.", "?"))
        elif dice.random() < 0.1:
            fields["one_of"] = some(dice, words.ANIMALS, 3)
            taxon = dice.choice((taxon, fields["one_of"][0]))
        if unit == "individuals":
            fields["measurements"] = _measurements(dice, count)
            if dice.random() < 0.35 and count.low > 0:
                fields["weight"] = _grams(dice)
    if dice.random() < 0.12:
        fields["at"] = haul_at + dt.timedelta(minutes=dice.choice((-30, -10, 0, 15, 60)))
    if len(book.authorities) > 1 and dice.random() < 0.25:
        fields["authority"] = dice.choice(("P1", "P2"))
    return Line(
        id=name,
        taxon=taxon,
        count=count,
        unit=unit,
        fate=dice.choice(("kept", "kept", "kept", "kept", "released", "dead", "dead", "lost")),
        stage=dice.choice(("", "", *words.STAGES)),
        sex=dice.choice(("", "", *words.SEXES)),
        person=dice.choice(("", "", "", *crew)),
        container=dice.choice(("", *words.CONTAINERS)),
        **fields,
    )


_OFFSETS = (-40, -30, -12, -9, 0, 9, 12, 30, 40)
_EDGES = (0, 100, 200, 300, 400)


@functools.cache
def _paths() -> tuple[tuple[Fix, ...], ...]:
    """Paths near the edges, each drawn until no centimetre decides: the margin is a quarter of a metre.

    All worlds draw from these, so that each is measured only once.
    """
    dice = random.Random("paths of the small estuary")
    paths: list[tuple[Fix, ...]] = []
    while len(paths) < 500:
        fixes = []
        for _ in range(dice.choice((1, 1, 2, 2, 3))):
            east = dice.choice(_EDGES) + dice.choice(_OFFSETS)
            north = dice.choice((0, 100, 200, 300, 350)) + dice.choice(_OFFSETS)
            if dice.random() < 0.5:
                east, north = dice.choice((50, 150, 250)), dice.choice((50, 150))
            lon, lat = words.degrees(east, north)
            radius = dice.choice((5.0, 5.0, 10.0, 20.0, None)) if dice.random() < 0.5 else 5.0
            fixes.append(Fix(lat=lat, lon=lon, radius_m=radius, confidence=dice.choice((0.95, 0.95, 0.68, 0.5))))
        if plain_places.clear_cut(tuple(fixes), 0.25):
            paths.append(tuple(fixes))
    return tuple(paths)


def _fixes(dice: Dice) -> tuple[Fix, ...]:
    return () if dice.random() < 0.12 else dice.choice(_paths())


def _gear(dice: Dice) -> GearUse | None:
    if dice.random() < 0.08:
        return None
    return GearUse(
        gear=dice.choice(words.GEARS),
        length_mm=dice.choice((None, Fraction(6000), Fraction(6096), Fraction(6100))),
        mesh_mm=dice.choice((None, Fraction(6), Fraction("12.7"), Fraction(13), Fraction(5))),
        opening_mm=dice.choice((None, Fraction(90), Fraction(95))),
        number=dice.choice((1, 1, 1, 2, 3)),
        marked=dice.choice((None, True, False)),
    )


def _haul(dice: Dice, name: str, start: dt.datetime, book: Book, crew: tuple[str, ...]) -> Haul:
    standing = dice.random() < 0.3
    minutes = (
        dice.choice((None, 0, 10, 20, 60, 121, 120, 750, 1300, 1500))
        if standing
        else dice.choice((None, 0, 10, 20, 20, 40, 60, 400))
    )
    end = None if minutes is None else start + dt.timedelta(minutes=minutes)
    checks = ()
    if standing and dice.random() < 0.5:
        until = (minutes or 300) if minutes != 0 else 1
        checks = tuple(sorted(start + dt.timedelta(minutes=dice.randint(0, until)) for _ in range(dice.randint(1, 3))))
    two = len(book.authorities) > 1
    return Haul(
        id=name,
        start=start,
        end=end,
        kind="set" if standing else "haul",
        gear=_gear(dice),
        site=dice.choice((*words.SITES, *words.SITES, "")),
        waterbody=dice.choice((*words.WATERS, *words.WATERS, "")),
        fixes=_fixes(dice),
        authority=dice.choice(("P1", "P2")) if two and dice.random() < 0.3 else "",
        also_under=("P2",) if two and dice.random() < 0.15 else (),
        person=dice.choice(("", "", *crew)),
        lines=tuple(
            _line(dice, f"{name}.{n}", book, end or start, crew) for n in range(dice.choice((0, 1, 1, 2, 2, 3, 5)))
        ),
        checks=checks,
        lost=standing and end is None and dice.random() < 0.3,
        in_sight=dice.choice((None, True, False)),
    )


def _crew(dice: Dice, on_trip: tuple[str, ...]) -> tuple[CrewMember, ...]:
    if dice.random() < 0.12:
        return ()
    roles = ("holder", "deputy", "named", "assistant", "student", "observer")
    return tuple(CrewMember(person=person, role=dice.choice(roles)) for person in on_trip)


def _trip(dice: Dice, day: dt.date, book: Book, n: int) -> Trip:
    zone = book.authorities[0].zone if dice.random() < 0.8 else dice.choice(words.ZONES)
    on = day + dt.timedelta(dice.choice((-1, 0, 0, 0, 1, 1, 2, 3, 30, 365)))
    status = dice.choice(("closed",) * 7 + ("open", "planned", "cancelled"))
    start = wall(dice, on, zone)
    hauls = []
    on_trip = some(dice, words.PERSONS, 4)
    at = start
    for number in range(dice.choice((0, 1, 1, 2, 2, 3, 4)) if status in ("closed", "open") else 0):
        hauls.append(_haul(dice, f"T{n}.{number}", at, book, on_trip))
        at += dt.timedelta(minutes=dice.choice((0, 15, 30, 60, 90, 600, 1440)))
    dice.shuffle(hauls)
    crew = _crew(dice, on_trip)
    return Trip(
        id=f"T{n}",
        zone=zone,
        leader=on_trip[0],
        authority=dice.choice(("P1", "P1", "P1", ""))
        if len(book.authorities) == 1
        else dice.choice(("P1", "P2", "P2", "")),
        status=status,
        depart=start - dt.timedelta(minutes=dice.choice((0, 30, 300))) if dice.random() < 0.7 or not hauls else None,
        crew=crew,
        hauls=tuple(hauls),
        cleanings=tuple(_cleanings(dice, start)),
        attestations=tuple(_attestations(dice, start, book)),
        papers=None if dice.random() < 0.25 else perhaps(dice, 0.9, words.PAPERS, 3),
    )


def _cleanings(dice: Dice, start: dt.datetime) -> list[Cleaning]:
    return [
        Cleaning(
            at=start + dt.timedelta(minutes=dice.choice((-60, 5, 14, 15, 29, 30, 45, 61, 100))),
            method=dice.choice(("bleach", "hot water", "rinse")),
            minutes=dice.choice((None, Fraction(2), Fraction("2.5"), Fraction(10), Fraction(20))),
            done=dice.random() < 0.85,
        )
        for _ in range(dice.choice((0, 0, 1, 1, 2)))
    ]


def _attestations(dice: Dice, start: dt.datetime, book: Book) -> list[Attestation]:
    return [
        Attestation(
            authority=permit.id,
            condition=one.number,
            person=dice.choice(words.PERSONS),
            at=start + dt.timedelta(hours=8),
            kept=dice.choice(("kept", "kept", "not kept", "did not arise")),
        )
        for permit in book.authorities
        for one in permit.conditions
        if one.kind == "attested"
        for _ in range(dice.choice((0, 1, 1, 2)))
    ]
