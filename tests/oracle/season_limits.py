"""Random conditions on animals: take, shares, sizes, stages, prohibited taxa, and deaths at which work stops."""

from __future__ import annotations

import datetime as dt
import random

from api.domain.conditions import (
    Bound,
    Condition,
    Only,
    Part,
    Prohibited,
    ShareLimit,
    SizeLimit,
    SizeRule,
    StageRule,
    StopRule,
    TakeLimit,
    Trigger,
)
from tests.oracle import season_words as words
from tests.oracle.season_picks import dates_near, perhaps, size_class, some, taxa_of

Dice = random.Random
_PERIODS = ("haul", "trip", "day", "rolling days", "month", "calendar year", "permit year", "season", "term", "held")


def _amount(dice: Dice, unit: str) -> str:
    if unit == "g":
        return dice.choice(("20 g", "50 g", "1 oz", "0.1 lb", "75 g"))
    if unit == "L":
        return dice.choice(("2 L", "1 gal", "3.5 L", "1 dry quart"))
    return str(dice.choice((0, 1, 2, 3, 3, 4, 5, 6, 8, 10)))


def bound(dice: Dice, day: dt.date, unit: str, period: str = "") -> Bound:
    period = period or dice.choice(_PERIODS)
    boxed = unit == "L" and dice.random() < 0.3
    yearly = period in ("calendar year", "permit year")
    return Bound(
        amount=dice.choice(("1", "2", "0.5")) if boxed else _amount(dice, unit),
        period=period,
        operator=dice.choice(("at most", "at most", "fewer than")),
        container="creek bucket" if boxed else "",
        times="1.5" if dice.random() < 0.06 else "",
        days=dice.randint(1, 4) if period == "rolling days" else 0,
        dates=dates_near(dice, day) if period == "season" else None,
        years=dice.choice((1, 2, 3)) if yearly and dice.random() < 0.4 else 1,
    )


def _part(dice: Dice, unit: str, label: str, *, sized: bool) -> Part:
    sized = sized and unit == "" and dice.random() < 0.25
    return Part(
        label=label,
        amount=_amount(dice, unit),
        operator=dice.choice(("at most", "fewer than")),
        taxa=perhaps(dice, 0.6, words.ANIMALS),
        stages=perhaps(dice, 0.3, words.STAGES),
        sexes=perhaps(dice, 0.3, words.SEXES, 1),
        size=size_class(dice) if sized else None,
    )


