"""Attested conditions: what no machine can judge, and a named person's word on it."""

from __future__ import annotations

from api.domain.conditions import Attested
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.hauls import softened, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import MAYBE, YES, Fit
from api.domain.trips import Attestation, Trip
from api.domain.vocabulary import Outcome

_GRAVITY = {"not kept": 0, "kept": 1, "did not arise": 2}
_OUTCOMES: dict[str, Outcome] = {"kept": "met", "did not arise": "not used", "not kept": "broken"}


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge an attested condition by what was stated at each trip's close, or once for the words in force now."""
    condition = clause.condition
    if not isinstance(condition, Attested):
        return []
    if condition.per == "trip":
        return [
            _finding(facts, clause, f"trip {trip.id}", (trip.id,), _said(clause, [trip]), fit)
            for trip, fit in trips_for(facts, clause)
        ]
    fits = list(trips_for(facts, clause, whenever=True))
    if not fits or not clause.holds_at(facts.as_of):
        return []
    trips = [trip for trip, _ in fits]
    sure = YES if any(fit.certain for _, fit in fits) else MAYBE
    return [_finding(facts, clause, "whole term", tuple(trip.id for trip in trips), _said(clause, trips), sure)]


def _said(clause: Clause, trips: list[Trip]) -> list[Attestation]:
    return [
        word
        for trip in trips
        for word in trip.attestations
        if word.authority == clause.authority.id and word.condition == clause.condition.number
    ]


def _finding(
    facts: Facts, clause: Clause, about: str, records: tuple[str, ...], said: list[Attestation], fit: Fit
) -> Finding:
    """Take the gravest word said: one "not kept" is not outdone by a later "kept", nor "kept" by "did not arise"."""
    said = sorted((word for word in said if word.at <= facts.as_of), key=lambda word: (_GRAVITY[word.kept], word.at))
    if not said:
        return finding_for(
            clause,
            "open",
            about,
            f"No person has stated whether this was kept ({about}).",
            settle="A named person states that it was kept, or why not.",
            records=records,
        )
    word = said[0]
    name = facts.season.people.get(word.person, word.person)
    reason = f": {word.reason}" if word.reason else ""
    outcome = softened(_OUTCOMES[word.kept], fit)
    return finding_for(
        clause,
        outcome,
        about,
        f"{name} states: {word.kept}{reason} ({about}).",
        settle="Needs what tells whether the condition speaks of this trip." if outcome == "open" else "",
        records=records,
    )
