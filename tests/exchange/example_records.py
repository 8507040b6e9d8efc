"""A small invented permit, its names and one trip, valid as they stand; tests change what they are about."""

from copy import deepcopy
from typing import Any

from api.domain.facts import Book
from api.exchange.authority_json import authority_of
from api.exchange.taxa_json import taxa_of

TAXA: dict[str, Any] = {
    "format": "creekledger taxa 1",
    "taxa": [
        {"id": "Actinopterygii", "rank": "class"},
        {"id": "Mugilidae", "rank": "family", "parent": "Actinopterygii"},
        {"id": "Mugil cephalus", "rank": "species", "parent": "Mugilidae", "synonyms": ["Mugil dobula"]},
        {"id": "Aldrichetta forsteri", "rank": "species", "parent": "Mugilidae", "common": "yelloweye mullet"},
        {
            "id": "Galaxias maculatus",
            "rank": "species",
            "parent": "Actinopterygii",
            "synonyms": ["Galaxias attenuatus"],
        },
        {"id": "eelgrass wrack", "rank": "material"},
    ],
}
AREAS = ("inner bay", "heron arm")

AUTHORITY: dict[str, Any] = {
    "format": "creekledger authority 1",
    "id": "permit",
    "kind": "collecting permit",
    "number": "27-118",
    "title": "Collecting permit, Tern Inlet",
    "issuer": "Office of Estuaries, Province of Sarn",
    "holder": "Tern Inlet Aquarium",
    "zone": "Australia/Hobart",
    "first_day": "2027-01-01",
    "last_day": "2027-12-31",
    "people": [
        {
            "id": "kim",
            "name": "Kim Arden",
            "role": "holder",
            "qualifications": [{"name": "boat ticket", "last_day": "2027-10-31"}],
        },
        {"id": "lou", "name": "Lou Marsh", "role": "deputy"},
    ],
    "groups": [{"id": "mullets", "title": "mullets", "taxa": ["Mugil dobula", "Aldrichetta forsteri"]}],
    "containers": [{"name": "round basket", "litres": 20}],
    "other_papers": [{"name": "landowner's consent"}],
    "conditions": [
        {
            "kind": "take limit",
            "number": "4.1",
            "text": "Not more than 40 a day.",
            "taxa": ["Mugil dobula"],
            "limits": [{"amount": 40, "period": "day"}],
        },
        {
            "kind": "take limit",
            "number": "4.2",
            "text": "Mullets 200 in all; wrack 3 baskets.",
            "group": "mullets",
            "limits": [{"amount": "3", "period": "term", "container": "round basket"}],
        },
        {"kind": "area", "number": "5", "text": "In the bay only.", "where": "inside", "areas": ["inner bay"]},
    ],
    "amendments": [
        {"number": "A1", "from_moment": "2027-07-01T00:00", "withdrawn": ["5"]},
    ],
}

TRIP: dict[str, Any] = {
    "id": "T1",
    "leader": "kim",
    "authority": "permit",
    "depart": "2027-06-11T20:00",
    "back": "2027-06-12T00:30",
    "crew": [{"person": "lou", "role": "deputy"}],
    "hauls": [
        {
            "id": "H1",
            "start": "2027-06-11T21:30",
            "end": "2027-06-11T21:50",
            "gear": {"gear": "seine", "length_mm": "12 m", "mesh_mm": "1/4 in"},
            "fixes": [{"lat": -42.8, "lon": 147.5, "radius_m": 8, "confidence": "95 %"}],
            "lines": [
                {"id": "L1", "taxon": "Mugil dobula", "count": "about 200", "fate": "kept"},
                {
                    "id": "L2",
                    "taxon": "Aldrichetta forsteri",
                    "count": "120 in 1/5",
                    "measurements": [{"measure": "total length", "values": ["63.5", 70, "3 1/2 in"]}],
                },
                {"id": "L3", "taxon": "eelgrass wrack", "count": "2 round baskets", "fate": "kept"},
            ],
            "readings": [{"quantity": "temperature", "value": "11.40", "unit": "degC"}],
        }
    ],
}

SEASON: dict[str, Any] = {
    "format": "creekledger trips 1",
    "zone": "Australia/Hobart",
    "trips": [TRIP],
    "notices": [{"id": "N1", "authority": "permit", "trip": "T1", "to": "duty officer", "sent": "2027-06-10T09:00"}],
    "movements": [{"id": "M1", "at": "2027-06-12T08:00", "what": "died", "line": "L1", "count": 3}],
}


def book() -> Book:
    """Give the book that the records stand under."""
    taxa, faults = taxa_of(TAXA, "taxa.json")
    assert taxa is not None, faults
    authority, faults = authority_of(AUTHORITY, "permit.json", taxa, AREAS)
    assert authority is not None, faults
    return Book((authority,), taxa)


def changed(raw: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Give a copy of a raw object with some of its keys anew."""
    return {**deepcopy(raw), **changes}


def texts(faults: Any) -> list[str]:
    """Give each fault as its place and what is wrong."""
    return [f"{fault.where}: {fault.what}" for fault in faults]
