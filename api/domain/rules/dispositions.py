"""Disposition: how animals may leave what is held, with whose consent, and vouchers by a date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from api.domain.calendar import end_of_day, parse_day, spoken_day
from api.domain.conditions import Disposition
from api.domain.counts import Count, total
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line
from api.domain.reckoning.hauls import softened
from api.domain.reckoning.holdings import GAINS
from api.domain.reckoning.tallies import shrunk
from api.domain.reckoning.wording import count_words
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import MAYBE, YES, Fit
from api.domain.trips import Movement
from api.domain.vocabulary import Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a disposition over each departure made while it held, and its vouchers."""
    condition = clause.condition
    if not isinstance(condition, Disposition):
        return []
    findings = departures(facts, clause, condition)
    if asks_vouchers(clause, condition):
        findings.append(vouchers_finding(facts, clause, condition, vouchers_given(facts, clause, condition)))
    return findings


def departures(facts: Facts, clause: Clause, condition: Disposition) -> list[Finding]:
    """Judge each departure made while the version held."""
    if not (condition.allowed or condition.barred or condition.consent_for):
        return []
    leaving = _leaving(facts, clause, condition)
    return [_finding(facts, clause, condition, movement, fit) for movement, fit in leaving]


def _leaving(facts: Facts, clause: Clause, condition: Disposition) -> list[tuple[Movement, Fit]]:
    found = []
    for movement in sorted(facts.season.movements, key=lambda one: (one.at, one.id)):
        entry = facts.lines_by_id.get(movement.line)
        if movement.what in GAINS or entry is None or entry.authority != clause.authority.id:
            continue
        fit = fit_line(facts, clause, condition.only, entry)
        if fit.possible and clause.holds_at(movement.at) and facts.has_come(movement.at):
            found.append((movement, fit))
    return found


def _finding(facts: Facts, clause: Clause, condition: Disposition, movement: Movement, fit: Fit) -> Finding:
    outcome: Outcome = "met"
    why = "as permitted"
    if (condition.allowed and movement.what not in condition.allowed) or movement.what in condition.barred:
        outcome, why = "broken", "not among the ways permitted"
    elif movement.what in condition.consent_for and not movement.consent:
        outcome, why = "open", "no reference of consent is recorded"
    some = YES if movement.count.low else MAYBE
    outcome = softened(outcome, fit & some)
    to = f" to {movement.to}" if movement.to else ""
    return finding_for(
        clause,
        outcome,
        f"movement {movement.id}",
        f"{count_words(movement.count, facts.lines_by_id[movement.line].line.unit)} of line {movement.line} {movement.what}{to}: {why}.",
        settle="Enter the reference of the consent, or a sure name." if outcome == "open" else "",
        records=(movement.id, movement.line),
        over=(movement.id,) if outcome == "broken" else (),
    )


def asks_vouchers(clause: Clause, condition: Disposition) -> bool:
    """Tell whether vouchers are asked, and this version is the one in force on the day by which they are due."""
    return bool(condition.vouchers) and clause.holds_at(
        end_of_day(parse_day(condition.vouchers_by), clause.authority.zone) - timedelta(seconds=1)
    )


def vouchers_given(facts: Facts, clause: Clause, condition: Disposition) -> list[tuple[Movement, Count]]:
    """Give the vouchers deposited in time, with how many of each count, in order of time."""
    due = end_of_day(parse_day(condition.vouchers_by), clause.authority.zone)
    given: list[tuple[Movement, Count]] = []
    for movement in sorted(facts.season.movements, key=lambda one: (one.at, one.id)):
        entry = facts.lines_by_id.get(movement.line)
        if movement.what != "voucher" or movement.at >= due or entry is None or not facts.has_come(movement.at):
            continue
        count = shrunk(movement.count, fit_line(facts, clause, condition.only, entry))
        if entry.authority == clause.authority.id and count.high:
            given.append((movement, count))
    return given


def vouchers_finding(
    facts: Facts, clause: Clause, condition: Disposition, given: Sequence[tuple[Movement, Count]]
) -> Finding:
    """Judge the number of vouchers deposited in time."""
    day = parse_day(condition.vouchers_by)
    due = end_of_day(day, clause.authority.zone)
    number: Count = total(count for _, count in given)
    outcome: Outcome = "met" if number.low >= condition.vouchers else "open"
    if outcome == "open" and not facts.has_come(due):
        outcome = "not used"
    elif number.high < condition.vouchers:
        outcome = "broken"
    return finding_for(
        clause,
        outcome,
        f"vouchers by {spoken_day(day)}",
        f"{count_words(number, 'individuals')} deposited as vouchers, {condition.vouchers} needed by {spoken_day(day)}.",
        settle="Needs an exact count of the vouchers." if outcome == "open" else "",
        records=tuple(movement.id for movement, _ in given),
        label="vouchers",
    )
