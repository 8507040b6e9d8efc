"""Random conditions of every kind for the small worlds of ``seasons.py``: the dice alone decide."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable

from api.domain.conditions import (
    AreaRule,
    Attested,
    CleaningMethod,
    CleaningRule,
    Condition,
    Disposition,
    GearAllowed,
    GearRule,
    HoldingRule,
    Hours,
    NoticeRule,
    PapersRule,
    PeopleRule,
    ReportRule,
    SeasonRule,
    TimeOfDay,
)
from tests.oracle import season_words as words
from tests.oracle.season_limits import prohibited, share_limit, size_limit, stage_rule, stop_rule, take_limit
from tests.oracle.season_picks import dates_near, only, perhaps, some

Dice = random.Random


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
