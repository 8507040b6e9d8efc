"""Reads the case files in tests/cases: fills in defaults and ids, and parses what they describe.

The filling is plain enough to be done again in another language: see tests/cases/README.md.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

from api.domain.calendar import instant
from api.domain.facts import Book
from api.domain.places.answers import Area
from api.domain.taxa import Taxa
from api.domain.trips import Season
from api.exchange.area_files import read_areas
from api.exchange.authority_json import authority_of
from api.exchange.faults import FaultyFileError
from api.exchange.season_json import season_of
from api.exchange.taxa_json import taxa_of

FOLDER = Path(__file__).parents[1] / "cases"
Raw = dict[str, Any]

# Where the records of a season's lists take their ids from, and under which name their defaults stand.
LISTS = {
    "notices": ("notice", "N"),
    "incidents": ("incident", "I"),
    "movements": ("movement", "M"),
    "filings": ("filing", "F"),
    "shared_totals": ("shared_total", ""),
    "corrections": ("correction", ""),
}


@dataclass(frozen=True)
class Case:
    """One case with everything filled in, still as written: objects, lists, text."""

    file: str
    kind: str
    raw: Raw
    authorities: list[Raw]
    season: Raw
    as_of: str

    @property
    def name(self) -> str:
        return f"{self.file}: {self.raw['name']}"

    @property
    def check(self) -> str:
        return self.raw.get("check", "judge")


@cache
def everywhere() -> Raw:
    return json.loads((FOLDER / "defaults.json").read_text("utf-8"))


@cache
def taxa() -> Taxa:
    found, faults = taxa_of(json.loads((FOLDER / "taxa.json").read_text("utf-8")), "taxa.json")
    if found is None:
        raise FaultyFileError(faults)
    return found


@cache
def areas() -> dict[str, Area]:
    found, faults = read_areas(FOLDER / "areas.geojson")
    if faults:
        raise FaultyFileError(faults)
    return {area.id: area for area in found}


def case_files() -> list[str]:
    """The names of the files that hold cases."""
    return sorted(path.stem for path in FOLDER.glob("*.json") if path.stem not in ("defaults", "taxa"))


@cache
def cases_of(stem: str) -> tuple[Case, ...]:
    document = json.loads((FOLDER / f"{stem}.json").read_text("utf-8"))
    return tuple(_filled_case(stem, document, raw) for raw in document["cases"])


def every_case() -> list[Case]:
    return [case for stem in case_files() for case in cases_of(stem)]


def _filled_case(stem: str, document: Raw, raw: Raw) -> Case:
    defaults = _Defaults(document.get("defaults", {}))
    return Case(
        file=stem,
        kind=document.get("kind", ""),
        raw=raw,
        authorities=_authorities(defaults, document.get("kind", ""), raw),
        season=_season(defaults, raw),
        as_of=raw.get("as_of") or defaults.own.get("as_of") or everywhere()["as_of"],
    )


@dataclass(frozen=True)
class _Defaults:
    """A file's own defaults, before those of every file."""

    own: Raw

    def fill(self, what: str, record: Raw) -> Raw:
        return {**everywhere().get(what, {}), **self.own.get(what, {}), **record}


def _authorities(defaults: _Defaults, kind: str, raw: Raw) -> list[Raw]:
    """One authority with the case's conditions, or those that the case lists; conditions are numbered from 1."""
    listed = raw.get("authorities") or [{**raw.get("authority", {}), "conditions": raw.get("conditions", [])}]
    filled = []
    for entry in listed:
        conditions = [
            {"number": str(place), "kind": kind, **defaults.fill("condition", condition)}
            for place, condition in enumerate(entry.get("conditions", []), start=1)
        ]
        filled.append(defaults.fill("authority", {**entry, "conditions": conditions}))
    return filled


def _season(defaults: _Defaults, raw: Raw) -> Raw:
    """The season, or one made of the case's trips, hauls or lines; records are numbered T1, H1, L1 and so on."""
    own: Raw = dict(raw.get("season") or {})
    if "hauls" in raw or "lines" in raw:
        own["trips"] = [{"hauls": raw.get("hauls") or [{"lines": raw["lines"]}]}]
    elif "trips" in raw:
        own["trips"] = raw["trips"]
    season = {"zone": everywhere()["zone"], **defaults.fill("season", own)}
    hauls, lines = count(1), count(1)
    season["trips"] = [
        _trip(defaults, {"id": f"T{place}", **trip}, hauls, lines)
        for place, trip in enumerate(season.get("trips", []), start=1)
    ]
    for key, (what, letter) in LISTS.items():
        entries = [defaults.fill(what, entry) for entry in season.get(key, [])]
        season[key] = [
            {"id": f"{letter}{place}", **entry} if letter else entry for place, entry in enumerate(entries, start=1)
        ]
    return season


def _trip(defaults: _Defaults, raw: Raw, hauls: count[int], lines: count[int]) -> Raw:
    trip = defaults.fill("trip", raw)
    trip["hauls"] = [_haul(defaults, {"id": f"H{next(hauls)}", **haul}, lines) for haul in trip.get("hauls", [])]
    trip["attestations"] = [defaults.fill("attestation", word) for word in trip.get("attestations", [])]
    return trip


def _haul(defaults: _Defaults, raw: Raw, lines: count[int]) -> Raw:
    haul = defaults.fill("haul", raw)
    haul["lines"] = [{"id": f"L{next(lines)}", **defaults.fill("line", line)} for line in haul.get("lines", [])]
    return haul


def book_of(case: Case) -> Book:
    """The case's authorities; raises FaultyFileError."""
    read = []
    for raw in case.authorities:
        authority, faults = authority_of(raw, case.name, taxa(), areas())
        if authority is None:
            raise FaultyFileError(faults)
        read.append(authority)
    return Book(tuple(read), taxa(), areas())


def season_in(case: Case, book: Book) -> Season:
    """The case's season; raises FaultyFileError where anything is wrong with it."""
    season, faults = season_of(case.season, case.name, book)
    if faults:
        raise FaultyFileError(faults)
    return season


def moment(case: Case, text: str) -> Any:
    """A moment of the case in UTC: with an offset, or local to the first authority."""
    zone = case.authorities[0]["zone"] if case.authorities else "UTC"
    return instant(text.replace("Z", "+00:00"), zone)
