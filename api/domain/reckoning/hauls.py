"""Which hauls a condition speaks of, and how surely."""

from __future__ import annotations

from collections.abc import Iterator

from api.domain.conditions import Only
from api.domain.facts import Facts, HaulFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_haul, fit_taxa, fit_word
from api.domain.taxa import NO, YES, Fit
from api.domain.trips import Trip
from api.domain.vocabulary import Outcome

GRAVITY: tuple[Outcome, ...] = ("broken", "open", "met", "not used")


def hauls_for(facts: Facts, clause: Clause) -> Iterator[tuple[HaulFact, Fit]]:
    """Give the hauls under a clause's authority, caught while it held, that it may speak of."""
    only = clause.condition.only
    for fact in facts.hauls_under.get(clause.authority.id, ()):
        if not clause.holds_at(fact.at):
            continue
        fit = YES if only == Only() else fit_haul(facts, clause, only, fact) & fit_kept(facts, only, fact)
        if fit.possible:
            yield fact, fit


def fit_kept(facts: Facts, only: Only, fact: HaulFact) -> Fit:
    """Tell whether a haul kept (or killed) animals such as a condition is narrowed to."""
    if not (only.taxa or only.stages or only.sexes):
        return YES
    best = NO
    for line in fact.haul.lines:
        if line.fate not in ("kept", "dead"):
            continue
        fit = fit_taxa(facts, line.identification, only.taxa)
        fit &= fit_word(line.stage, only.stages) & fit_word(line.sex, only.sexes)
        best = Fit(best.certain or fit.certain, best.likely or fit.likely, best.possible or fit.possible)
    return best


def trips_for(facts: Facts, clause: Clause, statuses: tuple[str, ...] = ("open", "closed")) -> Iterator[Trip]:
    """Give the trips under a clause's authority that began while it held."""
    for trip in facts.trips_under(clause.authority.id):
        at = trip.depart or min((haul.start for haul in trip.hauls), default=None)
        if trip.status in statuses and at is not None and clause.holds_at(at):
            yield trip


def softened(outcome: Outcome, fit: Fit) -> Outcome:
    """Leave open what would be broken but for a condition that only may apply."""
    return "open" if outcome == "broken" and not fit.certain else outcome


def worst(outcomes: list[Outcome]) -> Outcome:
    """Give the gravest of several outcomes: broken, then open, then met, then not used."""
    return min(outcomes, key=GRAVITY.index, default="not used")
