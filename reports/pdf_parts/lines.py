"""Breaking text into lines: greedy, at spaces.

Words too long for a line are broken after a joining sign, or anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from reports.document import Run, Text
from reports.pdf_parts.fonts import clean

if TYPE_CHECKING:
    from reports.pdf_parts.fonts import Face, Family

_JOINS = "/-_.,;:=&+@)"  # a long word may be broken after one of these


@dataclass(frozen=True, slots=True)
class Bit:
    """Text in one face on one line, with what it leads to and the key of the figure it prints."""

    text: str
    face: Face
    link: str | None = None
    figure: str | None = None

    @property
    def width(self) -> float:
        """Width in em."""
        return self.face.width(self.text)


Line = list[Bit]


def line_width(line: Line) -> float:
    """Width of a line in em, without the space that ends it."""
    if not line:
        return 0.0
    last = line[-1]
    return sum(bit.width for bit in line[:-1]) + last.face.width(last.text.rstrip(" "))


def _fitting(text: str, face: Face, room: float) -> int:
    """How many characters of a word fit into `room` em, at least one, rather after a joining sign than anywhere."""
    used, count = 0.0, 0
    for char in text:
        used += face.width(char)
        if used > room:
            break
        count += 1
    count = max(count, 1)
    for place in range(count, count // 2, -1):
        if text[place - 1] in _JOINS:
            return place
    return count


def _word_width(word: list[tuple[int, str]], faces: list[Face]) -> float:
    return sum(faces[run].width(text) for run, text in word)


def _words(runs: list[Run]) -> list[list[tuple[int, str]]]:
    """Words as lists of (run number, text); a space stays at the end of the word before it.

    A figure's text is one word.
    """
    words: list[list[tuple[int, str]]] = [[]]
    for number, run in enumerate(runs):
        if run.figure is not None:
            words[-1].append((number, run.text))
            continue
        rest = run.text
        while rest:
            head, space, rest = rest.partition(" ")
            words[-1].append((number, head + space))
            if space:
                words.append([])
    return [word for word in words if any(text for _, text in word)]


def _broken(word: list[tuple[int, str]], faces: list[Face], room: float) -> list[list[tuple[int, str]]]:
    """Return a word wider than a line, cut into parts that fit."""
    parts: list[list[tuple[int, str]]] = []
    for run, text in word:
        rest = text
        while rest:
            cut = _fitting(rest, faces[run], room)
            parts.append([(run, rest[:cut])])
            rest = rest[cut:]
    return parts


def _filled(words: list[list[tuple[int, str]]], faces: list[Face], room: float) -> list[list[tuple[int, str]]]:
    """Words gathered into lines no wider than `room` em."""
    lines: list[list[tuple[int, str]]] = []
    line: list[tuple[int, str]] = []
    used = 0.0
    for word in words:
        bare = [*word[:-1], (word[-1][0], word[-1][1].rstrip(" "))]
        need = _word_width(bare, faces)
        if line and used + need > room:
            lines.append(line)
            line, used = [], 0.0
        if need > room:
            *full, word = _broken(word, faces, room)  # noqa: PLW2901 - what is left of the word goes on below
            lines.extend(full)
        line = line + word
        used += _word_width(word, faces)
    if line:
        lines.append(line)
    return lines


def _paragraphs(runs: list[Run]) -> list[list[Run]]:
    """Split runs at newlines."""
    found: list[list[Run]] = [[]]
    for run in runs:
        first, *others = run.text.split("\n")
        for place, text in enumerate((first, *others)):
            if place:
                found.append([])
            if text:
                found[-1].append(Run(text, run.bold, run.italic, run.link, run.figure))
    return found


def break_text(text: Text, family: Family, room: float, *, bold: bool = False, italic: bool = False) -> list[Line]:
    """Text as lines no wider than `room` em; `bold` and `italic` apply to all of it."""
    given = [Run(text)] if isinstance(text, str) else list(text)
    runs = [
        Run(" ".join(clean(r.text).split("\n")) if r.figure else clean(r.text), r.bold, r.italic, r.link, r.figure)
        for r in given
    ]
    lines: list[Line] = []
    for part in _paragraphs(runs):
        faces = [family.face(bold=bold or run.bold, italic=italic != run.italic) for run in part]
        for filled in _filled(_words(part), faces, room) or [[]]:
            line = []
            for number, group in groupby(filled, key=lambda item: item[0]):
                run = part[number]
                line.append(Bit("".join(word for _, word in group), faces[number], run.link, run.figure))
            lines.append(line)
    return lines


def one_line(text: str, face: Face, room: float) -> str:
    """Text cut to one line of `room` em, with an ellipsis where something was left out."""
    text = " ".join(clean(text).split())
    if face.width(text) <= room:
        return text
    while text and face.width(text + "\N{HORIZONTAL ELLIPSIS}") > room:
        text = text[:-1]
    return text.rstrip() + "\N{HORIZONTAL ELLIPSIS}"
