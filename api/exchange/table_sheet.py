"""The cells of one XLSX sheet, heard as a run of events.

A formula is told from a typed value, a number is given as the spreadsheet shows it, and reading stops after
``MOST_EMPTY_ROWS`` empty rows, whatever the sheet says about its own size.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta

from openpyxl.utils.cell import column_index_from_string, range_boundaries
from openpyxl.utils.datetime import from_excel, from_ISO8601

from api.exchange.table_cells import MOST_CELLS, MOST_ROWS, MOST_TEXT, Cell, UnreadableTableError, text_cell
from api.exchange.xml_events import SilentListener, UnusableXmlError

MOST_EMPTY_ROWS = 5_000
MOST_COLUMNS = 200
_LETTERS = re.compile(r"[A-Z]{1,3}")
COPY_AGAIN = "Copy the file again, or open it and save it anew as .xlsx."


class SheetListener(SilentListener):
    """Gathers the filled cells of one sheet, and stops where it goes on too long."""

    def __init__(self, label: str, strings: list[str], kinds: list[str], epoch: datetime) -> None:
        self._label, self._strings, self._kinds, self._epoch = label, strings, kinds, epoch
        self.rows: list[tuple[int, dict[int, Cell]]] = []
        self.merged: list[tuple[int, int, int, int]] = []
        self._row = self._column = self._cells = self._empty = 0
        self._room = MOST_TEXT
        self._current: dict[int, Cell] = {}
        self._columns: dict[str, int] = {}
        self._given: Mapping[str, str] = {}
        self._pieces: list[str] = []
        self._listening = self._formula = self._aside = False

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        """Hear a row, a cell, a formula or a merged range begin."""
        del line
        match name:
            case "row":
                self._row = int(attributes.get("r") or self._row + 1)
                self._column, self._current = 0, {}
            case "c":
                self._given, self._pieces, self._formula = attributes, [], False
                self._column = self._column_of(attributes.get("r"))
            case "f":
                self._formula = True
            case "rPh":
                self._aside = True
            case "v" | "t":
                self._listening = not self._aside
            case "mergeCell":
                self._merge(attributes.get("ref", ""))

    def end(self, name: str) -> None:
        """Hear a cell or a row end."""
        match name:
            case "v" | "t":
                self._listening = False
            case "rPh":
                self._aside = False
            case "c":
                self._finish_cell()
            case "row":
                self._finish_row()

    def text(self, chunk: str) -> None:
        """Hear a piece of a value."""
        if self._listening:
            self._pieces.append(chunk)
            self._take_room(len(chunk))

    def _take_room(self, letters: int) -> None:
        self._room -= letters
        if self._room < 0:
            raise UnreadableTableError(self._label, "The sheet holds too much text.", "Split it by trip.")

    def _column_of(self, reference: str | None) -> int:
        if not reference:
            return self._column + 1
        letters = reference.rstrip("0123456789")
        column = self._columns.get(letters)
        if column is None:
            if _LETTERS.fullmatch(letters) is None:
                raise UnusableXmlError(f"It has a cell at '{reference[:20]}'.", COPY_AGAIN)
            column = self._columns[letters] = column_index_from_string(letters)
        return column

    def _merge(self, reference: str) -> None:
        left, top, right, bottom = range_boundaries(reference)
        if None not in (left, top, right, bottom) and len(self.merged) < MOST_ROWS:
            self.merged.append((int(top or 0), int(left or 0) - 1, int(bottom or 0), int(right or 0) - 1))

    def _finish_cell(self) -> None:
        cell = self._cell("".join(self._pieces))
        if cell is None:
            return
        self._cells += 1
        if self._cells > MOST_CELLS:
            raise UnreadableTableError(self._label, f"More than {MOST_CELLS} cells are filled.", "Split it by trip.")
        if self._column > MOST_COLUMNS:
            where = f"{self._label}, row {self._row}"
            raise UnreadableTableError(where, f"A cell far to the right ({self._column}) is filled.", "Clear it.")
        self._current[self._column - 1] = cell

    def _finish_row(self) -> None:
        if not self._current:
            self._empty += 1
            if self.rows and self._empty > MOST_EMPTY_ROWS:
                self._stop_at_empty_rows()
            return
        self._empty = 0
        if len(self.rows) >= MOST_ROWS or self._row > 1_048_576:
            raise UnreadableTableError(f"{self._label}, row {self._row}", "The sheet is too long.", "Split it by trip.")
        self.rows.append((self._row, self._current))

    def _stop_at_empty_rows(self) -> None:
        raise UnreadableTableError(
            f"{self._label}, row {self.rows[-1][0] + 1}",
            f"More than {MOST_EMPTY_ROWS} empty rows follow; what may stand behind them was not read.",
            "Delete the rows below the last entry and save the workbook again.",
        )

    def _cell(self, raw: str) -> Cell | None:
        if self._formula:
            return Cell("a formula", "formula")
        kind = self._given.get("t", "n")
        match kind:
            case "s":
                text = self._shared(raw)
                self._take_room(len(text))
                return text_cell(text)
            case "str" | "inlineStr":
                return text_cell(raw)
            case "e":
                return Cell(raw or "#VALUE!", "error")
            case "b":
                return Cell("yes" if raw.strip() == "1" else "no", "yes or no") if raw else None
            case "d":
                return _moment_cell(from_ISO8601(raw)) if raw else None  # type: ignore[no-untyped-call]
        return self._number(raw.strip()) if raw.strip() else None

    def _shared(self, raw: str) -> str:
        try:
            at = int(raw)
        except ValueError:
            at = -1
        if not 0 <= at < len(self._strings):
            raise UnreadableTableError(
                f"{self._label}, row {self._row}", "A cell's text is missing from the workbook.", COPY_AGAIN
            )
        return self._strings[at]

    def _number(self, raw: str) -> Cell:
        try:
            value = float(raw)
        except ValueError:
            return Cell(raw[:100], "error")
        style = int(self._given.get("s", 0))
        kind = self._kinds[style] if 0 <= style < len(self._kinds) else ""
        if kind:
            return self._serial(raw, value, duration=kind == "duration")
        return Cell(_as_shown(value), "number")

    def _serial(self, raw: str, value: float, *, duration: bool) -> Cell:
        try:
            # A length of time ([h]:mm) below a day is a time of day typed into a column of that format.
            moment = from_excel(value, self._epoch, timedelta=duration and not 0 <= value < 1)
        except (OverflowError, ValueError):
            return Cell(f"{raw[:30]} as a date", "error")
        return _moment_cell(moment)


def _moment_cell(moment: object) -> Cell:
    match moment:
        case datetime():
            # A time is stored as a part of a day and comes back a few microseconds early.
            half = timedelta(seconds=0.5 if moment.year < 9999 else 0)
            at = (moment + half).replace(microsecond=0)
            if at.time() == time(0):
                return Cell(at.date().isoformat(), "moment", at.date())
            return Cell(at.isoformat(" "), "moment", at)
        case time():
            at_time = moment.replace(microsecond=0)
            return Cell(at_time.isoformat("minutes" if not at_time.second else "seconds"), "moment", at_time)
        case date():
            return Cell(moment.isoformat(), "moment", moment)
    return Cell(str(moment)[:60], "error")


def _as_shown(value: float) -> str:
    """Give a number as the spreadsheet shows it: 15 digits, since 70.1 is stored as 70.099999999999994."""
    text = format(value, ".15g")
    if "e-" in text and abs(value) > 1e-12:
        return format(value, ".15f").rstrip("0")
    return text
