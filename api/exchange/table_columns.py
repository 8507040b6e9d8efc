"""The columns that a crew's tables may have, and how their titles are matched.

A title is matched without regard to case, blanks, underscores and hyphens. A unit may stand behind it
("mesh mm", "weight (g)"), and the titles of a haul or trip may be told apart by a word before them ("haul
note", "trip note") where one table holds more than catch lines.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from api.exchange.plain_words import nearest

Level = Literal["trips", "hauls", "lines", "readings"]
LEVELS: tuple[Level, ...] = ("trips", "hauls", "lines", "readings")

_ONE = {"trips": "trip", "hauls": "haul", "lines": "line", "readings": "reading"}
_UNITS = {"mm", "cm", "m", "in", "ft", "g", "kg"}

COLUMNS: dict[Level, dict[str, tuple[str, ...]]] = {
    "trips": {
        "trip": ("trip id", "trip no", "outing"),
        "date": ("day", "trip date"),
        "zone": ("time zone", "timezone"),
        "leader": ("trip leader", "led by"),
        "crew": ("people", "party"),
        "authority": ("permit", "licence", "trip permit"),
        "depart": ("departed", "departure"),
        "back": ("return", "returned"),
        "papers": ("papers carried",),
        "status": (),
        "entered from paper": ("from paper", "paper", "paper record"),
        "note": ("notes", "remarks", "trip notes"),
    },
    "hauls": {
        "trip": ("trip id", "trip no", "outing"),
        "haul": ("haul id", "haul no", "set", "set no"),
        "kind": ("haul or set",),
        "gear": ("gear used",),
        "mesh": ("mesh size", "gear mesh"),
        "length": ("gear length", "net length"),
        "opening": ("mouth", "gear opening"),
        "number": ("gear number", "gear count", "no of gear", "traps"),
        "tag": ("gear tag", "tag no"),
        "marked": ("gear marked",),
        "start": ("shot", "set at", "time in", "start time", "begin"),
        "end": ("landed", "lifted", "time out", "end time", "finish"),
        "date": ("day", "haul date"),
        "site": ("site id", "place"),
        "waterbody": ("water", "water body"),
        "lat": ("latitude", "start lat", "start latitude"),
        "lon": ("longitude", "long", "lng", "start lon", "start longitude"),
        "radius m": ("radius", "accuracy", "accuracy m", "radius in m"),
        "confidence": ("radius confidence",),
        "end lat": ("end latitude",),
        "end lon": ("end longitude", "end long"),
        "authority": ("permit", "licence", "haul permit"),
        "also under": (),
        "person": ("by", "haul by"),
        "nothing caught": ("empty", "nil", "no catch"),
        "lost": ("gear lost",),
        "in sight": ("in sight of holder",),
        "checks": ("looked at", "checked at"),
        "track": ("gpx", "track file"),
        "note": ("notes", "remarks", "haul notes"),
    },
    "lines": {
        "trip": ("trip id", "trip no", "outing"),
        "haul": ("haul id", "haul no", "set", "set no"),
        "line": ("line id", "line no"),
        "taxon": ("species", "name", "animal", "scientific name"),
        "doubt": ("qualifier", "sure"),
        "one of": ("may be",),
        "fate": ("what became of it", "k r d"),
        "count": ("number", "no", "n", "how many", "qty", "quantity"),
        "method": ("counted how", "count method"),
        "stage": ("life stage",),
        "sex": (),
        "lengths": ("length", "sizes", "size"),
        "measure": ("length measure", "measured as", "length type"),
        "variant": ("measure variant", "how measured"),
        "length unit": ("unit of length",),
        "weight": ("total weight", "mass"),
        "authority": ("permit", "licence", "line permit"),
        "person": ("by", "taken by"),
        "container": ("bucket", "held in"),
        "cause": ("cause of death",),
        "photo": ("photos", "picture"),
        "time": ("at", "caught at"),
        "note": ("notes", "remarks", "line notes"),
    },
    "readings": {
        "trip": ("trip id", "trip no", "outing"),
        "haul": ("haul id", "haul no", "set", "set no"),
        "quantity": ("what", "reading", "measured"),
        "value": ("number", "read"),
        "unit": ("units",),
        "time": ("at", "read at"),
        "instrument": ("meter", "with"),
        "note": ("notes", "remarks", "reading notes"),
    },
}

# Carried down to the rows below without being repeated: as above in the same trip, or the same gear again.
RIG = frozenset({"kind", "gear", "mesh", "length", "opening", "number", "marked", "date", "site", "waterbody"}) | {
    "confidence",
    "authority",
    "person",
    "also under",
}


@dataclass(frozen=True, slots=True)
class Column:
    """A title matched: the level and column it stands for, the title as typed, and the unit in it ("" for none)."""

    level: Level
    name: str
    title: str
    unit: str = ""


def plain_title(title: str) -> str:
    """Give a title in small letters with single blanks between its words."""
    return re.sub(r"[\W_]+", " ", title.casefold()).strip()


def match_title(title: str, levels: tuple[Level, ...]) -> Column | None:
    """Find the column that a title stands for, looking through ``levels`` in their order."""
    plain = plain_title(title)
    bare, _, unit = plain.rpartition(" ")
    tries = [(plain, "")]
    if bare and unit in _UNITS:
        tries.append((bare, unit))
    for words, own_unit in tries:
        for level in levels:
            name = _named(words, level)
            if name is not None:
                return Column(level, name, title, own_unit)
    return None


def _named(words: str, level: Level) -> str | None:
    bare = words.removeprefix(f"{_ONE[level]} ")
    for name, synonyms in COLUMNS[level].items():
        if words == name or words in synonyms or bare == name:
            return name
    return None


def nearest_title(title: str, levels: tuple[Level, ...]) -> str:
    """Give the column title that is most like an unknown one, or ""."""
    return nearest(plain_title(title), [name for level in levels for name in COLUMNS[level]])
