"""Attested conditions: what no machine can judge, and a named person's word on it."""

from __future__ import annotations

from api.domain.conditions import Attested
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.hauls import trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.trips import Attestation, Trip
from api.domain.vocabulary import Outcome

_OUTCOMES: dict[str, Outcome] = {"kept": "met", "did not arise": "not used", "not kept": "broken"}


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of an attested condition by what was stated at each trip's close, or once."""
    condition = clause.condition
    if not isinstance(condition, Attested):
        return []
    trips = list(trips_for(facts, clause))
    if condition.per == "trip":
        return [_finding(facts, clause, f"trip {trip.id}", (trip.id,), _said(clause, [trip])) for trip in trips]
    if not trips:
        return []
    return [_finding(facts, clause, "whole term", tuple(trip.id for trip in trips), _said(clause, trips))]


def _said(clause: Clause, trips: list[Trip]) -> list[Attestation]:
    return [
        word
        for trip in trips
        for word in trip.attestations
        if word.authority == clause.authority.id and word.condition == clause.condition.number
    ]


def _finding(facts: Facts, clause: Clause, about: str, records: tuple[str, ...], said: list[Attestation]) -> Finding:
    """Take the last word said; one that was not kept is never outdone by a later one."""
    said = sorted((word for word in said if word.at <= facts.as_of), key=lambda word: word.at)
    if not said:
        return finding_for(
            clause,
            "open",
            about,
            f"No person has stated whether this was kept ({about}).",
            settle="A named person states that it was kept, or why not.",
            records=records,
        )
    word = next((one for one in said if one.kept == "not kept"), said[-1])
    name = facts.season.people.get(word.person, word.person)
    reason = f": {word.reason}" if word.reason else ""
    return finding_for(
        clause, _OUTCOMES[word.kept], about, f"{name} states: {word.kept}{reason} ({about}).", records=records
    )
