"""Times and counts for the tiny seasons: around midnight and the changes of the clock, and small numbers."""

from __future__ import annotations

import datetime as dt
import random
from zoneinfo import ZoneInfo

from api.domain.counts import Count, exactly

Dice = random.Random

_CLOCK = ("23:40", "23:59", "00:00", "00:20", "01:30", "02:30", "02:59", "06:00", "06:10", "12:00", "17:30", "18:20")


def wall(dice: Dice, day: dt.date, zone: str) -> dt.datetime:
    hour, minute = dice.choice(_CLOCK).split(":")
    local = dt.datetime.combine(day, dt.time(int(hour), int(minute)), ZoneInfo(zone)).replace(fold=dice.randint(0, 1))
    return local.astimezone(dt.UTC)


def count_of(dice: Dice, most: int = 4) -> Count:
    if dice.random() < 0.65:
        return exactly(dice.choice((0, 1, 1, 1, 2, 2, 3, most)))
    low = dice.randint(0, 3)
    best = low + dice.randint(0, 1)
    return Count(low, best, best + dice.randint(0, 2))
