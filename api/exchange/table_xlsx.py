"""XLSX workbooks read cell by cell, without trusting a word of what they say about themselves.

The sheets are read as a run of events: openpyxl reads a sheet to its end to learn its size where the sheet
does not say it, and believes it where it does (a million empty rows take it seconds and 100 MB, ten million
half a minute). Its number formats and date serials are used here. Sizes are looked at before anything is
unpacked, reading stops after ``MOST_EMPTY_ROWS``, and a formula is told from a typed value.
"""

from __future__ import annotations

import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format
from openpyxl.utils.cell import column_index_from_string, range_boundaries
from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH, from_excel, from_ISO8601

from api.exchange.table_cells import MOST_CELLS, MOST_ROWS, MOST_TEXT, Cell, Table, UnreadableTableError, text_cell
from api.exchange.xml_events import (
    MOST_ELEMENTS,
    EnoughReadError,
    Listener,
    UnusableXmlError,
    local_name,
    walk_xml,
)

MOST_BYTES = 50_000_000
MOST_UNPACKED = 200_000_000
MOST_PART = 100_000_000
MOST_PARTS = 2_000
MOST_EMPTY_ROWS = 5_000
MOST_COLUMNS = 200
MOST_SHEETS = 50

_REFERENCE = re.compile(r"([A-Z]{1,3})[1-9]\d{0,6}\Z", re.ASCII)
_COPY_AGAIN = "Copy the file again, or open it and save it anew as .xlsx."


def read_xlsx(path: Path) -> list[Table]:
    """Read every sheet that holds anything; raises UnreadableTableError or OSError."""
    if path.stat().st_size > MOST_BYTES:
        raise UnreadableTableError("", f"The file is larger than {MOST_BYTES // 1_000_000} MB.", "Remove its pictures.")
    with path.open("rb") as file:
        _refuse_other_kinds(file.read(8))
        try:
            parts = zipfile.ZipFile(file)
        except (zipfile.BadZipFile, struct.error, ValueError, NotImplementedError):
            raise _damaged() from None
        with parts:
            _refuse_bombs(parts)
            try:
                return _Workbook(path.name, parts).tables()
            except UnusableXmlError as error:
                raise UnreadableTableError("", f"The workbook cannot be read. {error.what}", error.mend) from None


def _damaged() -> UnreadableTableError:
    return UnreadableTableError("", "The workbook is damaged or cut short.", _COPY_AGAIN)


def _refuse_other_kinds(head: bytes) -> None:
    if not head:
        raise UnreadableTableError("", "The file is empty.", "Look whether the copying broke off.")
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        what = "This is a workbook of the old kind (.xls), or one with a password."
        raise UnreadableTableError("", what, "Save it as .xlsx without a password.")
    if not head.startswith(b"PK"):
        raise UnreadableTableError("", "This is not an .xlsx workbook, whatever its name says.", _COPY_AGAIN)


def _refuse_bombs(parts: zipfile.ZipFile) -> None:
    """Look at what the parts will unpack to; a part never unpacks to more than its entry says."""
    entries = parts.infolist()
    unpacked = sum(entry.file_size for entry in entries)
    if len(entries) > MOST_PARTS or unpacked > MOST_UNPACKED or any(e.file_size > MOST_PART for e in entries):
        what = f"The workbook would unpack to {unpacked // 1_000_000} MB in {len(entries)} parts."
        raise UnreadableTableError("", what, "Delete empty rows, pictures and old sheets, and save it again.")
    if any(entry.flag_bits & 0x1 for entry in entries):
        raise UnreadableTableError("", "The workbook has a password.", "Save it without one.")
    if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
        raise UnreadableTableError("", "The workbook is packed in a way no spreadsheet packs.", _COPY_AGAIN)


class _Silent:
    """A listener that hears nothing; others override what they need."""

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        """Hear an element begin."""

    def end(self, name: str) -> None:
        """Hear an element end."""

    def text(self, chunk: str) -> None:
        """Hear text."""


class _Attributes(_Silent):
    """Gathers the attributes of some elements."""

    def __init__(self, *wanted: str) -> None:
        self._wanted = wanted
        self.found: list[tuple[str, Mapping[str, str]]] = []

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        del line
        if name in self._wanted:
            self.found.append((name, {local_name(key): value for key, value in attributes.items()}))


class _Strings(_Silent):
    """Gathers the shared strings: the text of each <si>, without the readings of East Asian names (<rPh>)."""

    def __init__(self) -> None:
        self.strings: list[str] = []
        self._pieces: list[str] = []
        self._listening = self._aside = False
        self._room = MOST_TEXT

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        del attributes, line
        self._aside = self._aside or name == "rPh"
        self._listening = name == "t" and not self._aside

    def end(self, name: str) -> None:
        if name == "t":
            self._listening = False
        elif name == "rPh":
            self._aside = False
        elif name == "si":
            self.strings.append("".join(self._pieces))
            self._pieces = []

    def text(self, chunk: str) -> None:
        if self._listening:
            self._room -= len(chunk)
            if self._room < 0:
                raise UnusableXmlError("It holds too much text.", "Split it by trip.")
            self._pieces.append(chunk)


