"""Reads a PDF back: the text actually printed at a place, the attached files, the printed figures.

Text is read from the page content as a viewer would extract it, never from a list kept beside it, so a glyph changed
afterwards is seen. Rectangles are (x0, y0, x1, y1) in points from the lower left corner; pages count from 0.
"""

from __future__ import annotations

import io
import json
import math
from typing import Any, NamedTuple

import pikepdf
import pypdfium2

Rect = tuple[float, float, float, float]

FIGURES_FILE = "figures.json"
DISAGREE = " \N{NOT EQUAL TO} "  # between the texts of one key that is printed differently in two places


class PdfReadError(ValueError):
    """The file cannot be read as a report of ours; the message says what is missing."""


class PrintedFigure(NamedTuple):
    """A keyed figure as it stands on the page."""

    key: str
    page: int
    rect: Rect
    text: str


class Word(NamedTuple):
    """A word on a page with the rectangle around it."""

    text: str
    rect: Rect


def _opened(pdf: bytes) -> pypdfium2.PdfDocument:
    try:
        return pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as error:
        raise PdfReadError("This is not a readable PDF.") from error


def _tidy(text: str) -> str:
    """White space folded; pdfium marks a hyphen at a line end with U+FFFE or U+0002."""
    return " ".join(text.replace("\ufffe", "-").replace("\x02", "-").split())


def _bounded(page: Any, rect: Rect) -> str:
    text: str = page.get_text_bounded(*rect)
    return _tidy(text)


def text_in(pdf: bytes, page_index: int, rect: Rect) -> str:
    """Return the text printed inside a rectangle of a page, white space folded.

    Raises PdfReadError for a page that is not there.
    """
    with _opened(pdf) as document:
        if not 0 <= page_index < len(document):
            raise PdfReadError(f"The PDF has {len(document)} pages; there is no page {page_index + 1}.")
        return _bounded(document[page_index].get_textpage(), rect)


def page_count(pdf: bytes) -> int:
    """How many pages the PDF has."""
    with _opened(pdf) as document:
        return len(document)


def lines_of(pdf: bytes, page_index: int) -> list[str]:
    """Return the lines of a page in the order of its content, without empty ones."""
    with _opened(pdf) as document:
        text: str = document[page_index].get_textpage().get_text_range()
    return [line for line in (_tidy(part) for part in text.splitlines()) if line]


def words_of(pdf: bytes, page_index: int) -> list[Word]:
    """Return the words of a page with their rectangles, in the order of its content."""
    words: list[Word] = []
    with _opened(pdf) as document:
        page = document[page_index].get_textpage()
        text: str = page.get_text_range()
        chars = ""
        rects: list[Rect] = []
        for place, char in enumerate([*text, " "]):
            if char.isspace():
                if chars:
                    words.append(Word(_tidy(chars), _around(rects)))
                chars, rects = "", []
                continue
            chars += char
            rects.append(page.get_charbox(place))
    return words


def _around(rects: list[Rect]) -> Rect:
    return (
        min(rect[0] for rect in rects),
        min(rect[1] for rect in rects),
        max(rect[2] for rect in rects),
        max(rect[3] for rect in rects),
    )


def attachments_of(pdf: bytes) -> dict[str, bytes]:
    """Every attached file by name. Raises PdfReadError when the file is no readable PDF."""
    try:
        with pikepdf.open(io.BytesIO(pdf)) as document:
            return {name: spec.get_file().read_bytes() for name, spec in document.attachments.items()}
    except pikepdf.PdfError as error:
        raise PdfReadError("This is not a readable PDF.") from error


def _place(entry: Any, pages: int) -> tuple[str, int, Rect]:
    """One entry of figures.json, checked: the file may have been altered."""
    try:
        key, page, rect = entry["key"], entry["page"], tuple(float(value) for value in entry["rect"])
    except (KeyError, TypeError, ValueError) as error:
        raise PdfReadError(f"{FIGURES_FILE} holds an entry that is no figure: {entry!r}.") from error
    if not (isinstance(key, str) and isinstance(page, int) and len(rect) == 4 and all(map(math.isfinite, rect))):
        raise PdfReadError(f"{FIGURES_FILE} holds an entry that is no figure: {entry!r}.")
    if not 0 <= page < pages:
        raise PdfReadError(f"{FIGURES_FILE} places {key} on page {page + 1} of {pages}.")
    return key, page, (rect[0], rect[1], rect[2], rect[3])


def _entries(pdf: bytes) -> list[Any]:
    files = attachments_of(pdf)
    if FIGURES_FILE not in files:
        raise PdfReadError(
            f"{FIGURES_FILE} is not attached; the PDF was not written by this tool, or the file was taken out."
        )
    try:
        entries = json.loads(files[FIGURES_FILE])["figures"]
    except (ValueError, KeyError, TypeError) as error:
        raise PdfReadError(f"{FIGURES_FILE} is not the list this tool writes: {error}.") from error
    if not isinstance(entries, list):
        raise PdfReadError(f"{FIGURES_FILE} is not the list this tool writes.")
    return entries


def every_printed_figure(pdf: bytes) -> list[PrintedFigure]:
    """Each keyed figure at each of its places, with the text now printed there.

    Raises PdfReadError when figures.json is missing or damaged.
    """
    entries = _entries(pdf)
    found: list[PrintedFigure] = []
    with _opened(pdf) as document:
        pages: dict[int, Any] = {}
        for entry in entries:
            key, page, rect = _place(entry, len(document))
            if page not in pages:
                pages[page] = document[page].get_textpage()
            found.append(PrintedFigure(key, page, rect, _bounded(pages[page], rect)))
    return found


def printed_figures(pdf: bytes) -> dict[str, str]:
    """Return the text printed for each key.

    A key printed in several places that disagree gets all its texts, joined by a sign of inequality.
    """
    texts: dict[str, list[str]] = {}
    for figure in every_printed_figure(pdf):
        seen = texts.setdefault(figure.key, [])
        if figure.text not in seen:
            seen.append(figure.text)
    return {key: DISAGREE.join(seen) for key, seen in texts.items()}


class Drawn(NamedTuple):
    """What a page draws: its operators, and what lies over it (links and anything added)."""

    operators: bytes
    overlays: tuple[str, ...]


def drawn_pages(pdf: bytes) -> list[Drawn]:
    """Give what each page draws, however the file was packed. Raises PdfReadError for what is no readable PDF."""
    try:
        with pikepdf.open(io.BytesIO(pdf)) as document:
            return [Drawn(_operators(page), _overlays(page)) for page in document.pages]
    except pikepdf.PdfError as error:
        raise PdfReadError("This is not a readable PDF.") from error


def _operators(page: Any) -> bytes:
    contents = page.obj.get("/Contents")
    if contents is None:
        return b""
    parts = list(contents) if isinstance(contents, pikepdf.Array) else [contents]
    return b"\n".join(part.read_bytes() for part in parts)


def _overlays(page: Any) -> tuple[str, ...]:
    found = []
    for overlay in page.obj.get("/Annots", []):
        rect = " ".join(f"{float(side):.2f}" for side in overlay.get("/Rect", []))
        found.append(f"{overlay.get('/Subtype')} {rect} {overlay.get('/Contents', '')}")
    return tuple(found)


def title_of(pdf: bytes) -> str:
    """Give the title that the file bears."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return str(document.docinfo.get("/Title", ""))
