"""What stands on the pages: text read back, headers repeated, rows whole, figures found where they are printed."""

from __future__ import annotations

import io
import json
import re
import threading

import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.document import (
    Cell,
    Column,
    ContentsList,
    DocumentError,
    Fact,
    Heading,
    KeyValues,
    PageBreak,
    Paragraph,
    Row,
    Run,
    Table,
)
from reports.pdf import write_pdf
from reports.pdf_text import (
    PdfReadError,
    every_printed_figure,
    lines_of,
    page_count,
    printed_figures,
    text_in,
    words_of,
)
from tests.reports.pdf_demonstration import demonstration, small

FIGURES = {
    "summary/encountered": "752", "summary/kept": "471", "fate/alive": "438", "limits/4.1/taken": "64", "limits/4.2/taken": "342",
    "limits/4.3/taken": "18", "limits/4/taken": "424", "limits/6.2/taken": "2", "limits/7.1/taken": "45 (38\N{EN DASH}52)",
    "limits/all/taken": "471",
}  # fmt: skip


@pytest.fixture(scope="module")
def report() -> bytes:
    return write_pdf(demonstration())


def pages_of(pdf: bytes) -> list[list[str]]:
    return [lines_of(pdf, page) for page in range(page_count(pdf))]


def test_printed_figures_are_read_from_the_page(report):
    assert printed_figures(report) == FIGURES
    assert len(every_printed_figure(report)) == 11  # summary/kept stands in two places


