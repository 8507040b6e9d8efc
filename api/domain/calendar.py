"""Days, months, permit years and date ranges, in the authority's own zone.

Times arrive aware and are compared in UTC; a *day* is always a local date. A clock change loses and
doubles no hour, since the local date of an instant is unambiguous.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTH_DAY = re.compile(r"(\d{2})-(\d{2})\Z")


@lru_cache(maxsize=64)
def zone_named(name: str) -> ZoneInfo:
    """Give the zone; raises ValueError for a name that the zone database does not hold."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as problem:
        raise ValueError(f"'{name}' is not a time zone; write one as in 'Pacific/Auckland' or 'UTC'") from problem


def local_day(at: datetime, zone: str) -> date:
    """Give the local date of an instant."""
    return at.astimezone(zone_named(zone)).date()


def instant(text: str, zone: str) -> datetime:
    """Read a local date-time or one with an offset; give it in UTC.

    Raises ValueError for text that is no time, for a local time that a clock change skipped, and for one
    that occurred twice (an offset settles it).
    """
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text}' is not a date and time; write 2027-06-11T21:30") from None
    if at.tzinfo is not None:
        return at.astimezone(UTC)
    first = at.replace(tzinfo=zone_named(zone), fold=0)
    second = at.replace(tzinfo=zone_named(zone), fold=1)
    if first.utcoffset() != second.utcoffset():
        if first.astimezone(UTC).astimezone(zone_named(zone)).replace(tzinfo=None) != at:
            raise ValueError(f"'{text}' did not exist in {zone}: clocks were put forward; correct the time")
        raise ValueError(
            f"'{text}' came twice in {zone} when clocks were put back; "
            f"write it with its offset, {first.isoformat()} or {second.isoformat()}"
        )
    return first.astimezone(UTC)


def start_of_day(day: date, zone: str) -> datetime:
    """Give the instant at which a local day begins, in UTC."""
    return datetime.combine(day, time(0), zone_named(zone)).astimezone(UTC)


def end_of_day(day: date, zone: str) -> datetime:
    """Give the instant at which the next local day begins, in UTC (the day does not include it)."""
    return start_of_day(day + timedelta(days=1), zone)


def parse_month_day(text: str) -> tuple[int, int]:
    """Read "MM-DD"; raises ValueError. 29 February is allowed."""
    match = _MONTH_DAY.match(text)
    if match is None:
        raise ValueError(f"'{text}' is not a day of the year; write MM-DD, as 07-01")
    month, day = int(match[1]), int(match[2])
    try:
        date(2024, month, day)
    except ValueError:
        raise ValueError(f"'{text}' is not a day of the year; write MM-DD, as 07-01") from None
    return month, day


def on_day(month_day: tuple[int, int], year: int) -> date:
    """Give that day in ``year``; 29 February becomes 28 February where there is none."""
    month, day = month_day
    if (month, day) == (2, 29) and (year % 4 or (year % 100 == 0 and year % 400)):
        return date(year, 2, 28)
    return date(year, month, day)


def permit_year_start(day: date, starts: tuple[int, int]) -> date:
    """Give the first day of the permit year that ``day`` falls in."""
    start = on_day(starts, day.year)
    return start if day >= start else on_day(starts, day.year - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateRange:
    """Dates from one to another: each year ("MM-DD") or once ("YYYY-MM-DD").

    ``first_included`` and ``last_included`` say whether the end dates themselves belong, as issued.
    A yearly range may run over the turn of the year.
    """

    first: str
    last: str
    first_included: bool = True
    last_included: bool = True
    name: str = ""

    def __post_init__(self) -> None:
        yearly = [_MONTH_DAY.match(text) is not None for text in (self.first, self.last)]
        if yearly[0] != yearly[1]:
            raise ValueError(
                f"a range of dates is yearly (MM-DD) or once (YYYY-MM-DD) at both ends, "
                f"got '{self.first}' and '{self.last}'"
            )
        if yearly[0]:
            parse_month_day(self.first)
            parse_month_day(self.last)
        elif parse_day(self.first) > parse_day(self.last):
            raise ValueError(f"the range of dates ends ({self.last}) before it begins ({self.first})")

    @property
    def yearly(self) -> bool:
        """Whether the range returns every year."""
        return _MONTH_DAY.match(self.first) is not None

    def span(self, day: date) -> tuple[date, date]:
        """Give the first and last day included of the occurrence that holds, or last began before, ``day``."""
        if not self.yearly:
            first, last = parse_day(self.first), parse_day(self.last)
        else:
            first = on_day(parse_month_day(self.first), day.year)
            if first > day:
                first = on_day(parse_month_day(self.first), day.year - 1)
            last = on_day(parse_month_day(self.last), first.year)
            if last < first:
                last = on_day(parse_month_day(self.last), first.year + 1)
        if not self.first_included:
            first += timedelta(days=1)
        if not self.last_included:
            last -= timedelta(days=1)
        return first, last

    def holds(self, day: date) -> bool:
        """Tell whether ``day`` lies in the range."""
        first, last = self.span(day)
        return first <= day <= last


def parse_day(text: str) -> date:
    """Read "YYYY-MM-DD"; raises ValueError."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text}' is not a date; write YYYY-MM-DD") from None


def spoken_day(day: date) -> str:
    """Give a date as people read it: 11 Jun 2027."""
    return f"{day.day} {day.strftime('%b %Y')}"


def spoken_time(at: datetime, zone: str) -> str:
    """Give an instant as people read it in a zone: 11 Jun 2027 21:30."""
    local = at.astimezone(zone_named(zone))
    return f"{spoken_day(local.date())} {local:%H:%M}"
