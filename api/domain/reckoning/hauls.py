"""Which hauls a condition speaks of, and how surely."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from api.domain.calendar import local_day
from api.domain.conditions import Only
from api.domain.facts import Facts, HaulFact, trip_start
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_haul, fit_taxa, fit_word, share_in_class
from api.domain.taxa import MAYBE, NO, YES, Fit
from api.domain.trips import Trip
from api.domain.vocabulary import Outcome

_LONGEST_SET_DAYS = 400
GRAVITY: tuple[Outcome, ...] = ("broken", "open", "met", "not used")


def hauls_for(facts: Facts, clause: Clause) -> Iterator[tuple[HaulFact, Fit]]:
    """Give the hauls under a clause's authority, caught while it held, that it may speak of."""
    only = clause.condition.only
    for fact in facts.hauls_under.get(clause.authority.id, ()):
        if not clause.holds_at(fact.at):
            continue
        fit = YES if only == Only() else fit_worked(facts, clause, fact)
        if fit.possible:
            yield fact, fit


def fit_worked(facts: Facts, clause: Clause, fact: HaulFact) -> Fit:
    """Tell how a haul fits everything that narrows a condition on hauls."""
    only = clause.condition.only
    fit = fit_haul(facts, clause, only, fact) & fit_kept(facts, only, fact)
    if only.persons:
        fit &= YES if (fact.haul.person or fact.trip.leader) in only.persons else NO
    return fit


def fit_kept(facts: Facts, only: Only, fact: HaulFact) -> Fit:
    """Tell whether a haul kept animals such as a condition is narrowed to."""
    if not (only.taxa or only.stages or only.sexes or only.size):
        return YES
    best = NO
    for line in fact.haul.lines:
        if line.fate != "kept" or not line.count.high:
            continue
        fit = YES if line.count.low else MAYBE
        fit &= fit_taxa(facts, line.identification, only.taxa)
        fit &= fit_word(line.stage, only.stages) & fit_word(line.sex, only.sexes)
        if only.size is not None:
            low, high = share_in_class(line, only.size)
            fit &= NO if high == 0 else YES if low else MAYBE
        best = Fit(best.certain or fit.certain, best.likely or fit.likely, best.possible or fit.possible)
    return best


def trips_for(
    facts: Facts,
    clause: Clause,
    statuses: tuple[str, ...] = ("open", "closed"),
    *,
    whenever: bool = False,
) -> Iterator[tuple[Trip, Fit]]:
    """Give the trips under a clause's authority that it may speak of: begun while it held, or ``whenever``."""
    only = clause.condition.only
    hauls: dict[str, list[HaulFact]] = {}
    if only != Only():
        for fact in facts.hauls_under.get(clause.authority.id, ()):
            hauls.setdefault(fact.trip.id, []).append(fact)
    for trip in facts.trips_under(clause.authority.id):
        at = trip_start(trip)
        if trip.status not in statuses or at is None or not (whenever or clause.holds_at(at)):
            continue
        fit = YES if only == Only() else fit_trip(facts, clause, trip, hauls.get(trip.id, []))
        if fit.possible:
            yield trip, fit


def fit_trip(facts: Facts, clause: Clause, trip: Trip, hauls: list[HaulFact]) -> Fit:
    """Tell how a trip fits what narrows a condition: as any of its hauls does, else as it departed."""
    only = clause.condition.only
    if hauls:
        fits = [fit_worked(facts, clause, fact) for fact in hauls]
        return Fit(any(f.certain for f in fits), any(f.likely for f in fits), any(f.possible for f in fits))
    day = local_day(trip_start(trip) or facts.still(), clause.authority.zone)
    if only.dates and not any(dates.holds(day) for dates in only.dates):
        return NO
    if only.persons and trip.leader not in only.persons:
        return NO
    told = Only(dates=only.dates, persons=only.persons)
    return YES if only == told else MAYBE


def worked_until(facts: Facts, fact: HaulFact) -> datetime:
    """Give until when a haul's gear was in the water; for a set still out, the moment of judging."""
    haul = fact.haul
    out = haul.kind == "set" and not haul.lost and haul.end is None
    return max(haul.start, haul.end or (facts.still() if out else haul.start))


def days_of(facts: Facts, fact: HaulFact, zone: str) -> list[date]:
    """Give every local day on which a haul's gear was in the water."""
    first, last = local_day(fact.haul.start, zone), local_day(worked_until(facts, fact), zone)
    return [first + timedelta(days=day) for day in range(min((last - first).days, _LONGEST_SET_DAYS) + 1)]


def softened(outcome: Outcome, fit: Fit) -> Outcome:
    """Leave open what would be broken but for a condition that only may apply."""
    return "open" if outcome == "broken" and not fit.certain else outcome


def worst(outcomes: list[Outcome]) -> Outcome:
    """Give the gravest of several outcomes: broken, then open, then met, then not used."""
    return min(outcomes, key=GRAVITY.index, default="not used")


def summed_up(answers: Iterable[tuple[Outcome, str]], fit: Fit) -> tuple[Outcome, str]:
    """Give the gravest of several answers with the words of all that are as grave; none: met, without words."""
    listed = list(answers)
    outcome = worst([answer[0] for answer in listed]) if listed else "met"
    why = "; ".join(words for found, words in listed if found == outcome and words)
    return softened(outcome, fit), why
