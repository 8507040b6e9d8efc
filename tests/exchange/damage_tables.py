"""Damaged tables: cells that cannot be, CSV and workbooks in pieces, and what would fill memory."""

from __future__ import annotations

import io
import random
import struct
import zipfile
import zlib
from collections.abc import Callable

import openpyxl

from tests.exchange.damage_season import ROWS, Damages, csv_bytes, cut, repacked, workbook, zipped

# --- tables


_BAD_CELLS = (
    ("formula", "count", "=1+2"),
    ("1e308", "count", "1e308"),
    ("NaN", "count", "NaN"),
    ("Infinity", "count", "Infinity"),
    ("below zero", "count", "-3"),
    ("letters", "count", "lots"),
    ("formula", "lat", "=A1"),
    ("NaN", "lat", "NaN"),
    ("1e308", "lon", "1e308"),
    ("out of range", "lat", "-95"),
    ("not a time", "start", "dusk"),
    ("hour 25", "end", "25:00"),
    ("not a length", "lengths", "63.5 x"),
    ("zero", "lengths", "0"),
    ("too fine", "lengths", "63.57"),
    ("unknown", "fate", "eaten"),
    ("unknown", "taxon", "Nemo nemo"),
    ("unknown", "authority", "P-9"),
    ("blank", "taxon", ""),
    ("blank", "count", ""),
    ("blank", "measure", ""),
    ("blank", "start", ""),
)


def _changed_rows(column: str, value: object) -> list[list[object]]:
    rows: list[list[object]] = [list(row) for row in ROWS]
    rows[1][ROWS[0].index(column)] = value
    return rows


def csv_cells(made: Damages) -> None:
    for name, column, value in _BAD_CELLS:
        rows = [[str(cell) for cell in row] for row in _changed_rows(column, value)]
        made.trips(f"night.csv: {column} {name}", "night.csv", csv_bytes(rows))
        made.trips(f"night.xlsx: {column} {name}", "night.xlsx", workbook(_changed_rows(column, value or None)))
    for name, value in (("1e308", 1e308), ("below zero", -3), ("a part", 3.5), ("true", True), ("an error", "#REF!")):
        made.trips(f"night.xlsx: count a cell of {name}", "night.xlsx", workbook(_changed_rows("count", value)))


def csv_files(made: Damages) -> None:
    good = csv_bytes(ROWS)
    for name, content in (
        ("no bytes", b""),
        ("one NUL byte", b"\0"),
        ("NUL bytes", good.replace(b"kept", b"ke\0t", 1)),
        ("UTF-16", good.decode().encode("utf-16")),
        ("UTF-16 without a mark", good.decode().encode("utf-16-le")),
        ("Latin-1", good.replace(b"p-ana", b"p-an\xe9", 1)),
        ("a quote left open", good.replace(b"kept", b'"kept', 1)),
        ("a quote closed early", good.replace(b"kept", b'"ke"pt', 1)),
        ("an unknown title", good.replace(b"measure", b"mesure of what", 1)),
        ("a title twice", good.replace(b"lengths", b"count", 1)),
        ("a cell too many", good.replace(b"total length", b"total length,7", 1)),
        ("a cell of 200,000 letters", good.replace(b"p-ana", b"a" * 200_000, 1)),
        ("titles alone", csv_bytes(ROWS[:1]).replace(b"taxon", b"taxes")),
        ("a decimal comma", csv_bytes(_semicolons(), ";")),
        ("a workbook's bytes", workbook()),
        ("random bytes", random.Random(27).randbytes(5_000)),  # the same each time
    ):
        made.trips(f"night.csv of {name}", "night.csv", content)
    made.trips("night.csv of 11 MB", "night.csv", good + b"\r\n" * 5_500_000, heavy=True)
    made.trips("night.csv of 60,000 rows", "night.csv", good + b"t2,,,1,,,,,x,,1,,\r\n" * 60_000, heavy=True)
    made.trips("night.csv of 28,000 faults", "night.csv", good + b"t2,,,1,,,,,,,=1,,\r\n" * 28_000, heavy=True)
    made.beside(
        "hauls of a set cut to nothing", "spring-hauls.csv", b"", "spring-lines.csv", b"haul,taxon,count\r\n1,x,1\r\n"
    )
    made.beside(
        "hauls of a set in UTF-16",
        "spring-hauls.csv",
        "a".encode("utf-16"),
        "spring-lines.csv",
        b"haul,taxon,count\r\n1,x,1\r\n",
    )


