"""A phone whose clock was wrong: the time as shown, the time as it was, and how far they lay apart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from api.domain.calendar import zone_named

NOTICEABLE = timedelta(minutes=2)
"""From this difference on a clock is called wrong; below it, it is how clocks and fixes are."""


@dataclass(frozen=True, slots=True)
class ClockReading:
    """One moment by two clocks: ``shown`` by the phone, ``known`` by a fix or the server (both UTC)."""

    shown: datetime
    known: datetime

    @property
    def fast_by(self) -> timedelta:
        """How far the phone's clock ran ahead; negative where it ran behind."""
        return self.shown - self.known

    @property
    def wrong(self) -> bool:
        """Whether the difference is more than clocks and fixes have anyway."""
        return abs(self.fast_by) >= NOTICEABLE


def as_shown(local: datetime, zone: str) -> datetime:
    """Give in UTC what a phone set to ``zone`` meant by a naive local time."""
    return local.replace(tzinfo=zone_named(zone)).astimezone(UTC)


def corrected(shown: datetime, fast_s: int) -> datetime:
    """Give the true time (UTC) of what a clock that ran ``fast_s`` seconds fast showed.

    One offset serves a whole trip, so the order and the distances of its hauls stay as they were.
    """
    return shown.astimezone(UTC) - timedelta(seconds=fast_s)
