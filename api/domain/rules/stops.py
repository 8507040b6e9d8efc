"""Encounter and stop: deaths at which work stops, and who must be told."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from api.domain.calendar import parse_month_day, permit_year_start, spoken_day
from api.domain.conditions import Only, StopRule
from api.domain.counts import NOTHING, Amount, Count, total
from api.domain.facts import Facts, HaulFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line, fit_taxa
from api.domain.reckoning.reports import told
from api.domain.reckoning.tallies import shrunk
from api.domain.reckoning.wording import count_words
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import MAYBE
from api.domain.vocabulary import Outcome


@dataclass(slots=True)
class Run:
    """Deaths and survivors over one trip, day, site or term, haul by haul.

    ``hauls`` holds each haul with whether it surely belongs; ``own`` is set once the version itself has one.
    """

    dead: Count = NOTHING
    rest: Count = NOTHING
    records: list[str] = field(default_factory=list)
    hauls: list[tuple[HaulFact, bool]] = field(default_factory=list)
    own: bool = False
    reached: HaulFact | None = None
    maybe_reached: HaulFact | None = None


NO_SITE = "site not recorded"


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a stop condition over each of its periods in which such animals were handled.

    A version reads its whole period by its own words; it is broken only by a haul made while it held.
    """
    condition = clause.condition
    if not isinstance(condition, StopRule):
        return []
    hauls = [
        fact for fact in facts.hauls_under.get(clause.authority.id, ()) if clause.ends is None or fact.at < clause.ends
    ]
    keys = [group_of(clause, condition, fact) for fact in hauls]
    runs: dict[str, Run] = {key: Run() for key in keys}
    for fact, own in zip(hauls, keys, strict=True):
        # A haul of no recorded site may belong to any site.
        for key in runs if own == NO_SITE else (own,):
            _add(facts, clause, condition, fact, runs[key], sure=own != NO_SITE)
    return [
        finding
        for about, run in runs.items()
        if run.records and run.own
        for finding in _findings(facts, clause, condition, about, run)
    ]


def group_of(clause: Clause, condition: StopRule, fact: HaulFact) -> str:
    """Name the trip, day, site, permit year or term with which a haul is judged."""
    day = fact.day(clause.authority.zone)
    match condition.per:
        case "trip":
            return f"trip {fact.trip.id}"
        case "day":
            return f"day {spoken_day(day)}"
        case "site":
            return f"site {fact.haul.site}" if fact.haul.site else NO_SITE
        case "permit year":
            first = permit_year_start(day, parse_month_day(clause.authority.year_starts))
            return f"permit year from {spoken_day(first)}"
    return "whole term"


def _add(facts: Facts, clause: Clause, condition: StopRule, fact: HaulFact, run: Run, *, sure: bool) -> None:
    """Add a haul's dead and living to a run; one that may not belong adds to the high only."""
    run.hauls.append((fact, sure))
    dead, rest = [run.dead], [run.rest]
    for line in fact.haul.lines:
        entry = facts.lines_by_id[line.id]
        if entry.authority != clause.authority.id or line.unit != "individuals":
            continue
        fit = fit_taxa(facts, entry.name, condition.taxa)
        if condition.only != Only():
            fit &= fit_line(facts, clause, condition.only, entry)
        count = shrunk(line.count, fit if sure else fit & MAYBE)
        if count.high:
            run.records.append(line.id)
            (dead if line.fate == "dead" else rest).append(count)
    if len(dead) + len(rest) > 2:
        run.own = run.own or clause.holds_at(fact.at)
        run.dead, run.rest = total(dead), total(rest)
    if run.reached is None and reached_for_certain(condition, run.dead, run.rest):
        run.reached = fact
    if run.maybe_reached is None and reached_possibly(condition, run.dead, run.rest):
        run.maybe_reached = fact


def _at(value: Amount, mark: Amount, condition: StopRule) -> bool:
    return value >= mark if condition.reached == "at" else value > mark


def reached_for_certain(condition: StopRule, dead: Count, rest: Count) -> bool:
    """Tell whether even the fewest deaths reach the mark."""
    if condition.deaths and dead.low and _at(dead.low, condition.deaths, condition):
        return True
    if not condition.percent or dead.low + rest.low < condition.smallest_sample:
        return False
    whole = dead.low + rest.high
    if whole in (0, float("inf")):
        return False
    return bool(dead.low) and _at(Fraction(dead.low) * 100, Fraction(condition.percent) * Fraction(whole), condition)