def altered(pdf: bytes, page: int, old: bytes, new: bytes) -> bytes:
    """The PDF with one string operand of a page's content changed, as someone would who edits the file."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        contents = opened.pages[page].obj.Contents
        data = contents.read_bytes()
        assert data.count(old) >= 1
        contents.write(data.replace(old, new, 1))
        out = io.BytesIO()
        opened.save(out)
        return out.getvalue()


def test_one_digit_changed_on_the_page_is_seen(report):
    changed = altered(report, 1, b"(424)Tj", b"(434)Tj")
    assert printed_figures(changed) == FIGURES | {"limits/4/taken": "434"}


def test_a_key_printed_twice_must_agree(report):
    assert printed_figures(altered(report, 0, b"(471)Tj", b"(417)Tj"))["summary/kept"] == "417 \N{NOT EQUAL TO} 471"


def test_a_figure_moved_away_is_seen(report):
    with pikepdf.open(io.BytesIO(report)) as opened:
        contents = opened.pages[1].obj.Contents
        data = contents.read_bytes()
        moved = re.sub(rb"BT [\d.]+ ([\d.]+) Td ([^B]*?\(424\)Tj)", rb"BT 20 \1 Td \2", data)
        assert moved != data
        contents.write(moved)
        out = io.BytesIO()
        opened.save(out)
    assert printed_figures(out.getvalue())["limits/4/taken"] != "424"


def test_damaged_figure_lists_are_named(report):
    with pytest.raises(PdfReadError, match="not a readable PDF"):
        printed_figures(b"%PDF-1.7 nothing")
    for content, message in (
        (b"[]", "not the list"),
        (b'{"figures":[{"key":1}]}', "no figure"),
        (b'{"figures":[{"key":"k","page":99,"rect":[0,0,1,1]}]}', "page 100 of"),
    ):
        with pikepdf.open(io.BytesIO(report)) as opened:
            opened.attachments["figures.json"] = pikepdf.AttachedFileSpec(opened, content, filename="figures.json")
            out = io.BytesIO()
            opened.save(out)
        with pytest.raises(PdfReadError, match=message):
            printed_figures(out.getvalue())


def test_every_page_has_permit_number_page_of_pages_and_sum(report):
    pages = pages_of(report)
    for number, lines in enumerate(pages, 1):
        assert "Permit KF-2026-117" in " ".join(lines)
        assert f"Page {number} of {len(pages)}" in " ".join(lines)
        assert "Snapshot SHA-256 4b1e9f0c4b1e9f0c" in " ".join(lines)


def test_contents_name_the_page_each_heading_stands_on(report):
    pages = pages_of(report)
    entries = re.findall(
        r"^(Summary|Authorised and taken|Sizes|Where and when|Certification|Annex A\. Records) (\d+)$",
        "\n".join(pages[0]),
        re.MULTILINE,
    )
    assert len(entries) == 6
    for title, page in entries:
        assert title in pages[int(page) - 1], title


def test_long_table_repeats_its_header_and_keeps_rows_whole(report):
    pages = pages_of(report)
    annex = [lines for lines in pages if any(re.match(r"KF-\d{4} ", line) for line in lines)]
    assert len(annex) > 15
    for lines in annex:
        assert "Record Date Place Taxon Encountered Kept How known Remark" in " ".join(lines)
    assert all("Table A1. Records, continued" in " ".join(lines) for lines in annex[1:])
    seen = [
        number
        for lines in annex
        for number in re.findall(r"KF-(\d{4})", " ".join(line for line in lines if line.startswith("KF-")))
    ]
    assert seen == [f"{number:04d}" for number in range(1, 601)]
    for lines in annex:  # the second line of a remark stands on the page of its first
        text = " ".join(lines)
        assert text.count("Released at once after photographs") == text.count("swam off strongly.")


def test_numbers_of_a_column_end_at_one_edge(report):
    page = next(number for number in range(page_count(report)) if "KF-0030" in " ".join(lines_of(report, number)))
    with pikepdf.open(io.BytesIO(report)) as opened:
        wide = float(opened.pages[page].MediaBox[2])
    assert wide > 800  # the annex is on turned pages
    words = words_of(report, page)
    header = next(word for word in words if word.text == "Kept")
    column = [word for word in words if re.fullmatch(r"\d", word.text) and abs(word.rect[2] - header.rect[2]) < 6]
    assert len(column) >= 20
    assert (
        max(word.rect[2] for word in column) - min(word.rect[2] for word in column) < 1.6
    )  # a 1 is narrower inside its equal width


def test_no_text_leaves_the_page_or_covers_other_text(report):
    for number in range(7):
        words = words_of(report, number)
        for word in words:
            assert 50 < word.rect[0] < word.rect[2] < 800
            assert 20 < word.rect[1] < word.rect[3] < 830
        if number in {0, 4, 5}:  # pages without drawings
            boxes = sorted(word.rect for word in words)
            for place, one in enumerate(boxes):
                for other in boxes[place + 1 :]:
                    if other[0] > one[2] - 0.3:
                        break
                    assert min(one[3], other[3]) - max(one[1], other[1]) < 0.3, (one, other)


def test_rows_of_several_kinds_of_text_come_back():
    texts = [
        "(a) \\ b",
        "Łódź",
        "Ἀχελῷος",
        "Осётр",
        "\N{MALE SIGN} 12",
        "3 \N{GREATER-THAN OR EQUAL TO} 2",
        "\N{MINUS SIGN}4.5",
    ]
    pdf = write_pdf(small(Table("T", (Column("A"),), tuple(Row((Cell(text),)) for text in texts))))
    lines = lines_of(pdf, 0)
    for text in texts:
        assert text in lines


def test_missing_characters_are_seen_and_control_characters_go():
    pdf = write_pdf(small(Paragraph("fish \N{FISH} x\x07y \u202eabc \ue000 q\ud800")))
    assert "fish \N{REPLACEMENT CHARACTER} xy abc \N{REPLACEMENT CHARACTER} q\N{REPLACEMENT CHARACTER}" in lines_of(
        pdf, 0
    )


ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=60)


@settings(max_examples=60, deadline=None)
@given(ANY_TEXT, ANY_TEXT, ANY_TEXT)
def test_no_text_makes_the_writer_fail(first, second, third):
    document = small(
        Heading(1, first),
        Paragraph((Run(first, bold=True), Run(second, italic=True), Run(third))),
        KeyValues((Fact(first, second),)),
        Table(third, (Column(first), Column(second, 0.2)), (Row((Cell(second), Cell(third))), Row((Cell(first, bold=True),), "group"))),
        title=f"T {first}", subject=second, author=third, running_head=first, footer_lines=(second, third),
    )  # fmt: skip
    pdf = write_pdf(document)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert opened.check_pdf_syntax() == []
        assert opened.Root.Metadata.read_bytes().startswith(b"<?xpacket")


def test_a_row_taller_than_a_page_is_set_in_parts_and_loses_nothing():
    words = [f"word{number}" for number in range(4000)]
    pdf = write_pdf(
        small(
            Table(
                "T",
                (Column("A"), Column("B")),
                (Row((Cell("start"), Cell(" ".join(words)))), Row((Cell("end"), Cell("x")))),
            )
        )
    )
    text = " ".join(" ".join(lines) for lines in pages_of(pdf))
    assert re.findall(r"word\d+", text) == words
    assert "end" in text
    with pytest.raises(DocumentError, match="taller than a page"):
        write_pdf(small(Table("T", (Column("A"),), (Row((Cell(" ".join(words * 2), figure="k"),)),))))


def test_words_wider_than_a_column_are_broken_not_lost():
    digest = "0123456789abcdef" * 4
    pdf = write_pdf(small(Table("T", (Column("A", 1), Column("B", 9)), (Row((Cell(digest), Cell("x"))),))))
    assert digest in "".join(line for line in lines_of(pdf, 0) if re.fullmatch(r"[0-9a-f]+|[0-9a-f]+ x", line)).replace(
        " x", ""
    )


def test_a_heading_is_never_left_alone_at_the_foot():
    for lines in range(36, 56):
        blocks = [
            Paragraph("\n".join("line" for _ in range(lines))),
            Heading(1, "Lonely"),
            Paragraph("Company of the heading. " * 12),
        ]
        for page in pages_of(write_pdf(small(*blocks))):
            if "Lonely" in page:
                assert any("Company" in line for line in page), lines


@pytest.mark.parametrize("long", [3, 6])
def test_no_line_of_a_paragraph_is_left_alone(long):
    for before in range(40, 56):
        filler = Paragraph("\n".join("line" for _ in range(before)))
        pages = pages_of(write_pdf(small(filler, Paragraph("\n".join(f"kept {number}" for number in range(long))))))
        counts = [sum(line.startswith("kept") for line in page) for page in pages]
        assert sum(counts) == long
        assert 1 not in counts, before


def test_total_row_is_not_alone_at_the_top():
    rows = tuple(Row((Cell(str(number)),)) for number in range(60))
    for count in range(46, 56):
        table = Table("T", (Column("N", kind="number"),), (*rows[:count], Row((Cell("sum"),), "total")))
        for page in pages_of(write_pdf(small(table))):
            if "sum" in page:
                assert str(count - 1) in page, count


def test_text_in_reads_only_the_rectangle(report):
    figure = next(one for one in every_printed_figure(report) if one.key == "limits/4.2/taken")
    assert text_in(report, figure.page, figure.rect) == "342"
    x0, y0, x1, y1 = figure.rect
    assert text_in(report, figure.page, (x0 - 300, y0, x1, y1)) != "342"
    with pytest.raises(PdfReadError, match="no page 99"):
        text_in(report, 98, figure.rect)


def test_figure_places_lie_on_their_page(report):
    for figure in every_printed_figure(report):
        x0, y0, x1, y1 = figure.rect
        assert 50 < x0 < x1 < 545
        assert 60 < y0 < y1 < 790
        assert y1 - y0 < 14


def test_page_breaks_turn_pages_and_make_no_empty_ones():
    pdf = write_pdf(
        small(
            PageBreak(),
            Paragraph("one"),
            PageBreak(landscape=True),
            PageBreak(landscape=True),
            Paragraph("two"),
            PageBreak(),
            Paragraph("three"),
        )
    )
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        turned = [float(page.MediaBox[2]) > float(page.MediaBox[3]) for page in opened.pages]
    assert turned == [False, True, False]


def test_contents_list_longer_than_a_page():
    headings = [block for number in range(80) for block in (Heading(1, f"Part {number}"), Paragraph("x"))]
    pages = pages_of(write_pdf(small(ContentsList(), *headings)))
    entries = {
        title: int(page) for lines in pages[:2] for title, page in re.findall(r"(Part \d+) (\d+)", " ".join(lines))
    }
    assert len(entries) == 80
    assert all(f"{title} x" in " ".join(pages[page - 1]) for title, page in entries.items())


def test_two_reports_written_at_once_do_not_mix():
    wanted = write_pdf(demonstration(20))
    got: list[bytes] = []
    threads = [threading.Thread(target=lambda: got.append(write_pdf(demonstration(20)))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [wanted] * 4


def test_figures_list_is_plain_json(report):
    with pikepdf.open(io.BytesIO(report)) as opened:
        data = json.loads(opened.attachments["figures.json"].get_file().read_bytes())
    assert {"key", "page", "rect"} == set(data["figures"][0])
