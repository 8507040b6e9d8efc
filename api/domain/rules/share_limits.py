"""Share limits: a part of what was handled, judged from a smallest sample on.

Part and rest vary independently within their low and high, so the answer is certain only if it is the
same for every pair of true numbers that the record allows.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from api.domain.calendar import spoken_day
from api.domain.conditions import ShareLimit
from api.domain.counts import NOTHING, Amount, Count, within
from api.domain.facts import Facts, LineFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line, fit_taxa
from api.domain.reckoning.tallies import count_in, shrunk
from api.domain.reckoning.wording import amount_number, count_words
from api.domain.rules.finding import Finding, Tally, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a share limit over each haul, trip, site, day or the term."""
    condition = clause.condition
    if not isinstance(condition, ShareLimit):
        return []
    groups: dict[str, list[tuple[LineFact, Count, Count]]] = {}
    for entry in _lines(facts, clause, condition):
        fit = fit_line(facts, clause, condition.only, entry)
        fit &= fit_taxa(facts, entry.line.identification, condition.taxa)
        whole = shrunk(count_in(entry, "g" if condition.by == "weight" else "individuals"), fit)
        if whole.high:
            part, rest = _divided(facts, condition, entry, whole)
            groups.setdefault(_key(clause, condition, entry), []).append((entry, part, rest))
    return [_finding(clause, condition, about, members) for about, members in groups.items()]


def _lines(facts: Facts, clause: Clause, condition: ShareLimit) -> Iterable[LineFact]:
    lines = [entry for _, named in facts.lines_of((clause.authority.id,)) for entry in named]
    lines.sort(key=lambda entry: entry.order)
    return [
        entry
        for entry in lines
        if entry.line.fate in condition.whole_fates
        and clause.holds_at(entry.at)
        and (entry.line.unit == "individuals" or condition.by == "weight")
    ]


def _divided(facts: Facts, condition: ShareLimit, entry: LineFact, whole: Count) -> tuple[Count, Count]:
    """Divide a line into the part and the rest."""
    if entry.line.fate not in condition.part_fates:
        return NOTHING, whole
    fit: Fit = fit_taxa(facts, entry.line.identification, condition.part_taxa)
    if fit.certain:
        return whole, NOTHING
    if not fit.possible:
        return NOTHING, whole
    return whole.possible(nominal=fit.likely), Count(0, 0 if fit.likely else whole.best, whole.high)


def _key(clause: Clause, condition: ShareLimit, entry: LineFact) -> str:
    match condition.per:
        case "haul":
            return f"haul {entry.haul.haul.id}"
        case "trip":
            return f"trip {entry.haul.trip.id}"
        case "site":
            return f"site {entry.haul.haul.site or 'not recorded'}"
        case "day":
            return f"day {spoken_day(entry.day(clause.authority.zone))}"
    return "whole term"


def share_outcome(condition: ShareLimit, part: Count, rest: Count) -> Outcome:
    """Judge a part and a rest; exact for every pair of true numbers between low and high."""
    sample, percent = condition.smallest_sample, Fraction(condition.percent)
    if condition.by == "weight":
        sample = 0
    if part.high + rest.high < sample or part.high + rest.high == 0:
        return "not used"
    if part.low + rest.low >= sample and not _kept(condition, part.low, part.low + rest.high, percent):
        return "broken"
    least_whole = max(Fraction(sample), part.high + rest.low) if part.high != float("inf") else part.high
    return "met" if _kept(condition, part.high, least_whole, percent) else "open"


def _kept(condition: ShareLimit, part: Amount, whole: Amount, percent: Fraction) -> bool:
    if whole == 0:
        return True
    if part == float("inf"):
        return False
    if whole == float("inf"):
        return True
    return within(Fraction(part) * 100, percent * Fraction(whole), condition.operator)


def _finding(
    clause: Clause, condition: ShareLimit, about: str, members: list[tuple[LineFact, Count, Count]]
) -> Finding:
    part, rest = NOTHING, NOTHING
    for _, own_part, own_rest in members:
        part += own_part
        rest += own_rest
    outcome = share_outcome(condition, part, rest)
    whole_best = part.best + rest.best
    percent = Fraction(condition.percent)
    share = Fraction(part.best * 100) / Fraction(whole_best) if whole_best else Fraction(0)
    unit = "g" if condition.by == "weight" else "individuals"
    handled = Count(part.low + rest.low, whole_best, part.high + rest.high)
    sentence = (
        f"{_part_words(condition)} {count_words(part, unit)} of {count_words(handled, unit)} "
        f"({amount_number(Fraction(round(share * 10), 10))} %), "
        f"{condition.operator} {condition.percent} % allowed ({about})."
    )
    if outcome == "not used":
        sentence += f" Not judged below a sample of {condition.smallest_sample}."
    return finding_for(
        clause,
        outcome,
        about,
        sentence,
        settle="Needs exact counts, sure names or weights for the lines that decide." if outcome == "open" else "",
        records=tuple(entry.line.id for entry, _, _ in members),
        over=tuple(e.line.id for e, p, _ in members if p.high) if outcome in ("broken", "open") else (),
        near=outcome in ("met", "open") and share * 10 >= percent * 9,
        tally=_tally(condition, part, handled, percent),
    )


def _part_words(condition: ShareLimit) -> str:
    named = ", ".join(condition.part_taxa)
    return f"{' or '.join(condition.part_fates)} {named}".strip().capitalize()


def _tally(condition: ShareLimit, part: Count, handled: Count, percent: Fraction) -> Tally:
    """Give the numbers: the part against the limit's share of all that was handled."""
    allowed = percent * Fraction(handled.best) / 100
    room = max(Fraction(0), allowed - Fraction(part.best))
    unit = "g" if condition.by == "weight" else "individuals"
    return Tally(
        limit=allowed,
        operator=condition.operator,
        unit=unit,
        before=NOTHING,
        here=part,
        after=part,
        left=Count(room, room, room),
    )
