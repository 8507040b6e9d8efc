"""Sums of catch lines by fate, plainly added, and how they are printed.

An estimate stays an estimate to the last table: a sum that holds one says how much of it was not counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from api.domain.counts import NOTHING, Amount, Count
from api.domain.facts import LineFact
from api.domain.measures import format_exact
from api.domain.reckoning.tallies import is_estimated
from reports.document import Cell

FATES = ("kept", "released", "dead", "lost")


@dataclass(frozen=True, slots=True)
class Sum:
    """One sum: low, best and high, and the part of best that nobody counted one by one."""

    count: Count = NOTHING
    estimated: Amount = 0


@dataclass(frozen=True, slots=True)
class CatchSums:
    """Sums by fate; ``handled`` is all of them."""

    handled: Sum
    kept: Sum
    released: Sum
    dead: Sum
    lost: Sum


def sum_of(entries: Iterable[LineFact]) -> Sum:
    """Add lines up."""
    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    estimated: Amount = 0
    for entry in entries:
        count = entry.line.count
        low, best, high = low + count.low, best + count.best, high + count.high
        if is_estimated(entry):
            estimated += count.best
    return Sum(Count(low, best, high), estimated)


def sums_by_fate(entries: list[LineFact]) -> CatchSums:
    """Add lines up by fate."""
    by_fate = {fate: sum_of(entry for entry in entries if entry.line.fate == fate) for fate in FATES}
    return CatchSums(sum_of(entries), **by_fate)


def number(amount: Amount) -> str:
    """Print an amount: whole numbers plainly, others to two places, "unknown" where nobody recorded it."""
    if amount == math.inf:
        return "unknown"
    if isinstance(amount, Fraction) and amount.denominator != 1:
        return format_exact(amount, 2)
    return str(int(amount))


def printed(total: Sum) -> str:
    """Print a sum: "212", or "212 (200 est.)" where part of it was estimated."""
    text = number(total.count.best)
    return f"{text} ({number(total.estimated)} est.)" if total.estimated else text


def ranged(count: Count) -> str:
    """Print a count that may be in doubt: "12", or "9 to 14"."""
    return number(count.best) if count.exact else f"{number(count.low)} to {number(count.high)}"


def sum_cell(total: Sum, key: str) -> Cell:
    """Give the keyed cell of a sum."""
    return Cell(printed(total), figure=key)
