"""Picks that many makers of tiny worlds need: some of a list, dates near the day, a narrowing."""

from __future__ import annotations

import datetime as dt
import random

from api.domain.calendar import DateRange
from api.domain.conditions import Only, SizeClass
from tests.oracle import season_words as words

Dice = random.Random


def some(dice: Dice, items: tuple, most: int = 2) -> tuple:
    return tuple(dice.sample(items, dice.randint(1, min(most, len(items)))))


def perhaps(dice: Dice, share: float, items: tuple, most: int = 2) -> tuple:
    return some(dice, items, most) if dice.random() < share else ()


def taxa_of(dice: Dice, most: int = 3) -> tuple[str, ...]:
    return some(dice, words.ANIMALS, most)


def dates_near(dice: Dice, day: dt.date) -> DateRange:
    first = day + dt.timedelta(dice.choice((-200, -3, -1, 0, 1, 2)))
    last = first + dt.timedelta(dice.choice((0, 1, 2, 3, 30, 300)))
    ends = {"first_included": dice.random() < 0.8, "last_included": dice.random() < 0.8}
    if dice.random() < 0.5:
        return DateRange(first=f"{first:%m-%d}", last=f"{last:%m-%d}", **ends)
    return DateRange(first=first.isoformat(), last=last.isoformat(), **ends)


def size_class(dice: Dice) -> SizeClass:
    smallest, largest = dice.choice((("90 mm", ""), ("", "4 in"), ("90 mm", "110 mm"), ("3 1/2 in", "")))
    return SizeClass(
        measure=dice.choice(("total length", "fork length")),
        smallest=smallest,
        largest=largest,
        variant=dice.choice(("", "", "tail squeezed")),
    )


def only(dice: Dice, day: dt.date, *, lines: bool, share: float = 0.35) -> Only:
    if dice.random() > share:
        return Only()
    fields: dict[str, object] = {}
    for name in some(dice, ("taxa", "stages", "sexes", "gear", "areas", "waters", "sites", "persons", "dates"), 2):
        fields[name] = {
            "taxa": lambda: taxa_of(dice),
            "stages": lambda: some(dice, words.STAGES),
            "sexes": lambda: some(dice, words.SEXES, 1),
            "gear": lambda: some(dice, words.GEARS),
            "areas": lambda: some(dice, words.GROUNDS),
            "waters": lambda: some(dice, words.WATERS, 1),
            "sites": lambda: some(dice, words.SITES, 1),
            "persons": lambda: some(dice, words.PERSONS, 3),
            "dates": lambda: tuple(dates_near(dice, day) for _ in range(dice.randint(1, 2))),
        }[name]()
    if lines and dice.random() < 0.15:
        fields["size"] = size_class(dice)
    return Only(**fields)
