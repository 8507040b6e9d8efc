"""Why a report cannot be filed or shown; each text says how to mend it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime


class FilingError(ValueError):
    """A report cannot be filed; the text says why, and how to mend it."""


class CertificationError(FilingError):
    """Who certifies was not said; carries which part is missing."""

    def __init__(self, missing: str) -> None:
        self.missing = missing
        super().__init__(f"a report is certified by a named person: give their {missing}")


class ReportConditionError(FilingError):
    """A filing has to name the condition that asks for it; carries what was given and those there are."""

    def __init__(self, given: str, known: Sequence[str]) -> None:
        self.given, self.known = given, tuple(known)
        said = f"condition '{given[:60]}' asks for no report" if given else "several conditions ask for a report"
        listed = ", ".join(known) if known else "none; leave it out"
        super().__init__(f"{said}; those that do are {listed}")


class UnknownReportError(FilingError):
    """There is no such filed report; carries the id."""

    def __init__(self, report: str) -> None:
        self.report = report
        super().__init__(f"there is no filed report '{report[:80]}'; take an id from the list of reports")


class SupersededError(FilingError):
    """A report that was to be replaced has been replaced; carries the revision that stands, who filed it and when."""

    def __init__(self, revision: int, by: str, at: datetime) -> None:
        self.revision, self.by, self.at = revision, by, at
        super().__init__(
            f"{by} has replaced this report: revision {revision} was filed {at:%Y-%m-%d %H:%M} UTC; "
            "look at that one, and replace it if it is wrong too"
        )


class RecordInMotionError(FilingError):
    """The record changed each time a report was frozen; carries how often it was tried."""

    def __init__(self, tries: int) -> None:
        self.tries = tries
        super().__init__(
            f"the record changed each of the {tries} times that the report was made from it, and nothing was filed; "
            "file it again when the phones have delivered"
        )
