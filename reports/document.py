"""The report as a document: headings, paragraphs, tables, figures. Pure; knows neither the PDF library nor permits.

A document is built once from a frozen snapshot and handed to a writer. Every value a writer needs stands in it:
`created` comes from the snapshot, never from a clock. Text is plain Unicode; a newline in a paragraph or cell is a
line break.

Keys and anchors. `figure` on a cell or run is the key of a printed total, for example "limits/4.1/taken"; the writer
records where the text was printed. `anchor` names a place; `link` points at an anchor of the same document, or at an
address that starts with "https://", "http://" or "mailto:".
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from datetime import datetime

    from reports.drawing import Drawing

Align = Literal["left", "right", "centre"]
ColumnKind = Literal["text", "number", "heading"]
RowStyle = Literal["normal", "subtotal", "total", "group"]
Mark = Literal["note", "caution", "open", "broken", "met", "unknown"]
Relationship = Literal["Source", "Data", "Alternative", "Supplement", "Unspecified"]

MARK_WORDS: dict[Mark, str] = {
    "note": "Note",
    "caution": "Caution",
    "open": "Open",
    "broken": "Not met",
    "met": "Met",
    "unknown": "Cannot tell",
}

_OUTSIDE = ("https://", "http://", "mailto:")


class DocumentError(ValueError):
    """The document cannot be set as it stands; the message says which block and how to mend it."""


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text in one style. A run with a `figure` key is never broken over two lines."""

    text: str
    bold: bool = False
    italic: bool = False
    link: str | None = None
    figure: str | None = None


