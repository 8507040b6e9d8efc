"""Places, days and counts as the core reckons them, for the phone to be held to."""

from __future__ import annotations

import json
import random
from datetime import date, timedelta
from typing import Any

import shapely
from pyproj import Geod
from shapely.geometry import mapping

from api.domain.calendar import start_of_day
from api.domain.daylight import daylight
from api.domain.places.answers import Area, together
from api.domain.places.areas import signed_distance_m
from api.domain.places.chances import probability_inside
from api.domain.places.outlines import outline_of
from api.exchange.count_text import parse_count
from api.exchange.season_out import amount_value, time_text

Dice = random.Random
_ZONES = (
    "Australia/Sydney",
    "Australia/Lord_Howe",
    "America/Denver",
    "America/St_Johns",
    "Pacific/Apia",
    "Europe/Dublin",
    "Africa/Casablanca",
    "Asia/Kathmandu",
    "America/Sao_Paulo",
    "Pacific/Auckland",
    "UTC",
)
"""Half hours, quarters, both hemispheres, a day that was left out, clocks that change at midnight."""


def reckoned(seed: int) -> dict[str, Any]:
    """Give what the core says of drawn places, days and counts."""
    dice = random.Random(seed)
    return {
        "geodesics": _geodesics(dice),
        "suns": _suns(dice),
        "places": [_place(dice) for _ in range(80)],
        "days": _days(dice),
        "counts": _counts(dice),
    }


def _geodesics(dice: Dice) -> list[list[float]]:
    geod = Geod(ellps="WGS84")
    found = []
    for reach in (0.001, 0.01, 0.1, 1, 10, 40):
        for _ in range(50):
            lon, lat = dice.uniform(-180, 180), dice.uniform(-85, 85)
            to = lon + dice.uniform(-reach, reach), max(-89.9, min(89.9, lat + dice.uniform(-reach, reach)))
            found.append([lon, lat, *to, float(geod.inv(lon, lat, *to)[2])])
    return [one for one in found if one[4] < 5e6]


def _suns(dice: Dice) -> list[dict[str, Any]]:
    found = []
    for _ in range(400):
        lat, lon, zone = dice.uniform(-75, 75), dice.uniform(-180, 180), dice.choice(_ZONES)
        day = date(2020, 1, 1) + timedelta(dice.randrange(4000))
        sun = daylight(lat, lon, day, zone, twilight=False)
        events = {name: at and time_text(at) for name, at in (("sunrise", sun.sunrise), ("sunset", sun.sunset))}
        found.append({"lat": lat, "lon": lon, "day": day.isoformat(), "zone": zone, "state": sun.state, **events})
    return found


def _days(dice: Dice) -> list[list[str]]:
    found = []
    for zone in _ZONES:
        for _ in range(60):
            day = date(2000, 1, 1) + timedelta(dice.randrange(12_000))
            found.append([day.isoformat(), zone, time_text(start_of_day(day, zone))])
    for day in (date(2011, 12, 29), date(2011, 12, 31), date(2018, 11, 4), date(2027, 4, 4), date(2027, 10, 3)):
        found += [[day.isoformat(), zone, time_text(start_of_day(day, zone))] for zone in _ZONES]
    return found


def _place(dice: Dice) -> dict[str, Any]:
    """Draw one to three areas that may abut, overlap or lie apart, on a grid so that edges fall on one another."""
    lon, lat = dice.choice(((150.6, -35.5), (-75.0, 45.0), (18.9, 69.6), (179.98, -16.5), (0.0, 0.0)))
    step = dice.choice((0.002, 0.0005, 0.03))
    shapes = [_shape(dice, lon, lat, step) for _ in range(dice.choice((1, 1, 2, 3)))]
    area = together([Area(id=str(n), name="", geometry=shape) for n, shape in enumerate(shapes)])
    outline = outline_of(area.geometry)
    spots = []
    for _ in range(12):
        at = lon + dice.randrange(-2, 18) * step / 2.5, lat + dice.randrange(-2, 18) * step / 2.5
        if dice.random() < 0.7:
            at = at[0] + dice.uniform(-0.3, 0.3) * step, at[1] + dice.uniform(-0.3, 0.3) * step
        sigma = dice.choice((2.0, 10.0, 40.0))
        metres = signed_distance_m(area, *at)
        if abs(metres) < 0.05:  # on an edge the last digit decides the side
            continue
        spots.append([*at, sigma, metres, probability_inside(outline, *at, sigma)])
    return {"geometries": [json.loads(json.dumps(mapping(shape))) for shape in shapes], "spots": spots}


def _shape(dice: Dice, lon: float, lat: float, step: float) -> shapely.Polygon:
    west, south = lon + dice.randrange(4) * step, lat + dice.randrange(4) * step
    wide, high = dice.randrange(1, 4) * step, dice.randrange(1, 4) * step
    box = shapely.box(west, south, west + wide, south + high)
    match dice.choice(("box", "box", "hole", "notch")):
        case "hole":
            return box.difference(shapely.box(west + wide / 4, south + high / 4, west + wide / 2, south + high / 2))
        case "notch":
            return box.difference(
                shapely.Polygon([(west + wide / 3, south), (west + wide / 2, south + high / 2), (west + wide, south)])
            )
    return box


def _counts(dice: Dice) -> list[list[str]]:
    texts = [
        "unknown",
        "120 in 1/5",
        "3 in 10 %",
        "0 in 1/4",
        "29 in 1/3",
        "30 in 1/3",
        "1 in 0.001",
        "about 1",
        "~7",
        "c. 30",
        "7 in 1",
    ]
    for _ in range(150):
        low, more = dice.randrange(300), dice.randrange(1, 90)
        texts.append(
            dice.choice(
                (
                    f"{low}",
                    f"about {low}",
                    f"{low}-{low + more}",
                    f"about {low + more} ({low}-{low + 2 * more})",
                    f"{low} in 1/{more}",
                    f"{low}.{more} L",
                    f"{low} {dice.randrange(1, 4)}/4 lb",
                    f"{more} US bushels",
                )
            )
        )
    found = []
    for text in texts:
        count = parse_count(text, {}).count
        found.append([text, *(str(amount_value(bound)) for bound in (count.low, count.best, count.high))])
    return found
