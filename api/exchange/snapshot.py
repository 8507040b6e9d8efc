"""The frozen snapshot: every record, condition and finding a report rests on, in canonical JSON.

It is made from the records alone, read back, and judged from what was read back, so that nothing outside
it can enter a report. The same season gives the same bytes (RFC 8785), and so the same fingerprint.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any

from shapely.geometry import mapping, shape

from api.domain.calendar import instant
from api.domain.counts import Count
from api.domain.facts import Book, Facts
from api.domain.judge import Judgement, judge_facts
from api.domain.places.answers import Area
from api.domain.rules.finding import Finding, Tally
from api.domain.trips import Season
from api.exchange.authority_json import authority_of
from api.exchange.canonical import canonical, fingerprint
from api.exchange.faults import Fault, FaultyFileError
from api.exchange.json_text import read_json
from api.exchange.season_json import season_of
from api.exchange.season_out import amount_value, authority_to_json, season_to_json, taxa_to_json, time_text
from api.exchange.taxa_json import taxa_of

FORMAT = "creekledger snapshot 1"
FILE_NAME = "snapshot.json"


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A snapshot as bytes with its fingerprint (SHA-256, hex), and what it says."""

    content: bytes
    fingerprint: str
    facts: Facts
    judgement: Judgement
    authority: str
    meta: Mapping[str, Any]


def freeze(book: Book, season: Season, as_of: datetime, authority: str, meta: Mapping[str, Any]) -> Snapshot:
    """Freeze a season as reported under one authority; ``meta`` holds revision, what it replaces, the tool."""
    raw = {
        "format": FORMAT,
        "as_of": time_text(as_of),
        "authority": authority,
        "meta": dict(meta),
        "taxa": taxa_to_json(book.taxa),
        "authorities": [authority_to_json(one) for one in book.authorities],
        "areas": [area_to_json(area) for area in book.areas.values()],
        "issued_names": dict(book.issued_names),
        "season": season_to_json(season),
    }
    facts = _facts(raw, FILE_NAME)
    judgement = judge_facts(facts)
    raw["findings"] = [finding_to_json(finding) for finding in judgement.findings]
    return Snapshot(canonical(raw), fingerprint(raw), facts, judgement, authority, dict(meta))


def thaw(content: bytes, file: str = FILE_NAME) -> Snapshot:
    """Read a snapshot back and judge its records anew; raises FaultyFileError where it is not one."""
    raw, faults = read_json(content, file)
    if faults:
        raise FaultyFileError(faults)
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise FaultyFileError([Fault(file, "format", "this is not a snapshot", f"A snapshot says '{FORMAT}'.")])
    facts = _facts(raw, file)
    return Snapshot(content, fingerprint_of(content), facts, judge_facts(facts), str(raw["authority"]), raw["meta"])


def fingerprint_of(content: bytes) -> str:
    """Give the SHA-256 (hex) of a snapshot's bytes."""
    return sha256(content).hexdigest()


def frozen_findings(content: bytes, file: str = FILE_NAME) -> list[dict[str, Any]]:
    """Give the findings as they were frozen, to hold against findings made anew."""
    raw, faults = read_json(content, file)
    if faults:
        raise FaultyFileError(faults)
    findings: list[dict[str, Any]] = raw["findings"] if isinstance(raw, dict) else []
    return findings


def _facts(raw: Mapping[str, Any], file: str) -> Facts:
    taxa, faults = taxa_of(raw["taxa"], file)
    if taxa is None:
        raise FaultyFileError(faults)
    areas = {one["id"]: area_from_json(one) for one in raw["areas"]}
    authorities = []
    for entry in raw["authorities"]:
        authority, own_faults = authority_of(entry, file, taxa, areas)
        faults.extend(own_faults)
        if authority is not None:
            authorities.append(authority)
    book = Book(tuple(authorities), taxa, areas, issued_names=dict(raw["issued_names"]))
    season, season_faults = season_of(raw["season"], file, book)
    faults.extend(season_faults)
    if faults:
        raise FaultyFileError(faults)
    return Facts.of(book, season, instant(str(raw["as_of"]), "UTC"))


def area_to_json(area: Area) -> dict[str, Any]:
    """Write an area with its corners in full, so that it is judged as before."""
    return {
        "id": area.id,
        "name": area.name,
        "kind": area.kind,
        "edge_tolerance_m": float(area.edge_tolerance_m),
        "source": area.source,
        "drawn": area.drawn,
        "datum": area.datum,
        "geometry": _plain(mapping(area.geometry)),
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(entry) for entry in value]
    return value


def area_from_json(raw: Mapping[str, Any]) -> Area:
    """Read an area back."""
    return Area(
        id=raw["id"],
        name=raw["name"],
        geometry=shape(_floats(raw["geometry"])),
        edge_tolerance_m=float(raw["edge_tolerance_m"]),
        source=raw["source"],
        drawn=raw["drawn"],
        datum=raw["datum"],
        kind=raw["kind"],
    )


def _floats(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _floats(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_floats(entry) for entry in value]
    return value if isinstance(value, str) else float(value)


def count_to_json(count: Count) -> list[int | str]:
    """Write a count as [low, best, high]."""
    return [amount_value(bound) for bound in (count.low, count.best, count.high)]


def finding_to_json(finding: Finding) -> dict[str, Any]:
    """Write a finding in full."""
    raw: dict[str, Any] = {
        "authority": finding.authority,
        "number": finding.number,
        "kind": finding.kind,
        "version": finding.version,
        "outcome": finding.outcome,
        "about": finding.about,
        "label": finding.label,
        "sentence": finding.sentence,
        "settle": finding.settle,
        "records": list(finding.records),
        "over": list(finding.over),
        "near": finding.near,
        "measured": [list(pair) for pair in finding.measured],
    }
    if finding.tally is not None:
        raw["tally"] = _tally_to_json(finding.tally)
    return raw


def _tally_to_json(tally: Tally) -> dict[str, Any]:
    return {
        "limit": amount_value(tally.limit),
        "operator": tally.operator,
        "unit": tally.unit,
        "before": count_to_json(tally.before),
        "here": count_to_json(tally.here),
        "after": count_to_json(tally.after),
        "left": count_to_json(tally.left),
        "estimated": amount_value(tally.estimated),
    }
