"""Holding a report against the data it carries: fingerprint, findings, tables, every printed figure, every line."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from api.exchange.canonical import canonical
from api.exchange.faults import FaultyFileError
from api.exchange.snapshot import FILE_NAME, Snapshot, finding_to_json, fingerprint_of, frozen_findings, thaw
from api.operations.reporting import attached, laid_out
from reports.document import Document
from reports.figures import figures_of
from reports.pdf import FIGURES_FILE, write_pdf
from reports.pdf_text import PdfReadError, attachments_of, every_printed_figure, lines_of, page_count

_MOST_TOLD = 20


class NotAReportError(ValueError):
    """The file is not a report that this tool wrote; the message says what is missing."""


def verify(pdf: bytes) -> list[str]:
    """Give everything in which a report and its data disagree, in plain sentences; [] when nothing does.

    Raises NotAReportError for a file that is no PDF or carries no snapshot.
    """
    try:
        files = attachments_of(pdf)
    except PdfReadError as problem:
        raise NotAReportError(str(problem)) from problem
    if FILE_NAME not in files:
        raise NotAReportError(f"{FILE_NAME} is not attached: this is not a report of this tool, or it was taken out")
    content = files[FILE_NAME]
    problems = list(_fingerprint(pdf, content))
    try:
        snapshot = thaw(content)
    except (FaultyFileError, KeyError, TypeError, ValueError) as problem:
        return [*problems, f"the attached {FILE_NAME} cannot be read: {str(problem).splitlines()[0]}"]
    problems.extend(_findings(snapshot, content))
    problems.extend(_files(snapshot, files))
    document = laid_out(snapshot)
    problems.extend(_figures(pdf, document))
    if not problems:
        problems.extend(_pages(pdf, document))
    return problems[:_MOST_TOLD]


def _fingerprint(pdf: bytes, content: bytes) -> Iterator[str]:
    """Compare the fingerprint at the foot of every page with that of the attached snapshot."""
    found = fingerprint_of(content)
    for page in range(page_count(pdf)):
        if not any(found in line.replace(" ", "") for line in lines_of(pdf, page)):
            yield f"page {page + 1} does not print the fingerprint of the attached {FILE_NAME} ({found[:12]}...)"


def _findings(snapshot: Snapshot, content: bytes) -> Iterator[str]:
    """Compare the findings as frozen with findings made anew from the attached records."""
    frozen = frozen_findings(content)
    anew = [finding_to_json(finding) for finding in snapshot.judgement.findings]
    for old, new in zip_longest(frozen, anew):
        if old is None or new is None or canonical(old) != canonical(new):
            one = new or old or {}
            yield (
                f"condition {one.get('number')}, {one.get('about')}: the snapshot's finding does not follow from its "
                f"records: '{(old or {}).get('sentence')}' stands where the records give '{(new or {}).get('sentence')}'"
            )


def _files(snapshot: Snapshot, files: dict[str, bytes]) -> Iterator[str]:
    """Compare each attached table with what the snapshot says."""
    expected = {one.name: one.content for one in attached(snapshot)}
    for name, content in expected.items():
        if name not in files:
            yield f"the attached file {name} is missing"
        elif files[name] != content:
            yield f"the attached file {name} differs from the snapshot{_first_difference(files[name], content)}"
    for name in sorted(set(files) - set(expected) - {FIGURES_FILE}):
        yield f"the attached file {name} does not belong to the report"


def _first_difference(found: bytes, expected: bytes) -> str:
    pairs = zip_longest(found.split(b"\r\n"), expected.split(b"\r\n"), fillvalue=b"")
    for row, (mine, theirs) in enumerate(pairs, start=1):
        if mine != theirs:
            return f" in row {row}: '{mine.decode(errors='replace')}' where '{theirs.decode(errors='replace')}' belongs"
    return ""


def _figures(pdf: bytes, document: Document) -> Iterator[str]:
    """Recompute every printed total from the attached records and read it back from the page."""
    expected = figures_of(document.blocks)
    try:
        printed = every_printed_figure(pdf)
    except PdfReadError as problem:
        yield str(problem)
        return
    seen: dict[str, int] = {}
    for figure in printed:
        seen[figure.key] = seen.get(figure.key, 0) + 1
        wanted = expected.get(figure.key)
        if wanted is None:
            yield f"page {figure.page + 1}: the figure '{figure.key}' does not belong to the report"
        elif _folded(figure.text) != _folded(wanted):
            yield f"page {figure.page + 1}: '{figure.text}' is printed for {figure.key}, the records give '{wanted}'"
    for key in expected:
        if key not in seen:
            yield f"the figure {key} is not printed; the records give '{expected[key]}'"


def _folded(text: str) -> str:
    return " ".join(text.split())


def _pages(pdf: bytes, document: Document) -> Iterator[str]:
    """Set the pages anew and compare them line by line, so that no other number was changed either."""
    anew = write_pdf(document)
    pages = page_count(pdf), page_count(anew)
    if pages[0] != pages[1]:
        yield f"the report has {pages[0]} pages where its data give {pages[1]}"
        return
    for page in range(pages[0]):
        for mine, theirs in zip_longest(lines_of(pdf, page), lines_of(anew, page), fillvalue=""):
            if mine != theirs:
                yield f"page {page + 1}: '{mine}' is printed where the data give '{theirs}'"
                break
