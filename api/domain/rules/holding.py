"""Holding: animals still held after the authority's end, on a clock of their own."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from api.domain.calendar import end_of_day, parse_day, spoken_day
from api.domain.conditions import HoldingRule, Only
from api.domain.counts import NOTHING, Count
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line
from api.domain.reckoning.holdings import gains_for, held_after
from api.domain.reckoning.tallies import Entry, shrunk
from api.domain.reckoning.wording import count_words
from api.domain.rules.finding import Finding, finding_for
from api.domain.trips import Movement
from api.domain.vocabulary import Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge the version of a holding condition that stands now; before the authority's end it is not used."""
    condition = clause.condition
    if not isinstance(condition, HoldingRule) or not facts.holds_now(clause):
        return []
    entries = kept_entries(facts, clause)
    held, lines = held_now(facts, entries, gains_for(facts, clause))
    return [holding_finding(facts, clause, condition, held, lines)]


def holding_finding(facts: Facts, clause: Clause, condition: HoldingRule, held: Count, lines: Sequence[str]) -> Finding:
    """Judge what is held at the moment of judging, from these lines."""
    authority = clause.authority
    until = parse_day(authority.last_day) + timedelta(days=condition.days_after_end)
    numbers = f"{count_words(held, 'individuals')} held"
    if not facts.has_come(authority.ends):
        words = f"{numbers}; the authority ends after {spoken_day(parse_day(authority.last_day))}."
        return finding_for(clause, "not used", "holding after the end", words, records=lines)
    outcome, why = _after_end(facts, condition, held, not facts.has_come(end_of_day(until, authority.zone)))
    return finding_for(
        clause,
        outcome,
        "holding after the end",
        f"{numbers} after the end; allowed until {spoken_day(until)}: {why}.",
        settle="Needs a head-count of what is held." if outcome == "open" else "",
        records=lines,
        over=lines if outcome == "broken" else (),
    )


def kept_entries(facts: Facts, clause: Clause) -> list[Entry]:
    """Give the kept animals that a holding condition speaks of."""
    only = clause.condition.only
    entries = []
    for _, lines in facts.lines_of((clause.authority.id,)):
        for entry in lines:
            if entry.line.fate == "kept" and entry.line.unit == "individuals":
                count = entry.line.count
                if only != Only():
                    count = shrunk(count, fit_line(facts, clause, only, entry))
                if count.high:
                    entries.append(Entry(entry, count))
    return entries


def held_now(facts: Facts, entries: list[Entry], gained: list[tuple[Movement, Count]]) -> tuple[Count, tuple[str, ...]]:
    """Give what of these lines is held at the moment of judging, and the ids of lines that may be."""
    held: Count = NOTHING
    for moment in held_after(facts, entries, gained):
        if facts.has_come(moment.at):
            held = moment.held
    lines = tuple(entry.line.line.id for entry in entries if facts.has_come(entry.line.at))
    return held, lines


def _after_end(facts: Facts, condition: HoldingRule, held: Count, in_time: bool) -> tuple[Outcome, str]:
    if held.high == 0:
        return "met", "nothing is held"
    for other in facts.book.authorities:
        if other.id == condition.under and facts.has_come(other.begins) and not facts.has_come(other.ends):
            return "met", f"held under {other.number}"
    if in_time:
        return "met", "within the time allowed"
    return (
        ("broken", "no authority to hold them stands") if held.low else ("open", "whether any is held cannot be told")
    )
