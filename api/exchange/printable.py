"""Text from a file made fit for a message: one line, nothing that would steer a terminal."""

from __future__ import annotations


def one_line(text: str) -> str:
    """Give text on one line, with "?" for letters that cannot be printed (a title in a cell may hold line ends)."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))
