"""The report is a function of its snapshot, and ``verify`` sees any digit that was changed.

The seasons are invented; what is held here is the design's own promise, not an outside value.
"""

from __future__ import annotations

import io
import json
import random
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest

from api.exchange.snapshot import FILE_NAME, Snapshot, thaw
from api.operations.checking import check, load
from api.operations.reporting import frozen, laid_out, report_pdf
from api.operations.verifying import NotAReportError, verify
from reports.figures import figures_of
from reports.pdf_text import attachments_of, lines_of, printed_figures
from tests.builders import SAMPLE, SAMPLE_AS_OF, SAMPLE_AUTHORITIES, trips_file, write_season

pytestmark = pytest.mark.slow

AS_OF = datetime(2028, 7, 14, 2, tzinfo=UTC)


def snapshot_of(folder: Path, trips: dict | None = None) -> Snapshot:
    authority, path = write_season(folder, None, trips)
    return frozen(check(load([authority], [path]), AS_OF), "permit")


@pytest.fixture(scope="module")
def sample() -> Snapshot:
    return frozen(check(load(SAMPLE_AUTHORITIES, [SAMPLE]), AS_OF), "kelloran-permit")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return report_pdf(snapshot_of(tmp_path_factory.mktemp("season")))


def with_attachment(pdf: bytes, name: str, content: bytes) -> bytes:
    """Put other bytes in place of an attached file."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        stream = document.attachments[name].get_file()
        stream.obj.write(content)
        document.save(out)
    return out.getvalue()


def test_two_runs_give_identical_bytes(sample: Snapshot) -> None:
    assert report_pdf(sample) == report_pdf(thaw(sample.content))


def test_another_process_gives_identical_bytes(tmp_path: Path) -> None:
    season = [*map(str, SAMPLE_AUTHORITIES), "--trips", str(SAMPLE), "--as-of", SAMPLE_AS_OF]
    command = [sys.executable, "-m", "api.cli", "report", *season, "--out"]
    for name, seed in (("one.pdf", "1"), ("two.pdf", "2")):
        subprocess.run(
            [*command, str(tmp_path / name)],
            cwd=SAMPLE.parent,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
            check=True,
            capture_output=True,
            timeout=120,
        )

    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_the_fingerprint_stands_on_every_page(small: bytes, tmp_path: Path) -> None:
    fingerprint = snapshot_of(tmp_path).fingerprint
    with pikepdf.open(io.BytesIO(small)) as document:
        pages = len(document.pages)

    assert pages > 5
    for page in range(pages):
        assert any(fingerprint in line for line in lines_of(small, page))


def test_every_keyed_figure_is_printed_as_the_document_has_it(sample: Snapshot) -> None:
    expected = figures_of(laid_out(sample).blocks)

    printed = printed_figures(report_pdf(sample))
    assert len(expected) > 300
    assert {key: " ".join(text.split()) for key, text in expected.items()} == printed


def test_verify_passes(small: bytes) -> None:
    assert verify(small) == []


def test_a_changed_digit_in_the_attached_snapshot_is_told(small: bytes) -> None:
    content = attachments_of(small)[FILE_NAME]
    places = [found.start() for found in re.finditer(rb"[0-9]", content)]
    for place in random.Random(7).sample(places, 25):
        digit = b"1" if content[place : place + 1] != b"1" else b"2"
        altered = content[:place] + digit + content[place + 1 :]

        problems = verify(with_attachment(small, FILE_NAME, altered))
        assert problems, content[max(0, place - 30) : place + 30]
        assert "fingerprint" in problems[0]


def test_a_changed_digit_in_an_attached_table_is_told_with_its_row(small: bytes) -> None:
    for name in ("catch-lines.csv", "hauls.csv", "trips.csv", "findings.csv"):
        content = attachments_of(small)[name]
        places = [found.start() for found in re.finditer(rb"[0-9]", content)]
        for place in random.Random(8).sample(places, min(8, len(places))):
            digit = b"1" if content[place : place + 1] != b"1" else b"2"
            altered = content[:place] + digit + content[place + 1 :]

            problems = verify(with_attachment(small, name, altered))
            assert any(name in problem and "in row" in problem for problem in problems)


def test_a_changed_digit_of_any_printed_total_is_told(small: bytes) -> None:
    """Swap one glyph of each keyed figure's text on the page, as someone with a PDF editor would."""
    seen = 0
    for number, (altered, key) in enumerate(altered_figures(small)):
        if number % 2 == 0:
            problems = verify(altered)
            assert any(key in problem for problem in problems), (key, problems)
            seen += 1
    assert seen >= 10


