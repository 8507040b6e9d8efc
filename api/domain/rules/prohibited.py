"""Taxa that must not be kept or handled, and the clock that starts when one is met."""

from __future__ import annotations

from datetime import timedelta

from api.domain.calendar import spoken_time
from api.domain.conditions import Prohibited
from api.domain.facts import Facts, LineFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_name, fit_some
from api.domain.reckoning.reports import Told, told
from api.domain.reckoning.wording import count_words
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import BASIS_FATES, Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a prohibition over each catch line that is, or may be, of its taxa."""
    condition = clause.condition
    if not isinstance(condition, Prohibited):
        return []
    findings = []
    for name, lines in facts.lines_of((clause.authority.id,)):
        named = fit_name(facts, clause, name)
        if not named.possible:
            continue
        for entry in lines:
            if clause.holds_at(entry.at) and entry.line.count.high:
                fit = named & fit_some(facts, clause, condition.only, entry)
                if fit.possible:
                    findings.append((entry.order, _findings(facts, clause, condition, entry, fit)))
    return [finding for _, pair in sorted(findings, key=lambda item: item[0]) for finding in pair]


def _findings(facts: Facts, clause: Clause, condition: Prohibited, entry: LineFact, fit: Fit) -> tuple[Finding, ...]:
    taken = _taken(clause, condition, entry, fit)
    if not condition.report_within_hours:
        return (taken,)
    return taken, _reported(facts, clause, condition, entry, fit)


def _taken(clause: Clause, condition: Prohibited, entry: LineFact, fit: Fit) -> Finding:
    line = entry.line
    outcome: Outcome = "met"
    if line.fate in BASIS_FATES[condition.counts]:
        outcome = "broken" if fit.certain and line.count.low else "open"
    sure = "" if fit.certain else " (may be one of the taxa named)"
    return finding_for(
        clause,
        outcome,
        f"line {line.id}",
        f"{line.taxon}{sure}: {line.fate} {count_words(line.count, line.unit)}; none may be {condition.counts}.",
        settle="Needs a sure name (photo or specimen) for this line." if outcome == "open" else "",
        records=(line.id,),
        over=(line.id,) if outcome != "met" else (),
    )


_TOLD: dict[Told, Outcome] = {"in time": "met", "late": "broken", "not told": "broken", "not yet due": "open"}


def _reported(facts: Facts, clause: Clause, condition: Prohibited, entry: LineFact, fit: Fit) -> Finding:
    haul = entry.haul
    about = frozenset({entry.line.id, haul.haul.id, haul.trip.id})
    state = told(facts, clause.authority.id, about, condition.report_to, entry.at, condition.report_within_hours)
    outcome = _TOLD[state]
    if outcome == "broken" and not (fit.certain and entry.line.count.low):
        outcome = "open"
    until = spoken_time(entry.at + timedelta(hours=condition.report_within_hours), clause.authority.zone)
    return finding_for(
        clause,
        outcome,
        f"report of line {entry.line.id}",
        f"{entry.line.taxon}: {condition.report_to} to be told by {until}: {state}.",
        settle=f"Tell {condition.report_to} and enter the report, or settle the name." if outcome == "open" else "",
        records=(entry.line.id,),
        over=(entry.line.id,) if outcome == "broken" else (),
        label="report",
    )
