"""What a cell typed from wet paper may say, and how it is read.

A reader takes a cell and gives a plain value of the JSON format, or raises ``WrongValueError`` with what is
wrong and what would be right. Nothing is guessed: a decimal comma or a date like 03/04 is asked about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Literal

from api.exchange.plain_words import WrongValueError, listed, shown

Moment = datetime | date | time

MOST_TEXT = 10_000_000
"""Letters in all cells of a file together; a season of 10,000 catch lines has about a tenth of that."""
MOST_ROWS = 30_000
MOST_CELLS = 150_000
_PLAIN_NUMBER = re.compile(r"[+-]?\d{1,15}(?:\.\d{1,15})?\Z", re.ASCII)
_DECIMAL_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d+)(?![\d,])")
_THOUSANDS = re.compile(r"(?<![\d,.])\d{1,3}(?:,\d{3})+(?![\d,])")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.)?\Z", re.IGNORECASE | re.ASCII)
_BARE_CLOCK = re.compile(r"[0-2]\d[0-5]\d\Z", re.ASCII)
_WRITTEN_DAY = re.compile(r"(\d{1,2})[ .-]([A-Za-z]{3,9})[ .-](\d{4})\Z")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NO_NUMBER = re.compile(r"[+]?(?:\d+(?:\.\d+)?e[+-]?\d+|nan|inf(?:inity)?)\b", re.IGNORECASE | re.ASCII)
_YES = {"yes", "y", "x", "true", "1", "✓"}
_NO = {"no", "n", "false", "0", "-"}
_LENGTH_UNITS = {"mm": "mm", "cm": "cm", "m": "m", "in": "in", "inch": "in", "inches": "in", '"': "in", "ft": "ft"}
_ONE_LENGTH = re.compile(
    r"""(\d+ +\d+/\d+|\d+/\d+|\d+(?:\.\d+)?)(?:\s*(mm|cm|m|inches|inch|in|ft|")(?![A-Za-z]))?(?:\s*[;,]\s*|\s+|\Z)""",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its text as shown, what kind of thing it is, and its moment where it holds a date or time."""

    text: str
    kind: Literal["text", "number", "yes or no", "moment", "formula", "error"] = "text"
    moment: Moment | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one sheet or file as they stand, with their numbers as a spreadsheet counts them.

    ``label`` is how a message names the sheet ("sheet 'lines'", "" for a file of its own). ``rows`` hold only the
    cells that are filled, by column counted from 0. ``merged`` are ranges of cells made one: first row, first
    column, last row, last column.
    """

    file: str
    label: str
    name: str
    rows: list[tuple[int, dict[int, Cell]]]
    merged: tuple[tuple[int, int, int, int], ...] = ()


UNUSABLE = ("formula", "error")
"""Kinds of cell whose fault is told when the rows are gathered; nothing more is said of what depends on them."""


class UnreadableTableError(Exception):
    """A table cannot be read at all; carries where, what is wrong and how to mend it."""

    def __init__(self, where: str, what: str, mend: str) -> None:
        self.where, self.what, self.mend = where, what, mend
        super().__init__(f"{where}: {what} {mend}")


def text_cell(text: str) -> Cell | None:
    """Give the cell for typed text; None for an empty one."""
    plain = text.strip().replace("\u00a0", " ")
    if not plain:
        return None
    return Cell(plain, "formula" if plain.startswith("=") else "text")


def words(cell: Cell) -> str:
    """Read a cell as plain text."""
    if cell.kind == "moment":
        raise WrongValueError(
            f"The spreadsheet has turned what was typed into a date or time ({cell.text}).",
            "Format the column as text and type it again.",
        )
    return cell.text


def name(cell: Cell) -> str:
    """Read a cell as one short name or id."""
    text = words(cell)
    if len(text) > 200 or "\n" in text:
        raise WrongValueError(f"{shown(text)} is too long for this column.", "Write a short name.")
    return text


def names(cell: Cell) -> list[str]:
    """Read a list of names with semicolons between; "none" is an empty list."""
    text = words(cell)
    return [] if text.casefold() == "none" else [part.strip() for part in text.split(";") if part.strip()]


def refuse_commas(text: str, *, run: bool = False) -> None:
    """Notice a comma inside a number; in a ``run`` of numbers it may also part two of them."""
    found = _THOUSANDS.search(text)
    if found is not None and not found[0].startswith("0"):
        plain = found[0].replace(",", "")
        what = f"'{found[0]}' has a comma: it may mark thousands or a decimal."
        raise WrongValueError(what, f"Write {plain}, or {found[0].replace(',', '.')} if a decimal is meant.")
    found = _DECIMAL_COMMA.search(text)
    if found is not None:
        two = f", or {found[1]}; {found[2]} if two numbers are meant" if run else ""
        raise WrongValueError(f"'{found[0]}' has a decimal comma.", f"Write {found[1]}.{found[2]}{two}.")


def number_text(cell: Cell) -> str:
    """Read a plain number such as -42.88 and give it as decimal text, as typed."""
    text = words(cell).replace("\u2212", "-")
    refuse_commas(text)
    if _PLAIN_NUMBER.match(text) is None:
        raise WrongValueError(f"{shown(cell.text)} is not a plain number.", "Write digits only, as 12 or 3.5.")
    return text.removeprefix("+")


def number(cell: Cell) -> float:
    """Read a plain number as a float."""
    return float(number_text(cell))


def whole(cell: Cell) -> int:
    """Read a whole number, zero or more."""
    text = number_text(cell)
    if not text.isdigit():
        raise WrongValueError(f"{shown(cell.text)} is not a whole number.", "Write a whole number, as 3.")
    return int(text)


def confidence(cell: Cell) -> float | str:
    """Read a confidence as 0.95 or "95 %"."""
    text = words(cell)
    return text if text.endswith("%") else number(cell)


def count(cell: Cell) -> int | str:
    """Read a count: a whole number, or its words ("about 200 (180-240)") as they stand."""
    text = words(cell).replace("\u2212", "-").replace("\u2013", "-")
    refuse_commas(text)
    if text.startswith("-"):
        raise WrongValueError(f"The count {shown(text)} is below 0.", "Write how many there were, 0 or more.")
    if text.isascii() and text.isdigit() and len(text) <= 15:
        return int(text)
    if _NO_NUMBER.match(text):
        raise WrongValueError(f"{shown(text)} is not a count.", "Write a plain number, as 12, or 'about 200'.")
    return text


def amount(cell: Cell, unit: str, example: str) -> str:
    """Read a number with its unit, which may stand in the column's title; the unit is never guessed."""
    text = words(cell)
    refuse_commas(text)
    if re.fullmatch(r"\d+(\.\d+)?|(\d+ +)?\d+/\d+", text):
        if not unit:
            raise WrongValueError(
                f"'{text}' has no unit.", f"Write it with its unit, as {example}, or put the unit in the title."
            )
        return f"{text} {unit}"
    if text.startswith("-") or cell.kind == "number" or _NO_NUMBER.match(text):
        raise WrongValueError(f"{shown(text)} cannot be.", f"Write a number above 0 with its unit, as {example}.")
    return text


def lengths(cell: Cell, unit: str) -> list[str]:
    """Read a run of lengths, apart by spaces, semicolons or ", ": millimetres unless a unit is written."""
    text = words(cell).replace("\n", " ")
    refuse_commas(text, run=True)
    runs: list[tuple[str, str]] = []
    at = 0
    while at < len(text):
        match = _ONE_LENGTH.match(text, at)
        if match is None:
            raise WrongValueError(
                f"The lengths break off at {shown(text[at : at + 20])}.",
                "Write numbers with spaces or semicolons between, as 63.5 70 81; what was measured has columns "
                "of its own, 'measure' and 'variant'.",
            )
        runs.append((match[1], _LENGTH_UNITS.get(match[2] or "", "")))
        at = match.end()
    # A unit at the end of the run only ("63.5 70 81 cm") is meant for all of it.
    written = [own for _, own in runs]
    everywhere = written[-1] if written and written[-1] and not any(written[:-1]) else unit
    return [f"{value} {own or everywhere}".strip() for value, own in runs]


def length_unit(cell: Cell) -> str:
    """Read the unit of a column of lengths."""
    unit = _LENGTH_UNITS.get(words(cell).casefold())
    if unit is None:
        raise WrongValueError(f"{shown(cell.text)} is not a unit of length.", "Write mm, cm, m, in or ft.")
    return unit


def yes(cell: Cell) -> bool:
    """Read yes or no."""
    text = words(cell).casefold()
    if text in _YES or text in _NO:
        return text in _YES
    raise WrongValueError(f"{shown(cell.text)} is neither yes nor no.", "Write yes or no, or leave it blank.")


def crew(cell: Cell, roles: tuple[str, ...]) -> list[dict[str, str]]:
    """Read a crew written as "p-ana: holder; p-ben: assistant"."""
    members = []
    for part in names(cell):
        person, colon, role = (piece.strip() for piece in part.rpartition(":"))
        if not colon or not person or role.casefold() not in roles:
            raise WrongValueError(
                f"{shown(part)} does not say who did what.",
                f"Write person: role; person: role, the role being one of {listed(roles)}.",
            )
        members.append({"person": person, "role": role.casefold()})
    return members


def day(cell: Cell) -> date:
    """Read a date: a date cell, 2027-06-11, or 11 Jun 2027."""
    match cell.moment:
        case datetime():
            return cell.moment.date()
        case date():
            return cell.moment
    written = _WRITTEN_DAY.match(cell.text)
    try:
        if written is not None:
            return date(int(written[3]), _MONTHS.index(written[2][:3].casefold()) + 1, int(written[1]))
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell.text, re.ASCII):
            return date.fromisoformat(cell.text)
    except ValueError:
        pass
    if re.fullmatch(r"\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}", cell.text):
        what = f"{shown(cell.text)} can be read day first or month first."
    else:
        what = f"{shown(cell.text)} is not a date."
    raise WrongValueError(what, "Write the year first, as 2027-06-11.")


def clock_or_moment(cell: Cell) -> time | datetime | str:
    """Read a time of day, a full date with time, or one with an offset (given back as text)."""
    match cell.moment:
        case datetime() | time():
            return cell.moment
        case date():
            raise WrongValueError(f"{cell.text} is a date without a time.", "Write the time, as 21:30.")
    clock = _clock(cell.text)
    return clock if clock is not None else _full(cell.text)


def _clock(text: str) -> time | None:
    match = _CLOCK.match(text)
    bare = _BARE_CLOCK.match(text)
    if match is None and bare is None:
        return None
    parts = match.groups(default="") if match is not None else (text[:2], text[2:], "", "")
    hour, half = int(parts[0]), parts[3].casefold()
    if half:
        hour = hour % 12 + (12 if half.startswith("p") else 0) if 1 <= hour <= 12 else 99
    try:
        return time(hour, int(parts[1]), int(parts[2] or 0))
    except ValueError:
        raise WrongValueError(f"{shown(text)} is not a time of day.", "Write it as 21:30.") from None


def _full(text: str) -> datetime | str:
    mend = "Write 21:30, or with its date 2027-06-11 21:30."
    if re.match(r"\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}", text, re.ASCII) is None:
        raise WrongValueError(f"{shown(text)} is not a time.", mend)
    try:
        at = datetime.fromisoformat(text.replace(" ", "T", 1).replace(" ", ""))
    except ValueError:
        raise WrongValueError(f"{shown(text)} is not a time.", mend) from None
    return at if at.tzinfo is None else at.isoformat()
