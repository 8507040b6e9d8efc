"""A small good season in every format, and a folder for each case of damage done to it.

The place, people and agency are invented.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import geopandas
import openpyxl
import shapely

from api.domain.facts import Book
from api.domain.permits import Authority
from api.domain.places.answers import Area
from api.domain.taxa import Taxa, Taxon
from api.exchange.area_layers import write_geopackage

GOBY = "Pseudogobius olorum"
HARDYHEAD = "Atherinosoma microstoma"
SQUARE = [[153.0, -42.0], [153.1, -42.0], [153.1, -41.9], [153.0, -41.9], [153.0, -42.0]]

TAXA = [
    {"id": "Animalia", "rank": "kingdom"},
    {"id": GOBY, "rank": "species", "parent": "Animalia"},
    {"id": HARDYHEAD, "rank": "species", "parent": "Animalia"},
]
AREAS = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "id": "reach",
            "properties": {"id": "reach", "name": "Lower reach", "kind": "permitted"},
            "geometry": {"type": "Polygon", "coordinates": [SQUARE]},
        }
    ],
}
AUTHORITY = {
    "format": "creekledger authority 1",
    "id": "P-1",
    "kind": "collecting permit",
    "number": "27-9",
    "title": "Collecting permit",
    "issuer": "Board of Waters",
    "holder": "Harbour Aquarium",
    "zone": "Australia/Hobart",
    "first_day": "2027-01-01",
    "last_day": "2027-12-31",
    "taxa": "taxa.json",
    "areas": "areas.geojson",
    "conditions": [
        {
            "number": "1",
            "kind": "take limit",
            "text": "No more than 40 gobies a year.",
            "taxa": [GOBY],
            "limits": [{"amount": "40", "period": "permit year"}],
        },
        {"number": "2", "kind": "area", "text": "Only in the lower reach.", "where": "inside", "areas": ["reach"]},
    ],
}
TRIPS = {
    "format": "creekledger trips 1",
    "zone": "Australia/Hobart",
    "trips": [
        {
            "id": "t1",
            "leader": "p-ana",
            "authority": "P-1",
            "hauls": [
                {
                    "id": "h1",
                    "start": "2027-06-11T21:30",
                    "end": "2027-06-11T21:50",
                    "fixes": [{"lat": -41.95, "lon": 153.05, "radius_m": 8, "confidence": 0.95}],
                    "lines": [
                        {"id": "l1", "taxon": GOBY, "count": 12, "fate": "kept"},
                        {
                            "id": "l2",
                            "taxon": HARDYHEAD,
                            "count": "about 200",
                            "measurements": [{"measure": "total length", "values": ["63.5", "70"]}],
                        },
                    ],
                    "readings": [{"quantity": "salinity", "value": "31.4", "unit": "PSU"}],
                }
            ],
        }
    ],
}
ROWS = [
    [
        "trip",
        "leader",
        "authority",
        "haul",
        "start",
        "end",
        "lat",
        "lon",
        "taxon",
        "fate",
        "count",
        "lengths",
        "measure",
    ],
    [
        "t2",
        "p-ana",
        "P-1",
        "1",
        "2027-06-12 21:30",
        "21:50",
        "-41.95",
        "153.05",
        GOBY,
        "kept",
        "3",
        "63.5 70",
        "total length",
    ],
    ["", "", "", "", "", "", "", "", HARDYHEAD, "released", "~40", "", ""],
]
GPX = """<?xml version="1.0" encoding="UTF-8"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="handheld">
<trk><trkseg>
<trkpt lat="-41.95" lon="153.05"><time>2027-06-12T11:30:00Z</time></trkpt>
<trkpt lat="-41.951" lon="153.051"><time>2027-06-12T11:40:00Z</time></trkpt>
</trkseg></trk></gpx>
"""
BOOK = Book(
    (
        Authority(
            id="P-1",
            kind="collecting permit",
            number="27-9",
            title="Collecting permit",
            issuer="Board of Waters",
            holder="Harbour Aquarium",
            zone="Australia/Hobart",
            first_day="2027-01-01",
            last_day="2027-12-31",
            conditions=(),
        ),
    ),
    Taxa.of(Taxon(**one) for one in TAXA),
)


@dataclass(frozen=True)
class Damage:
    """One damaged file: what it is called, the file itself, and the arguments that lead to it."""

    name: str
    file: Path
    arguments: tuple[str, ...]
    heavy: bool = False


class Damages:
    """A folder in which each case gets a folder of its own."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._number = 0
        self.cases: list[Damage] = []

    def trips(self, name: str, file: str, content: bytes | None, *, heavy: bool = False) -> Path:
        """Add a damaged trips file; without content the caller makes the file."""
        folder = self._folder()
        path = folder / file
        self._write(path, content)
        self._add(name, path, ("check", str(folder / "authority.json"), "--trips", str(path)), heavy)
        return path

    def beside(self, name: str, file: str, content: bytes | None, trips: str, trips_content: bytes) -> None:
        """Add a damaged file that lies beside a good trips file and is read with it."""
        folder = self._folder()
        self._write(folder / file, content)
        (folder / trips).write_bytes(trips_content)
        self._add(name, folder / file, ("check", str(folder / "authority.json"), "--trips", str(folder / trips)), False)

    def authority(self, name: str, content: bytes, *, heavy: bool = False) -> None:
        """Add a damaged authority file."""
        folder = self._folder()
        (folder / "authority.json").write_bytes(content)
        self._add(name, folder / "authority.json", ("check", str(folder / "authority.json"), "--nil"), heavy)

    def areas(self, name: str, file: str, content: bytes | None, *, heavy: bool = False) -> Path:
        """Add a damaged area file that a good authority names."""
        folder = self._folder()
        path = folder / file
        self._write(path, content)
        (folder / "authority.json").write_text(json.dumps({**AUTHORITY, "areas": file}))
        self._add(name, path, ("check", str(folder / "authority.json"), "--nil"), heavy)
        return path

    def taxa(self, name: str, content: bytes) -> None:
        """Add a damaged list of taxa."""
        folder = self._folder()
        (folder / "taxa.json").write_bytes(content)
        self._add(name, folder / "taxa.json", ("check", str(folder / "authority.json"), "--nil"), False)

    def _write(self, path: Path, content: bytes | None) -> None:
        if content is not None:
            path.write_bytes(content)

    def _folder(self) -> Path:
        self._number += 1
        folder = self._root / f"case-{self._number:03}"
        folder.mkdir(parents=True)
        (folder / "authority.json").write_text(json.dumps(AUTHORITY))
        (folder / "taxa.json").write_text(json.dumps({"format": "creekledger taxa 1", "taxa": TAXA}))
        (folder / "areas.geojson").write_text(json.dumps(AREAS))
        return folder

    def _add(self, name: str, path: Path, arguments: tuple[str, ...], heavy: bool) -> None:
        self.cases.append(Damage(name, path, (*arguments, "--as-of", "2027-12-31"), heavy))


