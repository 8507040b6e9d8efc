"""Which authority a kept line should stand under: the one that breaks nothing and spares what is scarce.

A proposal only: the collector chooses, and a later move needs a correction with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from api.domain.counts import Amount
from api.domain.facts import Book, Facts
from api.domain.judge import Judgement, judge_facts
from api.domain.rules.finding import Finding
from api.domain.trips import Haul, Season, Trip

_MOST_TRIED = 512
"""Up to so many combinations are all tried; beyond, lines are placed one by one in order of capture."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """The authority proposed for each line without one, and why."""

    authority_of: dict[str, str]
    why: dict[str, str]


def propose(book: Book, season: Season, as_of_facts: Facts) -> Proposal:
    """Propose an authority for every kept line that stands under none but may stand under some.

    A trip's ``may_stand_under`` lists the candidates. Of all assignments the one is taken that leaves the
    fewest conditions broken, then open, then uses the smallest share of the limit it uses most.
    """
    choices = {
        entry.line.id: entry.haul.trip.may_stand_under
        for entry in as_of_facts.lines
        if not entry.authority and entry.haul.trip.may_stand_under and entry.line.fate == "kept"
    }
    if not choices:
        return Proposal({}, {})
    lines = list(choices)
    combinations = 1
    for options in choices.values():
        combinations *= len(options)
    if combinations <= _MOST_TRIED:
        tried = [dict(zip(lines, pick, strict=True)) for pick in product(*choices.values())]
        best = min(tried, key=lambda pick: _cost(book, season, as_of_facts, pick))
    else:
        best = _one_by_one(book, season, as_of_facts, choices)
    return Proposal(best, {line: _why(book, season, as_of_facts, best, line, choices[line]) for line in lines})


def assigned(season: Season, authority_of: dict[str, str]) -> Season:
    """Give the season with each of these lines under its authority; other lines are left alone."""
    return replace(season, trips=tuple(_trip(trip, authority_of) for trip in season.trips))


def _trip(trip: Trip, authority_of: dict[str, str]) -> Trip:
    if not any(line.id in authority_of for haul in trip.hauls for line in haul.lines):
        return trip
    return replace(trip, hauls=tuple(_haul(haul, authority_of) for haul in trip.hauls))


def _haul(haul: Haul, authority_of: dict[str, str]) -> Haul:
    lines = tuple(
        replace(line, authority=authority_of[line.id]) if line.id in authority_of else line for line in haul.lines
    )
    return replace(haul, lines=lines)


Cost = tuple[int, int, Fraction, Fraction]
"""Conditions broken, conditions open, share of the fullest limit used, sum of shares used."""


def _cost(book: Book, season: Season, facts: Facts, pick: dict[str, str]) -> Cost:
    judgement = _judged(book, season, facts, pick)
    outcomes = [answer.outcome for answer in judgement.answers]
    shares = [share for share in map(_share_used, judgement.findings) if share is not None]
    return (
        outcomes.count("broken"),
        outcomes.count("open"),
        max(shares, default=Fraction(0)),
        sum(shares, start=Fraction(0)),
    )


def _judged(book: Book, season: Season, facts: Facts, pick: dict[str, str]) -> Judgement:
    return judge_facts(Facts.of(book, assigned(season, pick), facts.as_of))


def _share_used(finding: Finding) -> Fraction | None:
    """Give the share of a limit used by what was taken, None where there is no such limit."""
    tally = finding.tally
    if finding.kind != "take limit" or tally is None or not tally.limit:
        return None
    taken: Amount = tally.after.high
    return Fraction(0) if taken == float("inf") else Fraction(taken) / Fraction(tally.limit)


def _one_by_one(book: Book, season: Season, facts: Facts, choices: dict[str, tuple[str, ...]]) -> dict[str, str]:
    placed: dict[str, str] = {}
    for line, options in choices.items():
        placed[line] = min(
            options,
            key=lambda option, line=line: _cost(book, season, facts, placed | {line: option}),  # type: ignore[misc]
        )
    return placed


def _why(book: Book, season: Season, facts: Facts, best: dict[str, str], line: str, options: Sequence[str]) -> str:
    """Say why a line's authority was proposed, against each other one it might stand under."""
    chosen = _cost(book, season, facts, best)
    reasons = []
    for option in options:
        if option == best[line]:
            continue
        other = _cost(book, season, facts, best | {line: option})
        if other[0] > chosen[0]:
            reasons.append(f"under {option} it would break {other[0] - chosen[0]} condition(s) more")
        elif other[1] > chosen[1]:
            reasons.append(f"under {option} it would leave {other[1] - chosen[1]} condition(s) more open")
        elif other[2:] > chosen[2:]:
            reasons.append(f"under {option} it would use more of what is scarce")
        else:
            reasons.append(f"under {option} it would be as good; listed first")
    return "; ".join(reasons) or "the only authority it may stand under"
