"""The file as an archive copy and for screen readers: what ISO 19005-3 (PDF/A-3) and ISO 14289-1 (PDF/UA-1) ask, held with pikepdf.

Machine checks only: reading order and the worth of the alternative texts need a person.
"""

from __future__ import annotations

import hashlib
import io
import itertools
import os
import re
import subprocess
import sys

import pikepdf
import pytest

from reports.document import Attachment, Cell, Column, DocumentError, Heading, Paragraph, Row, Run, Table
from reports.pdf import write_pdf
from reports.pdf_text import attachments_of
from tests.reports.pdf_demonstration import CSV, SNAPSHOT, demonstration, small

# ISO 32000-1:2008, 14.8.4, those the writer uses
STANDARD_TYPES = {
    *("Document", "H1", "H2", "H3", "H4", "P", "L", "LI", "Lbl", "LBody", "Table", "THead", "TBody", "TR", "TH", "TD"),
    *("Figure", "Caption", "Link", "TOC", "TOCI", "Reference"),
}


@pytest.fixture(scope="module")
def report() -> bytes:
    return write_pdf(demonstration())


@pytest.fixture
def pdf(report):
    with pikepdf.open(io.BytesIO(report)) as opened:
        yield opened


def walk(element):
    """All structure elements below one, itself included, in order."""
    yield element
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield from walk(kid)


def parent_tree(pdf) -> dict:
    """The parent tree: key to a page's list of owners, or to the element of a link."""
    nums = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    return dict(zip(nums[::2], nums[1::2], strict=True))


def elements(pdf):
    return list(walk(pdf.Root.StructTreeRoot.K))


def test_file_is_sound_and_says_what_it_is(pdf, report):
    assert pdf.check_pdf_syntax() == []
    assert report.startswith(b"%PDF-1.7")
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as meta:
        # ISO 19005-3, 6.6.4 and ISO 14289-1, clause 5
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"], meta["pdfuaid:part"]) == ("3", "A", "1")
        assert meta["dc:title"] == "Season report on collecting under permit KF-2026-117"
        assert meta["xmp:CreateDate"] == "2027-03-01T09:30:00+11:00"
    root = pdf.Root
    assert str(root.Lang) == "en-AU"
    assert bool(root.MarkInfo.Marked) is True
    assert bool(root.ViewerPreferences.DisplayDocTitle) is True
    assert str(pdf.docinfo["/ModDate"]) == "D:20270301093000+11'00'"


def test_output_intent_carries_the_fixed_profile(pdf):
    (intent,) = pdf.Root.OutputIntents
    assert intent.S == "/GTS_PDFA1"
    profile = intent.DestOutputProfile
    assert profile.N == 3
    data = profile.read_bytes()
    assert data[12:20] == b"mntrRGB "  # ICC.1: display device, RGB
    # the file shipped, by the sum in reports/fonts/README.md
    assert hashlib.sha256(data).hexdigest() == "2a92d4bae450b76d8b0aa42193df974d75f62738ecebf74f01c5e75b12a95796"


def test_every_font_is_embedded_and_maps_to_unicode(pdf):
    fonts = {}
    for page in pdf.pages:
        fonts |= dict(page.Resources.Font.items())
    designs = {str(font.BaseFont).split("+")[1] for font in fonts.values()}
    assert {"NotoSans-Regular", "NotoSans-SemiCondensed", "NotoSans-SemiCondensedItalic", "DejaVuSans"} <= designs
    assert not any(name.startswith("Helvetica") for name in designs)
    for name, font in fonts.items():
        assert font.Subtype == "/TrueType", name
        assert len(font.FontDescriptor.FontFile2.read_bytes()) > 1000, name
        assert b"beginbf" in font.ToUnicode.read_bytes(), name
        assert re.match(r"/[A-Z]{6}\+", str(font.BaseFont)), name


def test_every_marked_piece_belongs_to_an_element(pdf):
    parents = parent_tree(pdf)
    reached = {}
    for element in elements(pdf):
        kids = element.get("/K", [])
        for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
            if isinstance(kid, int):
                reached[element.Pg.objgen, kid] = element.objgen
            elif isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/MCR":
                reached[kid.Pg.objgen, int(kid.MCID)] = element.objgen
    total = 0
    for page in pdf.pages:
        content = page.obj.Contents.read_bytes()
        marked = [int(n) for n in re.findall(rb"/MCID (\d+)>>BDC", content)]
        owners = parents[page.obj.StructParents]
        assert sorted(marked) == list(range(len(owners)))
        for number in marked:
            assert reached[page.obj.objgen, number] == owners[number].objgen
        total += len(marked)
    assert total == len(reached) > 4000


def test_nothing_is_drawn_outside_marked_content(pdf):
    """ISO 14289-1, 7.1: all content is tagged or an artifact. Depth of BMC/BDC is at least one wherever something is painted."""
    painting = {"Tj", "TJ", "S", "f", "f*", "B", "B*", "Do", "sh"}
    for page in pdf.pages:
        depth = 0
        for step in pikepdf.parse_content_stream(page):
            word = str(step.operator)
            depth += (word in {"BDC", "BMC"}) - (word == "EMC")
            assert depth >= (word in painting)
        assert depth == 0