def csv_bytes(rows: list[list[str]], separator: str = ",") -> bytes:
    """Write rows as CSV; no cell of these has a quote."""
    return "".join(separator.join(row) + "\r\n" for row in rows).encode()


def workbook(rows: list[list[object]] | None = None, title: str = "lines") -> bytes:
    """Write rows as a workbook of one sheet, its texts kept apart as spreadsheet programs keep them."""
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows if rows is not None else ROWS:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return with_shared_strings(out.getvalue())


_INLINE = re.compile(rb't="inlineStr"><is><t(?: xml:space="preserve")?>(.*?)</t></is>', re.DOTALL)
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"


def with_shared_strings(content: bytes) -> bytes:
    """Move the texts of a workbook's cells into the part of shared strings (ECMA-376 part 1, 18.4)."""
    texts: list[bytes] = []

    def moved(found: re.Match[bytes]) -> bytes:
        texts.append(found[1])
        return b't="s"><v>%d</v>' % (len(texts) - 1)

    def changed(name: str, part: bytes) -> bytes:
        if name == "[Content_Types].xml":
            own = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{_KIND}"/></Types>'
            return part.replace(b"</Types>", own.encode())
        if name == "xl/_rels/workbook.xml.rels":
            own = f'<Relationship Type="{_RELATION}" Target="sharedStrings.xml" Id="rId99"/></Relationships>'
            return part.replace(b"</Relationships>", own.encode())
        return _INLINE.sub(moved, part) if name.startswith("xl/worksheets/") else part

    shared = repacked(content, changed)
    strings = b"".join(b'<si><t xml:space="preserve">%s</t></si>' % text for text in texts)
    head = b'<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    out = io.BytesIO(shared)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/sharedStrings.xml", head + strings + b"</sst>")
    return out.getvalue()


def repacked(content: bytes, change: Callable[[str, bytes], bytes | None]) -> bytes:
    """Write a workbook anew with its parts changed, or left out where the change gives None."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            part = change(entry.filename, old.read(entry))
            if part is not None:
                new.writestr(entry.filename, part)
    return out.getvalue()


def zipped(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in parts.items():
            made.writestr(name, content)
    return out.getvalue()


def cut(content: bytes, parts: int) -> Iterator[tuple[int, bytes]]:
    for part in range(1, parts):
        at = len(content) * part // parts
        yield at, content[:at]


def write_gpkg(path: Path) -> Path:
    write_geopackage([_reach()], path)
    return path


def write_shapefile(path: Path) -> Path:
    frame = geopandas.GeoDataFrame(
        {"id": ["reach"], "name": ["Lower reach"]}, geometry=[_reach().geometry], crs="EPSG:4326"
    )
    frame.to_file(path)
    return path


def _reach() -> Area:
    return Area(id="reach", name="Lower reach", geometry=shapely.Polygon(SQUARE), kind="permitted")
