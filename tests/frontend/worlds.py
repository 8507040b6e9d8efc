"""Worlds for the phone: random seasons and the sample season as JSON, each with what the core finds in it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from shapely.geometry import mapping

from api.domain.counts import Count
from api.domain.facts import Book
from api.domain.judge import TERM, judge
from api.domain.rules.finding import Finding
from api.domain.trips import Season
from api.exchange.season_out import authority_to_json, season_to_json, taxa_to_json, time_text

JUDGED_BY_THE_PHONE = frozenset(
    {
        "take limit",
        "size limit",
        "stage and sex",
        "prohibited taxon",
        "gear",
        "area",
        "season",
        "time of day",
        TERM,
    }
)


def world(name: str, book: Book, season: Season, as_of: datetime) -> dict[str, Any]:
    """Give one world: what the phone is given, and what the core finds."""
    mixed = _numbers_of_several_kinds(book)
    found = judge(book, season, as_of).findings
    return {
        "name": name,
        "authorities": [authority_to_json(one) for one in book.authorities],
        "taxa": taxa_to_json(book.taxa)["taxa"],
        "areas": [
            {"id": one.id, "name": one.name, "tolerance": one.edge_tolerance_m, "geometry": mapping(one.geometry)}
            for one in book.areas.values()
        ],
        "season": season_to_json(season),
        "as_of": time_text(as_of),
        "findings": [
            _finding(one)
            for one in found
            if one.kind in JUDGED_BY_THE_PHONE and (one.authority, one.number) not in mixed
        ],
    }


def _numbers_of_several_kinds(book: Book) -> set[tuple[str, str]]:
    """Give the numbers that an amendment gave to a kind which the phone leaves to the server."""
    kinds: dict[tuple[str, str], set[str]] = {}
    for authority in book.authorities:
        for holder in (authority, *authority.amendments):
            for condition in holder.conditions:
                kinds.setdefault((authority.id, condition.number), set()).add(condition.kind)  # type: ignore[attr-defined]
    return {key for key, found in kinds.items() if not found <= JUDGED_BY_THE_PHONE}


def _finding(one: Finding) -> dict[str, Any]:
    tally = one.tally
    return {
        "authority": one.authority,
        "number": one.number,
        "version": one.version,
        "kind": one.kind,
        "label": one.label,
        "outcome": one.outcome,
        "about": one.about,
        "sentence": one.sentence,
        "settle": one.settle,
        "records": list(one.records),
        "over": list(one.over),
        "near": one.near,
        "measured": [list(pair) for pair in one.measured],
        "tally": tally
        and {
            "limit": str(tally.limit),
            "operator": tally.operator,
            "unit": tally.unit,
            **{key: _bounds(getattr(tally, key)) for key in ("before", "here", "after", "left")},
        },
    }


def _bounds(count: Count) -> list[str]:
    return ["unknown" if one == math.inf else str(one) for one in (count.low, count.best, count.high)]


def write(path: Path, worlds: Iterable[dict[str, Any]]) -> int:
    """Write worlds into a file, one a line; gives their number."""
    written = 0
    with path.open("w", encoding="utf-8") as file:
        for one in worlds:
            file.write(json.dumps(one) + "\n")
            written += 1
    return written
