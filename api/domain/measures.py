"""Exact lengths, masses, volumes, areas and counts, and the containers things are measured in.

A limit stays in the unit it was printed in; every value is a fraction, because binary floats turn
3.5 x 25.4 into 88.89999999999999 and a fish of exactly the legal length into a short one. Base units:
millimetre, gram, litre, square metre, one.

Sources: NIST Handbook 44, Appendix C (inch 25.4 mm, pound 0.45359237 kg, gallon 231 in3, bushel
2150.42 in3, heaped bushel 2747.715 in3); ASTM E29 for comparing (absolute method: the value as
measured, never one that was rounded first) and for rounding what is printed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

Dimension = Literal["length", "mass", "volume", "area", "count"]
Exact = int | Fraction | Decimal
Number = Exact | float | str

INCH_MM: Final = Fraction("25.4")
CUBIC_INCH_L: Final = (INCH_MM / 100) ** 3
SQUARE_FOOT_M2: Final = Fraction("0.3048") ** 2
POUND_G: Final = Fraction("453.59237")
GALLON_L: Final = 231 * CUBIC_INCH_L
BUSHEL_L: Final = Fraction("2150.42") * CUBIC_INCH_L
# Thirty-five digits: any container made by hand is wrong long before the tenth.
PI: Final = Fraction("3.14159265358979323846264338327950288")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its symbol, what it measures, how many base units one of it is, and its other spellings."""

    symbol: str
    dimension: Dimension
    factor: Fraction
    spellings: tuple[str, ...] = ()


_UNITS: Final = (
    Unit("mm", "length", Fraction(1), ("millimetre", "millimeter")),
    Unit("cm", "length", Fraction(10), ("centimetre", "centimeter")),
    Unit("m", "length", Fraction(1000), ("metre", "meter")),
    Unit("km", "length", Fraction(1_000_000), ("kilometre", "kilometer")),
    Unit("in", "length", INCH_MM, ("inch", "inches", '"', "\N{DOUBLE PRIME}")),
    Unit("ft", "length", 12 * INCH_MM, ("foot", "feet", "'", "\N{PRIME}")),
    Unit("yd", "length", 36 * INCH_MM, ("yard",)),
    Unit("mi", "length", 63_360 * INCH_MM, ("mile",)),
    Unit("nmi", "length", Fraction(1_852_000), ("nautical mile",)),
    Unit("mg", "mass", Fraction(1, 1000), ("milligram",)),
    Unit("g", "mass", Fraction(1), ("gram", "gramme")),
    Unit("kg", "mass", Fraction(1000), ("kilogram", "kilo", "kilogramme")),
    Unit("t", "mass", Fraction(1_000_000), ("tonne", "metric ton")),
    Unit("oz", "mass", POUND_G / 16, ("ounce",)),
    Unit("lb", "mass", POUND_G, ("pound",)),
    Unit("mL", "volume", Fraction(1, 1000), ("millilitre", "milliliter", "cc", "cm3", "cm\u00b3")),
    Unit("L", "volume", Fraction(1), ("litre", "liter", "dm3")),
    Unit("m3", "volume", Fraction(1000), ("cubic metre", "cubic meter", "m\u00b3")),
    Unit("in3", "volume", CUBIC_INCH_L, ("cubic inch", "cubic inches", "cu in", "in\u00b3")),
    Unit("ft3", "volume", 1728 * CUBIC_INCH_L, ("cubic foot", "cubic feet", "cu ft", "ft\u00b3")),
    Unit("yd3", "volume", 46_656 * CUBIC_INCH_L, ("cubic yard", "cu yd", "yd\u00b3")),
    Unit("fl oz", "volume", GALLON_L / 128, ("fluid ounce", "us fluid ounce")),
    Unit("liquid pint", "volume", GALLON_L / 8, ("us liquid pint", "liquid pt")),
    Unit("liquid quart", "volume", GALLON_L / 4, ("us liquid quart", "liquid qt")),
    Unit("gal", "volume", GALLON_L, ("gallon", "us gallon", "us gal", "liquid gallon")),
    Unit("dry pint", "volume", BUSHEL_L / 64, ("us dry pint", "dry pt")),
    Unit("dry quart", "volume", BUSHEL_L / 32, ("us dry quart", "dry qt")),
    Unit("peck", "volume", BUSHEL_L / 4, ("us peck",)),
    Unit("US bushel", "volume", BUSHEL_L, ("us struck bushel", "struck bushel", "us bu")),
    Unit("US heaped bushel", "volume", Fraction("2747.715") * CUBIC_INCH_L, ("heaped bushel",)),
    Unit("m2", "area", Fraction(1), ("square metre", "square meter", "sq m", "m\u00b2")),
    Unit("ft2", "area", SQUARE_FOOT_M2, ("square foot", "square feet", "sq ft", "ft\u00b2")),
    Unit("yd2", "area", 9 * SQUARE_FOOT_M2, ("square yard", "sq yd", "yd\u00b2")),
    Unit("acre", "area", 43_560 * SQUARE_FOOT_M2, ("ac",)),
    Unit("ha", "area", Fraction(10_000), ("hectare",)),
    Unit("km2", "area", Fraction(1_000_000), ("square kilometre", "square kilometer", "sq km", "km\u00b2")),
    Unit("count", "count", Fraction(1), ("", "animal", "individual", "each")),
)

