"""The sample season read by itself: plain Python over the files, nothing of the program.

Tests hold the program's totals to what is summed here. Times stay the local text of the files: every trip is
told in one zone, so they sort as they stand.
"""

from __future__ import annotations

import csv
import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from statistics import NormalDist
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import openpyxl

SAMPLE = Path(__file__).parent.parent / "sample_trips"
PERMIT, LICENCE = "kelloran-permit", "recreational-licence"
PERMIT_FILE = "authority-1-collecting-permit.json"
ZONE = "Australia/Hobart"
AS_OF = "2028-07-14T12:00"
FATES = ("kept", "released", "dead", "lost")
GAINS = ("born", "given", "found")

Row = dict[str, Any]
Amount = int | Fraction


def loaded(name: str, folder: Path = SAMPLE) -> Any:
    return json.loads((folder / name).read_text(encoding="utf-8"))


# --- names

PARENTS: dict[str, str | None] = {}
ACCEPTED: dict[str, str] = {}
RANKS: dict[str, str] = {}
for _taxon in loaded("taxa.json")["taxa"]:
    PARENTS[_taxon["id"]] = _taxon.get("parent")
    RANKS[_taxon["id"]] = _taxon["rank"]
    for _name in (_taxon["id"], *_taxon.get("synonyms", [])):
        ACCEPTED[_name] = _taxon["id"]


def under(name: str, group: str) -> bool:
    """Tell whether a name stands at or below another."""
    here: str | None = ACCEPTED[name]
    while here is not None and here != group:
        here = PARENTS[here]
    return here == group


def taxon_of(row: Row) -> str:
    return ACCEPTED[row["taxon"]]


NO, MAY, SURE = 0, 1, 2


def fit(row: Row, *groups: str) -> int:
    """Tell how a row's name fits: SURE at or below one of the groups, MAY above one, else NO.

    A qualified name is sure one rank up only; of several names each must be in.
    """
    if row["one_of"]:
        fits = {_fit(ACCEPTED[name], groups) for name in row["one_of"]}
        return fits.pop() if len(fits) == 1 else MAY
    name = ACCEPTED[row["taxon"]]
    return _fit(PARENTS[name] if row["doubt"] else name, groups)


def _fit(name: str | None, groups: tuple[str, ...]) -> int:
    assert name is not None
    accepted = [ACCEPTED[group] for group in groups]
    if any(under(name, group) for group in accepted):
        return SURE
    return MAY if any(under(group, name) for group in accepted) else NO


# --- counts


class Counted(NamedTuple):
    """A count as written; ``estimated`` where nobody counted one by one."""

    low: Amount
    best: Amount
    high: Amount
    unit: str = "individuals"
    estimated: bool = False


LITRES = {one["name"]: Fraction(one["litres"]) for one in loaded(PERMIT_FILE)["containers"]}


