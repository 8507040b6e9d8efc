"""Reports: when each is due, and whether it was handed in by then and accepted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from api.domain.calendar import (
    end_of_day,
    local_day,
    on_day,
    parse_day,
    parse_month_day,
    permit_year_start,
    spoken_day,
    spoken_time,
)
from api.domain.conditions import ReportRule
from api.domain.facts import Facts
from api.domain.permits import Authority, Clause
from api.domain.reckoning.hauls import trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.trips import Filing
from api.domain.vocabulary import Outcome


@dataclass(frozen=True, slots=True)
class Duty:
    """One report owed: what it covers ("" for the whole), the last day in time, the last day it tells of.

    A filing that does not say what it covers counts once that last day is over.
    """

    covers: str
    due: date
    tells_until: date | None = None


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge the version of a report condition that stands now, for each report it asks."""
    condition = clause.condition
    if not isinstance(condition, ReportRule) or not facts.holds_now(clause):
        return []
    filings = [
        filing
        for filing in facts.season.filings
        if filing.authority == clause.authority.id
        and filing.condition in ("", clause.condition.number)
        and facts.has_come(filing.filed)
    ]
    return [_finding(facts, clause, condition, duty, filings) for duty in duties_of(facts, clause, condition)]


def duties_of(facts: Facts, clause: Clause, condition: ReportRule) -> list[Duty]:
    """Give each report that is owed and its due day, as the permit says it (no day is moved for a Sunday)."""
    authority = clause.authority
    last = parse_day(authority.last_day)
    match condition.due:
        case "days after end":
            return [Duty("", last + timedelta(days=condition.days))]
        case "printed date":
            return [Duty("", parse_day(condition.date))]
        case "date in year":
            day = on_day(parse_month_day(condition.date), last.year + condition.following_year)
            return [Duty("", day)]
        case "days after year":
            return [
                Duty(f"permit year to {end}", end + timedelta(days=condition.days), end) for end in year_ends(authority)
            ]
    return _after_trips(facts, clause, condition)


def _after_trips(facts: Facts, clause: Clause, condition: ReportRule) -> list[Duty]:
    """Give a report owed after each trip; without a nil report, only after trips with a haul under the authority."""
    worked = {fact.trip.id for fact in facts.hauls_under.get(clause.authority.id, ())}
    duties = []
    for trip, _ in trips_for(facts, clause, whenever=True):
        landed = max((haul.caught_at for haul in trip.hauls), default=trip.depart)
        end = trip.back or landed
        if end is not None and (condition.nil_report or trip.id in worked):
            day = local_day(end, clause.authority.zone)
            duties.append(Duty(trip.id, day + timedelta(days=condition.days), day - timedelta(days=1)))
    return duties


def year_ends(authority: Authority) -> list[date]:
    """Give the last day of each permit year of an authority's term; the term's own end closes the last."""
    starts = parse_month_day(authority.year_starts)
    first, last = parse_day(authority.first_day), parse_day(authority.last_day)
    ends = []
    begins = permit_year_start(first, starts)
    while begins <= last:
        following = on_day(starts, begins.year + 1)
        ends.append(min(following - timedelta(days=1), last))
        begins = following
    return ends


def _tells(filing: Filing, duty: Duty, zone: str) -> bool:
    if filing.covers or duty.tells_until is None:
        return filing.covers in ("", duty.covers)
    return filing.filed >= end_of_day(duty.tells_until, zone)


def _finding(facts: Facts, clause: Clause, condition: ReportRule, duty: Duty, filings: list[Filing]) -> Finding:
    zone = clause.authority.zone
    due = end_of_day(duty.due, zone)
    own = sorted((one for one in filings if _tells(one, duty, zone)), key=lambda one: (one.filed, one.id))
    what = f"Report{f' for {duty.covers}' if duty.covers else ''} due {spoken_day(duty.due)}"
    outcome: Outcome
    if not own:
        outcome = "broken" if facts.has_come(due) else "not used"
        left = (duty.due - local_day(facts.as_of, zone)).days
        why = "none handed in" if outcome == "broken" else f"not due yet, {left} days left"
        if outcome == "not used":
            facts.has_come(end_of_day(local_day(facts.as_of, zone), zone))
    elif own[0].filed >= due:
        outcome, why = "broken", f"handed in late, {spoken_time(own[0].filed, zone)}"
    elif condition.acceptance and own[-1].accepted is not True:
        outcome = "broken" if own[-1].accepted is False else "open"
        why = "not accepted by the agency" if outcome == "broken" else "the agency has not accepted it yet"
    else:
        outcome, why = "met", f"handed in {spoken_time(own[0].filed, zone)}"
    return finding_for(
        clause,
        outcome,
        what,
        f"{what}: {why}.",
        settle="Enter the agency's answer." if outcome == "open" else "",
        records=tuple(one.id for one in own),
    )
