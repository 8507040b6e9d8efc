"""Spreadsheets typed from wet paper: XLSX and CSV into the raw season of the JSON format.

XLSX: sheets ``trips``, ``hauls``, ``lines`` and ``readings``, any of them; a sheet called ``notes`` or ``read me``
is passed over. A workbook with one sheet of another name is read as ``lines``.
CSV: files of one name but for these four words ("2027-spring-lines.csv" beside "2027-spring-hauls.csv"), or one
file by itself. Where the hauls or trips have no table of their own, their columns stand with the catch lines,
one row a catch line, and a blank means "as above". See ``table_columns`` for the columns and their synonyms.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from api.domain.facts import Book
from api.exchange.faults import Fault
from api.exchange.plain_words import listed, shown
from api.exchange.printable import one_line
from api.exchange.table_cells import MOST_CELLS, Table, UnreadableTableError
from api.exchange.table_columns import LEVELS, Level, match_title, plain_title
from api.exchange.table_csv import read_csv
from api.exchange.table_records import MOST_TITLE_ROWS, gather
from api.exchange.table_season import FORMAT, Provenance, raw_season
from api.exchange.table_xlsx import read_xlsx

__all__ = ["TABLE_SUFFIXES", "first_of_each_set", "read_tables"]

TABLE_SUFFIXES = (".csv", ".tsv", ".xlsx", ".xlsm")
_CSV_SUFFIXES = (".csv", ".tsv")
_PASSED_OVER = {"notes", "note", "read me", "readme", "legend"}
_SET_WORD = re.compile(r"(?<![a-z])(trips|hauls|lines|readings)(?![a-z])", re.IGNORECASE)


def read_tables(path: Path, book: Book) -> tuple[dict[str, Any], Provenance, list[Fault]]:
    """Read a table, or the set of CSV files that ``path`` is one of; never raises for what a file holds.

    Gives the raw season (as of a trips file), the row of each record by its place ("trips[0]: hauls[2]:
    lines[5]" -> "sheet 'lines', row 12"), and every fault. A catch line with a fault is left out; a haul or
    trip keeps what could be read. A trip without a zone takes that of the authorities, where they have one.
    A haul may name its "track", which ``gpx.attach_tracks`` takes out again.
    """
    try:
        tables, faults = _tables(path)
    except UnreadableTableError as error:
        return _nothing(), {}, [Fault(path.name, one_line(error.where), one_line(error.what), error.mend)]
    except OSError as error:
        what = f"The file cannot be opened ({error.strerror})."
        return _nothing(), {}, [Fault(path.name, "", what, "Look at its name and place.")]
    if not tables:
        mend = f"Give sheets or files called {listed(LEVELS)}."
        return _nothing(), {}, faults or [Fault(path.name, "", "There is nothing in it.", mend)]
    found = gather(_as_lines_if_joined(tables), path.name)
    raw, provenance = raw_season(found, _zone_of(book))
    return raw, provenance, faults + found.faults.every()


def first_of_each_set(paths: Iterable[Path]) -> list[Path]:
    """Leave out CSV files that are read with another one before them ("spring-hauls.csv" after "spring-lines.csv")."""
    kept: list[Path] = []
    seen: set[tuple[Path, str]] = set()
    for path in paths:
        word = _set_word(path)
        mark = (path.parent, _without_word(path, word)) if word else (path, "")
        if mark not in seen:
            seen.add(mark)
            kept.append(path)
    return kept


def _nothing() -> dict[str, Any]:
    return {"format": FORMAT, "trips": []}


def _zone_of(book: Book) -> str:
    zones = {authority.zone for authority in book.authorities}
    return zones.pop() if len(zones) == 1 else ""


def _tables(path: Path) -> tuple[dict[Level, Table], list[Fault]]:
    suffix = path.suffix.lower()
    if path.is_dir():
        raise UnreadableTableError("", "This is a folder, not a file.", "Name the file in it.")
    if suffix in (".xlsx", ".xlsm"):
        return _of_workbook(path)
    if suffix in _CSV_SUFFIXES:
        return _of_csv(path)
    mend = f"Save it as .xlsx or .csv, or give one of {listed(TABLE_SUFFIXES)}."
    raise UnreadableTableError("", f"Tables ending in {shown(suffix)} are not read.", mend)


def _of_workbook(path: Path) -> tuple[dict[Level, Table], list[Fault]]:
    sheets = [sheet for sheet in read_xlsx(path) if plain_title(sheet.name) not in _PASSED_OVER]
    if len(sheets) == 1 and _level_of(sheets[0].name) is None:
        return {"lines": sheets[0]}, []
    tables: dict[Level, Table] = {}
    faults = []
    for sheet in sheets:
        level = _level_of(sheet.name)
        if level is None:
            mend = f"Name it one of {listed(LEVELS)}, or 'notes' if it is not to be read."
            faults.append(Fault(path.name, one_line(sheet.label), "What this sheet holds is not known.", mend))
        elif level in tables:
            faults.append(
                Fault(path.name, one_line(sheet.label), f"There are two sheets of {level}.", "Put them into one.")
            )
        else:
            tables[level] = sheet
    _refuse_too_much(tables)
    return tables, faults


def _level_of(name: str) -> Level | None:
    plain = plain_title(name)
    for level in LEVELS:
        if plain in (level, level.removesuffix("s"), f"catch {level}"):
            return level
    return None


def _of_csv(path: Path) -> tuple[dict[Level, Table], list[Fault]]:
    word = _set_word(path)
    if word is None:
        return _without_empty({"lines": read_csv(path, "", path.stem)}), []
    tables: dict[Level, Table] = {}
    faults = []
    for level, file in _set_of(path, word):
        own = file.name == path.name
        try:
            tables[level] = read_csv(file, "" if own else f"file '{file.name}'", level)
        except UnreadableTableError as error:
            faults.append(Fault(file.name, error.where, error.what, error.mend))
        except OSError as error:
            what = f"The file cannot be opened ({error.strerror})."
            faults.append(Fault(file.name, "", what, "Look at its name and place."))
    if faults:
        # Without one of them the rows of the others would be told to lack what it holds.
        return {}, faults
    _refuse_too_much(tables)
    return _without_empty(tables), []


def _as_lines_if_joined(tables: dict[Level, Table]) -> dict[Level, Table]:
    """Take a lone table of trips or hauls that names animals for what it is: catch lines with all columns."""
    if len(tables) == 1:
        for table in tables.values():
            for _, cells in table.rows[:MOST_TITLE_ROWS]:
                named = (match_title(cell.text, ("lines",)) for cell in cells.values())
                if any(column is not None and column.name == "taxon" for column in named):
                    return {"lines": table}
    return tables


def _without_empty(tables: dict[Level, Table]) -> dict[Level, Table]:
    return {level: table for level, table in tables.items() if table.rows}


def _refuse_too_much(tables: dict[Level, Table]) -> None:
    if sum(len(cells) for table in tables.values() for _, cells in table.rows) > MOST_CELLS:
        raise UnreadableTableError("", f"More than {MOST_CELLS} cells are filled.", "Split it by trip.")


def _set_word(path: Path) -> re.Match[str] | None:
    """Find the last word of a file's name that says which table of a set it is."""
    if path.suffix.lower() not in _CSV_SUFFIXES:
        return None
    return max(_SET_WORD.finditer(path.stem), key=lambda match: match.start(), default=None)


def _without_word(path: Path, word: re.Match[str]) -> str:
    return f"{path.stem[: word.start()]}*{path.stem[word.end() :]}{path.suffix}".casefold()


def _set_of(path: Path, word: re.Match[str]) -> Iterator[tuple[Level, Path]]:
    """Give the files of one name but for the word, with what each holds."""
    pattern = _without_word(path, word)
    for level in LEVELS:
        if word[0].casefold() == level:
            yield level, path
            continue
        wanted = pattern.replace("*", level, 1)
        found = sorted(file for file in path.parent.iterdir() if file.name.casefold() == wanted)
        if found:
            yield level, found[0]
