"""A report of 5,000 catch lines against bare reportlab tables of 500 rows with the same rows: a ratio in one run.

    python -m tests.bench.bench_report

The report is laid out and written with its map, plots, structure tree, links and attachments; the bare way only sets
the rows of the report's own tables as plain platypus tables.
"""

from __future__ import annotations

import io
import statistics
import time
from collections.abc import Callable
from dataclasses import replace

from reportlab.lib.pagesizes import A4
from reportlab.platypus import SimpleDocTemplate, Table

from api.domain.facts import Facts
from api.exchange.books import read_book
from api.exchange.snapshot import freeze
from api.operations.reporting import laid_out, report_pdf
from reports.document import Document, plain
from reports.document import Table as Grid
from tests.bench.bench_judge import AS_OF, season_of
from tests.builders import SAMPLE_AUTHORITIES

ROUNDS = 5
META = {"revision": 0, "replaces": "", "changes": [], "tool": "creekledger"}


def rows_of(document: Document) -> list[list[list[str]]]:
    """Give the rows of every table of a document as plain text."""
    tables = [block for block in document.blocks if isinstance(block, Grid)]
    return [[[plain(cell.text) for cell in row.cells] for row in table.rows] for table in tables]


def bare(tables: list[list[list[str]]]) -> bytes:
    """Set the same rows as plain tables of 500 rows."""
    out = io.BytesIO()
    flow = []
    for rows in tables:
        full = [row for row in rows if len(row) == len(rows[0])]
        flow += [Table(full[start : start + 500]) for start in range(0, len(full), 500)]
    SimpleDocTemplate(out, pagesize=A4).build(flow)
    return out.getvalue()


def timed(work: Callable[[], object]) -> list[float]:
    """Give the seconds of each round."""
    seconds = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - begin)
    return seconds


def main() -> None:
    """Run the comparison and print it."""
    book, faults = read_book(SAMPLE_AUTHORITIES)
    if book is None or faults:
        raise SystemExit(str(faults))
    book = replace(book, authorities=book.authorities[:1])
    season = season_of(book, 5_000)
    snapshot = freeze(book, season, AS_OF, "kelloran-permit", META)
    document = laid_out(snapshot)
    tables = rows_of(document)
    ours, theirs = timed(lambda: report_pdf(snapshot)), timed(lambda: bare(tables))
    ratio = statistics.median(a / b for a, b in zip(ours, theirs, strict=True))
    lines = len(Facts.of(book, season, AS_OF).lines)
    print(f"catch lines {lines}; table rows {sum(len(rows) for rows in tables)}")
    print(
        f"report {statistics.median(ours):.2f} s; bare tables {statistics.median(theirs):.2f} s; ratio {ratio:.2f} (bound 2)"
    )


if __name__ == "__main__":
    main()