Text: TypeAlias = str | tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Title:
    """The name of the report on its first page, with lines under it (holder, period, edition)."""

    text: str
    lines: tuple[Text, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """Level 1 for a section, 2 and 3 below it. Headings make the bookmarks and the list of contents."""

    level: Literal[1, 2, 3]
    text: str
    anchor: str | None = None


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text. `small` sets it in the size of a caption."""

    text: Text
    anchor: str | None = None
    small: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """A remark with a shape and a word in front, so that nothing hangs on colour.

    `word` replaces the usual word of the kind.
    """

    kind: Mark
    text: Text
    word: str | None = None
    anchor: str | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of a list of facts: a label and its value."""

    label: str
    value: Text
    figure: str | None = None
    link: str | None = None


@dataclass(frozen=True, slots=True)
class KeyValues:
    """A short two-column list of facts."""

    rows: tuple[Fact, ...]
    caption: str = ""


@dataclass(frozen=True, slots=True)
class BulletList:
    """Items with a dash in front, or numbers when `ordered`."""

    items: tuple[Text, ...]
    ordered: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. `weight` is its share of the width; numbers stand right unless `align` says otherwise.

    A column of kind "heading" names its row: screen readers read it before each cell of the row.
    """

    title: str
    weight: float = 1.0
    align: Align | None = None
    kind: ColumnKind = "text"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    `mark` draws the shape of a kind in front; the word must stand in `text` (an empty text gets the usual word).
    """

    text: Text = ""
    figure: str | None = None
    link: str | None = None
    bold: bool = False
    italic: bool = False
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A row of as many cells as the table has columns; a "group" row has one cell that runs across all of them."""

    cells: tuple[Cell, ...]
    style: RowStyle = "normal"
    anchor: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table. Its header is repeated on every page and no row is split unless it is taller than a page."""

    caption: Text
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    anchor: str | None = None
    note: Text = ""
    empty: str = "None recorded."


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing with its caption. Its words for those who cannot see it are the drawing's own `alt`."""

    drawing: Drawing
    caption: Text
    anchor: str | None = None


@dataclass(frozen=True, slots=True)
class SignatureBox:
    """A ruled box with one line to write on for each label. `given` holds text already known, by label."""

    labels: tuple[str, ...]
    given: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class FormCell:
    """One box of a form. `text` is printed in it, `under` smaller below that.

    `label` stands small in the upper left of a box to be written in, `tick` beside a small square to be ticked in its
    lower right. `head` makes it the name of its row, or of its column in a head row.
    """

    text: str = ""
    under: str = ""
    label: str = ""
    tick: str = ""
    span: int = 1
    head: bool = False
    size: Literal["normal", "large", "small"] = "normal"


@dataclass(frozen=True, slots=True)
class FormRow:
    """A row of boxes whose spans fill the form's columns; `height` in points is the least it has."""

    cells: tuple[FormCell, ...]
    height: float = 28.0


@dataclass(frozen=True, slots=True)
class Form:
    """Ruled boxes to be written in by hand, black on white. `weights` are the columns' shares of the width.

    The head is repeated on every page and no row is split. `caption` names the form to those who hear it read, and on
    the pages that it goes on to.
    """

    caption: str
    weights: tuple[float, ...]
    rows: tuple[FormRow, ...]
    head: FormRow | None = None


@dataclass(frozen=True, slots=True)
class PageBreak:
    """A new page. `landscape` turns it and those after it, until the next page break."""

    landscape: bool = False


@dataclass(frozen=True, slots=True)
class Spacer:
    """Empty height in points."""

    height: float


@dataclass(frozen=True, slots=True)
class ContentsList:
    """The headings down to `depth` with their pages, each a link."""

    title: str = "Contents"
    depth: int = 2


Block: TypeAlias = (
    Title
    | Heading
    | Paragraph
    | Note
    | KeyValues
    | BulletList
    | Table
    | Figure
    | SignatureBox
    | Form
    | PageBreak
    | Spacer
    | ContentsList
)


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file carried inside the report. `mime` like "text/csv"; `relationship` as in ISO 19005-3 (AFRelationship)."""

    name: str
    content: bytes
    mime: str
    relationship: Relationship = "Data"
    description: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """A whole report. `created` must carry its offset from UTC; `language` is a BCP 47 tag such as "en-AU".

    `corner` is drawn in the upper right corner of every page, as page furniture: what it says stands in the text as
    well. `side_margin` in points is that of both sides.
    """

    title: str
    language: str
    subject: str
    author: str
    created: datetime
    running_head: str
    footer_lines: tuple[str, ...]
    blocks: tuple[Block, ...]
    attachments: tuple[Attachment, ...] = ()
    corner: Drawing | None = None
    side_margin: float = 57.0


def is_outside(link: str) -> bool:
    """Whether a link leaves the document."""
    return link.startswith(_OUTSIDE)


def plain(text: Text) -> str:
    """Return the words of a text without its styles."""
    return text if isinstance(text, str) else "".join(run.text for run in text)


def anchors_of(blocks: Sequence[Block]) -> Iterator[str]:
    """Every anchor that blocks and table rows set, in order."""
    for block in blocks:
        anchor = getattr(block, "anchor", None)
        if anchor is not None:
            yield anchor
        if isinstance(block, Table):
            for row in block.rows:
                if row.anchor is not None:
                    yield row.anchor


def _text_links(text: Text) -> Iterator[str]:
    if not isinstance(text, str):
        for run in text:
            if run.link is not None:
                yield run.link


def _cell_links(cell: Cell) -> Iterator[str]:
    if cell.link is not None:
        yield cell.link
    yield from _text_links(cell.text)


def links_of(blocks: Sequence[Block]) -> Iterator[str]:
    """Every link target in the blocks, in order, outside addresses included."""
    for block in blocks:
        match block:
            case Paragraph() | Note():
                yield from _text_links(block.text)
            case BulletList():
                for item in block.items:
                    yield from _text_links(item)
            case KeyValues():
                for fact in block.rows:
                    yield from _cell_links(Cell(fact.value, link=fact.link))
            case Table():
                for text in (block.caption, block.note):
                    yield from _text_links(text)
                for row in block.rows:
                    for cell in row.cells:
                        if cell.link is not None or not isinstance(cell.text, str):
                            yield from _cell_links(cell)
            case _:
                continue


def _check_cell(cell: Cell, where: str) -> None:
    """Refuse a figure without text, which could not be read back, and a link inside a link."""
    if cell.figure is not None and not plain(cell.text).strip():
        raise DocumentError(f"{where}: the figure {cell.figure} has no text; print 0 or a dash instead of nothing.")
    if isinstance(cell.text, str):
        return
    for run in cell.text:
        if run.figure is not None and not run.text.strip():
            raise DocumentError(f"{where}: the figure {run.figure} has no text; print 0 or a dash instead of nothing.")
        if cell.link is not None and run.link is not None:
            raise DocumentError(f"{where}: the cell links to {cell.link} and a run in it to {run.link}; keep one.")


def _check_table(table: Table) -> None:
    name = plain(table.caption) or "a table without caption"
    if not table.columns:
        raise DocumentError(f"{name}: it has no columns; give at least one Column.")
    if any(column.weight <= 0 for column in table.columns):
        raise DocumentError(f"{name}: every column weight must be above 0.")
    wide = len(table.columns)
    for place, row in enumerate(table.rows, 1):
        wanted = 1 if row.style == "group" else wide
        if len(row.cells) != wanted:
            raise DocumentError(
                f"{name}, row {place}: {len(row.cells)} cells where {wanted} belong; fill empty places with Cell()."
            )
        for cell in row.cells:
            if cell.figure is not None or not isinstance(cell.text, str):
                _check_cell(cell, f"{name}, row {place}")


def _check_form(form: Form) -> None:
    wide = len(form.weights)
    if not form.caption.strip() or not wide or min(form.weights) <= 0:
        raise DocumentError(f"{form.caption or 'A form'}: give it a caption, and columns whose weights are above 0.")
    for place, row in enumerate((form.head, *form.rows)):
        filled = wide if row is None else sum(cell.span for cell in row.cells)
        if filled != wide:
            raise DocumentError(f"{form.caption}, row {place}: {filled} columns are filled where {wide} belong.")


def check(document: Document) -> None:
    """Raise DocumentError when the document cannot be set.

    Looks at: `created` without an offset, tables whose rows do not fit their columns, an anchor set twice, a link
    that leads nowhere.
    """
    if document.created.utcoffset() is None:
        raise DocumentError("Document.created has no offset from UTC; give a timezone-aware datetime.")
    if not document.title.strip():
        raise DocumentError("Document.title is empty; a report needs a title.")
    for block in document.blocks:
        match block:
            case Table():
                _check_table(block)
            case Form():
                _check_form(block)
            case KeyValues():
                for fact in block.rows:
                    _check_cell(Cell(fact.value, fact.figure, fact.link), fact.label)
            case Paragraph() | Note():
                _check_cell(Cell(block.text), plain(block.text)[:40])
            case _:
                continue
    anchors = Counter(anchors_of(document.blocks))
    twice = sorted(name for name, count in anchors.items() if count > 1)
    if twice:
        raise DocumentError(f"Anchors set more than once: {', '.join(twice)}; give each its own name.")
    lost = sorted({link for link in links_of(document.blocks) if not is_outside(link) and link not in anchors})
    if lost:
        raise DocumentError(f"Links that lead nowhere: {', '.join(lost)}; set the anchor or drop the link.")
