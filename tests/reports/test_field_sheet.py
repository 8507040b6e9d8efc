"""The field sheet as a document and on the page: whatever names and numbers come, nothing is cut off or lost."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime

import pikepdf
import pypdfium2
import pytest
import segno

from api.domain.counts import exactly
from api.domain.limits_ahead import Ahead
from api.domain.remaining import Allowance, Room
from api.domain.trips import Trip
from reports.document import Document, DocumentError, Form, FormCell, FormRow, Heading, Paragraph
from reports.field_sheet import SheetMaterial, TaxonRow, code_of, field_sheet
from reports.pdf import write_pdf
from reports.pdf_parts import style
from reports.pdf_text import lines_of, page_count, words_of

AT = datetime(2028, 7, 13, 20, 40, tzinfo=UTC)
TRIP = Trip(id="K28-10", zone="Australia/Hobart", leader="ines", status="planned")


def room(more, number="2.1", by="limit"):
    left = Room(number, "", 150, exactly(0), exactly(more), True, by)
    return Allowance("permit", more, left, (left,))


def sheet(**changes):
    rows = tuple(
        TaxonRow(taxon=f"Genus species{number}", common="a fish", allowance=room(number)) for number in range(12)
    )
    material = {
        "trip": TRIP,
        "authority": None,
        "at": AT,
        "people": {"ines": "Ines Calloway"},
        "rows": rows,
        "limits": (),
    }
    return SheetMaterial(**{**material, **changes})


def pages_of(material):
    pdf = write_pdf(field_sheet(material))
    return pdf, [lines_of(pdf, page) for page in range(page_count(pdf))]


def inside_the_page(pdf):
    """Tell whether every word lies within the side margins and above the foot."""
    with pypdfium2.PdfDocument(pdf) as opened:
        sizes = [page.get_size() for page in opened]
    for page, (width, height) in enumerate(sizes):
        for word in words_of(pdf, page):
            x0, y0, x1, y1 = word.rect
            assert x0 >= 33, word
            assert x1 <= width - 33, word
            assert 20 <= y0 < y1 <= height - 20, word


def test_the_time_of_printing_is_told_in_the_trips_zone():
    # 20:40 UTC is 06:40 of the next day in Hobart in July (UTC+10, no daylight saving in winter).
    _, pages = pages_of(sheet())
    assert "What is left, as of 06:40, 14 July 2028" in pages[0]
    assert all(any("what is left: as of 06:40, 14 July 2028" in line for line in page) for page in pages)


@pytest.mark.parametrize(
    ("row", "number", "why"),
    [
        (TaxonRow(taxon="Aus bus", allowance=room(12, by="allotment")), "12", "2.1 given"),
        (TaxonRow(taxon="Aus bus", allowance=room(0, by="allotment")), "0", "stop 2.1"),
        (TaxonRow(taxon="Aus bus", allowance=room(0, "3.8", "prohibition")), "0", "let go 3.8"),
        (TaxonRow(taxon="Aus bus", allowance=room(50, "2.12"), each=True), "50", "2.12 each"),
        (TaxonRow(taxon="Aus bus", allowance=room(12, "2.18"), by_place=("2.11",)), "12", "2.18 +2.11"),
        (TaxonRow(taxon="Aus bus", allowance=Allowance("permit", None, None, ())), None, "no limit"),
        (
            TaxonRow(taxon="Aus bus", allowance=Allowance("permit", None, None, ()), by_place=("2.11",)),
            None,
            "see 2.11",
        ),
        (TaxonRow(taxon="sand", listed=True), None, "see list"),
        (TaxonRow(taxon="Aus bus"), None, ""),
    ],
)
def test_a_row_says_how_many_and_why(row, number, why):
    _, pages = pages_of(sheet(rows=(row,), hauls=1))
    page = pages[1]
    at = (
        page.index(row.taxon)
        if row.taxon in page
        else next(n for n, one in enumerate(page) if one.startswith(row.taxon))
    )
    said = " ".join(page[at : at + 3]).split(" about about about")[0]
    assert said == " ".join(part for part in (row.taxon, number, why) if part)


def test_forty_taxa_go_on_over_pages_with_their_head_and_none_is_lost():
    rows = tuple(TaxonRow(taxon=f"Genus species{number:02}", allowance=room(number)) for number in range(40))
    pdf, pages = pages_of(sheet(rows=rows, hauls=1))
    haul = pages[1:]
    assert len(haul) == 3
    found = [word for page in haul for line in page for word in re.findall(r"species\d\d", line)]
    assert found == [f"species{number:02}" for number in range(40)]
    assert [page[0] for page in haul] == [
        "K28-10 \N{MIDDLE DOT} haul 1",
        "Trip K28-10, haul 1, catch, continued",
        "Trip K28-10, haul 1, catch, continued",
    ]
    assert all("Taxon Left Kept Released Dead Lengths, mm" in page for page in haul)
    assert sum("All encountered = kept" in line for page in haul for line in page) == 1
    inside_the_page(pdf)


def test_long_names_are_broken_and_not_cut():
    long = "Pseudorhombosoleamegalocephaloides tasmaniensisaustraliensis"
    people = {"ines": "Ines Wilhelmina Calloway-Featherstonehaugh of the Upper Pintle Creek Volunteers " * 2}
    rows = (
        TaxonRow(
            taxon=long, common="the very long and slender but never seen sand-dwelling flounder", allowance=room(3)
        ),
    )
    limit = Ahead(
        number="2.100.17", label="", what=", ".join([long] * 6), whose="each site", period="permit year",
        limit=10**9, operator="at most", unit="individuals", left=exactly(10**9),
    )  # fmt: skip
    trip = Trip(id="T2028-014-" + "X" * 54, zone="Australia/Hobart", leader="ines", note="word " * 120)
    pdf, pages = pages_of(sheet(trip=trip, people=people, rows=rows, limits=(limit,), hauls=1))
    # Letters only: a word too long for its box is broken within.
    text = "".join("".join(line.split()) for page in pages for line in page)
    for words in (long, people["ines"], rows[0].common, "word" * 120):
        assert "".join(words.split()) in text
    inside_the_page(pdf)


def test_what_the_code_in_the_corner_says_is_drawn_on_every_page():
    # Each module of the code (ISO/IEC 18004, as the library makes it) is looked up in the middle of its square.
    pdf, pages = pages_of(sheet(hauls=2))
    wanted = [list(row) for row in segno.make("K28-10", error="m", micro=False).matrix]
    side = len(wanted) + 8
    scale = 6
    with pypdfium2.PdfDocument(pdf) as opened:
        assert len(opened) == len(pages)
        for page in opened:
            picture = page.render(scale=scale).to_pil().convert("L")
            left = (page.get_size()[0] - 34 - style.CORNER) * scale
            module = style.CORNER * scale / side
            found = [
                [
                    int(picture.getpixel((left + (x + 4.5) * module, 12 * scale + (y + 4.5) * module)) < 128)
                    for x in range(len(wanted))
                ]
                for y in range(len(wanted))
            ]
            assert found == wanted


def test_a_code_keeps_its_quiet_zone():
    drawing = code_of("K28-10")
    (polygon,) = drawing.items
    xs = [x for ring in polygon.rings for x, _ in ring]
    ys = [y for ring in polygon.rings for _, y in ring]
    assert (min(xs), max(xs)) == (min(ys), max(ys)) == (4, drawing.width - 4)


def test_all_that_is_printed_in_boxes_is_black_on_white():
    pdf, _ = pages_of(sheet())
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        contents = b"\n".join(page.Contents.read_bytes() for page in opened.pages)
    # Greys are for the running head and foot (0.36) and their hairlines (0.75) alone; no area is filled but the code.
    greys = set(re.findall(rb"(?<![\d.])([\d.]+) [gG]\b", contents))
    assert greys <= {b"0", b"0.36", b"0.75", b"0.15", b"1"}
    assert b" re f" not in contents


def kids(element):
    """Give the elements right below one."""
    held = element.get("/K", [])
    every = list(held) if isinstance(held, pikepdf.Array) else [held]
    return [one for one in every if isinstance(one, pikepdf.Dictionary) and "/S" in one]


def below(element):
    """Give every element below one, in reading order."""
    for one in kids(element):
        yield one
        yield from below(one)


def form(*rows, head=None):
    return Form("Boxes", (1.0, 2.0), rows, head)


def document(*blocks):
    return Document(
        title="Boxes",
        language="en-GB",
        subject="",
        author="",
        created=AT,
        running_head="",
        footer_lines=(),
        blocks=blocks,
    )


def test_a_form_is_a_table_to_those_who_hear_it():
    row = FormRow((FormCell("One", head=True), FormCell("first\nsecond", label="what", tick="tick")))
    wide = FormRow((FormCell("all of it", span=2),))
    head = FormRow((FormCell("Name", head=True), FormCell("Value", head=True)))
    pdf = write_pdf(document(Heading(1, "Boxes"), form(row, wide, head=head), Paragraph("After.")))
    assert lines_of(pdf, 0)[:7] == ["Boxes", "Name Value", "One", "what", "first", "second tick", "all of it"]
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        (table,) = [one for one in below(opened.Root.StructTreeRoot) if one.S == "/Table"]
        tags = [[str(cell.S) for cell in kids(row)] for row in below(table) if row.S == "/TR"]
        assert str(table.A.Summary) == "Boxes"
    assert tags == [["/TH", "/TH"], ["/TH", "/TD"], ["/TD"]]


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ([form(FormRow((FormCell(),)))], "Boxes, row 1: 1 columns are filled where 2 belong"),
        ([form(FormRow((FormCell(), FormCell(span=2))))], "3 columns are filled"),
        ([form(head=FormRow((FormCell(),)))], "Boxes, row 0"),
        ([Form("", (1.0,), ())], "A form: give it a caption"),
        ([Form("Boxes", (1.0, 0.0), ())], "weights are above 0"),
    ],
)
def test_a_form_whose_boxes_do_not_fill_its_rows_is_refused(blocks, words):
    with pytest.raises(DocumentError, match=words):
        write_pdf(document(*blocks))
