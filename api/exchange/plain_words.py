"""What is wrong, said in plain words: values shown briefly, word lists, the nearest known word.

The domain's own messages read "what is wrong; how to mend it"; they are taken apart here into the two
halves of a fault.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from difflib import get_close_matches
from functools import lru_cache

from api.exchange.faults import Fault

_LONGEST_SHOWN = 60
_MOST_LISTED = 20
_MOST_COMPARED = 3000


class WrongValueError(ValueError):
    """A value that cannot stand; carries what is wrong and how to mend it."""

    def __init__(self, what: str, mend: str = "") -> None:
        self.what, self.mend = what, mend
        super().__init__(f"{what} {mend}".strip())


def shown(value: object) -> str:
    """Show a value from a file briefly: it may be a megabyte of anything."""
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case Mapping():
            return "an object { }"
        case list() | tuple():
            return "a list [ ]"
        case int() | float() | Decimal():
            text = str(value)
            return f"the number {text if len(text) <= _LONGEST_SHOWN else text[:20] + '...'}"
    text = str(value)
    return f"'{text}'" if len(text) <= _LONGEST_SHOWN else f"'{text[:_LONGEST_SHOWN]}...'"


def listed(words: Iterable[str]) -> str:
    """Write words as a list in quotes, cut short where there are many."""
    every = [f"'{word}'" for word in words]
    more = f" and {len(every) - _MOST_LISTED} more" if len(every) > _MOST_LISTED else ""
    return ", ".join(every[:_MOST_LISTED]) + more


def nearest(word: str, known: Iterable[str]) -> str:
    """Give the known word that is most like a misspelt one, or "" where none is near.

    Among more than a few thousand nobody looks: it would take longer than reading the file.
    """
    every = tuple(known)
    return _nearest(word.casefold(), every) if len(every) <= _MOST_COMPARED else ""


@lru_cache(maxsize=1024)
def _nearest(word: str, known: tuple[str, ...]) -> str:
    by_fold = {name.casefold(): name for name in known}
    found = get_close_matches(word[:_LONGEST_SHOWN], by_fold, n=1, cutoff=0.66)
    return by_fold[found[0]] if found else ""


def choice(word: str, known: Iterable[str], else_say: str = "") -> str:
    """Say what to write instead of an unknown word: the nearest first, and all where they are few."""
    every = list(known)
    near = nearest(word, every)
    if 0 < len(every) <= _MOST_LISTED:
        start = f"Did you mean '{near}'? " if near else ""
        return f"{start}Write one of {listed(every)}." if len(every) > 1 else f"Write {listed(every)}."
    return f"Did you mean '{near}'?" if near else else_say


def halves(problem: ValueError) -> tuple[str, str]:
    """Take a problem's message apart into what is wrong and how to mend it, each as a sentence."""
    if isinstance(problem, WrongValueError):
        return problem.what, problem.mend
    what, _, mend = str(problem).partition("; ")
    return sentence(what), sentence(mend)


def sentence(text: str) -> str:
    """Write text as a sentence: its first letter large, a full stop at its end."""
    plain = text.strip()
    if not plain:
        return ""
    return capital(plain) + ("" if plain[-1] in ".?!" else ".")


def capital(text: str) -> str:
    """Make the first letter large, and leave the rest as it is."""
    return text[:1].upper() + text[1:]


def fault_of(file: str, where: str, problem: ValueError) -> Fault:
    """Make a fault of a problem."""
    what, mend = halves(problem)
    return Fault(file, where, what, mend)
