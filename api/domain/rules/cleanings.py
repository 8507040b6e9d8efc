"""Cleaning: gear cleaned by an accepted method between two waterbodies."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction
from itertools import pairwise

from api.domain.conditions import CleaningRule
from api.domain.facts import Facts, HaulFact
from api.domain.measures import format_exact
from api.domain.permits import Clause
from api.domain.reckoning.hauls import hauls_for, softened
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import MAYBE, Fit
from api.domain.trips import Cleaning
from api.domain.vocabulary import Outcome

Answer = tuple[Outcome, str]


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a cleaning condition at each haul in another water than the haul before it.

    The haul before may be under any authority: the water does not know which paper covered it.
    """
    condition = clause.condition
    if not isinstance(condition, CleaningRule):
        return []
    speaks = {fact.haul.id: fit for fact, fit in hauls_for(facts, clause)}
    cleanings = sorted(
        (cleaning for trip in facts.trips.values() for cleaning in trip.cleanings), key=lambda one: one.at
    )
    findings = []
    for before, fact in pairwise(sorted(facts.hauls, key=cast_order)):
        fit = speaks.get(fact.haul.id)
        if fit is not None:
            findings.extend(crossing(clause, condition, before, fact, fit, cleanings))
    return findings


def cast_order(fact: HaulFact) -> tuple[datetime, str]:
    """Give where a haul stands in the order in which gear went into the water."""
    return fact.haul.start, fact.haul.id


def crossing(
    clause: Clause,
    condition: CleaningRule,
    before: HaulFact,
    fact: HaulFact,
    fit: Fit,
    cleanings: Sequence[Cleaning],
) -> list[Finding]:
    """Judge one haul against the one before it; [] where both were in one water."""
    waters = before.haul.waterbody, fact.haul.waterbody
    if waters[0] == waters[1] and waters[0]:
        return []
    return [_finding(clause, condition, before, fact, fit if all(waters) else fit & MAYBE, cleanings)]


def _finding(
    clause: Clause,
    condition: CleaningRule,
    before: HaulFact,
    fact: HaulFact,
    fit: Fit,
    cleanings: Sequence[Cleaning],
) -> Finding:
    own = [one for one in cleanings if _between(one.at, before, fact)]
    answers = [_answer(condition, one) for one in own]
    outcome, why = min(answers, key=lambda answer: ("met", "open", "broken").index(answer[0]), default=("open", ""))
    outcome = softened(outcome, fit)
    waters = f"{before.haul.waterbody or 'a water not recorded'} to {fact.haul.waterbody or 'a water not recorded'}"
    return finding_for(
        clause,
        outcome,
        f"haul {fact.haul.id}",
        f"From {waters} before haul {fact.haul.id}: {why or 'no cleaning was recorded'}.",
        settle="Enter the cleaning (method, minutes) or that it was not done, and the waters."
        if outcome == "open"
        else "",
        records=(before.haul.id, fact.haul.id),
        over=(fact.haul.id,) if outcome == "broken" else (),
    )


def _between(at: datetime, before: HaulFact, fact: HaulFact) -> bool:
    """Tell whether a cleaning lies between two hauls: after the first had ended, where it had by then."""
    end = before.haul.end
    since = end if end is not None and end <= fact.haul.start else before.haul.start
    return since <= at <= fact.haul.start


def _answer(condition: CleaningRule, cleaning: Cleaning) -> Answer:
    """Judge one cleaning record."""
    if not cleaning.done:
        return "broken", f"gear was not cleaned{f' ({cleaning.note})' if cleaning.note else ''}"
    accepted = [method for method in condition.methods if method.method.casefold() == cleaning.method.casefold()]
    if not accepted:
        named = " or ".join(method.method for method in condition.methods)
        return "broken", f"cleaned by {cleaning.method}, not by {named}"
    if any(not method.minutes for method in accepted):
        return "met", f"cleaned by {cleaning.method}"
    needed = min(Fraction(method.minutes) for method in accepted)
    if cleaning.minutes is None:
        return "open", f"cleaned by {cleaning.method}, the minutes were not recorded"
    words = (
        f"cleaned by {cleaning.method} for {format_exact(cleaning.minutes, 0)} min, {format_exact(needed, 0)} needed"
    )
    return ("met" if cleaning.minutes >= needed else "broken"), words
