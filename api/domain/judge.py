"""The whole season against every condition of every authority: each answered, none passed over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from api.domain.calendar import parse_day, spoken_day
from api.domain.facts import Book, Facts
from api.domain.permits import Authority, Clause
from api.domain.reckoning.hauls import worked_until, worst
from api.domain.rules import (
    areas,
    attested,
    cleanings,
    dispositions,
    filings,
    gear,
    holding,
    hours,
    notices,
    papers,
    people,
    prohibited,
    seasons,
    share_limits,
    size_limits,
    stages,
    stops,
    take_limits,
)
from api.domain.rules.finding import Finding, finding_for
from api.domain.trips import Season
from api.domain.vocabulary import Outcome

Rule = Callable[[Facts, Clause], list[Finding]]

RULES: tuple[tuple[str, Rule], ...] = (
    ("take limit", take_limits.judge),
    ("share limit", share_limits.judge),
    ("size limit", size_limits.judge),
    ("stage and sex", stages.judge),
    ("prohibited taxon", prohibited.judge),
    ("gear", gear.judge),
    ("area", areas.judge),
    ("season", seasons.judge),
    ("time of day", hours.judge),
    ("people", people.judge),
    ("notice", notices.judge),
    ("encounter and stop", stops.judge),
    ("disposition", dispositions.judge),
    ("cleaning", cleanings.judge),
    ("report", filings.judge),
    ("papers", papers.judge),
    ("holding", holding.judge),
    ("attested", attested.judge),
)
"""Every kind of condition and the rule that judges it; a new kind is added here and nowhere else."""

_RULE_OF = dict(RULES)

TERM = "term"
"""The number under which the authority's own first and last day are judged."""


@dataclass(frozen=True, slots=True)
class Answer:
    """All findings on one condition number of one authority, and the gravest outcome among them."""

    authority: str
    number: str
    text: str
    kind: str
    outcome: Outcome
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Judgement:
    """The answers of every authority in its own order, as of a moment; ``unassigned`` lines stand under none."""

    as_of: datetime
    answers: tuple[Answer, ...]
    unassigned: tuple[str, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding, in order."""
        return tuple(finding for answer in self.answers for finding in answer.findings)

    @property
    def outcome(self) -> Outcome:
        """The gravest outcome of all; lines under no authority leave it open at best."""
        found = worst([answer.outcome for answer in self.answers])
        return worst([found, "open"]) if self.unassigned else found


def judge(book: Book, season: Season, as_of: datetime) -> Judgement:
    """Judge a season; ``as_of`` (UTC) is the moment that deadlines are held against.

    Raises ConflictingRecordsError where ids clash and KeyError for an area or group that is not given.
    """
    return judge_facts(Facts.of(book, season, as_of))


def judge_facts(facts: Facts) -> Judgement:
    """Judge a season that is laid out already."""
    answers: list[Answer] = []
    for authority in facts.book.authorities:
        answers.append(_term(facts, authority))
        answers.extend(_answer(facts, clauses) for clauses in facts.clauses[authority.id].values())
    known = {authority.id for authority in facts.book.authorities}
    stray = tuple(entry.line.id for entry in facts.lines if entry.authority not in known)
    return Judgement(facts.as_of, tuple(answers), stray)


def _answer(facts: Facts, clauses: tuple[Clause, ...]) -> Answer:
    findings = [finding for clause in clauses for finding in judge_clause(facts, clause)]
    latest = clauses[-1].condition
    if not findings:
        findings = [not_used(clauses[-1])]
    kind: str = latest.kind  # type: ignore[attr-defined]
    outcome = worst([finding.outcome for finding in findings])
    return Answer(clauses[-1].authority.id, latest.number, latest.text, kind, outcome, tuple(findings))


def not_used(clause: Clause) -> Finding:
    """Give the finding on a condition that no record touches."""
    return finding_for(clause, "not used", "", "No record touches this condition.")


def rule_of(clause: Clause) -> Rule:
    """Give the rule that judges a condition."""
    return _RULE_OF[clause.condition.kind]  # type: ignore[attr-defined]


def judge_clause(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one condition in one version."""
    return rule_of(clause)(facts, clause)


def _term(facts: Facts, authority: Authority) -> Answer:
    """Judge that every haul under an authority lies in its term, both end days included."""
    hauls = facts.hauls_under.get(authority.id, [])
    findings = outside_term(facts, authority) or [within_term(authority, len(hauls), [one.haul.id for one in hauls])]
    outcome = worst([one.outcome for one in findings])
    return Answer(authority.id, TERM, term_text(authority), TERM, outcome, tuple(findings))


def term_text(authority: Authority) -> str:
    """Give an authority's term in words."""
    first, last = parse_day(authority.first_day), parse_day(authority.last_day)
    return f"Valid from {spoken_day(first)} to {spoken_day(last)}, both days included."


def outside_term(facts: Facts, authority: Authority) -> list[Finding]:
    """Give a finding for each haul outside the term."""
    findings = []
    for fact in facts.hauls_under.get(authority.id, []):
        if fact.haul.start < authority.begins or worked_until(facts, fact) >= authority.ends:
            sentence = f"Haul {fact.haul.id} on {spoken_day(fact.day(authority.zone))} is outside the term."
            findings.append(_term_finding(authority, "broken", f"haul {fact.haul.id}", sentence, (fact.haul.id,)))
    return findings


def within_term(authority: Authority, number: int, hauls: Sequence[str]) -> Finding:
    """Give the one finding on so many hauls that all are within the term."""
    outcome: Outcome = "met" if number else "not used"
    sentence = f"{_hauls_words(number)} within the term." if number else "No record touches this condition."
    return _term_finding(authority, outcome, "whole term", sentence, hauls)


def _hauls_words(number: int) -> str:
    return "The one haul or set is" if number == 1 else f"{number} hauls and sets, all"


def _term_finding(authority: Authority, outcome: Outcome, about: str, sentence: str, records: Sequence[str]) -> Finding:
    return Finding(
        authority=authority.id,
        number=TERM,
        kind=TERM,
        version=1,
        outcome=outcome,
        about=about,
        sentence=sentence,
        records=records,
        over=records if outcome == "broken" else (),
    )
