"""The logical structure: a tree of elements, written out as compact PDF objects.

A report with thousands of rows has tens of thousands of elements, so they are kept in small objects here and written
as text in one pass, instead of one library call each. ISO 32000-1:2008, 14.7 and 14.8.
"""

from __future__ import annotations

from typing import NamedTuple

_SHIFT = 20  # marked-content numbers stay far below 2**20 on a page
_MASK = (1 << _SHIFT) - 1


class Node:
    """A structure element. Kids are elements, or ints that hold page and marked-content number, or link areas."""

    __slots__ = ("attributes", "kids", "number", "parent", "tag")

    def __init__(self, tag: str, parent: Node | None, attributes: str = "") -> None:
        self.tag = tag
        self.parent = parent
        self.kids: list[Node | LinkArea | int] = []
        self.attributes = attributes
        self.number = 0
        if parent is not None:
            parent.kids.append(self)

    def mark(self, page: int, mcid: int) -> None:
        """Put the content marked `mcid` on a page under this element."""
        self.kids.append(page << _SHIFT | mcid)


class LinkArea(NamedTuple):
    """A rectangle on a page that leads to `target`: an anchor or an outside address."""

    page: int
    rect: tuple[float, float, float, float]
    target: str
    contents: str
    node: Node


def text_string(text: str) -> str:
    """Return a PDF text string: as it is when plain ASCII, else UTF-16 with a byte order mark, in hex."""
    if text.isascii() and text.isprintable():
        escaped = text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
        return f"({escaped})"
    return f"<feff{text.encode('utf-16-be', 'replace').hex()}>"


def numbered(root: Node, first: int) -> list[Node]:
    """All elements below and including `root` in reading order, numbered from `first`."""
    order: list[Node] = []
    waiting = [root]
    while waiting:
        node = waiting.pop()
        node.number = first + len(order)
        order.append(node)
        waiting.extend([kid for kid in reversed(node.kids) if isinstance(kid, Node)])
    return order


def element(node: Node, parent: int, pages: list[int], areas: dict[int, int]) -> str:
    """One element as a PDF dictionary.

    `pages` gives each page's object number, `areas` the annotation's object number by the identity of its link area.
    """
    head = f"<</S/{node.tag}/P {parent} 0 R{node.attributes}"
    kids = node.kids
    if len(kids) == 1 and isinstance(kids[0], int):
        return f"{head}/Pg {pages[kids[0] >> _SHIFT]} 0 R/K {kids[0] & _MASK}>>"
    if not kids:
        return head + ">>"
    home = next((kid >> _SHIFT for kid in kids if isinstance(kid, int)), None)
    words = []
    for kid in kids:
        if isinstance(kid, Node):
            words.append(f"{kid.number} 0 R")
        elif isinstance(kid, LinkArea):
            words.append(f"<</Type/OBJR/Obj {areas[id(kid)]} 0 R/Pg {pages[kid.page]} 0 R>>")
        elif kid >> _SHIFT == home:
            words.append(str(kid & _MASK))
        else:
            words.append(f"<</Type/MCR/Pg {pages[kid >> _SHIFT]} 0 R/MCID {kid & _MASK}>>")
    page = "" if home is None else f"/Pg {pages[home]} 0 R"
    return f"{head}{page}/K[{' '.join(words)}]>>"
