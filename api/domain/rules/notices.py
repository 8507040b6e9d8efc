"""Notices: told to whom, how long before, by which channel, with what, and that it was called off."""

from __future__ import annotations

from datetime import datetime, timedelta
from fractions import Fraction

from api.domain.calendar import spoken_time
from api.domain.conditions import NoticeRule
from api.domain.facts import Facts, trip_start
from api.domain.measures import format_exact
from api.domain.permits import Clause
from api.domain.reckoning.hauls import summed_up, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Notice, Trip
from api.domain.vocabulary import Outcome

Answer = tuple[Outcome, str]


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a notice condition over each trip, planned and cancelled ones too."""
    condition = clause.condition
    if not isinstance(condition, NoticeRule):
        return []
    findings = []
    for trip, fit in trips_for(facts, clause, ("planned", "open", "closed", "cancelled")):
        sent = sorted(
            (
                notice
                for notice in facts.season.notices
                if notice.trip == trip.id and notice.authority == clause.authority.id and facts.has_come(notice.sent)
            ),
            key=lambda notice: (notice.sent, notice.id),
        )
        if trip.status == "cancelled":
            if any(not notice.cancels for notice in sent) and condition.cancellation_told:
                findings.append(_finding(clause, condition, trip, sent, _cancelled(facts, condition, sent), fit))
        else:
            findings.append(_finding(clause, condition, trip, sent, _told(facts, clause, condition, trip, sent), fit))
    return findings


def _cancelled(facts: Facts, condition: NoticeRule, sent: list[Notice]) -> list[Answer]:
    del facts
    answers: list[Answer] = []
    for recipient in condition.to:
        own = [notice for notice in sent if notice.to.casefold() == recipient.casefold()]
        if any(not notice.cancels for notice in own) and not any(notice.cancels for notice in own):
            answers.append(("broken", f"{recipient} was told of the trip but not that it was called off"))
    return answers


def _told(facts: Facts, clause: Clause, condition: NoticeRule, trip: Trip, sent: list[Notice]) -> list[Answer]:
    depart = trip_start(trip)
    if depart is None:
        return [("open", "when the trip departed was not recorded")]
    return [_recipient(facts, clause, condition, depart, _standing(sent, to), to) for to in condition.to]


def _standing(sent: list[Notice], to: str) -> list[Notice]:
    """Give the notices to one recipient that a later cancellation has not undone."""
    own = [notice for notice in sent if notice.to.casefold() == to.casefold()]
    undone = max((notice.sent for notice in own if notice.cancels), default=None)
    return [notice for notice in own if not notice.cancels and (undone is None or notice.sent > undone)]


def _recipient(
    facts: Facts, clause: Clause, condition: NoticeRule, depart: datetime, own: list[Notice], to: str
) -> Answer:
    """Judge the notices sent to one recipient; one good one suffices."""
    if not own:
        latest = depart - timedelta(hours=float(Fraction(condition.hours_before)))
        if not facts.is_over(latest):
            return "open", f"{to} to be told by {spoken_time(latest, clause.authority.zone)}"
        return "broken", f"no notice to {to} is recorded"
    answers = [_one(condition, depart, notice, to) for notice in own]
    return min(answers, key=lambda answer: ("met", "open", "broken").index(answer[0]))


def _one(condition: NoticeRule, depart: datetime, notice: Notice, to: str) -> Answer:
    lead = Fraction(int((depart - notice.sent).total_seconds()), 3600)
    hours = f"{format_exact(lead, 1)} h before"
    if lead < Fraction(condition.hours_before):
        return "broken", f"{to} told {hours}, at least {condition.hours_before} h needed"
    if condition.hours_before_max and lead > Fraction(condition.hours_before_max):
        return "broken", f"{to} told {hours}, at most {condition.hours_before_max} h permitted"
    if condition.channels and notice.channel and notice.channel not in condition.channels:
        return "broken", f"{to} told by {notice.channel}, not by {' or '.join(condition.channels)}"
    missing = [item for item in condition.content if item not in notice.content]
    if missing:
        return "broken", f"the notice to {to} does not tell {', '.join(missing)}"
    if condition.channels and not notice.channel:
        return "open", f"how {to} was told was not recorded"
    if condition.proof_kept and not notice.proof:
        return "open", f"no proof of the notice to {to} is kept"
    return "met", f"{to} told {hours}"


def _finding(
    clause: Clause, condition: NoticeRule, trip: Trip, sent: list[Notice], answers: list[Answer], fit: Fit
) -> Finding:
    del condition
    outcome, why = summed_up(answers, fit)
    return finding_for(
        clause,
        outcome,
        f"trip {trip.id}",
        f"Trip {trip.id}: {why or 'called off, and told so'}.",
        settle=f"Enter the notice: {why}." if outcome == "open" else "",
        records=(trip.id, *(notice.id for notice in sent)),
        over=(trip.id,) if outcome == "broken" else (),
    )
