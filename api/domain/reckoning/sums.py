"""Sums of a tally's lines that can be added to and taken from, so that one more haul needs no count anew."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from api.domain.counts import Amount, Count
from api.domain.reckoning.tallies import Entry, is_estimated


@dataclass(slots=True)
class Sums:
    """What a finding needs to know of a set of lines: their sum, and how sure it is.

    ``high`` leaves out the ``unbounded`` lines, of which nobody knows the most. ``doubtful`` lines may not
    belong at all; of ``inexact`` ones the number itself is not sure. All numbers are exact, so that what was
    added can be taken off again.
    """

    lines: int = 0
    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    unbounded: int = 0
    estimated: Amount = 0
    doubtful: int = 0
    inexact: int = 0

    @classmethod
    def of(cls, entries: Iterable[Entry]) -> Sums:
        """Sum lines up."""
        sums = cls()
        for entry in entries:
            sums.add(entry)
        return sums

    @property
    def count(self) -> Count:
        """The sum as low, best and high."""
        return Count(self.low, self.best, math.inf if self.unbounded else self.high)

    def add(self, entry: Entry) -> None:
        """Add a line."""
        self._put(entry, 1)

    def take_off(self, entry: Entry) -> None:
        """Take a line off that was added before."""
        self._put(entry, -1)

    def _put(self, entry: Entry, sign: int) -> None:
        count = entry.count
        self.lines += sign
        self.low += sign * count.low
        self.best += sign * count.best
        if count.high == math.inf:
            self.unbounded += sign
        else:
            self.high += sign * count.high
        if is_estimated(entry.line):
            self.estimated += sign * count.best
        self.doubtful += sign * (count.low == 0)
        self.inexact += sign * (not entry.line.line.count.exact)

    def __iadd__(self, other: Sums) -> Self:
        self.lines += other.lines
        self.low += other.low
        self.best += other.best
        self.high += other.high
        self.unbounded += other.unbounded
        self.estimated += other.estimated
        self.doubtful += other.doubtful
        self.inexact += other.inexact
        return self

    def possible(self) -> Sums:
        """Give the same lines as ones that may not belong, and most likely do not."""
        return Sums(self.lines, 0, 0, self.high, self.unbounded, 0, self.lines, self.inexact)
