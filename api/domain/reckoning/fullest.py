"""Which tally of a limit stands for it, how full it is, and the order in which tallies are read.

The report and the desk show the same period and the same per cents because both ask here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from fractions import Fraction

from api.domain.counts import Amount
from api.domain.rules.finding import Finding, Tally
from api.domain.vocabulary import Outcome

_GRAVITY: tuple[Outcome, ...] = ("not used", "met", "open", "broken")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAY = re.compile(rf"\b(\d{{1,2}}) ({'|'.join(_MONTHS)}) (\d{{4}})\b")
_MONTH = re.compile(rf"\b({'|'.join(_MONTHS)})[a-z]* (\d{{4}})\b")
_NUMBER = re.compile(r"(\d+)")
_DIGITS = 12


def weight(finding: Finding) -> tuple[int, Amount]:
    """Rank a finding with a tally: the gravest first, then the fullest by what may have been taken at most."""
    tally = finding.tally
    if tally is None:
        return 0, 0
    high = tally.after.high
    full = high if high == math.inf or not tally.limit else Fraction(high) / Fraction(tally.limit)
    return _GRAVITY.index(finding.outcome), full


def fullest_of_each(findings: Iterable[Finding]) -> dict[str, Finding]:
    """Give for each limit of a condition (by its label) the tally that stands for it: the gravest, then the fullest.

    Of equals the one that is read first stands, so that it hangs on no order in which records came.
    """
    found: dict[str, Finding] = {}
    for finding in findings:
        if finding.tally is None:
            continue
        held = found.get(finding.label)
        if held is None or _before(finding, held):
            found[finding.label] = finding
    return found


def standing_for(findings: Sequence[Finding]) -> list[int]:
    """Give the places of the tallies that stand for the limits of a condition, the one for the whole of it first."""
    chosen = sorted(fullest_of_each(findings).values(), key=reading_order)
    # Sorting keeps equals as they are, so of those the first in reading order stays first.
    return [findings.index(one) for one in sorted(chosen, key=weight, reverse=True)]


def _before(finding: Finding, held: Finding) -> bool:
    mine, its = weight(finding), weight(held)
    return mine > its or (mine == its and reading_order(finding) < reading_order(held))


def used(tally: Tally) -> tuple[int | None, int | None]:
    """Give the least and the most of a limit that is used, in whole per cent; None where there is no telling.

    Rounded to the nearest, a half to the even number; but nothing short of a limit reads as all of it, and nothing
    beyond it as no more.
    """
    if not tally.limit:
        return None, None
    high = tally.after.high
    return _per_cent(tally.after.low, tally.limit), None if high == math.inf else _per_cent(high, tally.limit)


def _per_cent(amount: Amount, limit: Amount) -> int:
    share = 100 * Fraction(amount) / Fraction(limit)
    nearest = round(share)
    if share < 100:
        return min(nearest, 99)
    return max(nearest, 101) if share > 100 else nearest


def reading_order(finding: Finding) -> tuple[int, str, list[str], str]:
    """Order findings by version, limit and what they are about: days as days, numbers as numbers."""
    return finding.version, _numbered(finding.label), _parts(finding.about), finding.sentence


def _parts(about: str) -> list[str]:
    dated = _DAY.sub(lambda found: f"{found[3]} {_place(found[2])} {int(found[1]):02}", about)
    dated = _MONTH.sub(lambda found: f"{found[2]} {_place(found[1])}", dated)
    return [part.zfill(_DIGITS) for part in _NUMBER.split(dated)]


def _numbered(text: str) -> str:
    return "".join(part.zfill(_DIGITS) if part.isdigit() else part for part in _NUMBER.split(text))


def _place(month: str) -> str:
    return f"{_MONTHS.index(month) + 1:02}"
