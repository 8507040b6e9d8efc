"""Times typed without a date: which day they belong to.

Everything here is local wall-clock time, as on paper. A time of day takes the date of its trip or haul; one
that would lie before what it must follow belongs to the next day, since a night's work runs over midnight.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from api.exchange.plain_words import WrongValueError
from api.exchange.table_cells import Cell, clock_or_moment, words

_HALF_A_DAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class LocalTime:
    """A moment as the JSON format writes it, and its wall-clock reading for comparing with its neighbours."""

    text: str
    wall: datetime


def _local(at: datetime) -> LocalTime:
    return LocalTime(at.isoformat(timespec="seconds" if at.second else "minutes"), at)


def local_time(
    cell: Cell, day: date | None, not_before: datetime | None = None, slack: timedelta = timedelta(0)
) -> LocalTime:
    """Read a time; a bare time of day takes ``day``, or the next day if it would lie before ``not_before``.

    ``slack`` is how far before it may lie (a reading taken before the shot). Raises WrongValueError.
    """
    typed = clock_or_moment(cell)
    if isinstance(typed, str):
        return LocalTime(typed, datetime.fromisoformat(typed).replace(tzinfo=None))
    if isinstance(typed, datetime):
        return _local(typed)
    return _local(_on_day(typed, day, not_before, slack))


def _on_day(clock: time, day: date | None, not_before: datetime | None, slack: timedelta) -> datetime:
    if day is None:
        raise WrongValueError("The time has no date, nor does its trip.", "Write it as 2027-06-11 21:30.")
    at = datetime.combine(day, clock)
    try:
        return at + timedelta(days=1) if not_before is not None and at < not_before - slack else at
    except OverflowError:
        raise WrongValueError("The date lies at the end of the calendar.", "Write a date that can be.") from None


def within_half_a_day(cell: Cell, day: date | None, of: datetime | None) -> LocalTime:
    """Read a time near another: up to twelve hours before it on the same day, else on the next."""
    return local_time(cell, day, of, _HALF_A_DAY)


def times_in_turn(cell: Cell, start: LocalTime) -> list[str]:
    """Read times with semicolons between, each after the one before it."""
    found, last = [], start.wall
    for part in words(cell).split(";"):
        if part.strip():
            at = local_time(Cell(part.strip()), last.date(), last)
            found.append(at.text)
            last = at.wall
    return found