def test_element_types_are_standard_and_headings_do_not_skip(pdf):
    kinds = [str(element.S)[1:] for element in elements(pdf)]
    assert set(kinds) <= STANDARD_TYPES
    assert {"H1", "H2", "H3", "Table", "Figure", "L", "TOC", "Link"} <= set(kinds)
    levels = [int(kind[1]) for kind in kinds if re.fullmatch(r"H\d", kind)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_tables_are_regular_with_header_cells(pdf):
    tables = [element for element in elements(pdf) if element.S == "/Table"]
    assert len(tables) == 4
    for table in tables:
        widths = set()
        for row in (element for element in walk(table) if element.S == "/TR"):
            cells = [cell for cell in walk(row) if cell.S in {"/TH", "/TD"}]
            widths.add(sum(int(cell.get("/A", {}).get("/ColSpan", 1)) for cell in cells))
            for cell in cells:
                assert cell.S == "/TD" or cell.A.Scope in {"/Row", "/Column"}
        assert len(widths) == 1, widths


def test_figures_have_words_and_bounds(pdf):
    figures = [element for element in elements(pdf) if element.S == "/Figure"]
    assert len(figures) == 4
    for figure in figures:
        assert len(str(figure.Alt)) > 40
        x0, y0, x1, y1 = (float(value) for value in figure.A.BBox)
        assert 0 < x0 < x1 < 596
        assert 0 < y0 < y1 < 842


def test_links_are_elements_and_lead_somewhere(pdf):
    pages = {page.obj.objgen for page in pdf.pages}
    parents = parent_tree(pdf)
    inner = outer = 0
    for page in pdf.pages:
        assert page.obj.Tabs == "/S"
        for annotation in page.obj.get("/Annots", []):
            assert parents[annotation.StructParent].S == "/Link"
            assert str(annotation.Contents)
            assert annotation.F == 4  # printed, not hidden: ISO 19005-3, 6.3.2
            if "/Dest" in annotation:
                assert annotation.Dest[0].objgen in pages
                inner += 1
            else:
                assert str(annotation.A.URI) == "https://agency.example/seahorses"
                outer += 1
    assert (inner, outer) == (14, 1)


def test_bookmarks_follow_the_headings(pdf):
    with pdf.open_outline() as outline:
        titles = [(item.title, [child.title for child in item.children]) for item in outline.root]
    assert titles == [
        ("Summary", []),
        ("Authorised and taken", ["Sizes"]),
        ("Where and when", []),
        ("Departures from conditions", ["Haul 17, 12 November 2026"]),
        ("Certification", []),
        ("Annex A. Records", []),
    ]


def test_attached_files_are_associated_and_unchanged(pdf, report):
    files = attachments_of(report)
    assert files["snapshot.json"] == SNAPSHOT
    assert files["records.csv"] == CSV
    assert set(files) == {"snapshot.json", "records.csv", "figures.json"}
    listed = {spec.objgen for spec in pdf.Root.AF}
    names = list(pdf.Root.Names.EmbeddedFiles.Names)
    assert [str(name) for name in names[::2]] == sorted(files)
    for spec in names[1::2]:
        # ISO 19005-3, 6.8
        assert spec.objgen in listed
        assert str(spec.F) == str(spec.UF)
        assert spec.AFRelationship in {"/Source", "/Data", "/Supplement"}
        assert spec.EF.F.Subtype in {"/application/json", "/text/csv"}
        assert str(spec.EF.F.Params.ModDate) == "D:20270301093000+11'00'"
        assert spec.EF.F.objgen == spec.EF.UF.objgen


def test_same_document_same_bytes(report):
    assert write_pdf(demonstration()) == report


def test_same_bytes_whatever_the_hash_seed():
    code = (
        "import hashlib;from tests.reports.pdf_demonstration import demonstration;from reports.pdf import write_pdf;"
        "print(hashlib.sha256(write_pdf(demonstration(30))).hexdigest())"
    )
    sums = set()
    for seed in ("0", "4711"):
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        sums.add(done.stdout.strip())
    assert sums == {hashlib.sha256(write_pdf(demonstration(30))).hexdigest()}


def test_no_clock_and_no_library_name_in_the_file(report):
    with pikepdf.open(io.BytesIO(report)) as pdf:
        assert str(pdf.docinfo["/Producer"]) == "Creekledger"
        assert set(pdf.docinfo.keys()) == {
            "/Title",
            "/Author",
            "/Subject",
            "/Producer",
            "/Creator",
            "/CreationDate",
            "/ModDate",
        }


COLUMNS = (Column("A"), Column("B", kind="number"))


@pytest.mark.parametrize(
    ("blocks", "message"),
    [
        ((Paragraph((Run("x", link="nowhere"),)),), "nowhere"),
        ((Heading(1, "a", "same"), Heading(1, "b", "same")), "same"),
        ((Table("T", COLUMNS, (Row((Cell("1"),)),)),), "T, row 1: 1 cells where 2 belong"),
        ((Table("T", (), ()),), "no columns"),
        ((Table("T", COLUMNS, (Row((Cell("1"), Cell("", figure="k"))),)),), "figure k has no text"),
        ((Paragraph((Run(" ", figure="k"),)),), "figure k has no text"),
    ],
)
def test_a_document_that_cannot_be_set_is_refused_with_the_place(blocks, message):
    with pytest.raises(DocumentError, match=message):
        write_pdf(small(*blocks))


def test_attachment_names_must_be_their_own():
    file = Attachment("a.csv", b"1", "text/csv")
    for files in (
        (file, file),
        (Attachment("figures.json", b"{}", "application/json"),),
        (Attachment("", b"", "text/csv"),),
    ):
        with pytest.raises(DocumentError, match="Attachment name"):
            write_pdf(small(Paragraph("x")), files)