class _Styles(_Silent):
    """Tells which cell styles show a date or a time, and which a length of time."""

    def __init__(self) -> None:
        self._codes: dict[int, str] = dict(BUILTIN_FORMATS)
        self._used: list[int] = []
        self._inside = False

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        del line
        if name == "numFmt":
            self._codes[int(attributes.get("numFmtId", 0))] = attributes.get("formatCode", "")[:200]
        elif name == "cellXfs":
            self._inside = True
        elif name == "xf" and self._inside:
            self._used.append(int(attributes.get("numFmtId", 0)))

    def end(self, name: str) -> None:
        self._inside = self._inside and name != "cellXfs"

    def kinds(self) -> list[str]:
        """Give "date", "duration" or "" for each style."""
        return [self._kind(self._codes.get(number, "General")) for number in self._used]

    def _kind(self, code: str) -> str:
        if not is_date_format(code):
            return ""
        return "duration" if is_timedelta_format(code) else "date"


class _Workbook:
    """The parts of a workbook, opened as they are needed."""

    def __init__(self, file: str, parts: zipfile.ZipFile) -> None:
        self._file, self._parts = file, parts
        self._home = self._main_part()
        self._strings: list[str] = []
        self._kinds: list[str] = []
        self._epoch = WINDOWS_EPOCH

    def tables(self) -> list[Table]:
        """Read the sheets in their order."""
        found = self._attributes(self._home, "sheet", "workbookPr")
        if any(name == "workbookPr" and given.get("date1904") in ("1", "true") for name, given in found):
            self._epoch = MAC_EPOCH
        targets = self._related(self._home)
        self._read_shared(targets)
        sheets = [given for name, given in found if name == "sheet"]
        if not sheets or len(sheets) > MOST_SHEETS:
            raise UnreadableTableError("", f"The workbook has {len(sheets)} sheets.", f"Give 1 to {MOST_SHEETS}.")
        by_id = {key: target for key, _, target in targets}
        read = [self._sheet(given.get("name", "")[:60], by_id.get(given.get("id", ""), "")) for given in sheets]
        return [table for table in read if table.rows]

    def _main_part(self) -> str:
        for _, kind, target in self._related(""):
            if kind == "officeDocument":
                return target
        raise UnreadableTableError("", "The .zip inside is not a workbook.", _COPY_AGAIN)

    def _walk(self, part: str, listener: Listener, most: int = MOST_ELEMENTS) -> None:
        try:
            with self._parts.open(part) as stream:
                walk_xml(stream, listener, most)
        except (zipfile.BadZipFile, zlib.error, EOFError, struct.error, KeyError):
            raise _damaged() from None

    def _attributes(self, part: str, *wanted: str) -> list[tuple[str, Mapping[str, str]]]:
        listener = _Attributes(*wanted)
        self._walk(part, listener, 100_000)
        return listener.found

    def _related(self, part: str) -> list[tuple[str, str, str]]:
        """Give id, kind and place of what a part refers to."""
        folder, own = posixpath.split(part)
        found = self._attributes(posixpath.join(folder, "_rels", f"{own}.rels"), "Relationship")
        return [
            (
                given.get("Id", ""),
                posixpath.basename(given.get("Type", "")),
                posixpath.normpath(posixpath.join("/" + folder, given.get("Target", ""))).lstrip("/"),
            )
            for _, given in found
        ]

    def _read_shared(self, targets: list[tuple[str, str, str]]) -> None:
        for _, kind, target in targets:
            if kind == "sharedStrings":
                strings = _Strings()
                self._walk(target, strings)
                self._strings = strings.strings
            elif kind == "styles":
                styles = _Styles()
                self._walk(target, styles, 500_000)
                self._kinds = styles.kinds()

    def _sheet(self, name: str, target: str) -> Table:
        label = f"sheet '{name}'"
        listener = _Sheet(label, self._strings, self._kinds, self._epoch)
        self._walk(target, listener)
        return Table(self._file, label, name, listener.rows, tuple(listener.merged))


class _Sheet(_Silent):
    """Gathers the filled cells of one sheet."""

    def __init__(self, label: str, strings: list[str], kinds: list[str], epoch: datetime) -> None:
        self._label, self._strings, self._kinds, self._epoch = label, strings, kinds, epoch
        self.rows: list[tuple[int, dict[int, Cell]]] = []
        self.merged: list[tuple[int, int, int, int]] = []
        self._row = self._column = self._cells = self._empty = 0
        self._room = MOST_TEXT
        self._current: dict[int, Cell] = {}
        self._given: Mapping[str, str] = {}
        self._pieces: list[str] = []
        self._listening = self._formula = self._aside = False

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
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
        found = _REFERENCE.match(reference)
        if found is None:
            raise UnusableXmlError(f"It has a cell at '{reference[:20]}'.", _COPY_AGAIN)
        return column_index_from_string(found[1])

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
            if self._empty > MOST_EMPTY_ROWS:
                self._stop_at_empty_rows()
            return
        self._empty = 0
        if len(self.rows) >= MOST_ROWS or self._row > 1_048_576:
            raise UnreadableTableError(f"{self._label}, row {self._row}", "The sheet is too long.", "Split it by trip.")
        self.rows.append((self._row, self._current))

    def _stop_at_empty_rows(self) -> None:
        if not self.rows:
            raise EnoughReadError  # a sheet that nobody wrote on
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
                f"{self._label}, row {self._row}", "A cell's text is missing from the workbook.", _COPY_AGAIN
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