def _semicolons() -> list[list[str]]:
    return [[str(cell) for cell in row] for row in _changed_rows("count", "3,5")]


def workbooks(made: Damages) -> None:
    good = workbook()
    for at, short in cut(good, 12):
        made.trips(f"night.xlsx cut at byte {at}", "night.xlsx", short)
    noise = random.Random(28)
    for number in range(12):
        at = noise.randrange(30, len(good) - 30)
        broken = good[:at] + noise.randbytes(24) + good[at + 24 :]
        if _still_opens(broken):
            continue
        made.trips(f"night.xlsx with 24 bytes overwritten ({number})", "night.xlsx", broken)
    for name, content in (
        ("no bytes", b""),
        ("text", b"trip,haul\r\n"),
        ("the head of a zip alone", b"PK\x03\x04"),
        ("an old .xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600),
        ("another zip", zipped({"readme.txt": b"x"})),
        ("an empty zip", zipped({})),
        ("no sheets", repacked(good, lambda name, part: None if "sheet1" in name else part)),
        ("no list of sheets", repacked(good, lambda name, part: None if name == "xl/workbook.xml" else part)),
        ("no strings", repacked(good, lambda name, part: None if "sharedStrings" in name else part)),
        ("a sheet cut short", _sheet_changed(good, lambda part: part[: len(part) // 2])),
        ("a sheet of no bytes", _sheet_changed(good, lambda part: b"")),
        ("a sheet with entities", _sheet_changed(good, lambda part: _LAUGHS + part.partition(b"?>")[2])),
        ("strings with an outside entity", repacked(good, _outside_entity)),
        ("a sheet nested 10,000 deep", _sheet_changed(good, lambda part: b"<worksheet>" + b"<a>" * 10_000)),
        ("a string that is not there", _sheet_changed(good, lambda part: part.replace(b"<v>3</v>", b"<v>999</v>"))),
        ("a cell at row -1", _sheet_changed(good, lambda part: part.replace(b'r="A2"', b'r="A-1"'))),
        ("a row without a number", _sheet_changed(good, lambda part: part.replace(b'<row r="2"', b'<row r="x"'))),
        ("a sheet nobody knows", _two_sheets()),
        ("a password", _flagged(good)),
        ("a bad checksum", _bad_checksum(good)),
        ("merged counts", _sheet_changed(good, _merge_counts)),
        ("nothing in it", workbook([])),
    ):
        made.trips(f"night.xlsx of {name}", "night.xlsx", content)


def _still_opens(content: bytes) -> bool:
    """Tell whether overwritten bytes fell where nobody looks (dates, unused parts)."""
    wanted = ("xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml", "_rels/.rels")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            for name in (*wanted, "xl/_rels/workbook.xml.rels"):
                parts.read(name)
    # NotImplementedError is zipfile's word for a packing that it does not know, RuntimeError for a password.
    except (zipfile.BadZipFile, zlib.error, KeyError, NotImplementedError, RuntimeError, EOFError, ValueError):
        return False
    return True


_LAUGHS = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'


def _outside_entity(name: str, part: bytes) -> bytes:
    if "sharedStrings" not in name:
        return part
    head = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>'
    return head + part.partition(b"?>")[2].replace(b"<si><t", b"<si><t>&e;</t><t", 1)


def _sheet_changed(content: bytes, change: Callable[[bytes], bytes]) -> bytes:
    return repacked(content, lambda name, part: change(part) if name == "xl/worksheets/sheet1.xml" else part)


def _merge_counts(part: bytes) -> bytes:
    return part.replace(b"</sheetData>", b'</sheetData><mergeCells count="1"><mergeCell ref="K2:K3"/></mergeCells>')


def _two_sheets() -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(workbook()))
    book.create_sheet("Tally").append(["x"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _flagged(content: bytes) -> bytes:
    """Set the mark of encryption on every entry of the directory."""
    changed = bytearray(content)
    at = changed.find(b"PK\x01\x02")
    while at >= 0:
        changed[at + 8] |= 1
        at = changed.find(b"PK\x01\x02", at + 4)
    return bytes(changed)


def _bad_checksum(content: bytes) -> bytes:
    changed = bytearray(content)
    at = changed.find(b"PK\x01\x02")
    while at >= 0:
        changed[at + 16 : at + 20] = struct.pack("<I", 1)
        at = changed.find(b"PK\x01\x02", at + 4)
    return bytes(changed)


# --- what would fill memory or never end


def bombs(made: Damages) -> None:
    good = workbook()
    lie = b'<dimension ref="A1:XFD10000000"/>'
    empty = b"<row/>" * 10_000_000
    for name, content in (
        (
            "10 million empty rows",
            _sheet_changed(good, lambda part: part.replace(b"</sheetData>", empty + b"</sheetData>")),
        ),
        (
            "10 million empty rows and a lie about them",
            _sheet_changed(good, lambda part: _lying(part, lie).replace(b"</sheetData>", empty + b"</sheetData>")),
        ),
        (
            "10 million empty rows before the first",
            _sheet_changed(good, lambda part: part.replace(b"<sheetData>", b"<sheetData>" + empty)),
        ),
        (
            "900,000 filled cells",
            _sheet_changed(good, lambda part: part.replace(b"</sheetData>", _cells() + b"</sheetData>")),
        ),
        ("4 million strings", repacked(good, _many_strings)),
        (
            "90 MB in one string",
            repacked(
                good,
                lambda name, part: (
                    part.replace(b"<si><t", b"<si><t>" + b"a" * 90_000_000 + b"</t><t", 1)
                    if "sharedS" in name
                    else part
                ),
            ),
        ),
        (
            "90 MB in one tag",
            _sheet_changed(
                good, lambda part: part.replace(b"<sheetData>", b'<sheetData x="' + b"a" * 90_000_000 + b'">')
            ),
        ),
        (
            "1 million styles",
            repacked(
                good,
                lambda name, part: (
                    part.replace(b"<cellXfs", b"<cellXfs>" + b"<xf/>" * 1_000_000 + b"<cellXfs")
                    if "styles" in name
                    else part
                ),
            ),
        ),
        ("a part of 150 MB", zipped({"xl/workbook.xml": b" " * 150_000_000})),
        ("300 MB in parts of 60 MB", zipped({f"xl/media/{at}.png": b"\0" * 60_000_000 for at in range(5)})),
        ("3,000 parts", zipped({f"xl/media/{at}.png": b"" for at in range(3_000)})),
    ):
        made.trips(f"night.xlsx of {name}", "night.xlsx", content, heavy=True)
    made.trips("trips.json of 70 MB", "trips.json", b'{"format": "' + b"a" * 70_000_000 + b'"}', heavy=True)
    made.authority("authority.json nested 1 million deep", b"[" * 1_000_000, heavy=True)


def _lying(part: bytes, lie: bytes) -> bytes:
    start = part.index(b"<dimension")
    return part[:start] + lie + part[part.index(b"/>", start) + 2 :]


def _cells() -> bytes:
    row = b"<row>" + b"<c><v>1</v></c>" * 13 + b"</row>"
    return row * 70_000


def _many_strings(name: str, part: bytes) -> bytes:
    if "sharedStrings" not in name:
        return part
    return part.replace(b"</sst>", b"<si><t/></si>" * 4_000_000 + b"</sst>")
