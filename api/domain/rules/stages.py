"""Stages and sexes that must not be kept: egg-bearing females, juveniles, eggs."""

from __future__ import annotations

from api.domain.conditions import StageRule
from api.domain.facts import Facts, LineFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_some, fit_word
from api.domain.reckoning.wording import count_words
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import NO, YES, Fit
from api.domain.vocabulary import BASIS_FATES, Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a stage condition over each catch line of its animals."""
    condition = clause.condition
    if not isinstance(condition, StageRule):
        return []
    findings = []
    fates = BASIS_FATES[condition.counts]
    for name, lines in facts.lines_of((clause.authority.id,)):
        named = facts.book.taxa.fit(name, condition.taxa)
        if not named.possible:
            continue
        for entry in lines:
            if entry.line.fate in fates and clause.holds_at(entry.at) and entry.line.count.high:
                fit = named & fit_some(facts, clause, condition.only, entry)
                if fit.possible:
                    findings.append((entry.order, _finding(clause, condition, entry, fit)))
    return [finding for _, finding in sorted(findings, key=lambda pair: pair[0])]


def barred_fit(condition: StageRule, entry: LineFact) -> Fit:
    """Tell how surely a line's animals are of the barred stage and sex."""
    fit = fit_word(entry.line.stage, condition.stages) & fit_word(entry.line.sex, condition.sexes)
    unsaid = (condition.stages and not entry.line.stage) or (condition.sexes and not entry.line.sex)
    return NO if unsaid and condition.when_not_recorded == "is not" else fit


def _finding(clause: Clause, condition: StageRule, entry: LineFact, named: Fit) -> Finding:
    fit = named & barred_fit(condition, entry)
    some = YES if entry.line.count.low else Fit(certain=False, likely=False, possible=True)
    outcome: Outcome = "met"
    if (fit & some).certain:
        outcome = "broken"
    elif fit.possible:
        outcome = "open"
    line = entry.line
    recorded = " ".join(word for word in (line.stage, line.sex) if word) or "stage and sex not recorded"
    barred = ", ".join((*condition.stages, *condition.sexes))
    return finding_for(
        clause,
        outcome,
        f"line {line.id}",
        f"{line.taxon}: {line.fate} {count_words(line.count, line.unit)}, {recorded}; not to be {condition.counts}: {barred}.",
        settle="Needs the stage or sex, and a sure name, of these animals." if outcome == "open" else "",
        records=(line.id,),
        over=(line.id,) if outcome != "met" else (),
    )
