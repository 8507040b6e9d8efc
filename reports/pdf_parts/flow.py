"""The flow of a document over its sheets: where the next piece goes, and what has been placed where."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from reports.document import is_outside
from reports.pdf_parts import style
from reports.pdf_parts.lines import line_width
from reports.pdf_parts.sheet import Sheet, num
from reports.pdf_parts.structure import LinkArea, Node

if TYPE_CHECKING:
    from reports.pdf_parts.fonts import Fonts
    from reports.pdf_parts.lines import Bit, Line

Rect = tuple[float, float, float, float]
DESCENT, ASCENT = 0.26, 0.86  # of a line of text, in em: what encloses figures and capitals with accents


class FigurePlace(NamedTuple):
    """Where a keyed figure was printed: page from 0, rectangle in points from the lower left."""

    key: str
    page: int
    rect: Rect


class Bookmark(NamedTuple):
    """A heading and its place."""

    level: int
    text: str
    page: int
    top: float


class Flow:
    """Sheets filled from top to bottom. `y` is the upper edge of what comes next."""

    def __init__(self, fonts: Fonts, side: float = style.SIDE) -> None:
        self.fonts = fonts
        self.side = side
        self.landscape = False
        self.sheets: list[Sheet] = []
        self.root = Node("Document", None)
        self.anchors: dict[str, tuple[int, float, float]] = {}
        self.areas: list[LinkArea] = []
        self.places: list[FigurePlace] = []
        self.bookmarks: list[Bookmark] = []
        self.new_sheet()

    def new_sheet(self) -> None:
        """Go to the top of a fresh page."""
        wide, high = style.A4_SHORT, style.A4_LONG
        if self.landscape:
            wide, high = high, wide
        self.sheet = Sheet(len(self.sheets), wide, high)
        self.sheets.append(self.sheet)
        self.left, self.right = self.side, wide - self.side
        self.y = self.top

    @property
    def top(self) -> float:
        """Upper edge of the type area."""
        return self.sheet.height - style.TOP

    @property
    def width(self) -> float:
        """Width of the type area."""
        return self.right - self.left

    @property
    def page_room(self) -> float:
        """Height of an empty page's type area."""
        return self.top - style.BOTTOM

    @property
    def fresh(self) -> bool:
        """Whether nothing stands on the page yet."""
        return self.y >= self.top

    def fits(self, height: float) -> bool:
        """Whether a height fits on the rest of the page."""
        return self.y - height >= style.BOTTOM - 0.01

    def need(self, height: float) -> None:
        """Go to a new page unless the height fits, or the page is empty anyway."""
        if not self.fits(height) and not self.fresh:
            self.new_sheet()

    def down(self, height: float) -> None:
        """Leave a height empty; at the top of a page nothing is left empty."""
        if not self.fresh:
            self.y -= height

    def anchor(self, name: str | None, y: float | None = None) -> None:
        """Remember the place of an anchor."""
        if name is not None:
            self.anchors[name] = (self.sheet.index, self.left, (self.y if y is None else y) + 4)

    def area(self, node: Node, rect: Rect, target: str, contents: str) -> None:
        """Make a rectangle of the current page lead somewhere; `node` is the Link element of its text."""
        link = LinkArea(self.sheet.index, rect, target, contents, node)
        self.areas.append(link)
        node.kids.append(link)

    def _bit(self, bit: Bit, size: float, x: float, y: float) -> float:
        """Write one bit; returns its width."""
        self.sheet.ops.append(self.sheet.text(bit.face.pieces(bit.text), size, x, y))
        wide = bit.face.width(bit.text) * size
        if bit.figure is not None:
            rect = (x, y - DESCENT * size, x + wide, y + ASCENT * size)
            self.places.append(FigurePlace(bit.figure, self.sheet.index, rect))
        return wide

    def _linked_bit(self, node: Node, bit: Bit, size: float, x: float, y: float) -> float:
        """Write one bit inside a Link element, with a thin line under it."""
        target = bit.link or ""
        link = Node("Link", node)
        self.sheet.begin(link)
        wide = self._bit(bit, size, x, y)
        seen = bit.face.width(bit.text.rstrip(" ")) * size
        low = num(y - 0.16 * size)
        self.sheet.ops.append(f"{style.LINK_RULE} {num(x)} {low} m {num(x + seen)} {low} l S")
        self.sheet.end()
        words = bit.text if is_outside(target) else f"{bit.text.strip()}: go to {target}"
        self.area(link, (x, y - DESCENT * size, x + seen, y + ASCENT * size), target, words)
        return wide

    def write_line(self, node: Node, line: Line, size: float, x: float, y: float) -> None:
        """Write one line with its baseline at y, under `node`; links become Link elements below it."""
        opened = False
        for bit in line:
            if bit.link is not None:
                if opened:
                    self.sheet.end()
                    opened = False
                x += self._linked_bit(node, bit, size, x, y)
                continue
            if not opened:
                self.sheet.begin(node)
                opened = True
            x += self._bit(bit, size, x, y)
        if opened:
            self.sheet.end()

    def write_lines(
        self,
        node: Node,
        lines: list[Line],
        kind: style.Type,
        x: float,
        top: float,
        *,
        room: float = 0,
        align: str = "left",
    ) -> float:
        """Write lines under one another from `top` down on the current page; returns the lower edge."""
        for line in lines:
            baseline = top - 0.5 * kind.leading - 0.36 * kind.size
            free = room - line_width(line) * kind.size
            shift = 0.0 if align == "left" else free if align == "right" else free / 2
            self.write_line(node, line, kind.size, x + shift, baseline)
            top -= kind.leading
        return top

    def pour(self, node: Node, lines: list[Line], kind: style.Type, x: float) -> None:
        """Write lines from the current height on, over as many pages as they take, never leaving one line alone."""
        start = 0
        while start < len(lines):
            left = len(lines) - start
            room = int((self.y - style.BOTTOM + 0.01) // kind.leading)
            if room < left and not self.fresh and (room < 2 or left <= 3):
                self.new_sheet()
                continue
            take = min(left, max(room, 1))
            if 0 < left - take < 2 and take > 2:
                take -= 1
            self.y = self.write_lines(node, lines[start : start + take], kind, x, self.y)
            start += take
            if start < len(lines):
                self.new_sheet()
