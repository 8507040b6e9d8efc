"""Attested conditions: what no machine can judge, and a named person's word on it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from api.domain.conditions import Attested
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.hauls import GRAVITY, softened, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Attestation, Trip
from api.domain.vocabulary import Outcome

WHOLE_TERM = "whole term"

Said = tuple[Attestation, Outcome]
"""What a person stated, and what it makes of the condition."""

_OUTCOMES: dict[str, Outcome] = {"kept": "met", "did not arise": "not used", "not kept": "broken"}


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge an attested condition by what was stated at each trip's close, or once for the words in force now."""
    condition = clause.condition
    if not isinstance(condition, Attested):
        return []
    if condition.per == "trip":
        return [_finding(facts, f"trip {trip.id}", clause, [(trip, fit)]) for trip, fit in trips_for(facts, clause)]
    trips = list(trips_for(facts, clause, whenever=True))
    if not trips or not facts.holds_now(clause):
        return []
    return [_finding(facts, WHOLE_TERM, clause, trips)]


def said_on(facts: Facts, clause: Clause, trips: list[tuple[Trip, Fit]]) -> list[Said]:
    """Give what was stated on these trips with its outcome; on a trip that may not be meant, nothing is broken."""
    return [
        (word, softened(_OUTCOMES[word.kept], fit))
        for trip, fit in trips
        for word in trip.attestations
        if (word.authority, word.condition) == (clause.authority.id, clause.condition.number)
        and facts.has_come(word.at)
    ]


def _finding(facts: Facts, about: str, clause: Clause, trips: list[tuple[Trip, Fit]]) -> Finding:
    said = said_on(facts, clause, trips)
    gravest = min(said, key=gravity, default=None)
    return attested_finding(facts, about, clause, gravest, tuple(trip.id for trip, _ in trips))


def gravity(said: Said) -> tuple[int, datetime]:
    """Rank what was stated, the gravest first.

    One "not kept" is not outdone by a later "kept", nor "kept" by "did not arise".
    """
    return GRAVITY.index(said[1]), said[0].at


def attested_finding(facts: Facts, about: str, clause: Clause, said: Said | None, records: Sequence[str]) -> Finding:
    """Judge by the gravest word stated on these trips; None where nobody stated anything."""
    if said is None:
        return finding_for(
            clause,
            "open",
            about,
            f"No person has stated whether this was kept ({about}).",
            settle="A named person states that it was kept, or why not.",
            records=records,
        )
    word, outcome = said
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
