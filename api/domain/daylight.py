"""Sunrise, sunset and civil twilight for a place, its own date and its own zone.

Sunrise and sunset: the sun's centre at 90 deg 50' from the zenith (34' refraction, 16' radius); civil
twilight: 96 deg (US Naval Observatory, Almanac for Computers 1990). Computed by the astral library at
elevation 0, as almanac tables are: an elevation would move sunrise by minutes. Almanacs, hills and the air
of the day differ by a minute or so, hence `MARGIN`: nothing within it is called day or night. Within a
minute of skyfield's answers between 55 S and 62 N; near the polar circles, in the days before the sun stays
up, astral errs by more than the margin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from astral import Observer, sun

if TYPE_CHECKING:
    from collections.abc import Callable

MARGIN: Final = timedelta(minutes=2)
"""How near to sunrise or sunset a moment may be before it is too close to call."""

_HORIZON_DEG: Final = -(50 / 60)
_TWILIGHT_DEG: Final = 6.0

SunState = Literal["rises and sets", "never sets", "never rises"]


@dataclass(frozen=True, slots=True)
class Daylight:
    """The sun's events of one local date, as aware UTC datetimes; None where the event does not happen.

    ``state`` tells a polar day from a polar night when sunrise and sunset are both None. Civil dawn and dusk
    may be missing although the sun rises and sets: in high summer twilight lasts all night.
    In the days around the first and last night of a polar summer the sun sets near midnight and astral may
    lose an event; `sun_at` does not depend on events.
    """

    local_date: date
    zone: str
    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    state: SunState


def daylight(latitude: float, longitude: float, local_date: date, zone: str, *, twilight: bool = True) -> Daylight:
    """Give the sun's events of a local date at a place (degrees, WGS 84) in the place's own IANA zone.

    The zone must be the place's, not the phone's or UTC: the events of a UTC day put a western evening
    before its morning. Without ``twilight`` civil dawn and dusk are left out. Raises ValueError for a
    position off the globe or an unknown zone, TypeError for a
    datetime.
    """
    _check(latitude, longitude)
    # A datetime would carry a zone of its own past the one that was asked for.
    if isinstance(local_date, datetime):
        raise TypeError(f"expected a date without a time, got {local_date}")
    tz = _zone(zone)
    observer = Observer(latitude, longitude, 0.0)

    def event(find: Callable[[date], datetime]) -> datetime | None:
        return _on_date(find, local_date, tz)

    sunrise = event(lambda day: sun.sunrise(observer, day, tzinfo=tz))
    sunset = event(lambda day: sun.sunset(observer, day, tzinfo=tz))
    return Daylight(
        local_date=local_date,
        zone=zone,
        civil_dawn=event(lambda day: sun.dawn(observer, day, _TWILIGHT_DEG, tzinfo=tz)) if twilight else None,
        sunrise=sunrise,
        sunset=sunset,
        civil_dusk=event(lambda day: sun.dusk(observer, day, _TWILIGHT_DEG, tzinfo=tz)) if twilight else None,
        state="rises and sets" if sunrise or sunset else _unbroken(observer, local_date, tz),
    )


def daylight_about(latitude: float, longitude: float, local_date: date, zone: str) -> Daylight:
    """Give sunrise and sunset at the middle of a tenth-degree square, for deciding what is far from both.

    At up to 60 degrees of latitude they differ by less than a minute from those of any place in the square
    (0.05 degrees of longitude are 12 s; of latitude, at the solstices, about 20 s).
    """
    return _daylight_in_square(round(latitude, 1), round(longitude, 1), local_date, zone)


@lru_cache(maxsize=4096)
def _daylight_in_square(latitude: float, longitude: float, local_date: date, zone: str) -> Daylight:
    return daylight(latitude, longitude, local_date, zone, twilight=False)


def _check(latitude: float, longitude: float) -> None:
    if not (math.isfinite(latitude) and math.isfinite(longitude)):
        raise ValueError(f"a position needs finite degrees, got latitude {latitude}, longitude {longitude}")
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise ValueError(
            f"latitude {latitude} must be within -90 to 90 and longitude {longitude} within -180 to 180; "
            "are they swapped?"
        )


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise ValueError(f"unknown time zone {name!r}; write an IANA name such as 'Pacific/Auckland'") from error


def _on_date(find: Callable[[date], datetime], local_date: date, zone: ZoneInfo) -> datetime | None:
    """Give the event of the local date in UTC; None when the sun does not reach that height on it."""
    try:
        found = find(local_date)
    except ValueError:
        # How astral says that the event does not happen on this date.
        return None
    return found.astimezone(UTC) if found.astimezone(zone).date() == local_date else None


def _unbroken(observer: Observer, local_date: date, zone: ZoneInfo) -> SunState:
    """Tell polar day from polar night by the sun's height at each hour of the local date."""
    start = datetime(local_date.year, local_date.month, local_date.day, tzinfo=zone).astimezone(UTC)
    up = [_is_up(observer, start + timedelta(hours=hour)) for hour in range(24)]
    if all(up):
        return "never sets"
    return "rises and sets" if any(up) else "never rises"


def _is_up(observer: Observer, moment: datetime) -> bool:
    # The horizon already holds the refraction, so the height must not.
    return sun.elevation(observer, moment, with_refraction=False) > _HORIZON_DEG


def sun_at(
    moment: datetime, latitude: float, longitude: float, margin: timedelta = MARGIN
) -> Literal["up", "down", "too close to call"]:
    """Say whether the sun is up at an aware moment, or rises or sets within the margin of it.

    Civil twilight counts as down. Raises ValueError for a moment without an offset, a negative margin, or a
    position off the globe.
    """
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise ValueError(f"{moment} has no offset from UTC; say in which zone it was read")
    if margin < timedelta(0):
        raise ValueError(f"a margin cannot be below zero, got {margin}")
    _check(latitude, longitude)
    observer = Observer(latitude, longitude, 0.0)
    # In UTC first: arithmetic inside a zone walks the wall clock over a change of it.
    now = moment.astimezone(UTC)
    up = {_is_up(observer, at) for at in (now - margin, now, now + margin)}
    if len(up) > 1:
        return "too close to call"
    return "up" if up.pop() else "down"
