"""Faces inside one document: what text they cover, how wide it is, how it is written into a content stream.

Characters are set one after another in reading order, without shaping. A character the face lacks is taken from the
stand-in face; one that neither has is replaced by U+FFFD, so that it is seen to be missing.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

if TYPE_CHECKING:
    from reportlab.pdfbase.pdfdoc import PDFDocument

FOLDER = Path(__file__).resolve().parent.parent / "fonts"
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
Piece = tuple[str, str]  # font resource such as "/F1+0", and a string operand such as "(abc)"

_SPACES = dict.fromkeys(map(ord, "\t\v\f\r\x85\u2028\u2029"), " ")
_ESCAPES = str.maketrans({"\\": r"\\", "(": r"\(", ")": r"\)"})


@cache
def _load(name: str) -> TTFont:
    return TTFont(f"Creekledger-{name}", str(FOLDER / f"{name}.ttf"), shapable=False)


def initial_font() -> str:
    """Return a font of ours for the page library to start with, so that it does not name Helvetica, unembedded."""
    font = _load("NotoSans-Regular")
    if font.fontName not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(font)
    return str(font.fontName)


def clean(text: str) -> str:
    """Make text ready to be set: NFC, line ends as newlines, other white space as spaces, no control characters.

    Format characters (joiners, direction marks, soft hyphens, byte order marks) draw nothing and can hide what is
    written, so they go.
    """
    if text.isascii() and text.isprintable():
        return text
    text = text.replace("\r\n", "\n").replace("\r", "\n").translate(_SPACES)
    text = unicodedata.normalize("NFC", text)
    return "".join(_kept(c) for c in text)


def _kept(char: str) -> str:
    """Return a character as it may stand in text; half a surrogate pair and noncharacters cannot be written at all."""
    kind = unicodedata.category(char)
    if kind == "Cs" or ord(char) & 0xFFFE == 0xFFFE:
        return REPLACEMENT
    return char if char == "\n" or kind not in {"Cc", "Cf"} else ""


class Face:
    """One font in one document. Widths are in em, so that width x size gives points."""

    def __init__(self, name: str, document: PDFDocument, stand_in: Face | None = None) -> None:
        self._font = _load(name)
        self._document = document
        self._stand_in = stand_in
        self._glyphs = self._font.face.charToGlyph
        self.own_widths: dict[int, float] = self._font.face.charWidths
        self.default_width: float = self._font.face.defaultWidth
        self._widths: dict[str, float] = {}
        self._pieces: dict[str, tuple[Piece, ...]] = {}
        self._base = ""

    def covers(self, char: str) -> bool:
        """Whether this face itself has a glyph.

        Private-use characters count as missing: they mean nothing to a reader.
        """
        code = ord(char)
        return code in self._glyphs and unicodedata.category(char) != "Co"

    def _owner(self, char: str) -> Face | None:
        if self.covers(char):
            return self
        if self._stand_in is not None and self._stand_in.covers(char):
            return self._stand_in
        return None

    def _char_width(self, char: str) -> float:
        owner = self._owner(char)
        if owner is None:
            return self._char_width(REPLACEMENT)
        width: float = owner.own_widths.get(ord(char), owner.default_width)
        return width

    def width(self, text: str) -> float:
        """Width of clean text in em."""
        known = self._widths.get(text)
        if known is None:
            known = self._widths[text] = sum(map(self._char_width, text)) / 1000
        return known

    def _name(self, subset: int) -> str:
        name: str = self._font.getSubsetInternalName(subset, self._document)
        return name

    def split(self, text: str) -> list[Piece]:
        """Text this face covers as operands, without looking at the stand-in."""
        parts = self._font.splitString(text, self._document)
        return [(self._name(subset), f"<{codes.hex()}>") for subset, codes in parts]

    def pieces(self, text: str) -> tuple[Piece, ...]:
        """Clean text as operands for Tj, each with the font resource it is written in."""
        known = self._pieces.get(text)
        if known is None:
            known = self._pieces[text] = tuple(self._make_pieces(text))
        return known

    def _make_pieces(self, text: str) -> list[Piece]:
        if text.isascii():
            # The library keeps printable ASCII at its own codes in the first subset of every font.
            if not self._base:
                self._font.splitString(" ", self._document)
                self._base = self._name(0)
            return [(self._base, f"({text.translate(_ESCAPES)})")] if text else []
        visible = "".join(c if self._owner(c) is not None else REPLACEMENT for c in text)
        found: list[Piece] = []
        for owner, chars in groupby(visible, key=self._owner):
            if owner is not None:
                found.extend(owner.split("".join(chars)))
        return found


class Family:
    """Four styles of one design."""

    def __init__(self, names: tuple[str, str, str, str], document: PDFDocument, stand_in: Face) -> None:
        self._faces = tuple(Face(name, document, stand_in) for name in names)
        self.regular, self.bold = self._faces[0], self._faces[1]

    def face(self, *, bold: bool = False, italic: bool = False) -> Face:
        """Return the face of a style."""
        return self._faces[bold + 2 * italic]


class Fonts:
    """The two families of the report: `text` for reading, `narrow` for tables and drawings."""

    def __init__(self, document: PDFDocument) -> None:
        stand_in = Face("DejaVuSans", document)
        noto = "NotoSans-"
        text = ("Regular", "SemiBold", "Italic", "SemiBoldItalic")
        narrow = ("SemiCondensed", "SemiCondensedSemiBold", "SemiCondensedItalic", "SemiCondensedSemiBoldItalic")
        self.text = Family((noto + text[0], noto + text[1], noto + text[2], noto + text[3]), document, stand_in)
        self.narrow = Family(
            (noto + narrow[0], noto + narrow[1], noto + narrow[2], noto + narrow[3]), document, stand_in
        )
