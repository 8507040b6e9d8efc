"""Damaged JSON: cut short, in another encoding, nested without end, and values of every wrong kind."""

from __future__ import annotations

import json
from collections.abc import Callable

from tests.exchange.damage_season import AREAS, AUTHORITY, GOBY, TAXA, TRIPS, Damages, cut

# --- texts: cut short, in another encoding, nested without end


def texts(made: Damages) -> None:
    sources: list[tuple[str, bytes, Callable[[str, bytes], object]]] = [
        ("trips.json", json.dumps(TRIPS).encode(), lambda name, content: made.trips(name, "trips.json", content)),
        ("authority.json", json.dumps(AUTHORITY).encode(), made.authority),
        ("areas.geojson", json.dumps(AREAS).encode(), lambda name, text: made.areas(name, "areas.geojson", text)),
        ("taxa.json", json.dumps({"format": "creekledger taxa 1", "taxa": TAXA}).encode(), made.taxa),
    ]
    for file, content, add in sources:
        for at, short in cut(content, 8):
            add(f"{file} cut at byte {at}", short)
        add(f"{file} of no bytes", b"")
        add(f"{file} of blanks", b" \n ")
        add(f"{file} in UTF-16", content.decode().encode("utf-16"))
        add(f"{file} in Latin-1", content.replace(b'"id"', b'"id\xe9"', 1))
        add(f"{file} with NUL bytes", content[:20] + b"\0\0" + content[20:])
        add(f"{file} nested 10,000 lists deep", b"[" * 10_000 + b"]" * 10_000)
        add(f"{file} nested 10,000 objects deep", b'{"a":' * 10_000 + b"1" + b"}" * 10_000)
        add(f"{file} that is a list of numbers", b"[7]")
        add(f"{file} that is a number", b"7")
        add(f"{file} with a comma at the end", content[:-1] + b",}")


