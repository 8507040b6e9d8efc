"""Every keyed figure of a document with the text it is printed as."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reports.document import Block, BulletList, Cell, KeyValues, Note, Paragraph, Table, Text, Title, plain


def figures_of(blocks: Sequence[Block]) -> dict[str, str]:
    """Give the text of each keyed figure; a key used twice must bear the same text.

    Raises ValueError for a key that stands for two different texts.
    """
    found: dict[str, str] = {}
    for key, text in _all(blocks):
        if found.setdefault(key, text) != text:
            raise ValueError(f"the figure '{key}' is printed as '{found[key]}' and as '{text}'; give each its own key")
    return found


def _all(blocks: Sequence[Block]) -> Iterator[tuple[str, str]]:
    for block in blocks:
        match block:
            case Paragraph() | Note():
                yield from _in_text(block.text)
            case Title():
                for line in block.lines:
                    yield from _in_text(line)
            case BulletList():
                for item in block.items:
                    yield from _in_text(item)
            case KeyValues():
                for fact in block.rows:
                    yield from _in_cell(Cell(fact.value, figure=fact.figure))
            case Table():
                for row in block.rows:
                    for cell in row.cells:
                        yield from _in_cell(cell)
            case _:
                continue


def _in_cell(cell: Cell) -> Iterator[tuple[str, str]]:
    if cell.figure is not None:
        yield cell.figure, plain(cell.text)
    yield from _in_text(cell.text)


def _in_text(text: Text) -> Iterator[tuple[str, str]]:
    if isinstance(text, str):
        return
    for run in text:
        if run.figure is not None:
            yield run.figure, run.text
