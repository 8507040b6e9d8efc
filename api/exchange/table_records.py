"""Rows gathered into records: which trip, haul and catch line each row of a crew's tables speaks of.

On wet paper a blank means "as above". Here a blank trip or haul is the one above; where a row of catch also
carries the columns of its haul, what the haul above used (gear, mesh, site ...) holds until something else is
written. Times and positions are never carried from one haul to the next. A ditto mark takes the cell above.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from api.exchange.faults import Fault
from api.exchange.plain_words import listed, shown
from api.exchange.printable import one_line
from api.exchange.table_cells import UNUSABLE, Cell, Table
from api.exchange.table_columns import COLUMNS, RIG, Column, Level, match_title, nearest_title

_DITTO = {'"', "''", "\u3003", "\u201d", "ditto", "do.", "as above"}
MOST_TITLE_ROWS = 20
MOST_FAULTS = 1_000

HaulKey = tuple[str, str]
"""The trip and the haul as typed."""

_Key = TypeVar("_Key", str, HaulKey)


@dataclass(frozen=True, slots=True)
class Placed:
    """A cell with its place, the unit in its column's title, and whether it was carried down to its row."""

    cell: Cell
    where: str
    unit: str = ""
    carried: bool = False


@dataclass(slots=True)
class Record:
    """The cells of one trip, haul, catch line or reading by column; ``where`` is its row."""

    where: str
    cells: dict[str, Placed] = field(default_factory=dict)


@dataclass(slots=True)
class FaultList:
    """The faults of one file, with an end to them: a hostile file may hold millions."""

    file: str
    faults: list[Fault] = field(default_factory=list)
    _more: int = 0

    def add(self, where: str, what: str, mend: str) -> None:
        """Take down a fault."""
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(self.file, one_line(where), one_line(what), one_line(mend)))
        else:
            self._more += 1

    def every(self) -> list[Fault]:
        """Give the faults in the order of the rows, and how many more there are."""
        self.faults.sort(key=lambda fault: _natural(fault.where))
        more = [Fault(self.file, "", f"{self._more} more faults are not listed.", "Correct these first.")]
        return self.faults + (more if self._more else [])


def _natural(where: str) -> list[tuple[int, str]]:
    """Give a key by which "row 9" sorts before "row 10"."""
    return [(int(part), "") if part.isdecimal() else (0, part) for part in re.split(r"(\d{1,9})", where)]


@dataclass(slots=True)
class Gathered:
    """Everything typed, by trip and haul, in the order of the rows."""

    faults: FaultList
    trips: dict[str, Record] = field(default_factory=dict)
    hauls: dict[HaulKey, Record] = field(default_factory=dict)
    lines: list[tuple[HaulKey, Record]] = field(default_factory=list)
    readings: list[tuple[HaulKey, Record]] = field(default_factory=list)


def gather(tables: dict[Level, Table], file: str) -> Gathered:
    """Gather the rows of every table; the columns of a missing table may stand in the next one below it."""
    found = Gathered(FaultList(file))
    for level in COLUMNS:
        if level in tables:
            above = _missing_above(level, tables)
            _Gatherer(found, tables[level], (level, *above), set(tables)).run()
    return found


def _missing_above(level: Level, tables: dict[Level, Table]) -> tuple[Level, ...]:
    """Give the levels without a table of their own whose columns this table carries, nearest first."""
    if level == "lines" and "hauls" not in tables:
        return ("hauls",) if "trips" in tables else ("hauls", "trips")
    if level == "hauls" and "trips" not in tables:
        return ("trips",)
    return ()


@dataclass(slots=True)
class _Row:
    where: str
    cells: dict[Column, Placed]

    def own(self, level: Level) -> dict[str, Placed]:
        return {column.name: placed for column, placed in self.cells.items() if column.level == level and column.name}

    def key(self, name: str) -> str:
        for column, placed in self.cells.items():
            if column.name == name and placed.cell.kind not in UNUSABLE:
                return placed.cell.text
        return ""


