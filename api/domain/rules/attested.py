"""Attested conditions: what no machine can judge, and a named person's word on it."""

from __future__ import annotations

from api.domain.conditions import Attested
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.hauls import GRAVITY, softened, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Attestation, Trip
from api.domain.vocabulary import Outcome

_OUTCOMES: dict[str, Outcome] = {"kept": "met", "did not arise": "not used", "not kept": "broken"}


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge an attested condition by what was stated at each trip's close, or once for the words in force now."""
    condition = clause.condition
    if not isinstance(condition, Attested):
        return []
    if condition.per == "trip":
        return [_finding(facts, f"trip {trip.id}", clause, [(trip, fit)]) for trip, fit in trips_for(facts, clause)]
    trips = list(trips_for(facts, clause, whenever=True))
    if not trips or not clause.holds_at(facts.as_of):
        return []
    return [_finding(facts, "whole term", clause, trips)]


def _said(facts: Facts, clause: Clause, trips: list[tuple[Trip, Fit]]) -> list[tuple[Attestation, Outcome]]:
    """Give what was stated on these trips with its outcome; on a trip that may not be meant, nothing is broken."""
    return [
        (word, softened(_OUTCOMES[word.kept], fit))
        for trip, fit in trips
        for word in trip.attestations
        if (word.authority, word.condition) == (clause.authority.id, clause.condition.number) and word.at <= facts.as_of
    ]


def _finding(facts: Facts, about: str, clause: Clause, trips: list[tuple[Trip, Fit]]) -> Finding:
    """Take the gravest word said: one "not kept" is not outdone by a later "kept", nor "kept" by "did not arise"."""
    records = tuple(trip.id for trip, _ in trips)
    said = _said(facts, clause, trips)
    if not said:
        return finding_for(
            clause,
            "open",
            about,
            f"No person has stated whether this was kept ({about}).",
            settle="A named person states that it was kept, or why not.",
            records=records,
        )
    word, outcome = min(said, key=lambda pair: (GRAVITY.index(pair[1]), pair[0].at))
    name = facts.season.people.get(word.person, word.person)
    reason = f": {word.reason}" if word.reason else ""
    return finding_for(
        clause,
        outcome,
        about,
        f"{name} states: {word.kept}{reason} ({about}).",
        settle="Needs what tells whether the condition speaks of this trip." if outcome == "open" else "",
        records=records,
    )
