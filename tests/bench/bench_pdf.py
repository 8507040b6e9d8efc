"""Time to write an annex of 5,000 records in 8 columns, against the page library's own tables with the same rows.

Run: python -m tests.bench.bench_pdf. The other side is bare: untagged, no links, no structure, tables of 500 rows with a repeated header,
in the same font and size. Prints the median of five runs of each, taken in turn, and the ratio; it should stay under 1.5.
"""

from __future__ import annotations

import io
import random
import resource
import statistics
import time

from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import SimpleDocTemplate, TableStyle
from reportlab.platypus import Table as PlainTable

from reports.document import Cell, Column, Document, Heading, Row, Table
from reports.pdf import write_pdf
from reports.pdf_parts.fonts import FOLDER
from tests.reports.pdf_demonstration import CREATED, PLACES, TAXA

TITLES = ("Record", "Date", "Place", "Taxon", "Encountered", "Kept", "Died", "Gear")
NUMBERS = {"Encountered", "Kept", "Died"}
COUNT = 5000


def rows_of_text() -> list[list[str]]:
    rng = random.Random(5)
    return [
        [
            f"KF-{number:05d}", f"{rng.randint(1, 28):02d} Nov 2026", rng.choice(PLACES), rng.choice(TAXA),
            str(rng.randint(1, 99)), str(rng.randint(0, 9)), str(rng.randint(0, 3)), "seine",
        ]
        for number in range(COUNT)
    ]  # fmt: skip


def ours(rows: list[list[str]]) -> bytes:
    columns = tuple(
        Column(title, 2 if title in {"Place", "Taxon"} else 1, kind="number" if title in NUMBERS else "text")
        for title in TITLES
    )
    cells = tuple(Row(tuple(map(Cell, row))) for row in rows)
    blocks = (Heading(1, "Annex"), Table("Records", columns, cells))
    return write_pdf(
        Document("Bench", "en", "Bench", "Bench", CREATED, "Permit KF-1", ("Snapshot SHA-256 00",), blocks)
    )


def bare(rows: list[list[str]]) -> bytes:
    out = io.BytesIO()
    style = TableStyle(
        [
            ("FONT", (0, 0), (-1, -1), "Bench", 8),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, (0.75, 0.75, 0.75)),
            ("ALIGN", (4, 0), (6, -1), "RIGHT"),
        ]
    )
    tables = [
        PlainTable([list(TITLES), *rows[n : n + 500]], repeatRows=1, style=style) for n in range(0, len(rows), 500)
    ]
    SimpleDocTemplate(out, pagesize=A4).build(tables)
    return out.getvalue()


def main() -> None:
    pdfmetrics.registerFont(TTFont("Bench", str(FOLDER / "NotoSans-SemiCondensed.ttf")))
    rows = rows_of_text()
    times: dict[str, list[float]] = {"ours": [], "bare": []}
    sizes = {}
    for _ in range(5):
        for name, write in (("ours", ours), ("bare", bare)):
            start = time.perf_counter()
            sizes[name] = len(write(rows))
            times[name].append(time.perf_counter() - start)
    mine, theirs = statistics.median(times["ours"]), statistics.median(times["bare"])
    print(
        f"tagged PDF/A report {mine:.2f} s, {sizes['ours'] / 1e6:.2f} MB; bare tables {theirs:.2f} s, {sizes['bare'] / 1e6:.2f} MB"
    )
    print(
        f"ratio {mine / theirs:.2f} (median of 5); peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"
    )


if __name__ == "__main__":
    main()
