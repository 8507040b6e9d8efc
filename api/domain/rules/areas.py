"""Areas: inside the permitted ones, outside the closed ones, far enough from a feature."""

from __future__ import annotations

from dataclasses import dataclass

from api.domain.conditions import AreaRule
from api.domain.facts import Facts, HaulFact
from api.domain.measures import parse_quantity
from api.domain.permits import Clause
from api.domain.places.answers import PathAnswer
from api.domain.places.areas import distance_to_m
from api.domain.reckoning.hauls import GRAVITY, days_of, hauls_for, softened
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome


@dataclass(frozen=True, slots=True)
class Place:
    """How one haul lies: the outcome, in words, with the distances that say so."""

    outcome: Outcome
    words: str
    measured: tuple[tuple[str, str], ...] = ()


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of an area condition over each haul in its season."""
    condition = clause.condition
    if not isinstance(condition, AreaRule):
        return []
    findings = []
    for fact, fit in hauls_for(facts, clause):
        if condition.dates:
            days = days_of(facts, fact, clause.authority.zone)
            if not any(dates.holds(day) for day in days for dates in condition.dates):
                continue
        findings.append(_finding(clause, fact, fit, _place(facts, condition, fact)))
    return findings


def _place(facts: Facts, condition: AreaRule, fact: HaulFact) -> Place:
    if not fact.haul.fixes:
        site = facts.season.sites.get(fact.haul.site, fact.haul.site)
        where = f" (named place: {site})" if site else ""
        return Place("open", f"no position was recorded{where}")
    if condition.where == "inside":
        answer = facts.place_together(fact, condition.areas)
        outcome: Outcome = "met" if answer.whole == "inside" else "open"
        return _worded("broken" if answer.leaves_for_certain else outcome, answer, "the permitted area")
    places = [_apart(facts, condition, fact, area) for area in condition.areas]
    return min(places, key=lambda place: GRAVITY.index(place.outcome))


def _apart(facts: Facts, condition: AreaRule, fact: HaulFact, area: str) -> Place:
    """Judge one closed area, or the distance from one feature."""
    name = facts.book.areas[area].name or area
    if condition.where == "outside":
        answer = facts.place(fact, area)
        if answer is None:
            return Place("open", "no position was recorded")
        outcome: Outcome = "met" if answer.whole == "outside" else "open"
        return _worded("broken" if answer.enters_for_certain else outcome, answer, name)
    needed = float(parse_quantity(condition.distance).exact) / 1000
    far = facts.far_gap(fact, area, needed)
    if far is not None:
        measured = ((f"distance to {name}", f"over {far:.0f} m"),)
        return Place("met", f"over {far:.0f} m from {name}, at least {condition.distance} to be kept", measured)
    gap = distance_to_m(facts.book.areas[area], fact.haul.fixes)
    measured = ((f"distance to {name}", f"{gap.best_m:.1f} m"),)
    words = f"{gap.best_m:.0f} m from {name}, at least {condition.distance} to be kept"
    if gap.low_m is None or gap.high_m is None:
        return Place("open", f"{words}; the position has no radius", measured)
    if gap.high_m < needed:
        return Place("broken", words, measured)
    if gap.low_m >= needed:
        return Place("met", words, measured)
    return Place("open", f"{words}; it may be {gap.low_m:.0f} to {gap.high_m:.0f} m", measured)


def _worded(outcome: Outcome, answer: PathAnswer, name: str) -> Place:
    """Tell a haul's place in metres to the edge."""
    distance = answer.distance_m
    side = "inside" if distance >= 0 else "outside"
    over = "over " if answer.far else ""
    words = f"{over}{abs(distance):.0f} m {side} the edge of {name}"
    if answer.whole == "cannot tell" and answer.greatest_m > 0 > answer.least_m:
        words = f"from {answer.greatest_m:.0f} m inside to {-answer.least_m:.0f} m outside the edge of {name}"
    measured = [("signed distance to the edge", f"{over}{distance:.1f} m")]
    if answer.radius_m is None:
        words += "; the position has no radius"
    else:
        measured.append(("radius (95 %)", f"{answer.radius_m:.1f} m"))
        words += f", position good to {answer.radius_m:.0f} m"
    if answer.probability_inside is not None and outcome == "open":
        measured.append(("probability of being inside", f"{answer.probability_inside:.2f}"))
        words += f", inside with a probability of {answer.probability_inside:.0%}".replace("%", " %")
    return Place(outcome, words, tuple(measured))


def _finding(clause: Clause, fact: HaulFact, fit: Fit, place: Place) -> Finding:
    outcome = softened(place.outcome, fit)
    return finding_for(
        clause,
        outcome,
        f"haul {fact.haul.id}",
        f"Haul {fact.haul.id}: {place.words}.",
        settle="Needs a position (or a better one), a landmark photo, or the gear and place it hangs on."
        if outcome == "open"
        else "",
        records=(fact.haul.id,),
        over=(fact.haul.id,) if outcome == "broken" else (),
        measured=place.measured,
    )
