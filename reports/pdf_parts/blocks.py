"""One function for each kind of block: what it looks like and which elements it makes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.document import (
    MARK_WORDS,
    BulletList,
    ContentsList,
    Figure,
    Form,
    Heading,
    KeyValues,
    Note,
    PageBreak,
    Paragraph,
    Run,
    SignatureBox,
    Spacer,
    Table,
    Title,
    plain,
)
from reports.pdf_parts import style
from reports.pdf_parts.art import Artist, mark_ops
from reports.pdf_parts.flow import ASCENT, DESCENT, Bookmark
from reports.pdf_parts.fonts import clean
from reports.pdf_parts.forms import FormSetter
from reports.pdf_parts.lines import break_text, one_line
from reports.pdf_parts.sheet import num
from reports.pdf_parts.structure import Node, text_string
from reports.pdf_parts.tables import TableSetter

if TYPE_CHECKING:
    from reports.document import Block, Document, Fact, Text
    from reports.pdf_parts.flow import Flow
    from reports.pdf_parts.lines import Line
    from reports.pdf_parts.sheet import Sheet

_NOTE_INDENT = 19.0
_LABEL_SHARE = 0.3  # of the width, for the labels of a list of facts


class _ContentsEntry:
    """A line kept free in the list of contents until the heading's page is known."""

    def __init__(self, sheet: Sheet, slot: int, y: float, link: Node) -> None:
        self.sheet, self.slot, self.y, self.link = sheet, slot, y, link