_UNIT_BY_SYMBOL: Final = {unit.symbol: unit for unit in _UNITS}
# A plural in -s is understood, save for single letters: "ms" are milliseconds to most people.
_UNIT_BY_SPELLING: Final = {
    spelling.lower() + plural: unit
    for unit in _UNITS
    for spelling in (unit.symbol, *unit.spellings)
    for plural in (("", "s") if spelling[1:].isalpha() or " " in spelling else ("",))
}

# Words that name more than one measure. The writer is asked; a guess would be wrong for somebody.
_AMBIGUOUS: Final = {
    word: question
    for words, question in (
        (
            ("quart", "qt"),
            "is it a dry or a liquid quart? Write 'dry quart' (1.101 L) or 'liquid quart' (0.946 L)",
        ),
        (
            ("pint", "pt"),
            "is it a dry or a liquid pint? Write 'dry pint' (0.551 L) or 'liquid pint' (0.473 L)",
        ),
        (
            ("bushel", "bu"),
            "which bushel? Write 'US struck bushel' (35.24 L) or 'US heaped bushel' (45.03 L)",
        ),
        (("ton",), "which ton? Write 'tonne' (1000 kg), or the mass in kilograms or pounds"),
        (
            ("tub", "basket", "bucket", "barrel", "bag", "sack"),
            "a container has no fixed size; give it a name and its litres, and count containers",
        ),
    )
    for stem in words
    for word in (stem, stem + "s")
}

_QUANTITY: Final = re.compile(
    r"""
    (?: (?P<whole>[0-9]+) \s* [-\s] \s* (?P<top>[0-9]+) \s? / \s? (?P<bottom>[0-9]+)
      | (?P<only_top>[0-9]+) \s? / \s? (?P<only_bottom>[0-9]+)
      | (?P<decimal>[0-9]+ (?:\.[0-9]+)? | \.[0-9]+)
    )
    \s* (?P<unit>[^0-9\s.,/+\-][^0-9.,/+\-]*[23]?)?
    """,
    re.VERBOSE,
)
_LONGEST_TEXT: Final = 60
_VULGAR: Final = {"\u00bc": "1/4", "\u00bd": "1/2", "\u00be": "3/4"} | {
    glyph: f"{top}/8" for glyph, top in zip("\u215b\u215c\u215d\u215e", (1, 3, 5, 7), strict=True)
}


class InexactLengthError(ValueError):
    """A length that is no whole number of tenths of a millimetre, so storing it would change it.

    ``exact_mm`` is the length in millimetres; ``below`` and ``above`` are the tenths on either side.
    """

    def __init__(self, written: str, exact_mm: Fraction) -> None:
        self.exact_mm = exact_mm
        self.below = exact_mm * 10 // 1
        self.above = self.below + 1
        super().__init__(
            f"{written} is {decimal_text(exact_mm)} mm, no whole number of tenths of a millimetre; "
            f"rounding could change the verdict at a limit, so give the length as read in millimetres "
            f"({format_exact(Fraction(self.below, 10), 1)} or {format_exact(Fraction(self.above, 10), 1)})"
        )


@dataclass(frozen=True, slots=True)
class Quantity:
    """An exact amount in the unit it was written in.

    ``unit`` is a symbol of this module ("in", "kg", "dry quart", "count"). Raises ValueError for an
    unknown symbol, a dimension that is not the unit's, a negative value, or a part of an individual.
    """

    value: Fraction
    unit: str
    dimension: Dimension

    def __post_init__(self) -> None:
        unit = _UNIT_BY_SYMBOL.get(self.unit)
        if unit is None:
            raise ValueError(f"unknown unit symbol {self.unit!r}; use one of {', '.join(_UNIT_BY_SYMBOL)}")
        if unit.dimension != self.dimension:
            raise ValueError(f"{self.unit!r} measures {unit.dimension}, not {self.dimension}")
        if self.value < 0:
            raise ValueError(f"an amount cannot be below zero, got {decimal_text(self.value)} {self.unit}")
        if self.dimension == "count" and self.value.denominator != 1:
            raise ValueError(
                f"a count is a whole number, got {decimal_text(self.value)}; "
                "if it is a measure, write its unit as well, as in '3.5 in'"
            )

    @property
    def exact(self) -> Fraction:
        """The amount in the base unit: mm, g, L, m2 or one."""
        return self.value * _UNIT_BY_SYMBOL[self.unit].factor

    def expressed_in(self, unit: str) -> Fraction:
        """Give the amount in another unit, in any known spelling; ValueError for another dimension."""
        wanted = find_unit(unit)
        if wanted.dimension != self.dimension:
            raise ValueError(
                f"{quantity_text(self)} is a {self.dimension} and cannot be given in {wanted.symbol}, a "
                f"{wanted.dimension}; volume, mass and count convert only by a factor that somebody states"
            )
        return self.exact / wanted.factor