def reached_possibly(condition: StopRule, dead: Count, rest: Count) -> bool:
    """Tell whether the most deaths could reach the mark."""
    if condition.deaths and dead.high and _at(dead.high, condition.deaths, condition):
        return True
    if not condition.percent or dead.high == 0 or dead.high + rest.high < condition.smallest_sample:
        return False
    if dead.high == float("inf"):
        return True
    whole = max(condition.smallest_sample, dead.high + rest.low)
    return _at(Fraction(dead.high) * 100, Fraction(condition.percent) * Fraction(whole), condition)


def _findings(facts: Facts, clause: Clause, condition: StopRule, about: str, run: Run) -> list[Finding]:
    died, handled = count_words(run.dead, "individuals"), count_words(run.dead + run.rest, "individuals")
    numbers = f"died {died} of {handled} handled"
    mark = _mark_words(condition)
    if run.maybe_reached is None:
        return [_one(clause, "met", about, f"{numbers}, stop at {mark} ({about}).", run)]
    findings = []
    if condition.stop:
        findings.append(_stopped(clause, about, run, f"{numbers}, stop at {mark} ({about})"))
    if condition.report_within_hours and clause.holds_at((run.reached or run.maybe_reached).at):
        findings.append(_told(facts, clause, condition, about, run))
    return findings or [_one(clause, "met", about, f"{numbers}, mark of {mark} reached ({about}).", run)]


def _mark_words(condition: StopRule) -> str:
    above = "more than " if condition.reached == "above" else ""
    marks = [f"{above}{condition.deaths} deaths"] if condition.deaths else []
    if condition.percent:
        marks.append(f"{above}{condition.percent} % of at least {condition.smallest_sample} handled")
    return " or ".join(marks)


def _later(clause: Clause, run: Run, mark: HaulFact | None, *, sure: bool) -> list[str]:
    """Give the hauls of this version begun once the one that reached the mark had been landed."""
    if mark is None:
        return []
    return [
        fact.haul.id
        for fact, belongs in run.hauls
        if fact is not mark and fact.haul.start >= mark.at and clause.holds_at(fact.at) and (belongs or not sure)
    ]


def _stopped(clause: Clause, about: str, run: Run, numbers: str) -> Finding:
    after = _later(clause, run, run.reached, sure=True)
    maybe_after = _later(clause, run, run.maybe_reached, sure=False)
    if after:
        return _one(
            clause, "broken", about, f"{numbers}: work went on with haul {', '.join(after)}.", run, tuple(after)
        )
    if maybe_after:
        words = f"{numbers}: it may have been reached before haul {', '.join(maybe_after)}."
        return _one(clause, "open", about, words, run, settle="Needs exact counts, sure names and sites of the dead.")
    return _one(clause, "met", about, f"{numbers}: no haul after it was reached.", run)


def _told(facts: Facts, clause: Clause, condition: StopRule, about: str, run: Run) -> Finding:
    """Judge the report against the first haul that may have reached the mark and the one that surely did."""
    first = run.maybe_reached
    if first is None:
        raise ValueError("a report is judged only where the mark may have been reached")
    marks = [mark for mark in (first, run.reached) if mark is not None]
    hours, to = condition.report_within_hours, condition.report_to
    states = [told(facts, clause.authority.id, _named_in(mark), to, mark.at, hours) for mark in marks]
    outcome: Outcome = "open"
    if states[0] == "in time":
        outcome = "met"
    elif run.reached is not None and states[-1] in ("late", "not told"):
        outcome = "broken"
    words = f"{condition.report_to} to be told within {hours} h of haul {marks[-1].haul.id}: {states[-1]} ({about})."
    settle = f"Tell {condition.report_to} and enter the report, or settle the count of the dead."
    return _one(
        clause, outcome, f"{about}, report", words, run, settle=settle if outcome == "open" else "", label="report"
    )


def _named_in(mark: HaulFact) -> frozenset[str]:
    """Give the records by which a report may name a haul: itself, its trip, its lines."""
    return frozenset({mark.haul.id, mark.trip.id, *(line.id for line in mark.haul.lines)})


def _one(
    clause: Clause,
    outcome: Outcome,
    about: str,
    sentence: str,
    run: Run,
    over: tuple[str, ...] = (),
    settle: str = "",
    label: str = "",
) -> Finding:
    return finding_for(
        clause, outcome, about, sentence, settle=settle, records=tuple(run.records), over=over, label=label
    )
