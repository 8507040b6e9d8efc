"""XLSX workbooks read cell by cell, without trusting a word of what they say about themselves.

The parts are read as a run of events. openpyxl, whose number formats and date serials are used here, does not
read the sheets: to learn the size of a sheet that does not state it, it goes to the end before the first row is
given (a million empty rows took 2.5 s and 135 MB, and a hostile file has ten million). Sizes are looked at
before anything is unpacked; see ``table_sheet`` for the cells.
"""

from __future__ import annotations

import posixpath
import struct
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format
from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH

from api.exchange.table_cells import MOST_TEXT, Table, UnreadableTableError
from api.exchange.table_sheet import COPY_AGAIN, SheetListener
from api.exchange.xml_events import (
    MOST_ELEMENTS,
    Listener,
    SilentListener,
    UnusableXmlError,
    local_name,
    walk_xml,
)

MOST_BYTES = 50_000_000
MOST_UNPACKED = 200_000_000
MOST_PART = 100_000_000
MOST_PARTS = 2_000
MOST_SHEETS = 50


def read_xlsx(path: Path) -> list[Table]:
    """Read every sheet that holds anything; raises UnreadableTableError or OSError."""
    if path.stat().st_size > MOST_BYTES:
        raise UnreadableTableError("", f"The file is larger than {MOST_BYTES // 1_000_000} MB.", "Remove its pictures.")
    with path.open("rb") as file:
        _refuse_other_kinds(file.read(8))
        try:
            parts = zipfile.ZipFile(file)
        # NotImplementedError is zipfile's word for a version of .zip that it does not know.
        except (zipfile.BadZipFile, struct.error, ValueError, NotImplementedError):
            raise _damaged() from None
        with parts:
            _refuse_bombs(parts)
            try:
                return _Workbook(path.name, parts).tables()
            except UnusableXmlError as error:
                raise UnreadableTableError("", f"The workbook cannot be read. {error.what}", error.mend) from None


def _damaged() -> UnreadableTableError:
    return UnreadableTableError("", "The workbook is damaged or cut short.", COPY_AGAIN)


def _refuse_other_kinds(head: bytes) -> None:
    if not head:
        raise UnreadableTableError("", "The file is empty.", "Look whether the copying broke off.")
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        what = "This is a workbook of the old kind (.xls), or one with a password."
        raise UnreadableTableError("", what, "Save it as .xlsx without a password.")
    if not head.startswith(b"PK"):
        raise UnreadableTableError("", "This is not an .xlsx workbook, whatever its name says.", COPY_AGAIN)


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
        raise UnreadableTableError("", "The workbook is packed in a way no spreadsheet packs.", COPY_AGAIN)


class _Attributes(SilentListener):
    """Gathers the attributes of some elements."""

    def __init__(self, *wanted: str) -> None:
        self._wanted = wanted
        self.found: list[tuple[str, Mapping[str, str]]] = []

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        del line
        if name in self._wanted:
            self.found.append((name, {local_name(key): value for key, value in attributes.items()}))


class _Strings(SilentListener):
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


class _Styles(SilentListener):
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
        raise UnreadableTableError("", "The .zip inside is not a workbook.", COPY_AGAIN)

    def _walk(self, part: str, listener: Listener, most: int = MOST_ELEMENTS) -> None:
        try:
            with self._parts.open(part) as stream:
                walk_xml(stream, listener, most)
        # NotImplementedError is zipfile's word for a packing that it does not know.
        except (zipfile.BadZipFile, zlib.error, EOFError, struct.error, KeyError, NotImplementedError, ValueError):
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
        listener = SheetListener(label, self._strings, self._kinds, self._epoch)
        self._walk(target, listener)
        return Table(self._file, label, name, listener.rows, tuple(listener.merged))
