"""Lay the engine's findings and the plain judge's keys side by side."""

from __future__ import annotations

import datetime as dt
from collections import Counter

from api.domain.facts import Book
from api.domain.judge import judge
from api.domain.rules.finding import Finding
from api.domain.trips import Season
from tests.oracle.plain_judge import plain_judge
from tests.oracle.seasons import seasons

_SHORT = ("day ", ": this trip", ": this haul", " days up to ")


def _says_nothing(finding: Finding) -> bool:
    """Whether a finding only tells that a short period had take before an amendment and none since.

    The rules ask for such a finding over months and longer; over a day or a trip they leave it open.
    """
    if finding.kind != "take limit" or finding.tally is None or finding.tally.here.high > 0:
        return False
    return any(word in finding.about for word in _SHORT) or finding.tally.before.high == 0


def key_of(finding: Finding, empty: frozenset[str] = frozenset()) -> tuple:
    """The part of a finding that both judges can give."""
    about: object = finding.about
    if finding.kind == "take limit" and finding.tally is not None:
        tally = finding.tally
        before, here = ((one.low, one.high) for one in (tally.before, tally.here))
        about = (tally.limit, tally.operator, before, here, frozenset(finding.records) - empty)
        if "held at " in finding.about:
            about = ("held", tally.limit, tally.operator)
    elif finding.kind in ("share limit", "size limit"):
        about = frozenset(finding.records)
    elif finding.kind == "encounter and stop":
        about = ("report" if finding.label == "report" else "stop", frozenset(finding.records))
    elif finding.kind == "cleaning":
        about = f"{finding.records[0]} to {finding.records[1]}"
    elif finding.kind == "holding":
        about = "holding"
    elif finding.kind == "disposition" and finding.label == "vouchers":
        about = "vouchers"
    return (finding.authority, finding.number, finding.version, finding.outcome, about)


def engine_keys(book: Book, season: Season, as_of: dt.datetime) -> dict[tuple[str, str], list[tuple]]:
    """The engine's answers as keys; a condition that nothing touched, and a term that was kept, have none."""
    found = {}
    lines = [line for trip in season.trips for haul in trip.hauls for line in haul.lines]
    empty = frozenset(line.id for line in lines if line.count.high == 0)
    for answer in judge(book, season, as_of).answers:
        keys = []
        for finding in answer.findings:
            if finding.about in ("", "whole term") and finding.kind == "term" and finding.outcome != "broken":
                continue
            if finding.about == "" and finding.outcome == "not used":
                continue
            if not _says_nothing(finding):
                keys.append(key_of(finding, empty))
        found[answer.authority, answer.number] = keys
    return found


def counted(keys: list[tuple]) -> Counter:
    """The keys with their numbers; two tallies of one limit with the same figures and records are one.

    A line whose site, water or container nobody recorded stands in each tally of its period: whether a place
    without a line of its own has a tally too makes no difference to any answer.
    """
    once = {key for key in keys if not isinstance(key[4], str)}
    return Counter(once) + Counter(key for key in keys if isinstance(key[4], str))


def differences(book: Book, season: Season, as_of: dt.datetime) -> list[str]:
    """Every key that only one of the two judges gave, as text; empty where they agree."""
    engine, plain = engine_keys(book, season, as_of), plain_judge(book, season, as_of)
    lines = []
    for where in sorted({*engine, *plain}):
        left, right = counted(engine.get(where, [])), counted(plain.get(where, []))
        lines += [f"only the engine: {key}" for key in (left - right).elements()]
        lines += [f"only the plain judge: {key}" for key in (right - left).elements()]
    return lines


def differences_of(seed: int) -> list[str]:
    return differences(*seasons(seed))
