"""Holding a report against the data it carries: fingerprint, findings, tables, every printed figure, every line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import zip_longest
from typing import Any

from api.exchange.canonical import canonical
from api.exchange.faults import FaultyFileError
from api.exchange.snapshot import FILE_NAME, Snapshot, finding_to_json, fingerprint_of, frozen_findings, thaw
from api.operations.reporting import TOOL, attached, laid_out
from reports.document import Document
from reports.figures import figures_of
from reports.pdf import FIGURES_FILE, write_pdf
from reports.pdf_text import (
    PdfReadError,
    attachments_of,
    drawn_pages,
    every_printed_figure,
    lines_of,
    page_count,
    title_of,
)

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
        document = laid_out(snapshot)
    except (FaultyFileError, KeyError, TypeError, ValueError) as problem:
        return [*problems, f"the attached {FILE_NAME} cannot be read: {str(problem).splitlines()[0]}"]
    problems.extend(_findings(snapshot, content))
    problems.extend(_files(snapshot, files))
    anew = write_pdf(document)
    if page_count(pdf) != page_count(anew):
        problems.append(f"the report has {page_count(pdf)} pages where its data give {page_count(anew)}")
        return problems[:_MOST_TOLD]
    problems.extend(_figures(pdf, document))
    if not problems:
        problems.extend(_pages(pdf, anew))
    if not problems:
        problems.extend(_looks(pdf, anew))
    return problems[:_MOST_TOLD]


def _fingerprint(pdf: bytes, content: bytes) -> Iterator[str]:
    """Compare the fingerprint at the foot of every page with that of the attached snapshot."""
    found = fingerprint_of(content)
    pages = [
        page + 1
        for page in range(page_count(pdf))
        if not any(found in line.replace(" ", "") for line in lines_of(pdf, page))
    ]
    if pages:
        where = f"page {pages[0]}" if len(pages) == 1 else f"{len(pages)} pages, from page {pages[0]} on,"
        words = "does" if len(pages) == 1 else "do"
        yield f"{where} {words} not print the fingerprint of the attached {FILE_NAME} ({found[:12]}...)"


Found = tuple[str, str, str, str, str]


def _key(finding: Mapping[str, Any]) -> Found:
    """Name a finding by what it answers, so that one more or less shifts no other."""
    return tuple(str(finding.get(name)) for name in ("authority", "number", "version", "label", "about"))  # type: ignore[return-value]


def _findings(snapshot: Snapshot, content: bytes) -> Iterator[str]:
    """Compare the findings as frozen with findings made anew from the attached records."""
    frozen = _by_key(frozen_findings(content))
    anew = _by_key([finding_to_json(finding) for finding in snapshot.judgement.findings])
    maker = snapshot.meta.get("tool", "")
    other = f" (the report was made by {maker}, this is {TOOL})" if maker != TOOL else ""
    for key in dict.fromkeys([*frozen, *anew]):
        if canonical(frozen.get(key, [])) != canonical(anew.get(key, [])):
            old, new = (_said(findings.get(key)) for findings in (frozen, anew))
            yield f"condition {key[1]}, {key[4]}: the snapshot says '{old}' where its records give '{new}'{other}"


def _by_key(findings: list[dict[str, Any]]) -> dict[Found, list[dict[str, Any]]]:
    found: dict[Found, list[dict[str, Any]]] = {}
    for finding in findings:
        found.setdefault(_key(finding), []).append(finding)
    return found


def _said(findings: list[dict[str, Any]] | None) -> str:
    return " ".join(str(finding.get("sentence")) for finding in findings) if findings else "nothing"


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
    seen: set[str] = set()
    for figure in printed:
        seen.add(figure.key)
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


def _pages(pdf: bytes, anew: bytes) -> Iterator[str]:
    """Compare the pages line by line with pages set anew, so that no other number was changed either."""
    for page in range(page_count(pdf)):
        for mine, theirs in zip_longest(lines_of(pdf, page), lines_of(anew, page), fillvalue=""):
            if mine != theirs:
                yield f"page {page + 1}: '{mine}' is printed where the data give '{theirs}'"
                break


def _looks(pdf: bytes, anew: bytes) -> Iterator[str]:
    """Compare what each page draws, and the title: text may be covered, hidden or added to without being changed."""
    for page, (mine, theirs) in enumerate(zip(drawn_pages(pdf), drawn_pages(anew), strict=True), start=1):
        if mine != theirs:
            yield f"page {page}: it is drawn otherwise than its data give (something was added, covered or hidden)"
    if title_of(pdf) != title_of(anew):
        yield f"the file is titled '{title_of(pdf)}' where its data give '{title_of(anew)}'"
