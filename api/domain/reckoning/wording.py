"""The plain words that findings share: amounts, counts with their doubt, units, periods."""

from __future__ import annotations

import math
from fractions import Fraction

from api.domain.counts import Amount, Count
from api.domain.measures import decimal_text
from api.domain.vocabulary import Operator


def amount_words(amount: Amount, unit: str) -> str:
    """Give an amount with its unit: "12", "3.5 L"; individuals bear none."""
    if amount == math.inf:
        return "an unknown number" if unit == "individuals" else f"an unknown amount in {unit}"
    number = amount_number(amount)
    return number if unit == "individuals" else f"{number} {unit}"


def amount_number(amount: Amount) -> str:
    """Give an amount as a plain number; "unknown" for one that nobody recorded."""
    if amount == math.inf:
        return "unknown"
    return decimal_text(Fraction(amount)) if isinstance(amount, Fraction) else str(int(amount))


def count_words(count: Count, unit: str, estimated: Amount = 0) -> str:
    """Give a count as people read it: "12", "212, of which 200 estimated", "between 9 and 14"."""
    if count.exact:
        return amount_words(count.best, unit)
    if count.high == math.inf:
        return f"at least {amount_words(count.low, unit)}"
    spread = f"between {amount_number(count.low)} and {amount_words(count.high, unit)}"
    if not estimated:
        return spread
    best = amount_words(count.best, unit)
    if estimated == count.best:
        return f"{best} estimated ({spread})"
    return f"{best}, of which {amount_number(estimated)} estimated ({spread})"


def limit_words(limit: Amount, operator: Operator, unit: str) -> str:
    """Give a limit as issued: "at most 40"."""
    return f"{operator} {amount_words(limit, unit)}"


def plural(number: int, one: str, many: str = "") -> str:
    """Give a number with its noun: "1 haul", "3 hauls"."""
    return f"{number} {one if number == 1 else many or one + 's'}"
