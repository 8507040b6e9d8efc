"""Gear: permitted kinds and their bounds, the number set at once, soak and checks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from fractions import Fraction
from itertools import pairwise

from api.domain.calendar import spoken_time
from api.domain.conditions import GearAllowed, GearRule
from api.domain.facts import Facts, HaulFact
from api.domain.measures import format_exact, parse_quantity
from api.domain.permits import Clause
from api.domain.reckoning.hauls import hauls_for, softened, worst
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome

Answer = tuple[Outcome, str]
"""An outcome with the words that say why; "" where there is nothing to say."""


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a gear condition over each haul and set."""
    condition = clause.condition
    if not isinstance(condition, GearRule):
        return []
    standing = _standing_sets(facts, clause)
    return [_finding(facts, clause, condition, fact, fit, standing) for fact, fit in hauls_for(facts, clause)]


def _standing_sets(facts: Facts, clause: Clause) -> list[HaulFact]:
    return [fact for fact in facts.hauls_under.get(clause.authority.id, ()) if fact.haul.kind == "set"]


def _finding(
    facts: Facts, clause: Clause, condition: GearRule, fact: HaulFact, fit: Fit, standing: list[HaulFact]
) -> Finding:
    outcome, why = _answer(facts, clause, condition, fact, standing)
    outcome = softened(outcome, fit)
    gear = fact.haul.gear.gear if fact.haul.gear else "gear not recorded"
    return finding_for(
        clause,
        outcome,
        f"haul {fact.haul.id}",
        f"Haul {fact.haul.id}, {gear}: {why or 'as permitted'}.",
        settle=f"Needs what is missing: {why}." if outcome == "open" else "",
        records=(fact.haul.id,),
        over=(fact.haul.id,) if outcome == "broken" else (),
    )


def _answer(facts: Facts, clause: Clause, condition: GearRule, fact: HaulFact, standing: list[HaulFact]) -> Answer:
    """Judge against each entry for this kind of gear; the best answer counts."""
    if fact.haul.gear is None:
        return "open", "the gear was not recorded"
    entries = [entry for entry in condition.gear if entry.gear.casefold() == fact.haul.gear.gear.casefold()]
    if not entries:
        named = ", ".join(dict.fromkeys(entry.gear for entry in condition.gear))
        return "broken", f"not among the permitted gear ({named})"
    answers = [_against(facts, clause, entry, fact, standing) for entry in entries]
    return min(answers, key=lambda answer: ("met", "open", "broken").index(answer[0]))


def _against(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact, standing: list[HaulFact]) -> Answer:
    parts = [
        *_bounds(entry, fact),
        *_marking(entry, fact),
        *_together(facts, entry, fact, standing),
        *_soak(facts, clause, entry, fact),
        *_checks(facts, clause, entry, fact),
    ]
    outcome = worst([part[0] for part in parts]) if parts else "met"
    return outcome, "; ".join(why for found, why in parts if found == outcome and why)


def _bounds(entry: GearAllowed, fact: HaulFact) -> Iterator[Answer]:
    use = fact.haul.gear
    if use is None:
        return
    for name, value, limit, largest in (
        ("length", use.length_mm, entry.length_max, True),
        ("mesh", use.mesh_mm, entry.mesh_max, True),
        ("mesh", use.mesh_mm, entry.mesh_min, False),
        ("opening", use.opening_mm, entry.opening_max, True),
    ):
        if limit:
            yield _bound(name, value, limit, largest=largest)


def _bound(name: str, value: Fraction | None, limit: str, *, largest: bool) -> Answer:
    words = f"{name} {'at most' if largest else 'at least'} {limit}"
    if value is None:
        return "open", f"the {name} was not recorded ({words})"
    exact = parse_quantity(limit).exact
    kept = value <= exact if largest else value >= exact
    return ("met", "") if kept else ("broken", f"{name} {format_exact(value, 1)} mm, {words} permitted")


def _marking(entry: GearAllowed, fact: HaulFact) -> Iterator[Answer]:
    if entry.marked and fact.haul.gear is not None:
        marked = fact.haul.gear.marked
        if marked is None:
            yield "open", "whether the gear bore its marking was not recorded"
        elif not marked:
            yield "broken", "the gear did not bear its marking"


def _together(facts: Facts, entry: GearAllowed, fact: HaulFact, standing: list[HaulFact]) -> Iterator[Answer]:
    """Count the gear of this kind that stood when this one was set, itself included."""
    use = fact.haul.gear
    if not entry.together or use is None:
        return
    number = use.number
    for other in standing:
        if other is fact or other.haul.gear is None or other.haul.gear.gear.casefold() != use.gear.casefold():
            continue
        if other.haul.lost or other.haul.start > fact.haul.start:
            continue
        # A set still out stood whenever this one was set, unless this one is still to be set.
        end = other.haul.end
        if fact.haul.start < end if end is not None else facts.is_over(fact.haul.start):
            number += other.haul.gear.number
    if number > entry.together:
        yield "broken", f"{number} in use at once, at most {entry.together} permitted"


def _soak(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact) -> Iterator[Answer]:
    if entry.soak_hours and fact.haul.kind == "set":
        yield _gap(facts, clause, fact, Fraction(entry.soak_hours), fact.haul.start, "soak", "lift")


def _gap(
    facts: Facts, clause: Clause, fact: HaulFact, allowed: Fraction, since: datetime, name: str, what: str
) -> Answer:
    """Judge one stretch from ``since`` to the set's lift, or to now for a set still out."""
    until = fact.haul.end
    out = until is None
    hours = Fraction(int(((until or facts.still()) - since).total_seconds()), 3600)
    words = f"{name} {format_exact(hours, 1)} h, at most {format_exact(allowed, 0)} h permitted"
    if out and fact.haul.lost:
        return "open", f"the {name} of lost gear is not known"
    if hours > allowed:
        return "broken", words
    if out:
        start = spoken_time(since, clause.authority.zone)
        return "open", f"still out since {start}; {what} within {format_exact(allowed, 0)} h of it"
    return "met", ""


def _checks(facts: Facts, clause: Clause, entry: GearAllowed, fact: HaulFact) -> Iterator[Answer]:
    """Judge the longest gap between setting, looks and lift."""
    if not entry.check_hours or fact.haul.kind != "set":
        return
    allowed = Fraction(entry.check_hours)
    moments = [fact.haul.start, *sorted(fact.haul.checks)]
    for first, second in pairwise(moments):
        hours = Fraction(int((second - first).total_seconds()), 3600)
        if hours > allowed:
            yield (
                "broken",
                f"{format_exact(hours, 1)} h between looks, at most {format_exact(allowed, 0)} h permitted",
            )
    yield _gap(facts, clause, fact, allowed, moments[-1], "time without a look", "look")
