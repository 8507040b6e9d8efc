"""One page while it is being filled: its content operators and whom each marked piece belongs to."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.pdf_parts.fonts import Piece
    from reports.pdf_parts.structure import Node


def num(value: float) -> str:
    """Return a number for a content stream.

    Two decimals (0.01 pt is 3.5 micrometres), no trailing zeros, never an exponent.
    """
    text = f"{value:.2f}"
    return text.rstrip("0").rstrip(".") if text != "-0.00" else "0"


class Sheet:
    """A page of given size. `owners[n]` is the structure element that holds marked content n."""

    def __init__(self, index: int, width: float, height: float) -> None:
        self.index = index
        self.width = width
        self.height = height
        self.ops: list[str] = []
        self.owners: list[Node] = []
        self.font: tuple[str, float] | None = None

    def begin(self, node: Node, tag: str = "") -> None:
        """Open marked content that belongs to `node`."""
        self.ops.append(f"/{tag or node.tag}<</MCID {len(self.owners)}>>BDC")
        node.mark(self.index, len(self.owners))
        self.owners.append(node)

    def end(self) -> None:
        """Close marked content."""
        self.ops.append("EMC")

    def artifact(self, ops: list[str], kind: str = "") -> None:
        """Content that is no part of the text: rules, tints, running heads."""
        if ops:
            head = f"/Artifact<</Type/{kind}>>BDC" if kind else "/Artifact BMC"
            self.ops.append("\n".join((head, *ops, "EMC")))

    def font_op(self, resource: str, size: float) -> str:
        """Return the operator that selects a font, or nothing when it is selected already."""
        if self.font == (resource, size):
            return ""
        self.font = (resource, size)
        return f"{resource} {size:g} Tf "

    def text(self, pieces: tuple[Piece, ...], size: float, x: float, y: float) -> str:
        """Operators that write pieces of text with the baseline starting at (x, y)."""
        shown = "".join(f"{self.font_op(resource, size)}{operand}Tj " for resource, operand in pieces)
        return f"BT {num(x)} {num(y)} Td {shown}ET"