class _Gatherer:
    """Reads one table into what is gathered."""

    def __init__(self, found: Gathered, table: Table, levels: tuple[Level, ...], given: set[Level]) -> None:
        self._found, self._table, self._levels, self._given = found, table, levels, given
        self._faults = found.faults
        self._trip = self._haul = ""
        self._date: Placed | None = None

    def run(self) -> None:
        """Take in every row."""
        for row in self._rows():
            trip = self._trip_of(row)
            if trip is None:
                continue
            if self._levels[0] == "trips":
                self._take("trips", self._found.trips, trip, row, "trip")
                continue
            haul = self._haul_of(trip, row)
            if haul is None:
                continue
            self._take_haul_or_line(trip, haul, row)

    def _take_haul_or_line(self, trip: str, haul: str, row: _Row) -> None:
        key = (trip, haul)
        match self._levels[0]:
            case "hauls":
                self._take("hauls", self._found.hauls, key, row, "haul")
                self._carry_date(self._found.hauls[key])
            case "lines":
                own = row.own("lines")
                own.pop("trip", None)
                own.pop("haul", None)
                if own:
                    self._found.lines.append((key, Record(row.where, own)))
            case "readings":
                self._found.readings.append((key, Record(row.where, row.own("readings"))))

    def _carry_date(self, record: Record) -> None:
        """Let a haul without a date have that of the haul above in the same trip."""
        own = record.cells.get("date")
        if own is not None:
            self._date = Placed(own.cell, own.where, own.unit, carried=True)
        elif self._date is not None:
            record.cells["date"] = self._date

    def _take(self, level: Level, records: dict[_Key, Record], key: _Key, row: _Row, what: str) -> None:
        if key in records:
            self._faults.add(row.where, f"This {what} has a row already ({records[key].where}).", "Keep one of them.")
            return
        records[key] = Record(row.where, row.own(level))

    # --- which trip and haul

    def _trip_of(self, row: _Row) -> str | None:
        typed = row.key("trip")
        known = self._found.trips
        trip = typed or self._trip or self._guessed_trip(row.key("haul"))
        if not trip:
            self._faults.add(row.where, "The row names no trip, nor does one above it.", "Write the trip's name.")
            return None
        if trip != self._trip:
            self._trip, self._haul, self._date = trip, "", None
        if self._levels[0] == "trips":
            return trip
        if trip not in known:
            if "trips" in self._given or self._levels[0] == "readings":
                mend = f"Known trips: {listed(known)}." if known else "Write the trips first."
                self._faults.add(row.where, f"There is no trip {shown(trip)} in the trips.", mend)
                return None
            known[trip] = Record(row.where)
        if "trips" in self._levels:
            self._complete(known[trip], row.own("trips"))
        return trip

    def _guessed_trip(self, haul: str) -> str:
        """Give the only trip there is, or the only one with a haul of that name."""
        if len(self._found.trips) == 1:
            return next(iter(self._found.trips))
        trips = {key[0] for key in self._found.hauls if key[1] == haul}
        return trips.pop() if len(trips) == 1 else ""

    def _haul_of(self, trip: str, row: _Row) -> str | None:
        typed = row.key("haul")
        if self._levels[0] == "readings" and typed in ("-", "trip"):
            typed, self._haul = "", ""
            return ""
        haul = typed or ("" if self._levels[0] == "hauls" else self._haul)
        if not haul and self._levels[0] == "readings":
            return ""
        if not haul and self._levels[0] == "lines":
            haul = self._only_haul(trip)
        if not haul:
            self._faults.add(row.where, "The row names no haul, nor does one above it.", "Write the haul's number.")
            return None
        if self._levels[0] != "hauls" and not self._knows(trip, haul, row):
            return None
        self._haul = haul
        return haul

    def _only_haul(self, trip: str) -> str:
        hauls = [key[1] for key in self._found.hauls if key[0] == trip]
        return hauls[0] if len(hauls) == 1 else ""

    def _knows(self, trip: str, haul: str, row: _Row) -> bool:
        """See that the haul is there; make it from this row where the hauls have no table of their own."""
        hauls = self._found.hauls
        if "hauls" in self._levels:
            own = row.own("hauls")
            if (trip, haul) not in hauls:
                hauls[trip, haul] = Record(row.where, {**self._rig_above(trip), **own})
            else:
                self._complete(hauls[trip, haul], own)
            return True
        if (trip, haul) in hauls:
            return True
        known = listed(key[1] for key in hauls if key[0] == trip)
        what = f"Trip {shown(trip)} has no haul {shown(haul)}."
        self._faults.add(row.where, what, f"Its hauls: {known}." if known else "Write its hauls first.")
        return False

    def _rig_above(self, trip: str) -> dict[str, Placed]:
        """Give what the haul above in the same trip used."""
        above = self._found.hauls.get((trip, self._haul))
        if above is None:
            return {}
        return {
            name: Placed(placed.cell, placed.where, placed.unit, carried=True)
            for name, placed in above.cells.items()
            if name in RIG
        }

    def _complete(self, record: Record, cells: dict[str, Placed]) -> None:
        """Add what a further row says of a record; what contradicts it is a fault."""
        for name, placed in cells.items():
            held = record.cells.setdefault(name, placed)
            if held.cell.text != placed.cell.text and name not in ("trip", "haul"):
                what = f"{shown(placed.cell.text)} contradicts {shown(held.cell.text)} ({held.where})."
                self._faults.add(placed.where, what, "Correct one of them, or leave it blank for 'as above'.")

    # --- rows and cells

    def _rows(self) -> Iterator[_Row]:
        """Give the rows below the titles, with formulas, error values and stray cells told of."""
        start, columns = self._titles()
        merged = self._merged_faults(start, columns)
        above: dict[int, Cell] = {}
        for number, typed in self._table.rows[start:]:
            where = self._where(number)
            cells: dict[Column, Placed] = {}
            for at, cell in typed.items():
                place = self._where(number, columns[at].title) if at in columns else f"{where}, column {at + 1}"
                plain = self._plain(cell, above.get(at), place, known=at in columns)
                if (number, at) in merged:
                    plain = Cell("merged cells", "error")
                if plain is not None:
                    cells[columns[at]] = Placed(plain, place, columns[at].unit)
                    if plain.kind not in UNUSABLE:
                        above[at] = plain
            if cells:
                yield _Row(where, cells)

    def _plain(self, cell: Cell, above: Cell | None, place: str, *, known: bool) -> Cell | None:
        if not known:
            what = f"{shown(cell.text)} stands under no title."
            self._faults.add(place, what, "Look for a separator too many, or give the column a title.")
            return None
        if cell.kind == "formula":
            self._faults.add(place, "The cell holds a formula.", "Write the value itself.")
        elif cell.kind == "error":
            self._faults.add(place, f"The cell holds the error {shown(cell.text)}.", "Write the value itself.")
        elif cell.text.casefold() in _DITTO:
            if above is None:
                self._faults.add(place, "A ditto mark has nothing above it.", "Write the value itself.")
            return above
        return cell

    def _titles(self) -> tuple[int, dict[int, Column]]:
        """Find the row of titles: the first with two that are known, else the first."""
        rows = self._table.rows
        start = 0
        for at, (_, cells) in enumerate(rows[:MOST_TITLE_ROWS]):
            if sum(match_title(cell.text, self._levels) is not None for cell in cells.values()) >= 2:
                start = at
                break
        number, cells = rows[start]
        columns: dict[int, Column] = {}
        for at, cell in cells.items():
            column = match_title(cell.text, self._levels)
            if column is None:
                self._unknown_title(number, cell)
                columns[at] = Column(self._levels[0], "", cell.text)
            elif any((column.level, column.name) == (other.level, other.name) for other in columns.values()):
                self._faults.add(self._where(number), f"The column {shown(cell.text)} is there twice.", "Keep one.")
                columns[at] = Column(self._levels[0], "", cell.text)
            else:
                columns[at] = column
        return start + 1, columns

    def _unknown_title(self, number: int, cell: Cell) -> None:
        near = nearest_title(cell.text, self._levels)
        mend = f"Did you mean '{near}'? " if near else ""
        known = listed(name for level in self._levels for name in COLUMNS[level] if name not in ("trip", "haul"))
        what = f"The column title {shown(cell.text)} is not known."
        self._faults.add(self._where(number), what, f"{mend}Known besides trip and haul: {known}.")

    def _merged_faults(self, start: int, columns: dict[int, Column]) -> set[tuple[int, int]]:
        """Tell of merged cells, except where the blanks below mean "as above" anyway; give the untrusted ones."""
        first_row = self._table.rows[start - 1][0]
        filled = dict(self._table.rows)
        carried = {"trip", "haul"} | (RIG if self._levels[0] == "lines" else frozenset())
        untrusted = set()
        for top, left, bottom, right in self._table.merged:
            name = columns[left].name if left in columns else ""
            harmless = bottom <= first_row or (left == right and name in carried)
            if not harmless and left in filled.get(top, {}):
                what = f"Cells of {right - left + 1} columns and {bottom - top + 1} rows are merged."
                self._faults.add(self._where(top), what, "Unmerge them and write the value in each row.")
                untrusted.add((top, left))
        return untrusted

    def _where(self, number: int, title: str = "") -> str:
        row = f"{one_line(self._table.label)}, row {number}" if self._table.label else f"row {number}"
        return f"{row}, column {shown(title)}" if title else row
