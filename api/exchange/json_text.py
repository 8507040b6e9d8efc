"""Strict JSON (RFC 8259) from bytes: exact numbers, and every fault of the text with its line and column.

Numbers with a point or an exponent arrive as ``Decimal``, so that 0.1 is one tenth. What most readers let
pass is a fault here: a key twice in one object, NaN and Infinity, numbers beyond all measure, broken
characters, nesting deeper than any record.
"""

from __future__ import annotations

import codecs
import json
import math
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Final

from api.exchange.faults import Fault
from api.exchange.plain_words import shown

MOST_BYTES: Final = 64_000_000
DEEPEST: Final = 100
_LONGEST_NUMBER: Final = 60
_LEAST_POWER: Final = -324  # of the smallest double
_MOST_FAULTS: Final = 100

_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[{}\[\],:]|[^\s{}\[\],:"]+', re.DOTALL)
_DOUBTFUL = re.compile(r"\\u(?:[dD][89a-fA-F]|00[01])")
_MARKS = (
    (codecs.BOM_UTF32_LE, "UTF-32"),
    (codecs.BOM_UTF32_BE, "UTF-32"),
    (codecs.BOM_UTF16_LE, "UTF-16"),
    (codecs.BOM_UTF16_BE, "UTF-16"),
)


def read_json(content: bytes, file: str) -> tuple[Any, list[Fault]]:
    """Read a file's bytes as JSON: the object and no faults, or None and everything wrong with the text.

    Never raises for what the bytes hold. A byte order mark of UTF-8 is passed over.
    """
    if len(content) > MOST_BYTES:
        mend = "Give the records in several files."
        return None, [Fault(file, "", f"The file is larger than {MOST_BYTES // 1_000_000} MB.", mend)]
    text, fault = _decoded(content, file)
    if fault is not None:
        return None, [fault]
    notes = _Notes()
    try:
        found = _decoder(notes).decode(text)
    except json.JSONDecodeError as problem:
        return None, [_broken(problem, text, file)]
    except RecursionError:
        return None, [_too_deep(file)]
    if _depth(found) > DEEPEST:
        return None, [_too_deep(file)]
    if notes.doubtful or _DOUBTFUL.search(text):
        faults = list(_token_faults(text, file))
        return (None, faults) if faults else (found, [])
    return found, []


def _decoded(content: bytes, file: str) -> tuple[str, Fault | None]:
    for mark, name in _MARKS:
        if content.startswith(mark):
            return "", Fault(file, "", f"The file is in {name}.", "Save it as UTF-8.")
    if not content.strip():
        return "", Fault(file, "", "The file is empty.", "Save it again.")
    if b"\x00" in content[:4]:
        return "", Fault(file, "", "The file is no text in UTF-8.", "Save it as UTF-8.")
    try:
        return content.decode("utf-8-sig"), None
    except UnicodeDecodeError as problem:
        before = content[: problem.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        where = f"line {line}, column {column}"
        return "", Fault(file, where, "There is a character that is not in UTF-8.", "Save the file as UTF-8.")


class _Notes:
    """What the quick reader passed over and the slow look at the tokens must place."""

    def __init__(self) -> None:
        self.doubtful = False

    def constant(self, _word: str) -> None:
        self.doubtful = True

    def whole(self, digits: str) -> int:
        if len(digits) > _LONGEST_NUMBER:
            self.doubtful = True
            return 0
        return int(digits)

    def decimal(self, digits: str) -> Decimal:
        if _number_fault(digits):
            self.doubtful = True
            return Decimal(0)
        return Decimal(digits)

    def pairs(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            self.doubtful = True
        return found


def _decoder(notes: _Notes) -> json.JSONDecoder:
    return json.JSONDecoder(
        object_pairs_hook=notes.pairs,
        parse_constant=notes.constant,
        parse_float=notes.decimal,
        parse_int=notes.whole,
    )


def _number_fault(digits: str) -> str:
    """Say why a number cannot stand, or nothing."""
    if len(digits) > _LONGEST_NUMBER:
        return f"The number {digits[:20]}... has {len(digits)} figures."
    _, _, power = digits.lower().partition("e")
    if power and (
        math.isinf(float(digits)) or len(power.lstrip("+-0")) > 4 or Decimal(digits).adjusted() < _LEAST_POWER
    ):
        return f"The number {digits} is beyond all measure."
    return ""


def _depth(found: Any) -> int:
    """Give how deep lists and objects are nested, level by level so that no depth is too much."""
    depth = 0
    level = [found]
    while level:
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
        depth += 1
        if depth > DEEPEST + 1:
            break
    return depth


def _too_deep(file: str) -> Fault:
    return Fault(file, "", f"Lists or objects are nested more than {DEEPEST} deep.", "No record is; write it anew.")


def _broken(problem: json.JSONDecodeError, text: str, file: str) -> Fault:
    where = f"line {problem.lineno}, column {problem.colno}"
    if problem.pos >= len(text.rstrip()):
        return Fault(file, where, "The file breaks off there.", "Save or copy it again, whole.")
    messages = {
        "Expecting property name enclosed in double quotes": "Write a key in double quotes, without a comma before }.",
        "Expecting ',' delimiter": "Write a comma between two entries.",
        "Expecting ':' delimiter": "Write a colon between key and value.",
        "Expecting value": "Write a value; no comma stands before ] or }.",
        "Extra data": "One object is all the file holds; take away what follows it.",
        "Unterminated string starting at": "Close the text with a double quote.",
        "Invalid control character at": "Write a line break within text as \\n.",
        "Invalid \\escape": "Write a backslash as \\\\.",
    }
    mend = next((words for start, words in messages.items() if problem.msg.startswith(start)), "Correct it there.")
    if problem.msg.startswith("Unterminated string"):
        return Fault(file, where, "The text that begins there does not end.", mend)
    return Fault(file, where, f"This is no JSON: {shown(_around(text, problem.pos))} cannot stand there.", mend)


def _around(text: str, pos: int) -> str:
    return text[pos : pos + 20].split("\n", maxsplit=1)[0].strip() or "the end of the line"


def _token_faults(text: str, file: str) -> Iterator[Fault]:
    """Walk through the tokens of text that is JSON in form, and place all that cannot stand."""
    keys: list[set[str] | None] = []
    told = 0
    tokens = list(_TOKEN.finditer(text))
    for at, token in enumerate(tokens):
        word = token[0]
        what, mend = "", ""
        if word in "{[":
            keys.append(set() if word == "{" else None)
        elif word in "}]":
            keys.pop()
        elif word[0] == '"':
            plain = json.loads(word, strict=False)
            what, mend = _character_fault(plain), "Take the character away."
            if keys and keys[-1] is not None and tokens[at + 1][0] == ":":
                if plain in keys[-1]:
                    what, mend = f"The key {shown(plain)} stands twice in one object.", "Keep one of the two."
                keys[-1].add(plain)
        elif word in ("NaN", "Infinity", "-Infinity"):
            what, mend = f"'{word}' is no number.", "Leave the value out where it is not known."
        elif word[0] in "-0123456789":
            what, mend = _number_fault(word), "Correct the number."
        if what:
            yield Fault(file, _line_and_column(text, token.start()), what, mend)
            told += 1
            if told == _MOST_FAULTS:
                return


def _character_fault(plain: str) -> str:
    for character in plain:
        if 0xD800 <= ord(character) <= 0xDFFF:
            return "Half of a character stands in the text (a lone surrogate)."
        if character < " " and character not in "\t\n\r":
            return f"A control character (U+{ord(character):04X}) stands in the text."
    return ""


def _line_and_column(text: str, pos: int) -> str:
    return f"line {text.count(chr(10), 0, pos) + 1}, column {pos - text.rfind(chr(10), 0, pos)}"
