"""Seasons: open and closed dates, closed weekdays, and an end that the agency announces."""

from __future__ import annotations

from datetime import date

from api.domain.calendar import WEEKDAYS, parse_day, spoken_day
from api.domain.conditions import SeasonRule
from api.domain.facts import Facts, HaulFact
from api.domain.permits import Clause
from api.domain.reckoning.hauls import days_of, hauls_for, softened, worst
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a season over each haul, on every local day it touches."""
    condition = clause.condition
    if not isinstance(condition, SeasonRule):
        return []
    return [_finding(facts, clause, condition, fact, fit) for fact, fit in hauls_for(facts, clause)]


def _answer(condition: SeasonRule, day: date) -> tuple[Outcome, str]:
    """Judge one local day."""
    if condition.open and not any(dates.holds(day) for dates in condition.open):
        return "broken", f"{spoken_day(day)} is outside the open dates"
    for dates in condition.closed:
        if dates.holds(day):
            first, last = dates.span(day)
            return (
                "broken",
                f"{spoken_day(day)} is in the closed dates {spoken_day(first)} to {spoken_day(last)}",
            )
    weekday = WEEKDAYS[day.weekday()]
    if weekday in condition.closed_weekdays and day.isoformat() not in condition.except_dates:
        return "broken", f"{spoken_day(day)} is a {weekday}, which is closed"
    return _announced(condition, day)


def _announced(condition: SeasonRule, day: date) -> tuple[Outcome, str]:
    if condition.ends_before is None:
        return "met", ""
    what = condition.ends_before_what or "the announced date"
    if not condition.ends_before:
        return "open", f"{what} has not been entered"
    if day >= parse_day(condition.ends_before):
        return (
            "broken",
            f"{spoken_day(day)} is not before {what} ({spoken_day(parse_day(condition.ends_before))})",
        )
    return "met", ""


def _finding(facts: Facts, clause: Clause, condition: SeasonRule, fact: HaulFact, fit: Fit) -> Finding:
    days = days_of(facts, fact, clause.authority.zone)
    answers = [_answer(condition, day) for day in days]
    outcome = worst([answer[0] for answer in answers])
    why = next((words for found, words in answers if found == outcome and words), "")
    outcome = softened(outcome, fit)
    when = spoken_day(days[0]) if len(days) == 1 else f"{spoken_day(days[0])} to {spoken_day(days[-1])}"
    return finding_for(
        clause,
        outcome,
        f"haul {fact.haul.id}",
        f"Haul {fact.haul.id}: {why or f'{when} is in the open season'}.",
        settle=f"Needs what it hangs on: {why}." if outcome == "open" else "",
        records=(fact.haul.id,),
        over=(fact.haul.id,) if outcome == "broken" else (),
    )