def counted(written: int | str) -> Counted:
    """Read a count as the format says: "about" is 25 % either way, outward to whole animals."""
    if isinstance(written, int):
        return Counted(written, written, written)
    if found := re.fullmatch(r"about (\d+)", written):
        number = int(found[1])
        return Counted(number * 3 // 4, number, -(-number * 5 // 4), estimated=True)
    if found := re.fullmatch(r"(\d+)-(\d+)", written):
        low, high = int(found[1]), int(found[2])
        return Counted(low, (low + high) // 2, high, estimated=True)
    if found := re.fullmatch(r"(\d+) in (\d+)/(\d+)", written):
        return raised(int(found[1]), Fraction(int(found[2]), int(found[3])))
    found = re.fullmatch(r"(\d+) ?(.+)", written)
    assert found, written
    amount, word = int(found[1]), found[2]
    if word in ("L", "g"):
        return Counted(amount, amount, amount, word)
    litres = amount * LITRES[word]
    return Counted(litres, litres, litres, "L")


def raised(number: int, part: Fraction) -> Counted:
    """Raise what was counted in a part to the whole.

    Source: normal approximation to the binomial, n / p +- z sqrt(n (1 - p)) / p with z of 95 %, to the nearest
    animal; below 30 counted it does not hold (common practice, no source), and the sample has none such.
    """
    assert number >= 30
    reach = NormalDist().inv_cdf(0.975) * math.sqrt(number * (1 - part)) / part
    low, high = (math.floor(float(number / part) + side + 0.5) for side in (-reach, reach))
    return Counted(max(number, low), math.floor(number / part + Fraction(1, 2)), high, estimated=True)


def tenths(written: int | str) -> int:
    """Read a length or weight in tenths of a millimetre or gram; inches are 25.4 mm."""
    text = str(written)
    parts = text.removesuffix(" in").split(" ")
    value = sum(map(Fraction, parts), Fraction(0)) * (254 if text.endswith(" in") else 10)
    assert value.denominator == 1, written
    return int(value)


# --- hauls and lines

_LINE_KEYS = set("id taxon count fate measurements note photo stage doubt sex cause one_of".split())  # noqa: SIM905
_NOT_READ = {"also_under", "lost", "checks"}  # the sample has none; a haul with one would need thought here


def json_hauls(folder: Path = SAMPLE) -> Iterator[Row]:
    """Give every haul of the JSON files with its rows."""
    for path in sorted(folder.glob("trips-*.json")):
        for trip in loaded(path.name, folder)["trips"]:
            assert trip["zone"] == ZONE
            for raw in trip.get("hauls", []):
                assert not raw.keys() & _NOT_READ, raw["id"]
                haul = {
                    "trip": trip["id"],
                    "haul": raw["id"],
                    "kind": raw.get("kind", "haul"),
                    "gear": raw["gear"]["gear"],
                    "units": raw["gear"].get("number", 1),
                    "start": raw["start"],
                    "end": raw["end"],
                    "site": raw["site"],
                    "waterbody": raw["waterbody"],
                    "authority": raw.get("authority") or trip["authority"],
                    "person": raw.get("person") or trip["leader"],
                    "fixes": [(fix["lat"], fix["lon"], fix["radius_m"]) for fix in raw.get("fixes", [])],
                }
                haul["rows"] = [_json_row(haul, line) for line in raw.get("lines", [])]
                yield haul


def _json_row(haul: Row, line: Row) -> Row:
    assert line.keys() <= _LINE_KEYS, line
    runs = line.get("measurements", [])
    row = {key: line.get(key, "") for key in ("taxon", "fate", "count", "stage", "sex", "doubt", "note")}
    row |= {"line": line["id"], "one_of": line.get("one_of", [])}
    return _row(haul, row, [(run["measure"], tenths(value)) for run in runs for value in run["values"]])


def _row(haul: Row, own: Row, measured: list[tuple[str, int]]) -> Row:
    """Give a catch line with its trip, haul, day of landing and who is credited."""
    inherited = {key: value for key, value in haul.items() if key != "rows"}
    count = counted(own["count"])
    return inherited | own | count._asdict() | {"day": haul["end"][:10], "measured": measured}


def table_hauls(folder: Path = SAMPLE) -> Iterator[Row]:
    """Give the hauls of the workbook and of the typed notebook in the same form."""
    workbook = openpyxl.load_workbook(folder / "trip-K28-03.xlsx")
    sheets = {name: _table(workbook[name].values) for name in ("trips", "hauls", "lines")}
    (trip,) = sheets["trips"]
    yield from _table_hauls(trip, trip["date"], trip["authority"], sheets["hauls"], sheets["lines"])
    texts = []
    for part in ("hauls", "lines"):
        with (folder / f"trip-K28-04-{part}.csv").open(encoding="utf-8", newline="") as file:
            texts.append(_table(csv.reader(file)))
    first = texts[0][0]
    yield from _table_hauls(first, first["trip date"], first["trip permit"], *texts)


def _table(rows: Any) -> list[Row]:
    titles, *values = rows
    return [dict(zip(titles, row, strict=True)) for row in values]


def _table_hauls(trip: Row, date: str, authority: str, hauls: list[Row], lines: list[Row]) -> Iterator[Row]:
    assert trip["zone"] == ZONE
    for raw in hauls:
        haul = {
            "trip": raw["trip"],
            "haul": raw["haul"],
            "kind": "haul",
            "gear": raw["gear"],
            "units": 1,
            "start": f"{date}T{raw['start']}",
            "end": f"{date}T{raw['end']}",
            "site": raw["site"],
            "waterbody": raw["waterbody"],
            "authority": authority,
            "person": trip["leader"],
            "fixes": [],  # not needed: nothing of these two trips hangs on its place
        }
        haul["rows"] = [_table_row(haul, line) for line in lines if line["haul"] == raw["haul"]]
        yield haul


def _table_row(haul: Row, line: Row) -> Row:
    count = str(line["count"])
    row = {key: line.get(key) or "" for key in ("line", "fate", "sex", "note")}
    row |= {"taxon": line["species"], "count": int(count) if count.isdigit() else count}
    row |= {"stage": "", "doubt": "", "one_of": []}
    values = str(line["lengths mm"] or "").split()
    return _row(haul, row, [(line["measure"], tenths(value)) for value in values])


@dataclass(frozen=True)
class Plain:
    """A folder's season: hauls in order of landing, rows in order of capture, what moved, what was published."""

    trips: list[Row]
    hauls: list[Row]
    rows: list[Row]
    movements: list[Row]
    published: list[Row]
    sites: dict[str, str]


def read_plain(folder: Path = SAMPLE) -> Plain:
    """Read a copy of the sample season."""
    hauls = sorted([*json_hauls(folder), *table_hauls(folder)], key=lambda haul: (haul["end"], haul["haul"]))
    trips = [trip for path in sorted(folder.glob("trips-*.json")) for trip in loaded(path.name, folder)["trips"]]
    named = {trip["id"] for trip in trips}
    tabled = {haul["trip"]: haul["authority"] for haul in hauls if haul["trip"] not in named}
    trips += [{"id": trip, "authority": authority, "status": "closed"} for trip, authority in tabled.items()]
    office = loaded("office-2027-28.json", folder)
    moved = [one | counted(one["count"])._asdict() for one in office["movements"]]
    rows = sorted(
        (row for haul in hauls for row in haul["rows"]), key=lambda row: (row["end"], row["haul"], row["line"])
    )
    return Plain(trips, hauls, rows, moved, office["shared_totals"], office["sites"])


def seconds(haul: Row) -> int:
    """Give how long a haul or set ran, true over a change of the clocks."""
    start, end = (datetime.fromisoformat(haul[key]).replace(tzinfo=ZoneInfo(ZONE)) for key in ("start", "end"))
    return round(end.timestamp() - start.timestamp())


LINES = [row for haul in [*json_hauls(), *table_hauls()] for row in haul["rows"]]


def summed(group: str, fates: tuple[str, ...] = ("kept",), authority: str = PERMIT, **wanted: str) -> int:
    """Sum the exact counts of a group's lines by the files alone; an estimate among them is an error."""
    total = 0
    for row in LINES:
        fits = all(row[key] == value for key, value in wanted.items())
        if row["authority"] == authority and row["fate"] in fates and fits and under(row["taxon"], group):
            assert isinstance(row["count"], int), row
            total += row["count"]
    return total


class Own(NamedTuple):
    """What stands under the permit."""

    plain: Plain
    hauls: list[Row]
    rows: list[Row]
    animals: list[Row]


def own_of(plain: Plain) -> Own:
    hauls = [haul for haul in plain.hauls if haul["authority"] == PERMIT]
    rows = [row for row in plain.rows if row["authority"] == PERMIT]
    return Own(plain, hauls, rows, [row for row in rows if row["unit"] == "individuals"])


# --- how figures are written


def number(amount: Amount) -> str:
    """Whole numbers plainly, others to two places."""
    return str(int(amount)) if amount == int(amount) else decimals(Fraction(amount), 2)


def decimals(value: Fraction, places: int) -> str:
    """To so many places, half to the even digit."""
    return f"{float(round(value, places)):.{places}f}"


def span(low: Amount, high: Amount, unit: str = "") -> str:
    text = number(low) if low == high else f"{number(low)} to {number(high)}"
    return f"{text} {unit}".strip()
