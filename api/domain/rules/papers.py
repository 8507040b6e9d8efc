"""Papers: what was carried on each trip, and what else had to stand on the day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from api.domain.calendar import local_day, parse_day, spoken_day
from api.domain.conditions import PapersRule
from api.domain.facts import Facts, trip_start
from api.domain.permits import Clause, OtherPaper
from api.domain.reckoning.hauls import summed_up, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Trip
from api.domain.vocabulary import Outcome

Answer = tuple[Outcome, str]


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a papers condition over each trip."""
    condition = clause.condition
    if not isinstance(condition, PapersRule):
        return []
    return [_finding(facts, clause, condition, trip, fit) for trip, fit in trips_for(facts, clause)]


def _finding(facts: Facts, clause: Clause, condition: PapersRule, trip: Trip, fit: Fit) -> Finding:
    answers = [*_carried(condition, trip), *_standing(facts, clause, condition, trip)]
    outcome, why = summed_up(answers, fit)
    return finding_for(
        clause,
        outcome,
        f"trip {trip.id}",
        f"Trip {trip.id}: {why or 'the papers were as the condition asks'}.",
        settle=f"Enter what is missing: {why}." if outcome == "open" else "",
        records=(trip.id,),
        over=(trip.id,) if outcome == "broken" else (),
    )


def _carried(condition: PapersRule, trip: Trip) -> Iterator[Answer]:
    if not condition.carried:
        return
    if trip.papers is None:
        yield "open", "which papers were carried was not noted"
        return
    carried = {paper.casefold() for paper in trip.papers}
    missing = [paper for paper in condition.carried if paper.casefold() not in carried]
    if missing:
        yield "broken", f"not carried: {', '.join(missing)}"


def _standing(facts: Facts, clause: Clause, condition: PapersRule, trip: Trip) -> Iterator[Answer]:
    day = local_day(trip_start(trip) or facts.still(), clause.authority.zone)
    entered = {paper.name: paper for paper in clause.authority.other_papers}
    for name in condition.standing:
        paper = entered.get(name)
        if paper is None or not (paper.first_day or paper.last_day):
            yield "open", f"the days on which '{name}' stands are not entered"
        elif not _stands(paper, day):
            yield "broken", f"'{name}' did not stand on {spoken_day(day)}"
        elif not (paper.first_day and paper.last_day):
            missing = "from which" if not paper.first_day else "to which"
            yield "open", f"the day {missing} '{name}' stands is not entered"


def _stands(paper: OtherPaper, day: date) -> bool:
    """Tell whether a day lies within the days that are entered."""
    return (not paper.first_day or parse_day(paper.first_day) <= day) and (
        not paper.last_day or day <= parse_day(paper.last_day)
    )
