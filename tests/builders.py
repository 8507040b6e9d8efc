"""Valid things by default; a test overrides what it is about. Files are written as a user would write them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

SAMPLE = Path(__file__).resolve().parent.parent / "sample_trips"
SAMPLE_AUTHORITIES = sorted(SAMPLE.glob("authority-*.json"))
SAMPLE_AS_OF = "2028-07-14T12:00"


def taxa_file() -> dict[str, Any]:
    """Give a short list of taxa."""
    return {
        "format": "creekledger taxa 1",
        "taxa": [
            {"id": "Animalia", "rank": "kingdom"},
            {"id": "Galaxias", "rank": "genus", "parent": "Animalia"},
            {"id": "Galaxias maculatus", "rank": "species", "parent": "Galaxias", "common": "common galaxias"},
            {"id": "Galaxias brevipinnis", "rank": "species", "parent": "Galaxias"},
            {"id": "shell, clean", "rank": "material"},
        ],
    }


def authority_file(**changes: Any) -> dict[str, Any]:
    """Give an authority with one limit."""
    return {
        "format": "creekledger authority 1",
        "id": "permit",
        "kind": "collecting permit",
        "number": "XP 1",
        "title": "Collecting in Marrow Inlet",
        "issuer": "Inlet Office",
        "holder": "Marrow Aquarium",
        "zone": "Australia/Hobart",
        "first_day": "2027-07-01",
        "last_day": "2028-06-30",
        "year_starts": "07-01",
        "taxa": "taxa.json",
        "conditions": [
            {
                "kind": "take limit",
                "number": "1",
                "text": "Not more than 10 galaxias in a permit year.",
                "taxa": ["Galaxias"],
                "limits": [{"amount": "10", "period": "permit year"}],
            }
        ],
        **changes,
    }


def trips_file(lines: list[dict[str, Any]] | None = None, **changes: Any) -> dict[str, Any]:
    """Give one trip of one haul with the given lines (by default nine kept galaxias)."""
    default = [{"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 9}]
    return {
        "format": "creekledger trips 1",
        "zone": "Australia/Hobart",
        "trips": [
            {
                "id": "T1",
                "leader": "ann",
                "authority": "permit",
                "depart": "2027-08-01T07:00",
                "back": "2027-08-01T12:00",
                "crew": [{"person": "ann", "role": "holder"}],
                "hauls": [
                    {
                        "id": "H1",
                        "start": "2027-08-01T08:00",
                        "end": "2027-08-01T08:10",
                        "gear": {"gear": "seine", "length_mm": "12 m"},
                        "fixes": [{"lat": -42.3, "lon": 153.6, "radius_m": 8}],
                        "lines": default if lines is None else lines,
                    }
                ],
            }
        ],
        **changes,
    }


def write_season(
    folder: Path, authority: dict[str, Any] | None = None, trips: dict[str, Any] | None = None
) -> tuple[Path, Path]:
    """Write taxa, authority and trips into a folder; gives the authority's and the trips' paths."""
    (folder / "taxa.json").write_text(json.dumps(taxa_file()), encoding="utf-8")
    authority_path, trips_path = folder / "authority-1.json", folder / "trips.json"
    authority_path.write_text(json.dumps(authority or authority_file()), encoding="utf-8")
    trips_path.write_text(json.dumps(trips if trips is not None else trips_file()), encoding="utf-8")
    return authority_path, trips_path
