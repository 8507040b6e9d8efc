"""Random conditions of every kind for the small worlds of ``seasons.py``: the dice alone decide."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable

from api.domain.calendar import DateRange
from api.domain.conditions import (
    AreaRule,
    Attested,
    Bound,
    CleaningMethod,
    CleaningRule,
    Condition,
    Disposition,
    GearAllowed,
    GearRule,
    HoldingRule,
    Hours,
    NoticeRule,
    Only,
    PapersRule,
    Part,
    PeopleRule,
    Prohibited,
    ReportRule,
    SeasonRule,
    ShareLimit,
    SizeClass,
    SizeLimit,
    SizeRule,
    StageRule,
    StopRule,
    TakeLimit,
    TimeOfDay,
    Trigger,
)
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


def _amount(dice: Dice, unit: str) -> str:
    if unit == "g":
        return dice.choice(("20 g", "50 g", "1 oz", "0.1 lb", "75 g"))
    if unit == "L":
        return dice.choice(("2 L", "1 gal", "3.5 L", "1 dry quart"))
    return str(dice.choice((0, 1, 2, 3, 3, 4, 5, 6, 8, 10)))


_PERIODS = ("haul", "trip", "day", "rolling days", "month", "calendar year", "permit year", "season", "term", "held")


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
    if dice.random() < 0.25 and not held and holder != "everybody":
        fields["parts"] = tuple(
            _part(dice, unit, f"part {n}", sized=base["only"].size is None) for n in range(dice.randint(1, 2))
        )
    if dice.random() < 0.12 and not held and holder != "everybody":
        fields["after"] = Trigger(
            amount=_amount(dice, unit), period=dice.choice(("calendar year", "permit year", "term"))
        )
    if others and dice.random() < 0.3 and not held:
        fields["in_common_with"] = others
    if held:
        base["only"] = Only()
    return TakeLimit(
        **base,
        **fields,
        each=dice.random() < 0.3,
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


def _allowed(dice: Dice, gear: str) -> GearAllowed:
    return GearAllowed(
        gear=gear,
        length_max=dice.choice(("", "", "20 ft", "6000 mm")),
        mesh_min=dice.choice(("", "", "6 mm")),
        mesh_max=dice.choice(("", "", "1/2 in")),
        opening_max=dice.choice(("", "", "", "90 mm")),
        together=dice.choice((0, 0, 2, 3)),
        soak_hours=dice.choice(("", "", "2", "12.5")),
        check_hours=dice.choice(("", "", "1", "12")),
        marked=dice.random() < 0.2,
    )


def gear_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    kinds = [dice.choice(words.GEARS) for _ in range(dice.randint(1, 3))]
    return GearRule(**base, gear=tuple(_allowed(dice, gear) for gear in kinds))


def area_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    where = dice.choice(("inside", "inside", "outside", "keep away"))
    return AreaRule(
        **base,
        where=where,
        areas=some(dice, words.FEATURES, 2) if where == "keep away" else some(dice, words.GROUNDS, 2),
        distance=dice.choice(("50 m", "100 ft")) if where == "keep away" else "",
        dates=(dates_near(dice, day),) if dice.random() < 0.25 else (),
    )


def season_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    fields: dict[str, object] = {}
    for name in some(dice, ("open", "closed", "closed_weekdays", "ends_before"), 2):
        if name in ("open", "closed"):
            fields[name] = tuple(dates_near(dice, day) for _ in range(dice.randint(1, 2)))
        elif name == "closed_weekdays":
            fields[name] = some(dice, ("Sunday", "Monday", "Saturday", "Thursday"), 3)
        else:
            late = day + dt.timedelta(dice.randint(-1, 3))
            fields[name] = dice.choice(("", late.isoformat()))
    if dice.random() < 0.3:
        fields["except_dates"] = tuple((day + dt.timedelta(n)).isoformat() for n in some(dice, (0, 1, 2)))
    return SeasonRule(**base, **fields)


def _hours(dice: Dice) -> Hours:
    ends = (
        ("06:00", "18:00"), ("22:00", "02:30"), ("00:00", "24:00"), ("sunrise", "sunset"),
        ("sunrise-30", "sunset+30"), ("sunset", "sunrise"), ("12:00", "sunset"), ("01:30", "03:00"),
    )  # fmt: skip
    start, end = dice.choice(ends)
    return Hours(
        start=start,
        end=end,
        months=perhaps(dice, 0.3, (1, 2, 3, 4, 6, 7, 10, 12), 5),
        gear=perhaps(dice, 0.3, words.GEARS),
    )


def time_of_day(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    return TimeOfDay(**base, hours=tuple(_hours(dice) for _ in range(dice.choice((1, 1, 2)))))


def people_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    listed = dice.random() < 0.5
    return PeopleRule(
        **base,
        only_listed=listed,
        unlisted_in_sight=listed and dice.random() < 0.5,
        present=perhaps(dice, 0.4, ("holder", "deputy")),
        not_roles=perhaps(dice, 0.25, ("observer", "student")),
        crew_min=dice.choice((0, 0, 2, 3)),
        crew_max=dice.choice((0, 0, 2, 3)),
        assistants_max=dice.choice((None, None, 0, 1)),
        qualification=dice.choice(("", "first aid", "boat handling")),
        qualified=dice.choice(("someone", "everyone", "leader")),
    )


def notice_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    return NoticeRule(
        **base,
        to=some(dice, words.TOLD),
        hours_before=dice.choice(("0", "24", "48")),
        hours_before_max=dice.choice(("", "", "72", "240")),
        channels=perhaps(dice, 0.3, ("email", "telephone"), 1),
        content=perhaps(dice, 0.3, ("crew", "site")),
        proof_kept=dice.random() < 0.3,
        cancellation_told=dice.random() < 0.6,
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


def disposition(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    vouchers = dice.choice((0, 0, 1, 2))
    allowed = perhaps(dice, 0.4, words.GONE, 4)
    barred = perhaps(dice, 0.4, words.GONE, 2)
    need = perhaps(dice, 0.4 if allowed or barred or vouchers else 1.0, words.GONE, 2)
    by = (day + dt.timedelta(dice.choice((1, 3, 40)))).isoformat()
    return Disposition(
        **base,
        allowed=allowed,
        barred=barred,
        consent_for=need,
        vouchers=vouchers,
        vouchers_by=by if vouchers else "",
    )


def cleaning_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    ways = some(dice, ("bleach", "hot water", "dry out"))
    return CleaningRule(
        **base, methods=tuple(CleaningMethod(method=way, minutes=dice.choice(("", "10", "2.5"))) for way in ways)
    )


def report_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    due = dice.choice(("days after end", "days after year", "days after trip", "date in year", "printed date"))
    date = ""
    if due == "date in year":
        date = f"{day + dt.timedelta(dice.choice((-3, 1, 30))):%m-%d}"
    elif due == "printed date":
        date = (day + dt.timedelta(dice.choice((2, 5, 60)))).isoformat()
    return ReportRule(
        **base,
        due=due,
        days=0 if date else dice.choice((0, 1, 10, 30)),
        date=date,
        following_year=dice.random() < 0.3,
        acceptance=dice.random() < 0.4,
        nil_report=dice.random() < 0.7,
    )


def papers_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    carried = perhaps(dice, 0.6, words.PAPERS)
    return PapersRule(**base, carried=carried, standing=perhaps(dice, 0.4 if carried else 1.0, words.PAPERS))


def holding_rule(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    return HoldingRule(**base, days_after_end=dice.choice((0, 0, 1, 30, 100)), under=dice.choice(("", "", *others)))


def attested(dice: Dice, day: dt.date, base: dict, others: tuple[str, ...]) -> Condition:
    return Attested(**base, per=dice.choice(("trip", "term")))


MAKERS: dict[str, Callable[..., Condition]] = {
    "take limit": take_limit,
    "share limit": share_limit,
    "size limit": size_limit,
    "stage and sex": stage_rule,
    "prohibited taxon": prohibited,
    "gear": gear_rule,
    "area": area_rule,
    "season": season_rule,
    "time of day": time_of_day,
    "people": people_rule,
    "notice": notice_rule,
    "encounter and stop": stop_rule,
    "disposition": disposition,
    "cleaning": cleaning_rule,
    "report": report_rule,
    "papers": papers_rule,
    "holding": holding_rule,
    "attested": attested,
}
# A size class speaks of single animals: where shares or sizes are judged too, which animal is which hangs on the
# order in which they were measured.
_BY_ANIMAL = ("take limit", "stage and sex", "prohibited taxon")


def condition(dice: Dice, kind: str, number: str, day: dt.date, others: tuple[str, ...]) -> Condition:
    """One condition of a kind; ``others`` are the ids of the other authorities of the world."""
    base = {"number": number, "text": f"Clause {number}, as issued.", "only": only(dice, day, lines=kind in _BY_ANIMAL)}
    return MAKERS[kind](dice, day, base, others)
