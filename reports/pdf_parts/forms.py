"""Forms: ruled boxes to be written in by hand, with a head on every page. Tagged as tables: they can be heard."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from reports.pdf_parts import style
from reports.pdf_parts.lines import break_text, one_line
from reports.pdf_parts.sheet import num
from reports.pdf_parts.structure import Node, text_string

if TYPE_CHECKING:
    from reports.document import Form, FormCell, FormRow
    from reports.pdf_parts.flow import Flow
    from reports.pdf_parts.lines import Line

_SIDE = 4.0  # between a rule and what is printed in the box
_ABOVE = 2.6
_TICK = 9.0  # side of a square to be ticked
_HEAD_HEIGHT = 18.0


class _Box(NamedTuple):
    """A cell on the page: its edges, and its printed lines."""

    cell: FormCell
    x: float
    width: float
    text: list[Line]
    under: list[Line]

    @property
    def kind(self) -> style.Type:
        """The size of the printed text."""
        return style.FORMS[self.cell.size]

    @property
    def need(self) -> float:
        """The height that what is printed takes."""
        label = style.FORM_LABEL.leading if self.cell.label else 0.0
        lines = len(self.text) * self.kind.leading + len(self.under) * style.FORM_UNDER.leading
        return label + lines + 2 * _ABOVE


class FormSetter:
    """Sets one form into a flow."""

    def __init__(self, flow: Flow, form: Form) -> None:
        self.flow = flow
        self.form = form
        total = sum(form.weights)
        self.edges = [flow.left + flow.width * sum(form.weights[:n]) / total for n in range(len(form.weights) + 1)]

    def set(self) -> None:
        """Set the head and every row; a row that does not fit begins a page."""
        flow, form = self.flow, self.form
        rows = [self._boxes(row) for row in form.rows]
        heights = [self._height(row, boxes) for row, boxes in zip(form.rows, rows, strict=True)]
        head = 0.0 if form.head is None else self._head_height()
        flow.need(head + (heights[0] if heights else 0.0))
        node = Node("Table", flow.root, f"/A<</O/Table/Summary{text_string(form.caption)}>>")
        if form.head is not None:
            self._row(Node("TR", Node("THead", node)), self._boxes(form.head), head, head=True)
        body = Node("TBody", node)
        for boxes, height in zip(rows, heights, strict=True):
            if not flow.fits(height) and not flow.fresh:
                self._go_on()
            self._row(Node("TR", body), boxes, height)
        flow.y -= style.AFTER_BLOCK

    def _boxes(self, row: FormRow) -> list[_Box]:
        family, boxes, place = self.flow.fonts.narrow, [], 0
        for cell in row.cells:
            x, width = self.edges[place], self.edges[place + cell.span] - self.edges[place]
            place += cell.span
            room = width - 2 * _SIDE
            bold = cell.head or cell.size == "large"
            text = break_text(cell.text, family, room / style.FORMS[cell.size].size, bold=bold) if cell.text else []
            under = break_text(cell.under, family, room / style.FORM_UNDER.size) if cell.under else []
            boxes.append(_Box(cell, x, width, text, under))
        return boxes

    @staticmethod
    def _height(row: FormRow, boxes: list[_Box]) -> float:
        return max(row.height, *(box.need for box in boxes))

    def _head_height(self) -> float:
        head = self.form.head
        return 0.0 if head is None else max(_HEAD_HEIGHT, *(box.need for box in self._boxes(head)))

    def _go_on(self) -> None:
        """Begin a page: say what goes on there, and repeat the head as page furniture."""
        flow, kind = self.flow, style.FORMS["normal"]
        flow.new_sheet()
        face = flow.fonts.text.face(bold=True)
        words = one_line(self.form.caption, face, flow.width / kind.size - 7) + ", continued"
        base = flow.y - 0.5 * kind.leading - 0.36 * kind.size
        flow.sheet.artifact([flow.sheet.text(face.pieces(words), kind.size, flow.left, base)])
        flow.y -= kind.leading + 4
        if self.form.head is not None:
            self._row(None, self._boxes(self.form.head), self._head_height(), head=True)

    def _row(self, node: Node | None, boxes: list[_Box], height: float, *, head: bool = False) -> None:
        """Set a row; without a node it is the repeat of the head and no part of the text."""
        flow = self.flow
        low = flow.y - height
        rules = [f"{style.FORM_RULE} [] 0 d"]
        rules += [f"{num(box.x)} {num(low)} {num(box.width)} {num(height)} re S" for box in boxes]
        for box in boxes:
            if box.cell.tick:
                x, y = box.x + box.width - _SIDE - _TICK, low + _SIDE
                rules.append(f"{num(x)} {num(y)} {num(_TICK)} {num(_TICK)} re S")
        flow.sheet.artifact(rules)
        if node is None:
            flow.sheet.ops.append("/Artifact BMC")
        for box in boxes:
            self._box(self._cell(node, box.cell, head=head), box, flow.y, low, centred=head or box.cell.size == "large")
        if node is None:
            flow.sheet.end()
        flow.y = low

    @staticmethod
    def _cell(node: Node | None, cell: FormCell, *, head: bool) -> Node | None:
        if node is None:
            return None
        wide = f"/ColSpan {cell.span}" if cell.span > 1 else ""
        scope = "/Scope/Column" if head else "/Scope/Row" if cell.head else ""
        attributes = f"/A<</O/Table{scope}{wide}>>" if scope or wide else ""
        return Node("TH" if scope else "TD", node, attributes)

    def _box(self, cell: Node | None, box: _Box, top: float, low: float, *, centred: bool) -> None:
        flow, label = self.flow, style.FORM_LABEL
        y = top - _ABOVE
        if box.cell.label:
            y = self._words(cell, box.cell.label, label, box.x + _SIDE, y, box.width - 2 * _SIDE)
        if box.text or box.under:
            lines = len(box.text) * box.kind.leading + len(box.under) * style.FORM_UNDER.leading
            if not box.cell.label:
                y = (top + low + lines) / 2
            for texts, kind in ((box.text, box.kind), (box.under, style.FORM_UNDER)):
                y = self._lines(cell, texts, kind, box, y, centred=centred)
        if box.cell.tick:
            face = flow.fonts.text.face()
            wide = face.width(box.cell.tick) * label.size
            x = box.x + box.width - _SIDE - _TICK - 3 - wide
            self._words(cell, box.cell.tick, label, x, low + _SIDE + _TICK / 2 + label.leading / 2, wide + 1)

    def _lines(
        self, cell: Node | None, lines: list[Line], kind: style.Type, box: _Box, y: float, *, centred: bool
    ) -> float:
        if cell is not None:
            align, room = ("centre" if centred else "left"), box.width - 2 * _SIDE
            return self.flow.write_lines(cell, lines, kind, box.x + _SIDE, y, room=room, align=align)
        for line in lines:
            base = y - 0.5 * kind.leading - 0.36 * kind.size
            wide = sum(bit.width for bit in line) * kind.size
            x = box.x + (box.width - wide) / 2 if centred else box.x + _SIDE
            for bit in line:
                self.flow.sheet.ops.append(self.flow.sheet.text(bit.face.pieces(bit.text), kind.size, x, base))
                x += bit.width * kind.size
            y -= kind.leading
        return y

    def _words(self, cell: Node | None, words: str, kind: style.Type, x: float, y: float, room: float) -> float:
        """Write words on one line, cut where there is no room for them."""
        face = self.flow.fonts.text.face()
        text = one_line(words, face, room / kind.size)
        lines = break_text(text, self.flow.fonts.text, 1000)
        if cell is not None:
            return self.flow.write_lines(cell, lines, kind, x, y)
        base = y - 0.5 * kind.leading - 0.36 * kind.size
        self.flow.sheet.ops.append(self.flow.sheet.text(face.pieces(text), kind.size, x, base))
        return y - kind.leading