def json_values(made: Damages) -> None:
    trips = json.dumps(TRIPS)
    for name, old, new in (
        ("count 1e308", '"count": 12', '"count": 1e308'),
        ("count 1e9999", '"count": 12', '"count": 1e9999'),
        ("count NaN", '"count": 12', '"count": NaN'),
        ("count Infinity", '"count": 12', '"count": Infinity'),
        ("count -Infinity", '"count": 12', '"count": -Infinity'),
        ("count below zero", '"count": 12', '"count": -12'),
        ("count of 5,000 digits", '"count": 12', f'"count": {"9" * 5_000}'),
        ("count a list", '"count": 12', '"count": [12]'),
        ("count true", '"count": 12', '"count": true'),
        ("count null", '"count": 12', '"count": null'),
        ("count a letter", '"count": 12', '"count": "x"'),
        ("count with a decimal comma", '"count": 12', '"count": "3,5"'),
        ("bounds the wrong way round", '"count": 12', '"count": {"low": 9, "best": 5, "high": 1}'),
        ("raised by nothing", '"count": 12', '"count": "120 in 0/5"'),
        ("raised by a share of nothing", '"count": 12', '"count": "120 in 1/0"'),
        ("fate unknown", '"fate": "kept"', '"fate": "eaten"'),
        ("fate a number", '"fate": "kept"', '"fate": 1'),
        ("taxon unknown", f'"taxon": "{GOBY}"', '"taxon": "Nemo nemo"'),
        ("taxon a list", f'"taxon": "{GOBY}"', '"taxon": []'),
        ("latitude 95", '"lat": -41.95', '"lat": -95'),
        ("latitude NaN", '"lat": -41.95', '"lat": NaN'),
        ("latitude text", '"lat": -41.95', '"lat": "north"'),
        ("longitude 1e308", '"lon": 153.05', '"lon": 1e308'),
        ("radius zero", '"radius_m": 8', '"radius_m": 0'),
        ("radius below zero", '"radius_m": 8', '"radius_m": -8'),
        ("confidence 1", '"confidence": 0.95', '"confidence": 1'),
        ("time without a date", "2027-06-11T21:30", "21:30"),
        ("time that never was", "2027-06-11T21:30", "2027-02-30T21:30"),
        ("time that clocks skipped", "2027-06-11T21:30", "2027-10-03T02:30"),
        ("end before start", "2027-06-11T21:50", "2027-06-11T20:50"),
        ("year 9999", "2027-06-11T21:30", "9999-12-31T23:59"),
        ("zone unknown", "Australia/Hobart", "Australia/Nowhere"),
        ("zone a path", "Australia/Hobart", "../../etc/hostname"),
        ("length below zero", '"63.5"', '"-63.5"'),
        ("length too fine", '"63.5"', '"63.57"'),
        ("length in pounds", '"63.5"', '"63.5 lb"'),
        ("lengths a number", '["63.5", "70"]', "63.5"),
        ("reading no number", '"31.4"', '"brackish"'),
        ("key unknown", '"leader"', '"lieder"'),
        ("hauls an object", '"hauls": [', '"hauls": {}, "haul": ['),
        ("format of another kind", "creekledger trips 1", "creekledger trips 9"),
        ("key twice", '"count": 12', '"count": 12, "count": 13'),
        ("lone surrogate", '"p-ana"', '"\\ud800"'),
        ("haul without a start", '"start": "2027-06-11T21:30", ', ""),
        ("authority unknown", '"authority": "P-1"', '"authority": "P-9"'),
    ):
        assert old in trips, name
        made.trips(f"trips.json: {name}", "trips.json", trips.replace(old, new, 1).encode())
    authority = json.dumps(AUTHORITY)
    for name, old, new in (
        ("conditions an object", '"conditions": [', '"conditions": {}, "x": ['),
        ("kind unknown", '"take limit"', '"take many"'),
        ("limits a number", '[{"amount": "40", "period": "permit year"}]', "40"),
        ("amount NaN", '"amount": "40"', '"amount": NaN'),
        ("amount 1e308", '"amount": "40"', '"amount": 1e308'),
        ("amount below zero", '"amount": "40"', '"amount": "-40"'),
        ("amount a list", '"amount": "40"', '"amount": []'),
        ("period unknown", '"permit year"', '"fortnight"'),
        ("area unknown", '["reach"]', '["elsewhere"]'),
        ("areas a number", '"areas": ["reach"]', '"areas": 7'),
        ("zone a number", '"Australia/Hobart"', "10"),
        ("last day that never was", '"2027-12-31"', '"2027-02-30"'),
        ("taxa file missing", '"taxa.json"', '"nowhere.json"'),
        ("taxa file far away", '"taxa.json"', '"/etc/hostname"'),
        ("taxa a number", '"taxa.json"', "7"),
        ("area file a folder", '"areas.geojson"', '"."'),
        ("taxon unknown", f'"taxa": ["{GOBY}"]', '"taxa": ["Nemo nemo"]'),
        ("number null", '"number": "27-9"', '"number": null'),
        ("key unknown", '"issuer"', '"isuer"'),
    ):
        assert old in authority, name
        made.authority(f"authority.json: {name}", authority.replace(old, new, 1).encode())
    for name, taxa in (
        (
            "parents in a circle",
            [{"id": "a", "rank": "genus", "parent": "b"}, {"id": "b", "rank": "genus", "parent": "a"}],
        ),
        ("parent unknown", [{"id": "a", "rank": "genus", "parent": "z"}]),
        ("name twice", [{"id": "a", "rank": "genus"}, {"id": "a", "rank": "genus"}]),
        ("rank a number", [{"id": "a", "rank": 7}]),
        ("taxa an object", {"a": 1}),
    ):
        made.taxa(f"taxa.json: {name}", json.dumps({"format": "creekledger taxa 1", "taxa": taxa}).encode())
