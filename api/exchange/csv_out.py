"""CSV as RFC 4180 has it, and a second form that is safe to open in a spreadsheet.

The machine form holds exactly what is recorded: a guard there would change the data. The spreadsheet form
guards text against being run as a formula, as OWASP advises; numbers stay numbers, since a western longitude
or a southern latitude begins with "-" too.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal

CsvValue = str | int | float | Decimal | None
"""None is an empty cell; ``bool`` is written as true or false. NaN and the infinities are refused."""

# OWASP, CSV Injection: cells must not begin with = + - @ TAB CR LF; the full-width forms are from memory.
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)\Z", re.ASCII)
_BYTE_ORDER_MARK = "\ufeff"


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[CsvValue]]) -> bytes:
    """Write a table in the machine form: RFC 4180 (CRLF, quotes only where needed), UTF-8 without a mark.

    Raises ValueError for a row of another width than ``columns``, and for a number that is none.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for number, row in enumerate(rows, start=1):
        writer.writerow(_machine_row(row, len(columns), number))
    return out.getvalue().encode()


def spreadsheet_csv(columns: Sequence[str], rows: Iterable[Sequence[CsvValue]], numbers: Collection[str] = ()) -> bytes:
    """Write a table for a spreadsheet: UTF-8 with a byte order mark, every text quoted and guarded.

    Values of a number type stay bare. ``numbers`` names columns whose texts are decimal numbers ("-42.880"):
    a text there that is a plain number stays bare as well, any other is guarded like all text. Raises
    ValueError as ``csv_text`` does.
    """
    lines = [",".join(_guarded(title) for title in columns)]
    for number, row in enumerate(rows, start=1):
        cells = _machine_row(row, len(columns), number)
        pairs = zip(columns, row, cells, strict=True)
        lines.append(",".join(_cell(value, text, title in numbers) for title, value, text in pairs))
    return (_BYTE_ORDER_MARK + "".join(f"{line}\r\n" for line in lines)).encode()


def _machine_row(row: Sequence[CsvValue], width: int, number: int) -> list[str]:
    if len(row) != width:
        raise ValueError(f"row {number} has {len(row)} cells for {width} columns")
    return [_plain(value) for value in row]


def _plain(value: CsvValue) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case float() | Decimal():
            if not math.isfinite(value):
                raise ValueError(f"{value} cannot stand in a table")
            return format(value, "f") if isinstance(value, Decimal) else repr(value)
    return str(value)


def _cell(value: CsvValue, text: str, decimal_text: bool) -> str:
    bare = not isinstance(value, str) or (decimal_text and _NUMBER.match(value) is not None)
    return text if bare else _guarded(text)


def _guarded(text: str) -> str:
    """Quote a text, with an apostrophe before what would run as a formula.

    Every text is quoted, so that a separator or quote inside cannot begin a new cell. Blanks before the sign
    do not disarm it everywhere, so they are looked through.
    """
    runs = text.startswith(_RUNS_AS_FORMULA) or text.lstrip().startswith(_RUNS_AS_FORMULA)
    doubled = text.replace('"', '""')
    return f'"{chr(39) if runs else ""}{doubled}"'
