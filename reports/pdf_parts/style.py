"""Measures of the page: margins, type sizes, line distances. All in points (1/72 inch)."""

from __future__ import annotations

from typing import NamedTuple

A4_SHORT, A4_LONG = 595.276, 841.890  # ISO 216 A4, 210 x 297 mm

SIDE = 57.0
TOP = 64.0
BOTTOM = 66.0
HEAD_LINE = 42.0  # of the running head, below the upper edge
FOOT_LINE = 50.0  # of the footer's rule, above the lower edge
CORNER = 52.0  # side of the square in the upper right corner of a page, 12 pt below the edge


class Type(NamedTuple):
    """A size of type with its line distance and the space before and after its block."""

    size: float
    leading: float
    before: float = 0.0
    after: float = 0.0


TITLE = Type(21, 26, 4, 5)
SUBTITLE = Type(9.5, 13.4, 0, 0)
HEADINGS: dict[int, Type] = {
    1: Type(14, 18, 18, 6),
    2: Type(11, 14.5, 14, 4),
    3: Type(9.5, 13, 10, 2.5),
}
BODY = Type(9.5, 13.4, 0, 6.5)
SMALL = Type(8, 11, 0, 6)
CAPTION = Type(8.5, 11.4, 6, 4)
TABLE = Type(8, 9.8)
TABLE_HEAD = Type(7.6, 9.4)
RUNNING = Type(7.2, 9.4)
CONTENTS = Type(9.5, 15)

FORMS = {"normal": Type(10.5, 12.6), "large": Type(15, 17), "small": Type(9, 11)}
FORM_UNDER = Type(8.6, 10.4)
FORM_LABEL = Type(8, 9.4)
FORM_RULE = "0 G 0.7 w"  # what is written between in the rain has to be seen

CELL_SIDE = 3.6  # space left and right of a cell's text
CELL_ABOVE = 1.9  # space above and below it
AFTER_NUMBER = 6.0  # more space before a left-aligned column that follows a right-aligned one
AFTER_BLOCK = 11.0  # space after a table, figure, note or box

RULE = "0.75 G 0.3 w"  # hairline between rows
STRONG_RULE = "0.15 G 0.8 w"  # under a table header, over a total
GROUP_TINT = "0.945 g"
QUIET = "0.36 g"  # running head and footer: 6.9 to 1 against white
INK = "0 g"
LINK_RULE = "0.55 G 0.35 w"
