"""Tables: fixed columns, wrapped cells, a header on every page, rows kept whole.

Annexes run to thousands of rows, so a cell that fits on one line takes a short way: its operators are made once for
each distinct text of a column and only the height and the content number are filled in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from reports.document import MARK_WORDS, DocumentError, Run, plain
from reports.pdf_parts import style
from reports.pdf_parts.art import mark_ops
from reports.pdf_parts.flow import ASCENT, DESCENT, FigurePlace
from reports.pdf_parts.fonts import clean
from reports.pdf_parts.lines import break_text, line_width, one_line
from reports.pdf_parts.sheet import num
from reports.pdf_parts.structure import Node

if TYPE_CHECKING:
    from reports.document import Cell, Column, Mark, Row, Table
    from reports.pdf_parts.flow import Flow
    from reports.pdf_parts.lines import Line

_SIZE, _LEADING = style.TABLE.size, style.TABLE.leading
_PAD = 2 * style.CELL_ABOVE
_ROW = _LEADING + _PAD
_BASELINE = style.CELL_ABOVE + 0.5 * _LEADING + 0.36 * _SIZE  # below the upper edge of a row
_MARK = 6.6  # size of a mark in a cell
_MARK_ROOM = _MARK + 3.0
_ROW_HEAD = "/A<</O/Table/Scope/Row>>"
_COLUMN_HEAD = "/A<</O/Table/Scope/Column>>"


class Quick(NamedTuple):
    """A cell on one line in one font: left edge, string operand, font resource."""

    x: str
    operand: str
    font: str


class Slow(NamedTuple):
    """A cell that takes several lines, or carries a link, a key or a mark."""

    lines: list[Line]
    link: str | None
    figure: str | None
    mark: Mark | None


Content = Quick | Slow | None


class Place(NamedTuple):
    """A column on the page."""

    x: float
    width: float
    align: str
    tag: str
    attributes: str


def _align(column: Column) -> str:
    return column.align or ("right" if column.kind == "number" else "left")


class TableSetter:
    """Sets one table into a flow."""

    def __init__(self, flow: Flow, table: Table) -> None:
        self.flow = flow
        self.table = table
        self.family = flow.fonts.narrow
        self.places = self._columns()
        self.wide = Place(flow.left, flow.width, "left", "TH", f"/A<</O/Table/Scope/Row/ColSpan {len(self.places)}>>")
        self.known: list[tuple[dict[str, Content], ...]] = [({}, {}, {}, {}) for _ in self.places]
        self.rules: list[float] = []
        self.strong: list[float] = []
        self.head = [
            break_text(column.title, self.family, self._room(place, style.TABLE_HEAD.size), bold=True)
            for column, place in zip(table.columns, self.places, strict=True)
        ]
        self.head_height = max(len(lines) for lines in self.head) * style.TABLE_HEAD.leading + _PAD + 1

    @staticmethod
    def _room(place: Place, size: float) -> float:
        return (place.width - 2 * style.CELL_SIDE) / size + 1e-6

    # Columns

    def _least_width(self, number: int, column: Column) -> float:
        """Return what a column must have: the longest word of its header, and every number on one line."""
        bold = self.family.bold
        words = clean(column.title).split() or [""]
        least = max(bold.width(word) for word in words) * style.TABLE_HEAD.size
        if column.kind == "number":
            texts = {row.cells[number].text for row in self.table.rows if row.style != "group"}
            widths = [bold.width(clean(text)) for text in texts if isinstance(text, str)]
            marked = any(row.cells[number].mark for row in self.table.rows if row.style != "group")
            least = max(least, max(widths, default=0) * _SIZE + _MARK_ROOM * marked)
        return min(
            least + 2 * style.CELL_SIDE + style.AFTER_NUMBER * (column.kind != "number") + 0.05, self.flow.width / 2
        )

    def _columns(self) -> list[Place]:
        """Widths by weight; a column too narrow for its own words takes what it lacks from the wider ones."""
        columns, total = self.table.columns, self.flow.width
        least = [self._least_width(number, column) for number, column in enumerate(columns)]
        crowded = sum(least) >= total
        widths = [part * total / sum(least) for part in least] if crowded else self._shares(least)
        places: list[Place] = []
        x = self.flow.left
        for column, width in zip(columns, widths, strict=True):
            heading = column.kind == "heading"
            tag, attributes = ("TH", _ROW_HEAD) if heading else ("TD", "")
            align = _align(column)
            gap = style.AFTER_NUMBER if places and places[-1].align == "right" and align == "left" else 0.0
            places.append(Place(x + gap, width - gap, align, tag, attributes))
            x += width
        return places

    def _shares(self, least: list[float]) -> list[float]:
        weights = [column.weight for column in self.table.columns]
        fixed: set[int] = set()
        while True:
            free = self.flow.width - sum(least[i] for i in fixed)
            unit = free / sum(w for i, w in enumerate(weights) if i not in fixed) if len(fixed) < len(weights) else 0
            short = {i for i, w in enumerate(weights) if i not in fixed and w * unit < least[i] - 1e-9}
            if not short:
                return [least[i] if i in fixed else w * unit for i, w in enumerate(weights)]
            fixed |= short

    # Cells

    def _quick(self, place: Place, text: str, look: int) -> Content:
        """Return the short form of a cell's text in a look (1 bold, 2 italic), or its lines when it needs more."""
        face = self.family.face(bold=bool(look & 1), italic=bool(look & 2))
        ready = clean(text)
        if not ready.strip():
            return None
        wide, room = face.width(ready) * _SIZE, place.width - 2 * style.CELL_SIDE
        pieces = face.pieces(ready) if "\n" not in ready else ()
        if wide > room + 1e-6 or len(pieces) != 1:
            lines = break_text(text, self.family, self._room(place, _SIZE), bold=bool(look & 1), italic=bool(look & 2))
            return Slow(lines, None, None, None)
        free = {"left": 0.0, "right": room - wide}.get(place.align, (room - wide) / 2)
        return Quick(num(place.x + style.CELL_SIDE + free), pieces[0][1], pieces[0][0])

    def _slow(self, place: Place, cell: Cell, look: int) -> Content:
        text = cell.text
        if cell.mark is not None and not plain(text).strip():
            text = MARK_WORDS[cell.mark]
        if not plain(text).strip():
            return None
        room = self._room(place, _SIZE) - (_MARK_ROOM / _SIZE if cell.mark else 0)
        lines = break_text(text, self.family, room, bold=bool(look & 1), italic=bool(look & 2))
        return Slow(lines, cell.link, cell.figure, cell.mark)

    def _prepared(self, row: Row) -> tuple[float, list[Content]]:
        """Height of a row and what its cells hold."""
        bold = row.style != "normal"
        places = [self.wide] if row.style == "group" else self.places
        contents: list[Content] = []
        height = _ROW
        for number, (place, cell) in enumerate(zip(places, row.cells, strict=True)):
            look = (bold or cell.bold) + 2 * cell.italic
            text = cell.text
            content: Content
            if cell.figure is None and cell.link is None and cell.mark is None and isinstance(text, str):
                if place is self.wide:
                    content = self._quick(place, text, look)
                else:
                    known = self.known[number][look]
                    if text not in known:
                        known[text] = self._quick(place, text, look)
                    content = known[text]
            else:
                content = self._slow(place, cell, look)
            if type(content) is Slow and len(content.lines) > 1:
                height = max(height, len(content.lines) * _LEADING + _PAD)
            contents.append(content)
        return height, contents

    # Setting

    def set(self) -> None:
        """Set the whole table: caption, header, rows, note."""
        flow, table = self.flow, self.table
        caption = break_text(table.caption, flow.fonts.text, flow.width / style.CAPTION.size, bold=True)
        caption_height = style.CAPTION.before + len(caption) * style.CAPTION.leading + style.CAPTION.after
        flow.need(caption_height + self.head_height + self._first_rows())
        node = Node("Table", flow.root)
        flow.anchor(table.anchor)
        if plain(table.caption).strip():
            flow.down(style.CAPTION.before)
            flow.y = flow.write_lines(Node("Caption", node), caption, style.CAPTION, flow.left, flow.y)
            flow.y -= style.CAPTION.after
        self._header(Node("TR", Node("THead", node)))
        self._body(Node("TBody", node))
        self._rule_off()
        if plain(table.note).strip():
            flow.y -= 2.5
            lines = break_text(table.note, flow.fonts.text, flow.width / style.SMALL.size)
            flow.pour(Node("P", flow.root), lines, style.SMALL, flow.left)
        flow.y -= style.AFTER_BLOCK

    def _first_rows(self) -> float:
        return min(sum(self._prepared(row)[0] for row in self.table.rows[:2]) or _ROW, self.flow.page_room / 2)

    def _header(self, node: Node | None) -> None:
        """Write the header; without a node it is the repeat on a later page and no part of the text."""
        flow = self.flow
        sheet = flow.sheet
        if node is None:
            sheet.ops.append("/Artifact BMC")
        low = flow.y - self.head_height
        for place, lines in zip(self.places, self.head, strict=True):
            cell = Node("TH", node, _COLUMN_HEAD)
            top = low + style.CELL_ABOVE + 1 + len(lines) * style.TABLE_HEAD.leading
            for line in lines if any(line_width(line) for line in lines) else []:
                free = place.width - 2 * style.CELL_SIDE - line_width(line) * style.TABLE_HEAD.size
                x = place.x + style.CELL_SIDE + {"left": 0.0, "right": free}.get(place.align, free / 2)
                base = top - 0.5 * style.TABLE_HEAD.leading - 0.36 * style.TABLE_HEAD.size
                if node is None:
                    sheet.ops.append(sheet.text(line[0].face.pieces(line[0].text), style.TABLE_HEAD.size, x, base))
                else:
                    flow.write_line(cell, line, style.TABLE_HEAD.size, x, base)
                top -= style.TABLE_HEAD.leading
        if node is None:
            sheet.end()
        flow.y = low
        self.strong.append(low)

    def _next_page(self) -> None:
        """Rule off, go on, and say what goes on."""
        self._rule_off()
        flow = self.flow
        flow.new_sheet()
        name = plain(self.table.caption).strip()
        if name:
            face = flow.fonts.text.face(italic=True)
            words = one_line(name.rstrip("."), face, flow.width / style.SMALL.size - 7) + ", continued"
            base = flow.y - 0.5 * style.SMALL.leading - 0.36 * style.SMALL.size
            flow.sheet.artifact([flow.sheet.text(face.pieces(words), style.SMALL.size, flow.left, base)])
            flow.y -= style.SMALL.leading + 2
        self._header(None)

    def _rule_off(self) -> None:
        left, right = num(self.flow.left), num(self.flow.right)
        ops = []
        for pen, heights in ((style.RULE, self.rules), (style.STRONG_RULE, self.strong)):
            if heights:
                ops.append(pen + " [] 0 d")
                ops += [f"{left} {num(y)} m {right} {num(y)} l S" for y in heights]
        self.flow.sheet.artifact(ops)
        self.rules, self.strong = [], []

    def _body(self, body: Node) -> None:
        rows = self.table.rows
        if not rows:
            self._empty_row(body)
            return
        ready = self._prepared(rows[0])
        for number, row in enumerate(rows):
            height, contents = ready
            more = number + 1 < len(rows)
            if more:
                ready = self._prepared(rows[number + 1])
            together = more and (row.style == "group" or rows[number + 1].style in {"subtotal", "total"})
            wanted = height + ready[0] if together else height
            if not self.flow.fits(wanted) and self.flow.y < self.flow.top - self.head_height - 40:
                self._next_page()
            if self.flow.fits(height):
                self._row(body, row, height, contents)
            else:
                self._tall_row(body, row, contents)

    def _empty_row(self, body: Node) -> None:
        node = Node("TR", body)
        cell = Node("TD", node, f"/A<</O/Table/ColSpan {len(self.places)}>>")
        lines = break_text(self.table.empty, self.family, self._room(self.wide, _SIZE), italic=True)
        self._lines(cell, self.wide, lines, self.flow.y - style.CELL_ABOVE)
        self.flow.y -= len(lines) * _LEADING + _PAD
        self.strong.append(self.flow.y)

    def _ground(self, row: Row, height: float) -> None:
        """Tint of a group row and the rules around a row."""
        flow = self.flow
        low = flow.y - height
        if row.style == "group":
            tint = f"{num(flow.left)} {num(low)} {num(flow.width)} {num(height)} re f"
            flow.sheet.artifact([style.GROUP_TINT, tint, style.INK])
        if row.style == "total":
            self.strong.append(flow.y)
            self.strong.append(low)
        else:
            self.rules.append(low)

    def _row(self, body: Node, row: Row, height: float, contents: list[Content]) -> None:
        flow = self.flow
        sheet = flow.sheet
        self._ground(row, height)
        flow.anchor(row.anchor)
        node = Node("TR", body)
        places = [self.wide] if row.style == "group" else self.places
        base = num(flow.y - _BASELINE)
        page, owners = sheet.index, sheet.owners
        ops: list[str] = []
        for place, content in zip(places, contents, strict=True):
            cell = Node(place.tag, node, place.attributes)
            if type(content) is Quick:
                mcid = len(owners)
                owners.append(cell)
                cell.mark(page, mcid)
                select = "" if sheet.font == (content.font, _SIZE) else sheet.font_op(content.font, _SIZE)
                ops.append(
                    f"/{place.tag}<</MCID {mcid}>>BDC {select}1 0 0 1 {content.x} {base} Tm{content.operand}Tj EMC"
                )
            elif type(content) is Slow:
                self._write_quick(ops)
                ops = []
                self._write_slow(cell, place, content)
        self._write_quick(ops)
        flow.y -= height

    def _write_quick(self, ops: list[str]) -> None:
        if ops:
            self.flow.sheet.ops.append("BT " + "\n".join(ops) + " ET")

    def _lines(self, cell: Node, place: Place, lines: list[Line], top: float, *, indent: float = 0) -> None:
        room = place.width - 2 * style.CELL_SIDE - indent
        x = place.x + style.CELL_SIDE + indent
        self.flow.write_lines(cell, lines, style.TABLE, x, top, room=room, align=place.align)

    def _write_slow(self, cell: Node, place: Place, content: Slow) -> None:
        flow = self.flow
        top = flow.y - style.CELL_ABOVE
        indent = _MARK_ROOM if content.mark else 0.0
        lines = content.lines
        seen = max(line_width(line) for line in lines) * _SIZE
        room = place.width - 2 * style.CELL_SIDE - indent
        x = place.x + style.CELL_SIDE + indent
        x += {"left": 0.0, "right": room - seen}.get(place.align, (room - seen) / 2)
        base = flow.y - _BASELINE
        rect = (x, base - (len(lines) - 1) * _LEADING - DESCENT * _SIZE, x + seen, base + ASCENT * _SIZE)
        if content.mark:
            flow.sheet.artifact(mark_ops(content.mark, x - _MARK_ROOM, base - 0.6, _MARK))
        target = cell if content.link is None else Node("Link", cell)
        self._lines(target, place, lines, top, indent=indent)
        if content.link is not None:
            words = " ".join("".join(bit.text for bit in line).strip() for line in lines)
            flow.area(target, rect, content.link, f"{words}: go to {content.link}")
            low = num(rect[1] + (DESCENT - 0.17) * _SIZE)
            rule = f"{style.LINK_RULE} [0.7 1.1] 0 d {num(x)} {low} m {num(x + seen)} {low} l S [] 0 d"
            flow.sheet.artifact([rule])
        if content.figure is not None:
            flow.places.append(FigurePlace(content.figure, flow.sheet.index, rect))

    def _tall_row(self, body: Node, row: Row, contents: list[Content]) -> None:
        """Set a row taller than a page in parts; the only case in which a row is divided."""
        if any(type(content) is Slow and content.figure for content in contents):
            raise DocumentError(
                f"{plain(self.table.caption)}: a cell with a figure key stands in a row taller than a page; "
                "move the long text out of the table."
            )
        places = [self.wide] if row.style == "group" else self.places
        node = Node("TR", body)
        cells = [Node(place.tag, node, place.attributes) for place in places]
        bold = row.style != "normal"
        parts = [self._all_lines(place, cell, bold=bold) for place, cell in zip(places, row.cells, strict=True)]
        self.flow.anchor(row.anchor)
        while any(parts):
            room = max(1, int((self.flow.y - style.BOTTOM - _PAD) // _LEADING))
            taken = [lines[:room] for lines in parts]
            for cell, place, lines in zip(cells, places, taken, strict=True):
                self._lines(cell, place, lines, self.flow.y - style.CELL_ABOVE)
            parts = [lines[room:] for lines in parts]
            self.flow.y -= max(len(lines) for lines in taken) * _LEADING + _PAD
            if any(parts):
                self._next_page()
        self.rules.append(self.flow.y)

    def _all_lines(self, place: Place, cell: Cell, *, bold: bool) -> list[Line]:
        text = cell.text if cell.link is None else (Run(plain(cell.text), link=cell.link),)
        return break_text(text, self.family, self._room(place, _SIZE), bold=bold or cell.bold, italic=cell.italic)
