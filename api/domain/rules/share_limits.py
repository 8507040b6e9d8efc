"""Share limits: a part of what was handled, judged from a smallest sample on.

Part and rest vary independently within their low and high, so the answer is certain only if it is the
same for every pair of true numbers that the record allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from api.domain.calendar import spoken_day
from api.domain.conditions import Only, ShareLimit
from api.domain.counts import NOTHING, Amount, Count, total, within
from api.domain.facts import Facts, LineFact
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line, fit_taxa
from api.domain.reckoning.tallies import count_in, shrunk
from api.domain.reckoning.wording import amount_number, count_words
from api.domain.rules.finding import Finding, Tally, finding_for
from api.domain.taxa import Fit
from api.domain.vocabulary import Outcome


@dataclass(slots=True)
class Share:
    """A line's part, rest and whole in the unit of the share, and its number of individuals.

    ``own`` tells whether it was caught while the version held.
    """

    entry: LineFact
    part: Count
    rest: Count
    whole: Count
    number: Count
    own: bool

    def loosened(self) -> Share:
        """Give the same line as one that may not belong to the group at all."""
        counts = (self.part, self.rest, self.whole, self.number)
        part, rest, whole, number = (count.possible(nominal=False) for count in counts)
        return Share(self.entry, part, rest, whole, number, self.own)


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a share limit over each haul, trip, site, day or the term.

    A version reads its whole period by its own words; it answers for groups in which it has a line of its own.
    """
    condition = clause.condition
    if not isinstance(condition, ShareLimit):
        return []
    groups: dict[str, list[Share]] = {}
    for share in sorted(_shares(facts, clause, condition), key=lambda one: one.entry.order):
        groups.setdefault(group_of(clause, condition, share.entry), []).append(share)
    _spread(groups)
    return [
        _finding(clause, condition, about, members)
        for about, members in groups.items()
        if any(share.own for share in members)
    ]


NO_SITE = "site not recorded"


def _spread(groups: dict[str, list[Share]]) -> None:
    """Let lines of a site that was not recorded be possible ones of every site, and of one of their own."""
    loose = [share.loosened() for share in groups.get(NO_SITE, [])]
    if not loose:
        return
    for about, members in groups.items():
        if about != NO_SITE:
            members.extend(loose)
    groups[NO_SITE] = loose


def _shares(facts: Facts, clause: Clause, condition: ShareLimit) -> Iterator[Share]:
    """Give each line that counts in the whole, divided; lines after the version's end are not in it."""
    unit = "g" if condition.by == "weight" else "individuals"
    narrowed = condition.only != Only()
    for name, lines in facts.lines_of((clause.authority.id,)):
        named = fit_taxa(facts, name, condition.taxa)
        if not named.possible:
            continue
        for entry in lines:
            line = entry.line
            if line.fate not in condition.whole_fates or (clause.ends is not None and entry.at >= clause.ends):
                continue
            if line.unit != "individuals" and condition.by == "number":
                continue
            fit = named & fit_line(facts, clause, condition.only, entry) if narrowed else named
            whole = shrunk(count_in(entry, unit), fit)
            if whole.high:
                part, rest = _divided(facts, condition, entry, whole)
                yield Share(entry, part, rest, whole, shrunk(_number(entry), fit), clause.holds_at(entry.at))


def _number(entry: LineFact) -> Count:
    """Give a line's individuals; what was weighed only was at least one animal."""
    line = entry.line
    if line.unit == "individuals":
        return line.count
    return Count(1 if line.count.low else 0, 1 if line.count.best else 0, math.inf)


def _divided(facts: Facts, condition: ShareLimit, entry: LineFact, whole: Count) -> tuple[Count, Count]:
    """Divide a line into the part and the rest."""
    if entry.line.fate not in condition.part_fates:
        return NOTHING, whole
    if not condition.part_taxa:
        return whole, NOTHING
    fit: Fit = fit_taxa(facts, entry.name, condition.part_taxa)
    if fit.certain:
        return whole, NOTHING
    if not fit.possible:
        return NOTHING, whole
    return whole.possible(nominal=fit.likely), Count(0, 0 if fit.likely else whole.best, whole.high)


def group_of(clause: Clause, condition: ShareLimit, entry: LineFact) -> str:
    """Name the haul, trip, site, day or term with which a line is judged."""
    match condition.per:
        case "haul":
            return f"haul {entry.haul.haul.id}"
        case "trip":
            return f"trip {entry.haul.trip.id}"
        case "site":
            return f"site {entry.haul.haul.site}" if entry.haul.haul.site else NO_SITE
        case "day":
            return f"day {spoken_day(entry.day(clause.authority.zone))}"
    return "whole term"


def share_outcome(condition: ShareLimit, part: Count, rest: Count, whole: Count, number: Count) -> Outcome:
    """Judge a part and a rest of a whole; exact for every choice of true numbers between low and high.

    ``number`` is of individuals, which the smallest sample speaks of, whatever the share is measured by.
    """
    sample, percent = condition.smallest_sample, Fraction(condition.percent)
    if number.high < sample or whole.high == 0:
        return "not used"
    if number.low >= sample and not _kept(condition, part.low, part.low + rest.high, percent):
        return "broken"
    least_whole: Amount = part.high + rest.low
    if condition.by == "number" and part.high != float("inf"):
        least_whole = max(Fraction(sample), least_whole)
    return "met" if _kept(condition, part.high, least_whole, percent) else "open"


def _own_outcome(condition: ShareLimit, members: list[Share]) -> Outcome:
    """Judge the group; a version breaks a share only by what was caught while it held."""
    outcome = share_outcome(
        condition,
        total(share.part for share in members),
        total(share.rest for share in members),
        total(share.whole for share in members),
        total(share.number for share in members),
    )
    own = total(share.part for share in members if share.own)
    if outcome in ("broken", "open") and own.high == 0:
        return "met"
    return "open" if outcome == "broken" and own.low == 0 else outcome


def _kept(condition: ShareLimit, part: Amount, whole: Amount, percent: Fraction) -> bool:
    if whole == 0:
        return True
    if percent == 100 and condition.operator == "at most":
        return True
    if part == float("inf"):
        return False
    if whole == float("inf"):
        return percent > 0 or part == 0
    return within(Fraction(part) * 100, percent * Fraction(whole), condition.operator)


def _finding(clause: Clause, condition: ShareLimit, about: str, members: list[Share]) -> Finding:
    part = total(share.part for share in members)
    handled = total(share.whole for share in members)
    outcome = _own_outcome(condition, members)
    percent = Fraction(condition.percent)
    share = Fraction(part.best * 100) / Fraction(handled.best) if handled.best else Fraction(0)
    unit = "g" if condition.by == "weight" else "individuals"
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
        settle="Needs exact counts, sure names, sites or weights for the lines that decide."
        if outcome == "open"
        else "",
        records=tuple(one.entry.line.id for one in members),
        over=tuple(one.entry.line.id for one in members if one.part.high) if outcome in ("broken", "open") else (),
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