class Setter:
    """Sets the blocks of a document one after another into a flow."""

    def __init__(self, flow: Flow, document: Document) -> None:
        self.flow = flow
        self.document = document
        self.titled = any(isinstance(block, Title) for block in document.blocks)
        self.deepest = 0
        self.waiting: list[tuple[_ContentsEntry, int]] = []  # with the number of its heading
        self.artist = Artist(flow.fonts)

    def set_all(self) -> None:
        """Set every block, then fill in the pages of the list of contents."""
        blocks = self.document.blocks
        for place, block in enumerate(blocks):
            self._set(block, blocks[place + 1 : place + 3])
        for entry, number in self.waiting:
            self._fill_entry(entry, number)

    def _set(self, block: Block, following: tuple[Block, ...]) -> None:
        match block:
            case Title():
                self._title(block)
            case Heading():
                self._heading(block, following)
            case Paragraph():
                self._paragraph(block)
            case Note():
                self._note(block)
            case KeyValues():
                self._facts(block)
            case BulletList():
                self._bullets(block)
            case Table():
                TableSetter(self.flow, block).set()
            case Figure():
                self._figure(block)
            case SignatureBox():
                self._signature(block)
            case Form():
                FormSetter(self.flow, block).set()
            case ContentsList():
                self._contents(block)
            case Spacer():
                self.flow.down(block.height)
            case PageBreak():
                self._page_break(block)

    def _lines(self, text: Text, kind: style.Type, room: float, *, bold: bool = False) -> list[Line]:
        return break_text(text, self.flow.fonts.text, room / kind.size, bold=bold)

    def _page_break(self, block: PageBreak) -> None:
        flow = self.flow
        flow.landscape = block.landscape
        turned = (flow.sheet.width > flow.sheet.height) != block.landscape
        if flow.fresh and turned and len(flow.sheets) > 1:
            flow.sheets.pop()
        if not flow.fresh or turned:
            flow.new_sheet()

    def _title(self, block: Title) -> None:
        flow = self.flow
        lines = self._lines(block.text, style.TITLE, flow.width, bold=True)
        flow.y -= style.TITLE.before
        flow.pour(Node("H1", flow.root), lines, style.TITLE, flow.left)
        flow.y -= style.TITLE.after
        for text in block.lines:
            flow.pour(Node("P", flow.root), self._lines(text, style.SUBTITLE, flow.width), style.SUBTITLE, flow.left)
        flow.y -= 7
        rule = f"{style.STRONG_RULE} [] 0 d {num(flow.left)} {num(flow.y)} m {num(flow.right)} {num(flow.y)} l S"
        flow.sheet.artifact([rule])
        flow.y -= 3

    def _heading(self, block: Heading, following: tuple[Block, ...]) -> None:
        flow = self.flow
        kind = style.HEADINGS[block.level]
        lines = self._lines(block.text, kind, flow.width, bold=True)
        flow.need(kind.before + len(lines) * kind.leading + kind.after + self._company(following))
        flow.down(kind.before)
        # Levels are never skipped in the structure (ISO 14289-1:2014, 7.4.2), whatever the document says.
        wanted = block.level + self.titled
        self.deepest = min(wanted, max(self.deepest, int(self.titled)) + 1)
        node = Node(f"H{self.deepest}", flow.root)
        flow.anchor(block.anchor)
        flow.bookmarks.append(Bookmark(block.level, " ".join(block.text.split()), flow.sheet.index, flow.y))
        flow.pour(node, lines, kind, flow.left)
        flow.y -= kind.after

    def _company(self, following: tuple[Block, ...]) -> float:
        """Height that must stay under a heading so that it is not left alone at the foot of a page."""
        if not following:
            return 0.0
        match following[0]:
            case Heading(level=level):
                kind = style.HEADINGS[level]
                return kind.before + kind.leading + kind.after + self._company(following[1:])
            case Table() | Form():
                return 86.0
            case Figure(drawing=drawing):
                return min(drawing.height, self.flow.page_room * 0.8) + 34
            case Paragraph(text=text):
                under = self._company(following[1:]) if len(plain(text)) < 160 and len(following) > 1 else 0
                lines = 1 + len(plain(text)) // 80  # an estimate; up to three lines stay together
                return (lines if lines <= 4 else 2) * style.BODY.leading + min(under, 90)
            case _:
                return 44.0

    def _paragraph(self, block: Paragraph) -> None:
        flow = self.flow
        kind = style.SMALL if block.small else style.BODY
        lines = self._lines(block.text, kind, flow.width)
        flow.need(min(len(lines), 2) * kind.leading)
        flow.anchor(block.anchor)
        flow.pour(Node("P", flow.root), lines, kind, flow.left)
        flow.y -= kind.after

    def _note(self, block: Note) -> None:
        flow, kind = self.flow, style.BODY
        word = block.word or MARK_WORDS[block.kind]
        runs = (Run(block.text),) if isinstance(block.text, str) else block.text
        lines = self._lines((Run(f"{word}. ", bold=True), *runs), kind, flow.width - _NOTE_INDENT)
        flow.need(min(len(lines), 3) * kind.leading + 4)
        flow.anchor(block.anchor)
        size = 9.6
        flow.sheet.artifact(mark_ops(block.kind, flow.left + 1, flow.y - kind.leading / 2 - size / 2, size))
        flow.pour(Node("P", flow.root), lines, kind, flow.left + _NOTE_INDENT)
        flow.y -= kind.after

    def _facts(self, block: KeyValues) -> None:
        flow = self.flow
        node = Node("Table", flow.root)
        if block.caption:
            lines = self._lines(block.caption, style.CAPTION, flow.width, bold=True)
            flow.need(len(lines) * style.CAPTION.leading + 40)
            flow.pour(Node("Caption", node), lines, style.CAPTION, flow.left)
            flow.y -= 2
        body = Node("TBody", node)
        for fact in block.rows:
            self._fact(body, fact)
        flow.y -= style.AFTER_BLOCK - 3

    def _fact(self, body: Node, fact: Fact) -> None:
        flow = self.flow
        kind = style.Type(9, 12.4)
        value = fact.value
        if fact.figure is not None or fact.link is not None:
            value = (Run(plain(value), link=fact.link, figure=fact.figure),)
        wide = flow.width * _LABEL_SHARE
        labels = self._lines(fact.label, kind, wide - 8)
        values = self._lines(value, kind, flow.width - wide)
        height = max(len(labels), len(values)) * kind.leading + 3
        flow.need(min(height, flow.page_room))
        row = Node("TR", body)
        top = flow.y - 1.5
        flow.sheet.ops.append(style.QUIET)
        flow.write_lines(Node("TH", row, "/A<</O/Table/Scope/Row>>"), labels, kind, flow.left, top)
        flow.sheet.ops.append(style.INK)
        cell = Node("TD", row)
        if height <= flow.page_room:
            flow.write_lines(cell, values, kind, flow.left + wide, top)
            flow.y -= height
        else:
            flow.pour(cell, values, kind, flow.left + wide)
        rule = f"{style.RULE} [] 0 d {num(flow.left)} {num(flow.y)} m {num(flow.right)} {num(flow.y)} l S"
        flow.sheet.artifact([rule])

    def _bullets(self, block: BulletList) -> None:
        flow, kind = self.flow, style.BODY
        numbering = "Decimal" if block.ordered else "Disc"
        node = Node("L", flow.root, f"/A<</O/List/ListNumbering/{numbering}>>")
        indent = 19.0 if block.ordered else 13.0
        for number, text in enumerate(block.items, 1):
            lines = self._lines(text, kind, flow.width - indent)
            flow.need(min(len(lines), 2) * kind.leading)
            if not flow.fits(kind.leading * min(len(lines), 3)):
                flow.new_sheet()
            item = Node("LI", node)
            label = self._lines(f"{number}." if block.ordered else "\N{EN DASH}", kind, indent)
            flow.write_lines(Node("Lbl", item), label, kind, flow.left, flow.y)
            flow.pour(Node("LBody", item), lines, kind, flow.left + indent)
            flow.y -= 2
        flow.y -= kind.after - 2

    def _figure(self, block: Figure) -> None:
        flow, drawing = self.flow, block.drawing
        caption = self._lines(block.caption, style.CAPTION, flow.width)
        below = len(caption) * style.CAPTION.leading + style.AFTER_BLOCK + 8
        scale = min(1.0, flow.width / drawing.width, (flow.page_room - below) / drawing.height)
        wide, high = drawing.width * scale, drawing.height * scale
        flow.need(high + below)
        flow.anchor(block.anchor)
        flow.down(4)
        x, y = flow.left, flow.y - high
        bounds = " ".join(num(value) for value in (x, y, x + wide, y + high))
        layout = f"/A<</O/Layout/Placement/Block/BBox[{bounds}]>>"
        node = Node("Figure", flow.root, f"/Alt{text_string(' '.join(clean(drawing.alt).split()))}{layout}")
        flow.sheet.begin(node)
        self.artist.paint(flow.sheet, drawing, x, y, scale)
        flow.sheet.end()
        flow.y = y - 4
        flow.pour(Node("Caption", node), caption, style.CAPTION, flow.left)
        flow.y -= style.AFTER_BLOCK

    def _signature(self, block: SignatureBox) -> None:
        flow, given = self.flow, dict(block.given)
        wide, kind = flow.width * 0.72, style.Type(8.5, 11)
        start = flow.left + wide * 0.3
        values = {
            label: self._lines(text, style.BODY, wide * 0.7 - 14)
            for label in block.labels
            if (text := given.get(label))
        }
        # A long name or title takes as many lines as it needs: what somebody certified under is never cut.
        steps = [30.0 + style.BODY.leading * max(0, len(values.get(label, ())) - 1) for label in block.labels]
        height = sum(steps) + 16
        flow.need(height + 4)
        top = low = flow.y
        ops = [
            "0.3 G 0.6 w [] 0 d",
            f"{num(flow.left)} {num(top - height)} {num(wide)} {num(height)} re S",
            "0.5 G 0.4 w",
        ]
        low -= 2
        for label, step in zip(block.labels, steps, strict=True):
            low -= step
            ops.append(f"{num(start)} {num(low)} m {num(flow.left + wide - 12)} {num(low)} l S")
            node = Node("P", flow.root)
            room = wide * 0.3 - 16
            labels = self._lines(label, kind, room)
            flow.write_lines(node, labels, kind, flow.left + 10, low + 8.6 + 11 * (len(labels) - 1))
            if label in values:
                above = style.BODY.leading * (len(values[label]) - 1)
                flow.write_lines(node, values[label], style.BODY, start + 2, low + 14 + above)
        flow.sheet.artifact(ops)
        flow.y = top - height - style.AFTER_BLOCK

    # List of contents

    def _contents(self, block: ContentsList) -> None:
        flow, kind = self.flow, style.CONTENTS
        title = style.HEADINGS[2]
        flow.need(title.leading + 4 * kind.leading)
        flow.down(6)
        flow.pour(Node("P", flow.root), self._lines(block.title, title, flow.width, bold=True), title, flow.left)
        flow.y -= title.after
        node = Node("TOC", flow.root)
        headings = [other for other in self.document.blocks if isinstance(other, Heading)]
        for number, heading in enumerate(headings):
            if heading.level <= block.depth:
                flow.need(kind.leading)
                flow.y -= kind.leading
                link = Node("Link", Node("Reference", Node("TOCI", node)))
                self.waiting.append((_ContentsEntry(flow.sheet, len(flow.sheet.ops), flow.y, link), number))
                flow.sheet.ops.append("")
        flow.y -= style.AFTER_BLOCK

    def _fill_entry(self, entry: _ContentsEntry, number: int) -> None:
        """Write one line of the contents into the place kept for it."""
        flow, kind = self.flow, style.CONTENTS
        mark = flow.bookmarks[number]
        left, right = flow.side + 14 * (mark.level - 1), entry.sheet.width - flow.side
        face = flow.fonts.text.face(bold=mark.level == 1)
        page = str(mark.page + 1)
        words = one_line(mark.text, face, (right - left - 40) / kind.size)
        base = entry.y + 0.5 * kind.leading - 0.36 * kind.size
        end, start = left + face.width(words) * kind.size, right - face.width(page) * kind.size
        # Written out of turn: fonts are chosen anew, and what the page's own content had selected is brought back by Q.
        sheet, before = entry.sheet, entry.sheet.ops
        sheet.ops, sheet.font = [], None
        sheet.begin(entry.link)
        sheet.ops.append(sheet.text(face.pieces(words + " "), kind.size, left, base))
        sheet.ops.append(sheet.text(face.pieces(page), kind.size, start, base))
        sheet.end()
        if start - end > 16:
            low = num(base + 0.4)
            sheet.artifact([f"0.6 G 0.7 w 1 J [0 3] 0 d {num(end + 6)} {low} m {num(start - 6)} {low} l S 0 J [] 0 d"])
        before[entry.slot] = "q " + "\n".join(sheet.ops) + " Q"
        sheet.ops = before
        sheet.font = None
        rect = (left, base - DESCENT * kind.size, right, base + ASCENT * kind.size)
        name = f"\0{number}"  # no text of a user holds a NUL as an anchor: it is cleaned away
        flow.anchors[name] = (mark.page, flow.side, mark.top + 4)
        here, flow.sheet = flow.sheet, entry.sheet
        flow.area(entry.link, rect, name, f"{words}, page {page}")
        flow.sheet = here