def altered_figures(pdf: bytes) -> list[tuple[bytes, str]]:
    """Give copies of a report in each of which one digit of one keyed figure was changed on its page."""
    before = printed_figures(pdf)
    altered = []
    with pikepdf.open(io.BytesIO(pdf)) as document:
        pages = [pikepdf.parse_content_stream(page) for page in document.pages]
        shown = [
            (page, place)
            for page, operations in enumerate(pages)
            for place, operation in enumerate(operations)
            if str(operation.operator) == "Tj" and 1 <= len(bytes(operation.operands[0])) <= 8
        ]
    for page, place in shown:
        copy = with_swapped_glyph(pdf, page, place)
        after = printed_figures(copy)
        changed = [key for key in before if before[key] != after.get(key)]
        if len(changed) == 1 and sum(char.isdigit() for char in after[changed[0]]):
            altered.append((copy, changed[0]))
        if len(altered) >= 30:
            break
    return altered


def with_swapped_glyph(pdf: bytes, page: int, place: int) -> bytes:
    """Change the last glyph that one text operator shows into its neighbour in the font."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        operations = pikepdf.parse_content_stream(document.pages[page])
        text = bytes(operations[place].operands[0])
        swapped = text[:-1] + bytes([text[-1] + 1 if text[-1] < 255 else text[-1] - 1])
        operations[place] = pikepdf.ContentStreamInstruction([pikepdf.String(swapped)], operations[place].operator)
        document.pages[page].Contents = document.make_stream(pikepdf.unparse_content_stream(operations))
        document.save(out)
    return out.getvalue()


def test_a_removed_table_and_a_foreign_file_are_told(small: bytes) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(small)) as document:
        del document.attachments["hauls.csv"]
        document.attachments["notes.txt"] = pikepdf.AttachedFileSpec(document, b"added later", filename="notes.txt")
        document.save(out)

    problems = verify(out.getvalue())
    assert "the attached file hauls.csv is missing" in problems
    assert "the attached file notes.txt does not belong to the report" in problems


def painted_over(document: pikepdf.Pdf) -> None:
    page = document.pages[0]
    page.contents_add(document.make_stream(b"q 1 1 1 rg 40 300 500 300 re f Q"))


def hidden(document: pikepdf.Pdf) -> None:
    page = document.pages[0]
    page.contents_add(document.make_stream(b"3 Tr"), prepend=True)


def written_over(document: pikepdf.Pdf) -> None:
    words = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot,
        Subtype=pikepdf.Name.FreeText,
        Rect=[50, 50, 300, 90],
        Contents="52 of 52 conditions met",
    )
    page = document.pages[0]
    page.Annots = pikepdf.Array([*page.obj.get("/Annots", []), document.make_indirect(words)])


def retitled(document: pikepdf.Pdf) -> None:
    document.docinfo["/Title"] = "Another report"


@pytest.mark.parametrize("change", [painted_over, hidden, written_over, retitled])
def test_what_is_covered_hidden_or_added_is_told(small: bytes, change: Callable[[pikepdf.Pdf], None]) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(small)) as document:
        change(document)
        document.save(out)

    [problem] = verify(out.getvalue())
    assert "page 1: it is drawn otherwise" in problem or "is titled 'Another report'" in problem


def test_a_report_saved_anew_without_a_change_passes(small: bytes) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(small)) as document:
        document.save(out, linearize=True)

    assert out.getvalue() != small
    assert verify(out.getvalue()) == []


def test_a_removed_page_is_told_in_one_line(small: bytes) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(small)) as document:
        del document.pages[2]
        document.save(out)

    [problem] = verify(out.getvalue())
    assert "pages where its data give" in problem


def test_a_pdf_without_a_snapshot_is_no_report(small: bytes) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(small)) as document:
        del document.attachments[FILE_NAME]
        document.save(out)

    with pytest.raises(NotAReportError, match=FILE_NAME):
        verify(out.getvalue())


def test_a_season_without_trips_says_so(tmp_path: Path) -> None:
    pdf = report_pdf(snapshot_of(tmp_path, trips_file() | {"trips": []}))

    text = " ".join(lines_of(pdf, 0))
    assert "No collecting took place under this authority in the period reported." in text
    assert verify(pdf) == []


def test_a_season_with_trips_and_no_catch_says_something_else(tmp_path: Path) -> None:
    pdf = report_pdf(snapshot_of(tmp_path, trips_file([])))

    text = " ".join(lines_of(pdf, 0))
    assert "1 trip with 1 haul or set took place; nothing was caught" in text
    assert "No collecting took place" not in text
    assert verify(pdf) == []
    effort = [" ".join(lines_of(pdf, page)) for page in range(len(pikepdf.open(io.BytesIO(pdf)).pages))]
    assert any("seine haul 1 1" in page for page in effort)


def test_snapshot_reads_back_and_judges_the_same(sample: Snapshot) -> None:
    again = thaw(sample.content)

    assert again.judgement == sample.judgement
    assert again.fingerprint == sample.fingerprint
    assert json.loads(sample.content)["format"] == "creekledger snapshot 1"