def take_limit(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    unit = dice.choice(("", "", "", "", "", "g", "L"))
    fields: dict[str, object] = {}
    way = dice.choice(("taxa", "taxa", "taxa", "group", "unlisted"))
    if way == "taxa":
        fields["taxa"] = taxa_of(dice) if unit != "L" else some(dice, words.MATERIALS)
    else:
        fields[way] = "minnows" if way == "group" else True
    holder = dice.choice(
        ("permit", "permit", "permit", "person", "site", "area", "waterbody", "container", "everybody")
    )
    limits = [bound(dice, day, unit)]
    if holder == "everybody":
        limits = [bound(dice, day, unit, dice.choice(("calendar year", "permit year", "month", "term")))]
    elif dice.random() < 0.35:
        limits.append(bound(dice, day, unit))
    held = any(one.period == "held" for one in limits)
    if held:
        holder = "permit"
    if holder == "area":
        base["only"] = Only(areas=some(dice, words.GROUNDS, 3))
    if holder == "person" and dice.random() < 0.5 and unit == "" and not held:
        fields["crew_cap"] = str(dice.randint(2, 8))
    if dice.random() < 0.12 and not held and holder != "everybody":
        fields["after"] = Trigger(
            amount=_amount(dice, unit), period=dice.choice(("calendar year", "permit year", "term"))
        )
    if dice.random() < 0.25 and not held and holder != "everybody":
        fields["parts"] = tuple(
            _part(dice, unit, f"part {n}", sized=base["only"].size is None and "after" not in fields)
            for n in range(dice.randint(1, 2))
        )
    if others and dice.random() < 0.3 and not held:
        fields["in_common_with"] = others
    if held:
        base["only"] = Only()
    return TakeLimit(
        **base,
        **fields,
        # Whose total a trigger waits for, where every recorded name has a tally of its own, the words leave open.
        each=dice.random() < 0.3 and not (way == "unlisted" and "after" in fields),
        counts=dice.choice(("kept", "kept", "kept and dead", "handled")),
        holder=holder,
        limits=tuple(limits),
    )


def share_limit(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    part = dice.choice((("dead",), ("kept",), ("dead", "lost")))
    by = dice.choice(("number", "number", "number", "weight"))
    return ShareLimit(
        **base,
        # shares of 0 and 100 % by weight are left out: they hang on whether an unknown weight is nothing or not
        percent=dice.choice(("0", "10", "25", "33.5", "50", "100") if by == "number" else ("10", "25", "33.5", "50")),
        operator=dice.choice(("at most", "fewer than")),
        taxa=perhaps(dice, 0.5, words.ANIMALS, 3),
        part_taxa=perhaps(dice, 0.4, words.ANIMALS, 3),
        part_fates=part,
        whole_fates=dice.choice((("kept", "released", "dead", "lost"), ("kept", "dead", "lost"))),
        by=by,
        per=dice.choice(("haul", "trip", "site", "day", "term")),
        smallest_sample=dice.choice((1, 1, 3, 5, 8)),
    )


def _size_rule(dice: Dice) -> SizeRule:
    if dice.random() < 0.25:
        return SizeRule(measure="weight", smallest=dice.choice(("10 g", "0.5 oz")))
    smallest, largest = dice.choice((("90 mm", ""), ("", "4 in"), ("90 mm", "110 mm"), ("3 1/2 in", "")))
    return SizeRule(
        measure=dice.choice(("total length", "total length", "fork length")),
        variant=dice.choice(("", "", "tail squeezed")),
        smallest=smallest,
        largest=largest,
        smallest_operator=dice.choice(("at least", "more than")),
        largest_operator=dice.choice(("at most", "less than")),
        inside=dice.random() < 0.75,
    )


def size_limit(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    return SizeLimit(
        **base,
        taxa=taxa_of(dice),
        rules=tuple(_size_rule(dice) for _ in range(dice.choice((1, 1, 2)))),
        counts=dice.choice(("kept", "kept", "kept and dead", "handled")),
        tolerated=dice.choice((0, 0, 0, 1, 2)),
        per=dice.choice(("haul", "trip", "day")),
        measure_all=dice.random() < 0.3,
    )


def stage_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    stages = perhaps(dice, 0.7, words.STAGES)
    return StageRule(
        **base,
        taxa=taxa_of(dice),
        stages=stages,
        sexes=perhaps(dice, 0.3 if stages else 1.0, words.SEXES, 1),
        counts=dice.choice(("kept", "kept", "handled")),
        when_not_recorded=dice.choice(("may be", "is not")),
    )


def prohibited(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    way = dice.choice(("taxa", "taxa", "group", "unlisted"))
    hours = dice.choice((0, 0, 24, 72))
    named = {"taxa": taxa_of(dice)} if way == "taxa" else {way: "minnows" if way == "group" else True}
    return Prohibited(
        **base,
        **named,
        counts=dice.choice(("kept", "kept and dead", "handled")),
        report_within_hours=hours,
        report_to="agency" if hours else "",
    )


def stop_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    deaths = dice.choice((0, 1, 2, 3))
    hours = dice.choice((0, 24, 48))
    return StopRule(
        **base,
        taxa=perhaps(dice, 0.6, words.ANIMALS, 3),
        deaths=deaths,
        percent="" if deaths and dice.random() < 0.6 else dice.choice(("10", "25", "50")),
        smallest_sample=dice.choice((1, 3, 5)),
        reached=dice.choice(("at", "above")),
        per=dice.choice(("trip", "day", "site", "permit year", "term")),
        stop=dice.random() < 0.8 or not hours,
        report_within_hours=hours,
        report_to="agency" if hours else "",
    )
