"""Tables as a crew would type them, written for the tests of their readers."""

import csv
import io

import openpyxl

from api.domain.facts import Book
from api.domain.taxa import Taxa
from api.exchange.tables import read_tables

NO_BOOK = Book((), Taxa.of([]))
LINE_TITLES = ["trip", "haul", "taxon", "fate", "count"]
HAUL_TITLES = ["trip", "haul", "start", "end"]
TRIP_TITLES = ["trip", "date", "leader", "zone"]
TRIP = ["t1", "2027-06-11", "p-ana", "Australia/Hobart"]
GOBY = "Pseudogobius olorum"


def csv_file(tmp_path, *rows, name="night.csv", separator=",", encoding="utf-8"):
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows(rows)
    path = tmp_path / name
    path.write_bytes(text.getvalue().encode(encoding))
    return path


def workbook(tmp_path, name="night.xlsx", **sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / name
    book.save(path)
    return path


def hauls_of(raw):
    return [haul for trip in raw["trips"] for haul in trip.get("hauls", [])]


def lines_of(raw):
    return [line for haul in hauls_of(raw) for line in haul.get("lines", [])]


def told(faults):
    return [f"{fault.where}: {fault.what}" for fault in faults]


def single(tmp_path, titles, *cells, **options):
    """One catch line in a single file, with more columns than it needs."""
    row = ["t1", "1", "2027-06-11", "21:30", GOBY, "12"]
    at = {"trip": 0, "haul": 1, "date": 2, "start": 3, "taxon": 4, "count": 5}
    for title, cell in zip(titles, cells, strict=True):
        if title in at:
            row[at[title]] = cell
    more = [(title, cell) for title, cell in zip(titles, cells, strict=True) if title not in at]
    path = csv_file(tmp_path, [*at, *(title for title, _ in more)], [*row, *(cell for _, cell in more)], **options)
    return read_tables(path, NO_BOOK)
