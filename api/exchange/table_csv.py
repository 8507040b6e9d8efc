"""CSV typed by a crew (RFC 4180), in UTF-8 with or without a byte order mark.

The separator - comma, semicolon or tab - is the one that the title row uses most outside quotes; a first
line "sep=;" as some spreadsheets write it is obeyed.
"""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from api.exchange.table_cells import MOST_CELLS, MOST_ROWS, MOST_TEXT, Cell, Table, UnreadableTableError, text_cell

_SAVE_AGAIN = "Save it again from the spreadsheet as 'CSV UTF-8'."
_SEPARATORS = ",;\t"


def read_csv(path: Path, label: str, name: str) -> Table:
    """Read the rows of a CSV file; raises UnreadableTableError or OSError."""
    if path.stat().st_size > MOST_TEXT:
        raise UnreadableTableError("", f"The file is larger than {MOST_TEXT // 1_000_000} MB.", "Split it by trip.")
    text = _decoded(path.read_bytes())
    declared = re.match(r"sep=([,;\t])\r?\n", text, re.IGNORECASE)
    separator = declared[1] if declared else _separator(text)
    return Table(path.name, label, name, _rows(text, separator, skip_first=declared is not None))


def _decoded(content: bytes) -> str:
    if not content.strip():
        raise UnreadableTableError("", "The file is empty.", "Look whether the copying broke off.")
    if content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise UnreadableTableError("", "This is a workbook, not CSV.", "Give it as .xlsx, or save it as 'CSV UTF-8'.")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableTableError("", "The file is in UTF-16.", _SAVE_AGAIN)
    at = content.find(b"\0")
    if at >= 0:
        line = content.count(b"\n", 0, at) + 1
        raise UnreadableTableError(f"line {line}", "The file holds NUL bytes, as a damaged copy does.", _SAVE_AGAIN)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        what = "The file is not in UTF-8 (it may be Windows-1252); an accented letter here cannot be read."
        raise UnreadableTableError(f"line {line}", what, _SAVE_AGAIN) from None


def _separator(text: str) -> str:
    first = next((line for line in text.splitlines() if line.strip(_SEPARATORS + " ")), "")
    outside = re.sub(r'"[^"]*"', "", first)
    return max(_SEPARATORS, key=outside.count)


def _rows(text: str, separator: str, *, skip_first: bool) -> list[tuple[int, dict[int, Cell]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows, cells = [], 0
    try:
        for row, typed in enumerate(reader, start=1):
            if row == 1 and skip_first:
                continue
            filled = {at: cell for at, cell in enumerate(map(text_cell, typed)) if cell is not None}
            cells += len(filled)
            if filled:
                rows.append((row, filled))
            if len(rows) > MOST_ROWS or cells > MOST_CELLS:
                raise UnreadableTableError(f"row {row}", "The file has too many rows.", "Split it by trip.")
    except csv.Error as error:
        what = f"The row cannot be taken apart ({error})."
        mend = "A cell that holds a quote or a line end stands in quotes, with its own quotes doubled."
        raise UnreadableTableError(f"line {reader.line_num}", what, mend) from None
    return rows