def exact_number(number: Number) -> Fraction:
    """Give a number as the fraction that was written: 0.1 is one tenth, "3 1/2" is seven halves.

    A float counts as its shortest decimal text, so 88.9 read from JSON is 889/10, while
    88.89999999999999 keeps its noise. Raises ValueError for text that is no number, for NaN and infinity,
    TypeError for a truth value.
    """
    if isinstance(number, bool):
        raise TypeError(f"expected a number, got {number}")
    if isinstance(number, str):
        value, unit = _split(number)
        if unit:
            raise ValueError(f"expected a number without a unit, got {number!r}")
        return value
    try:
        return Fraction(repr(number) if isinstance(number, float) else number)
    except (ValueError, OverflowError) as error:
        raise ValueError(f"expected a finite number, got {number}") from error


def find_unit(word: str) -> Unit:
    """Find the unit a word stands for, in any known spelling and any case.

    Raises ValueError that asks which one is meant when the word names several (quart, pint, bushel).
    """
    spelling = " ".join(word.lower().split())
    unit = _UNIT_BY_SPELLING.get(spelling)
    if unit is not None:
        return unit
    if spelling in _AMBIGUOUS:
        raise ValueError(f"{word.strip()!r}: {_AMBIGUOUS[spelling]}")
    raise ValueError(
        f"unknown unit {word.strip()!r}; write one of {', '.join(_UNIT_BY_SYMBOL)}, or no unit for a count"
    )


@lru_cache(maxsize=2048)
def parse_quantity(text: str) -> Quantity:
    """Read "3 1/2 in", "63.5 mm", "2 US bushels" or "12": one number and one unit; no unit means a count.

    Raises ValueError saying what is wrong and what would be right.
    """
    value, word = _split(text)
    unit = find_unit(word)
    return Quantity(value, unit.symbol, unit.dimension)


def _split(text: str) -> tuple[Fraction, str]:
    """Split text into its exact number and the word after it ("" when there is none)."""
    if len(text) > _LONGEST_TEXT:
        raise ValueError(f"expected one number and one unit, got {len(text)} characters: {text[:20]!r}...")
    if "," in text:
        raise ValueError(f"{text!r} has a comma; write 1.5 with a point and 1500 without a mark")
    # Printed rules write one glyph for a half or an eighth, and points in the country's name.
    plain = "".join(f" {_VULGAR[mark]}" if mark in _VULGAR else mark for mark in text).strip()
    plain = plain.replace("U.S.", "US")
    if plain.startswith(("-", "\N{MINUS SIGN}")):
        raise ValueError(f"{text!r} is below zero; write an amount of zero or more")
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        raise ValueError(f"cannot read {text!r}; write one number and one unit, as in '3 1/2 in' or '63.5 mm'")
    return _value(found, text), (found["unit"] or "").strip()


def _value(found: re.Match[str], text: str) -> Fraction:
    """Give the number of a match; a mixed number takes a proper fraction only."""
    if found["decimal"] is not None:
        return Fraction(found["decimal"])
    top, bottom = int(found["top"] or found["only_top"]), int(found["bottom"] or found["only_bottom"])
    if bottom == 0:
        raise ValueError(f"{text!r} divides by zero")
    if found["whole"] is None:
        return Fraction(top, bottom)
    if top >= bottom:
        raise ValueError(f"{text!r}: after a whole number the fraction must be below one, as in '3 1/2'")
    return int(found["whole"]) + Fraction(top, bottom)


def quantity_text(quantity: Quantity) -> str:
    """Write a quantity so that `parse_quantity` reads the same one: "3.5 in", "1 1/3 ft", "12"."""
    number = decimal_text(quantity.value)
    if Fraction(number) != quantity.value:
        whole, top = divmod(quantity.value.numerator, quantity.value.denominator)
        part = f"{top}/{quantity.value.denominator}"
        number = f"{whole} {part}" if whole else part
    return number if quantity.dimension == "count" else f"{number} {quantity.unit}"


