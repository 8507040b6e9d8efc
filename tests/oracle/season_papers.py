"""The papers around a tiny season: notices, reports of encounters, movements of animals, filings, quotas."""

from __future__ import annotations

import datetime as dt
import random

from api.domain.counts import exactly
from api.domain.facts import Book
from api.domain.trips import Filing, Incident, Movement, Notice, SharedTotal, Trip
from tests.oracle import season_words as words
from tests.oracle.season_dice import count_of, wall
from tests.oracle.season_picks import perhaps

Dice = random.Random


def notices(dice: Dice, trips: list[Trip], book: Book) -> list[Notice]:
    made = []
    for trip in trips:
        starts = [haul.start for haul in trip.hauls]
        leaves = trip.depart or min(starts, default=dt.datetime(2027, 6, 1, tzinfo=dt.UTC))
        for _ in range(dice.choice((0, 1, 2, 3))):
            made.append(
                Notice(
                    id=f"N{len(made)}",
                    authority=dice.choice(book.authorities).id,
                    trip=trip.id,
                    to=dice.choice(words.TOLD),
                    sent=leaves - dt.timedelta(hours=dice.choice((-1, 0, 23, 24, 25, 48, 72, 73, 500))),
                    channel=dice.choice(("email", "telephone", "")),
                    content=perhaps(dice, 0.6, ("crew", "site")),
                    proof=dice.choice(("", "receipt")),
                    cancels=dice.random() < (0.4 if trip.status == "cancelled" else 0.05),
                )
            )
    return made


def incidents(dice: Dice, trips: list[Trip], book: Book) -> list[Incident]:
    made = []
    for trip in trips:
        for haul in trip.hauls:
            for record in (haul.id, *(line.id for line in haul.lines)):
                if dice.random() < 0.2:
                    late = dt.timedelta(hours=dice.choice((0, 1, 23, 24, 25, 47, 48, 72, 73)))
                    made.append(
                        Incident(
                            id=f"I{len(made)}",
                            authority=dice.choice(book.authorities).id,
                            about=(record,) if dice.random() < 0.8 else (record, haul.id, trip.id),
                            to=dice.choice(("agency", "agency", "ranger")),
                            told=(haul.end or haul.start) + late if dice.random() < 0.9 else None,
                        )
                    )
    return made


def movements(dice: Dice, trips: list[Trip], book: Book, day: dt.date) -> list[Movement]:
    made = []
    for trip in trips:
        for haul in trip.hauls:
            for line in haul.lines:
                left = line.count.low
                while line.fate == "kept" and line.unit == "individuals" and left >= 1 and dice.random() < 0.4:
                    number = dice.randint(1, int(left))
                    left -= number
                    made.append(_leaving(dice, f"M{len(made)}", line.id, line.at or haul.end or haul.start, number))
    for _ in range(dice.choice((0, 0, 1, 2))):
        made.append(
            Movement(
                id=f"M{len(made)}",
                at=wall(dice, day + dt.timedelta(dice.randint(-1, 4)), "UTC"),
                what=dice.choice(("born", "given", "found")),
                count=exactly(dice.randint(1, 3)),
                taxon=dice.choice(words.ANIMALS),
                authority=dice.choice(book.authorities).id,
            )
        )
    return made


def _leaving(dice: Dice, name: str, line: str, caught: dt.datetime, number: int) -> Movement:
    return Movement(
        id=name,
        at=caught + dt.timedelta(hours=dice.choice((1, 10, 30, 100, 1000)), minutes=7),
        what=dice.choice((*words.GONE, "missing", "presumed dead")),
        count=exactly(number),
        line=line,
        consent=dice.choice(("", "letter 4")),
    )


def filings(dice: Dice, book: Book, day: dt.date, trips: list[Trip]) -> list[Filing]:
    return [
        Filing(
            id=f"F{permit.id}{one.number}{n}",
            authority=permit.id,
            condition=one.number,
            filed=wall(dice, day + dt.timedelta(dice.choice((-2, 0, 2, 3, 5, 12, 32, 420))), permit.zone),
            accepted=dice.choice((None, True, True, False)),
        )
        for permit in book.authorities
        for one in permit.conditions
        if one.kind == "report"
        for n in range(dice.choice((0, 1, 1, 2)))
    ]


def shared_totals(dice: Dice, book: Book, day: dt.date) -> list[SharedTotal]:
    made = []
    for permit in book.authorities:
        for one in permit.conditions:
            if one.kind != "take limit" or one.holder != "everybody":
                continue
            for _ in range(dice.choice((0, 1, 2, 3))):
                at = wall(dice, day + dt.timedelta(dice.randint(-2, 3)), permit.zone)
                total = count_of(dice, 6)
                made.append(SharedTotal(authority=permit.id, condition=one.number, as_of=at, total=total))
    return made
