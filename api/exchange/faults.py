"""What is wrong with a file, told so that its writer can mend it.

Readers collect every fault of a file before they speak; nothing is reported one at a time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from api.exchange.printable import one_line


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one place of one file.

    ``where`` is a row ("row 12, count"), a path ("conditions[3].period") or "" for the whole file;
    ``what`` says what is wrong, ``mend`` what would be right.
    """

    file: str
    where: str
    what: str
    mend: str

    def __str__(self) -> str:
        """Give file, place, fault and mending on one line."""
        place = f"{self.file}: {self.where}" if self.where else self.file
        return one_line(" ".join(part for part in (f"{place}: {self.what}", self.mend) if part))


class FaultyFileError(Exception):
    """A file cannot be used as it is; carries every fault found in it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
