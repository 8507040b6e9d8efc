"""Counts as people write them: "12", "about 200", "180-240", "120 in 1/5", "2 round basket", "3.5 L".

Used for every way in, so that a count means the same in a trips file and in a spreadsheet. Numbers are
exact; "about" is taken as 25 % either way, outward to whole animals.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from api.domain.counts import Amount, Count, exactly
from api.domain.effort import raised_count
from api.domain.measures import HANDBOOK_CONTAINERS, exact_number, find_unit
from api.domain.permits import Authority
from api.domain.vocabulary import Method
from api.exchange.plain_words import WrongValueError, choice, halves, listed, shown

Unit = Literal["individuals", "L", "g"]

ABOUT = Fraction(1, 4)
"""How far a count by eye may be off either way (decided for this format)."""

UNKNOWN_WORD = "unknown"
_LARGEST = 1_000_000_000
_NUMBER = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d+)?|\.\d+)"
_RAISED = re.compile(rf"(?P<counted>\d+)\s+in\s+(?P<share>{_NUMBER})\s*(?P<percent>%?)", re.IGNORECASE)
_NUMBER_AND_NAME = re.compile(rf"(?P<number>{_NUMBER})\s+(?P<name>.+)")
_AMOUNT = re.compile(
    rf"""(?P<about>about\s+|~\s*|c\.\s*|ca\.?\s+)?
    (?P<first>{_NUMBER})
    (?:\s*(?:-|\N{{EN DASH}}|to)\s*(?P<last>{_NUMBER}))?
    (?:\s*\(\s*(?P<low>{_NUMBER})\s*(?:-|\N{{EN DASH}}|to)\s*(?P<high>{_NUMBER})\s*\))?
    \s*(?P<unit>[^\d\s().,/~-][^().,/~]*)?
    (?:\s*\(\s*(?P<low_after>{_NUMBER})\s*(?:-|\N{{EN DASH}}|to)\s*(?P<high_after>{_NUMBER})\s*\))?""",
    re.VERBOSE | re.IGNORECASE,
)
_WRITTEN = ("first", "last", "low", "high", "low_after", "high_after")
_HOW = "Write 12, 'about 200', '180-240', '120 in 1/5', '3.5 L' or '2' and the name of a container."
_ANIMALS = frozenset({"individuals", "individual", "animals", "animal", "ind", "count", "each", "fish"})


@dataclass(frozen=True, slots=True)
class CountText:
    """A count as read: in individuals, litres or grams, with how it was come by.

    ``raw_counted`` and ``raw_share`` hold what was counted in which part of the whole ("120 in 1/5");
    ``measured_as`` keeps the words of a count in containers. ``unit_written`` tells whether the unit stood
    there, or is only what a bare number means.
    """

    count: Count
    unit: Unit
    method: Method
    raw_counted: int | None = None
    raw_share: str = ""
    measured_as: str = ""
    unit_written: bool = False


def containers_of(*authorities: Authority) -> dict[str, Fraction]:
    """Give the litres of every container that counts may name: the handbook's and the authorities' own.

    A name to which two of the authorities give different litres is left out: nobody could say which is meant.
    """
    litres: dict[str, Fraction] = {}
    doubtful: set[str] = set()
    for authority in authorities:
        for container in authority.containers:
            size = Fraction(container.litres)
            if litres.setdefault(container.name, size) != size:
                doubtful.add(container.name)
    handbook = {name: container.litres for name, container in HANDBOOK_CONTAINERS.items()}
    return handbook | {name: size for name, size in litres.items() if name not in doubtful}


def parse_count(text: object, containers: Mapping[str, Fraction], unit: Unit | Literal["any", ""] = "") -> CountText:
    """Read a count as written: text, a number, or an object with low, best and high.

    ``containers`` gives the litres of each named container (see `containers_of`). ``unit`` is what a bare
    number is in where that is said elsewhere ("" means individuals, which are whole; "any" leaves it open
    and allows parts). Raises WrongValueError (a ValueError) that says what is wrong and how to mend it.
    """
    if isinstance(text, bool) or text is None:
        raise WrongValueError(f"A count is wanted, but {shown(text)} was found.", _HOW)
    if isinstance(text, int) and unit == "":
        return CountText(exactly(_sized(text, "individuals")), "individuals", "counted")
    if isinstance(text, int | Decimal | float | Fraction):
        return _plain(_exact(text), _exact(text), _exact(text), unit)
    if isinstance(text, Mapping):
        return _three(text, unit)
    if not isinstance(text, str):
        raise WrongValueError(f"A count is wanted, but {shown(text)} was found.", _HOW)
    return _worded(text.strip(), containers, unit)


def _worded(text: str, containers: Mapping[str, Fraction], unit: str) -> CountText:
    if text.casefold() == UNKNOWN_WORD:
        return CountText(Count(0, 0, math.inf), _bare(unit), "by eye")
    if raised := _RAISED.fullmatch(text):
        return _raised(int(raised["counted"]), raised["share"] + raised["percent"], text, unit)
    found = _AMOUNT.fullmatch(text)
    if found is None:
        return _odd_container(text, containers, unit)
    low, best, high = _bounds(found, text)
    word = (found["unit"] or "").strip()
    if (not word or word.casefold() in _ANIMALS) and unit in ("", "individuals"):
        for written in filter(None, (found[name] for name in _WRITTEN)):
            _sized(_exact(written), "individuals")
    if not word:
        method: Method | None = "by eye" if found["about"] or low != high else None
        return _plain(low, best, high, unit, method)
    return _measured((low, best, high), word, text, containers, unit)


def _bounds(found: re.Match[str], text: str) -> tuple[Fraction, Fraction, Fraction]:
    """Give low, best and high as written, before any unit."""
    first = _exact(found["first"])
    low, high = found["low"] or found["low_after"], found["high"] or found["high_after"]
    if found["last"]:
        last = _exact(found["last"])
        if found["about"] or low or last < first:
            raise WrongValueError(f"The count {shown(text)} cannot be read.", "Write a range as '180-240'.")
        return first, (first + last) / 2, last
    if low and high:
        return _exact(low), first, _exact(high)
    return (first * (1 - ABOUT), first, first * (1 + ABOUT)) if found["about"] else (first, first, first)


def _measured(
    bounds: tuple[Fraction, Fraction, Fraction], word: str, text: str, containers: Mapping[str, Fraction], unit: str
) -> CountText:
    """Read a count with a unit or a container behind it."""
    if word.casefold() in _ANIMALS:
        return _plain(*bounds, _agreed("individuals", unit, text), "by eye" if bounds[0] != bounds[2] else None, True)
    litres = _container(word, containers)
    if litres is not None:
        count = Count(*(bound * litres for bound in _ordered(bounds)))
        return CountText(count, _agreed("L", unit, text), "by volume", measured_as=text, unit_written=True)
    try:
        known = find_unit(word)
    except ValueError as problem:
        what, mend = halves(problem)
        if not containers or "which one" in what or "?" in mend + what:
            raise WrongValueError(what, mend) from None
        raise WrongValueError(f"{shown(word)} is neither a unit nor a container.", choice(word, containers)) from None
    if known.dimension not in ("volume", "mass"):
        raise WrongValueError(f"{shown(text)} is no count of animals, volume or weight.", _HOW)
    count = Count(*(bound * known.factor for bound in _ordered(bounds)))
    if known.dimension == "volume":
        return CountText(count, _agreed("L", unit, text), "by volume", unit_written=True)
    return CountText(count, _agreed("g", unit, text), "by weight", unit_written=True)


def _odd_container(text: str, containers: Mapping[str, Fraction], unit: str) -> CountText:
    """Read a number of a container whose name holds figures or brackets ("2 fish box (small)")."""
    found = _NUMBER_AND_NAME.fullmatch(text)
    if found is None or _container(found["name"], containers) is None:
        raise WrongValueError(f"The count {shown(text)} cannot be read.", _HOW)
    amount = _exact(found["number"])
    return _measured((amount, amount, amount), found["name"], text, containers, unit)


def _container(word: str, containers: Mapping[str, Fraction]) -> Fraction | None:
    """Find a container by its name, in any case, singular or plural; the name as listed comes first."""
    if word in containers:
        return containers[word]
    wanted = word.casefold()
    for name, litres in containers.items():
        plain = name.casefold()
        if wanted in (plain, f"{plain}s", f"{plain}es"):
            return litres
    return None


def _agreed(found: Unit, unit: str, text: str) -> Unit:
    """Refuse a unit in the text that is not the one said elsewhere."""
    if unit not in ("", "any", found):
        raise WrongValueError(f"{shown(text)} is in {found}, but the unit is given as {unit}.", "Correct one of them.")
    return found


def _bare(unit: str) -> Unit:
    return unit if unit in ("L", "g") else "individuals"  # type: ignore[return-value]


def _plain(
    low: Fraction, best: Fraction, high: Amount, unit: str, method: Method | None = None, written: bool = False
) -> CountText:
    """Make a count of bare numbers: whole individuals (doubtful bounds outward), or exact litres or grams."""
    kind = _bare(unit)
    by_unit: dict[str, Method] = {"L": "by volume", "g": "by weight"}
    how = method or by_unit.get(kind, "counted")
    low, best, high = _ordered((low, best, high))
    if kind != "individuals" or unit == "any":
        return CountText(Count(*(_sized(one, unit) for one in (low, best, high))), kind, how, unit_written=written)
    if method is None:
        count = Count(_sized(low, kind), _sized(best, kind), _sized(high, kind))
    else:
        top = high if high == math.inf else math.ceil(high)
        count = Count(*(_sized(one, kind) for one in (math.floor(low), math.floor(best), top)))
    return CountText(count, kind, how, unit_written=written)


def _ordered(bounds: tuple[Fraction, Fraction, Amount]) -> tuple[Fraction, Fraction, Amount]:
    low, best, high = bounds
    if not low <= best <= high:
        raise WrongValueError("A count needs low <= best <= high.", f"Correct one of {low}, {best} and {high}.")
    return bounds


def _sized(amount: Amount, kind: str) -> Amount:
    """Refuse a number that no count can be; give whole numbers as such."""
    if amount == math.inf:
        return amount
    if amount < 0:
        raise WrongValueError(f"A count cannot be below 0, but {amount} was found.", "Correct the number.")
    if amount > _LARGEST:
        raise WrongValueError("The count is above a thousand million.", "Correct the number.")
    if not isinstance(amount, int) and amount == int(amount):
        return int(amount)
    if kind == "individuals" and not isinstance(amount, int):
        mend = "Write a whole number, or a unit such as L or g behind it."
        raise WrongValueError(f"A number of animals is whole, but {float(amount):g} was found.", mend)
    return amount


def _raised(counted: int, share: str, text: str, unit: str) -> CountText:
    if unit not in ("", "individuals", "any"):
        raise WrongValueError(f"{shown(text)} counts animals, but the unit is given as {unit}.", "Correct one of them.")
    _sized(counted, "individuals")
    return CountText(
        raised_bounds(counted, share), "individuals", "raised", counted, share.replace(" ", ""), unit_written=True
    )


@lru_cache(maxsize=4096)
def raised_bounds(counted: int, share: str) -> Count:
    """Give the whole that animals counted in a share of it stand for, with its 95 % interval."""
    plain = share.strip()
    part = _exact(plain.removesuffix("%").strip()) / (100 if plain.endswith("%") else 1)
    if not 0 < part <= 1:
        mend = "Write the part of the whole that was counted, as in '120 in 1/5'."
        raise WrongValueError(f"The share '{share}' does not lie between 0 and 1.", mend)
    if counted / part > _LARGEST:
        raise WrongValueError("The raised count is above a thousand million.", "Correct the share.")
    whole = raised_count(counted, part, 1)
    return Count(whole.low, whole.best, whole.high)


def _three(raw: Mapping[object, object], unit: str) -> CountText:
    """Read {"low": ..., "best": ..., "high": ...}; the best may be left out."""
    unknown = [str(key) for key in raw if key not in ("low", "best", "high")]
    if unknown or "low" not in raw or "high" not in raw:
        what = f"The keys {listed(map(str, raw))} make no count."
        raise WrongValueError(what, 'Write {"low": 180, "best": 200, "high": 240}.')
    low = _exact(raw["low"])
    high: Amount = math.inf if raw["high"] == UNKNOWN_WORD else _exact(raw["high"])
    best = _exact(raw["best"]) if "best" in raw else _middle(low, high)
    # Bounds that somebody wrote down are kept as they are; only a best nobody wrote is rounded down.
    if unit in ("", "individuals") and "best" not in raw:
        best = Fraction(math.floor(best))
    found = _plain(low, best, high, unit)
    if low == high or found.method != "counted":
        return found
    return CountText(found.count, found.unit, "by eye")


def _middle(low: Fraction, high: Amount) -> Fraction:
    return low if isinstance(high, float) else (low + high) / 2


def _exact(number: object) -> Fraction:
    """Read a number exactly, or refuse it."""
    if isinstance(number, bool) or not isinstance(number, int | float | Decimal | Fraction | str):
        raise WrongValueError(f"A number is wanted, but {shown(number)} was found.", "Write a number.")
    if isinstance(number, Decimal) and not (number.is_finite() and abs(number.adjusted()) < 40):
        raise WrongValueError(f"{shown(number)} is no number of ordinary size.", "Write a number.")
    try:
        if isinstance(number, str):
            number = re.sub(r"(\d) *- *(\d+/)", r"\1 \2", number)
        return exact_number(number)
    except (ValueError, TypeError) as problem:
        raise WrongValueError(*halves(ValueError(str(problem)))) from None