def length_tenths(reading: Number, unit: str) -> int:
    """Give a length as measured in whole tenths of a millimetre, the form in which lengths are stored.

    ``reading`` is a number without a unit ("3 1/2", 88.9). Raises ValueError for a reading that is no
    number or a unit that is no length, and `InexactLengthError` where the tenths would have to be rounded
    (4 1/8 in is 104.775 mm): the absolute method of ASTM E29 forbids comparing what was rounded.
    """
    found = find_unit(unit)
    if found.dimension != "length":
        raise ValueError(f"a length needs a unit of length such as mm or in, got {unit!r}")
    quantity = Quantity(exact_number(reading), found.symbol, "length")
    tenths = quantity.exact * 10
    if tenths.denominator != 1:
        raise InexactLengthError(quantity_text(quantity), quantity.exact)
    return int(tenths)


def compare_length(tenths: int, limit: Quantity) -> Literal[-1, 0, 1]:
    """Say whether a measured length is below (-1), at (0) or above (1) a limit.

    ``tenths`` are whole tenths of a millimetre. Exact, after ASTM E29's absolute method: 126.9 mm is
    below 5 in although both may print as "127". Raises ValueError when the limit is no length or the
    tenths are negative.
    """
    if limit.dimension != "length":
        raise ValueError(f"a length cannot be compared with {quantity_text(limit)}, a {limit.dimension}")
    if tenths < 0:
        raise ValueError(f"a measured length cannot be below zero, got {tenths} tenths of a millimetre")
    measured = Fraction(tenths, 10)
    if measured == limit.exact:
        return 0
    return -1 if measured < limit.exact else 1


@dataclass(frozen=True, slots=True)
class Container:
    """A named vessel, how many litres it holds, and who says so.

    "Two bushels" mean nothing until the vessel is named: one agency's tub is a third larger than the US
    struck bushel. Raises ValueError without a name, without a source, or with no capacity.
    """

    name: str
    litres: Fraction
    source: str

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.source.strip():
            raise ValueError("a container needs a name and the source of its size")
        if self.litres <= 0:
            raise ValueError(f"container {self.name!r} needs more than zero litres, got {self.litres}")


HANDBOOK_CONTAINERS: Final[Mapping[str, Container]] = MappingProxyType(
    {
        name: Container(name, _UNIT_BY_SYMBOL[symbol].factor, "NIST Handbook 44, Appendix C")
        for name, symbol in (
            ("US struck bushel", "US bushel"),
            # The handbook notes that 1 1/4 struck bushels (44.05 L) are often meant: name your own then.
            ("US heaped bushel", "US heaped bushel"),
            ("US peck", "peck"),
            ("US dry quart", "dry quart"),
            ("US dry pint", "dry pint"),
            ("US gallon", "gal"),
            ("US liquid quart", "liquid quart"),
            ("US liquid pint", "liquid pint"),
        )
    }
)


def container_litres(count: Number, container: Container) -> Fraction:
    """Give the litres in so many containers, parts included ("2 1/2"); ValueError for a negative count."""
    exact = exact_number(count)
    if exact < 0:
        raise ValueError(f"a number of containers cannot be below zero, got {count}")
    return exact * container.litres


def frustum_litres(top_in: Number, bottom_in: Number, height_in: Number) -> Fraction:
    """Give the litres of a round tub from its inside diameters at top and bottom and its height, in inches.

    A cone cut off: pi h (D^2 + D d + d^2) / 12. Raises ValueError unless all three are above zero.
    """
    top, bottom, height = (exact_number(side) for side in (top_in, bottom_in, height_in))
    if min(top, bottom, height) <= 0:
        raise ValueError(f"a tub needs sides above zero, got {top_in}, {bottom_in} and {height_in} in")
    return PI * height * (top**2 + top * bottom + bottom**2) / 12 * CUBIC_INCH_L


def format_exact(value: Fraction, places: int) -> str:
    """Write a value with so many decimals for print, half to the even digit (ASTM E29, from memory).

    For print only: verdicts are never taken from the text. ValueError when ``places`` is negative.
    """
    if places < 0:
        raise ValueError(f"expected zero or more decimal places, got {places}")
    scaled = round(value * 10**places)
    digits = str(abs(scaled)).rjust(places + 1, "0")
    sign = "-" if scaled < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else f"{sign}{digits}"


def decimal_text(value: Fraction) -> str:
    """Write a value in full where its decimals end, else rounded to six places; no trailing zeros."""
    twos = _power(value.denominator, 2)
    fives = _power(value.denominator, 5)
    ends = value.denominator == 2**twos * 5**fives
    text = format_exact(value, max(twos, fives) if ends else 6)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _power(number: int, prime: int) -> int:
    """Count how often a prime divides a positive number."""
    times = 0
    while number % prime == 0:
        number //= prime
        times += 1
    return times
