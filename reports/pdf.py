"""Writes a document as a tagged, archival PDF (PDF/A-3a, PDF/UA-1). The same document gives the same bytes.

The pages are set by our own thin layout on reportlab's canvas, because its tables and paragraphs mark nothing for
screen readers; the structure is gathered on the way and written at the end. `figures.json` inside the file tells
where each keyed figure is printed.
"""

from __future__ import annotations

import io
import json
import threading
from typing import TYPE_CHECKING, Any

from reportlab.pdfgen.canvas import Canvas

from reports.document import Attachment, Document, DocumentError, check
from reports.pdf_parts import style
from reports.pdf_parts.archive import finish
from reports.pdf_parts.art import Artist
from reports.pdf_parts.blocks import Setter
from reports.pdf_parts.flow import Flow
from reports.pdf_parts.fonts import Fonts, initial_font
from reports.pdf_parts.lines import one_line
from reports.pdf_parts.sheet import num

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reports.drawing import Drawing
    from reports.pdf_parts.sheet import Sheet

FIGURES_FILE = "figures.json"

# The page library reads font files through one shared cursor, so two reports must not be written at the same moment.
_ONE_AT_A_TIME = threading.Lock()


def write_pdf(document: Document, attachments: Sequence[Attachment] = ()) -> bytes:
    """Return the document as PDF bytes, with its own attachments, those given, and figures.json.

    Raises DocumentError when the document cannot be set (see `reports.document.check`) or two attachments share a
    name.
    """
    check(document)
    files = (*document.attachments, *attachments)
    _check_names(files)
    with _ONE_AT_A_TIME:
        return _write(document, files)


def _check_names(files: Sequence[Attachment]) -> None:
    names = [file.name for file in files]
    for name in names:
        if not name.strip() or name == FIGURES_FILE or names.count(name) > 1:
            raise DocumentError(f"Attachment name {name!r} is empty, taken or reserved; give each file its own name.")


def _write(document: Document, files: tuple[Attachment, ...]) -> bytes:
    buffer = io.BytesIO()
    # Any: fonts and operators are handed over through members the library keeps to itself, and its stubs are out of step.
    start: Any = initial_font()
    canvas: Any = Canvas(buffer, pageCompression=0, invariant=1, pdfVersion=(1, 7), initialFontName=start)
    flow = Flow(Fonts(canvas._doc), document.side_margin)  # noqa: SLF001 - see above
    Setter(flow, document).set_all()
    for sheet in flow.sheets:
        _running(flow, document, sheet)
    _put_pages(canvas, flow.sheets)
    return finish(buffer.getvalue(), document, flow, (*files, _figures(flow)))


def _put_pages(canvas: Any, sheets: list[Sheet]) -> None:
    """Hand the sheets' operators to the canvas and let it write fonts and pages."""
    for sheet in sheets:
        canvas.setPageSize((sheet.width, sheet.height))
        canvas._code.extend(sheet.ops)  # noqa: SLF001 - the canvas has no public call for marked content
        canvas.showPage()
    canvas.save()


def _running(flow: Flow, document: Document, sheet: Sheet) -> None:
    """Write the running head and footer with page x of y."""
    size, face = style.RUNNING.size, flow.fonts.narrow.regular
    left, right = flow.side, sheet.width - flow.side
    wide = (right - left) / size
    head_y, foot_y = sheet.height - style.HEAD_LINE, style.FOOT_LINE
    sheet.font = None
    number = f"Page {sheet.index + 1} of {len(flow.sheets)}"
    if document.corner is not None:
        head_right = right - style.CORNER - 8
        _corner(flow, sheet, document.corner, right)
    else:
        head_right = right
    head_wide = (head_right - left) / size
    head = one_line(document.running_head, flow.fonts.narrow.bold, head_wide * 0.6)
    title = one_line(document.title, face, head_wide - flow.fonts.narrow.bold.width(head) - 3)
    top = [style.QUIET, sheet.text(flow.fonts.narrow.bold.pieces(head), size, left, head_y + 5)]
    if sheet.index:
        top.append(sheet.text(face.pieces(title), size, head_right - face.width(title) * size, head_y + 5))
    top += [f"{style.RULE} [] 0 d {num(left)} {num(head_y)} m {num(head_right)} {num(head_y)} l S", style.INK]
    sheet.artifact(top, "Pagination")
    foot = [style.QUIET, f"{style.RULE} [] 0 d {num(left)} {num(foot_y)} m {num(right)} {num(foot_y)} l S"]
    foot.append(sheet.text(face.pieces(number), size, right - face.width(number) * size, foot_y - 10))
    for place, line in enumerate(document.footer_lines[:3]):
        words = one_line(line, face, wide - (face.width(number) + 3 if place == 0 else 0))
        foot.append(sheet.text(face.pieces(words), size, left, foot_y - 10 - place * style.RUNNING.leading))
    sheet.artifact([*foot, style.INK], "Pagination")


def _corner(flow: Flow, sheet: Sheet, drawing: Drawing, right: float) -> None:
    """Draw what every page bears in its upper right corner."""
    side = style.CORNER
    sheet.ops.append("/Artifact<</Type/Pagination>>BDC")
    scale = side / max(drawing.width, drawing.height)
    Artist(flow.fonts).paint(sheet, drawing, right - side, sheet.height - 12 - side, scale)
    sheet.ops.append("EMC")


def _figures(flow: Flow) -> Attachment:
    """Return the list of printed figures.

    Key, page from 0, rectangle in points from the lower left corner of the page.
    """
    places = [
        {"key": place.key, "page": place.page, "rect": [float(num(value)) for value in place.rect]}
        for place in flow.places
    ]
    text = json.dumps({"figures": places}, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return Attachment(
        FIGURES_FILE, text.encode(), "application/json", "Supplement", "Where each keyed figure is printed"
    )


__all__ = ["FIGURES_FILE", "write_pdf"]
