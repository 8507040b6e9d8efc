"""Low, best and high: numbers that say how sure they are.

An exact count has all three equal. Amounts are whole numbers of individuals or exact fractions of a
base unit (gram, litre); an amount nobody recorded has ``math.inf`` as its high.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from api.domain.vocabulary import Operator, Outcome

Amount = int | Fraction | float
"""``int`` or ``Fraction``; the only ``float`` ever used is ``math.inf``."""


@dataclass(frozen=True, slots=True)
class Count:
    """An amount between ``low`` and ``high``, most likely ``best`` (0 <= low <= best <= high).

    Raises ValueError when the three are out of order or negative.
    """

    low: Amount
    best: Amount
    high: Amount

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.best <= self.high:
            raise ValueError(
                f"a count needs 0 <= low <= best <= high, got low {self.low}, best {self.best}, high {self.high}"
            )

    def __add__(self, other: Count) -> Count:
        return Count(self.low + other.low, self.best + other.best, self.high + other.high)

    @property
    def exact(self) -> bool:
        """Whether low, best and high are one number."""
        return self.low == self.high

    def possible(self, *, nominal: bool) -> Count:
        """Give this count as something that may not belong: low 0, best kept only if ``nominal``."""
        return Count(0, self.best if nominal else 0, self.high)


NOTHING = Count(0, 0, 0)
UNKNOWN = Count(0, 0, math.inf)


def exactly(amount: Amount) -> Count:
    """Give the exact count of ``amount``."""
    return Count(amount, amount, amount)


def total(counts: Iterable[Count]) -> Count:
    """Sum counts bound by bound."""
    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    for count in counts:
        low += count.low
        best += count.best
        high += count.high
    return Count(low, best, high)


def spanned(first: Count, second: Count) -> Count:
    """Give the count that is one of two, nobody knows which."""
    return Count(min(first.low, second.low), min(first.best, second.best), max(first.high, second.high))


def within(amount: Amount, limit: Amount, operator: Operator) -> bool:
    """Tell whether one certain amount keeps the limit."""
    return amount <= limit if operator == "at most" else amount < limit


def outcome_of(before: Count, here: Count, limit: Amount, operator: Operator) -> Outcome:
    """Judge what was taken ``here`` on top of what stood ``before`` against a limit.

    *Broken* needs it for certain: something was taken and even the low sum is over. A tally that stood
    over a lowered limit already, with nothing taken since, breaks nothing.
    """
    after = before + here
    if here.high == 0 or within(after.high, limit, operator):
        return "met"
    if here.low > 0 and not within(after.low, limit, operator):
        return "broken"
    return "open"


def left_of(after: Count, limit: Amount, operator: Operator, *, whole: bool = True) -> Count:
    """Give how much may still be taken: low if the most was taken, high if the least; never below 0.

    Under "fewer than", of what comes in ``whole`` animals one less than the room may be taken; of litres
    and grams anything short of the room.
    """

    def left(taken: Amount) -> Amount:
        room = limit - taken
        return max(0, room - 1 if operator == "fewer than" and whole else room)

    return Count(left(after.high), left(after.best), left(after.low))


def is_near(after: Count, limit: Amount, operator: Operator, *, whole: bool = True) -> bool:
    """Tell whether the tally stands in the last tenth of its limit, or has room for one animal at most."""
    room = left_of(after, limit, operator, whole=whole).low
    return room * 10 <= limit or (whole and room <= 1)
