"""What the phones recorded, kept by the simulation itself: the truth that the server's store is held against.

It knows nothing of the server's code. For each record it holds the operations in the order in which they have to
take effect, and what has to become of each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fractions import Fraction
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

from api.domain.counts import exactly
from api.domain.places.positions import Fix
from api.domain.trips import CrewMember, GearUse, Haul, Incident, Line, Movement, Notice, Trip
from tests.sync.simulated_phone import Phone, Record, Waiting, Wire

ZONE = "Australia/Hobart"

MARKS = {
    "person": "name",
    "trip": "note",
    "haul": "note",
    "line": "note",
    "notice": "proof",
    "incident": "text",
    "movement": "reason",
}
"""The field of each kind of record that bears words of which no two operations have the same."""


@dataclass(slots=True)
class Deed:
    """One operation that a phone recorded.

    ``good`` tells whether it has to be taken in the end; one that is not has to be refused whenever it comes.
    ``reworded`` marks one that lacked nothing but a reason, which the one in its place gives. The operations on a
    record are ordered by ``place``; a mended one has the place of the one it mends.
    """

    operation: Wire
    phone: Phone
    place: int
    good: bool = True
    reworded: bool = False

    @property
    def id(self) -> str:
        """Give the operation's id."""
        return str(self.operation["id"])

    @property
    def kind(self) -> str:
        """Give the kind of record."""
        return str(self.operation["kind"])

    @property
    def record(self) -> str:
        """Give the record's id."""
        return str(self.operation["record"]["id"])

    @property
    def mark(self) -> str:
        """Give the words that this operation alone has."""
        return str(self.operation["record"][MARKS[self.kind]])


@dataclass(slots=True)
class Logbook:
    """All operations, and the records that several phones amend."""

    deeds: dict[str, Deed] = field(default_factory=dict)
    shared: set[str] = field(default_factory=set)
    met: Counter[str] = field(default_factory=Counter)
    _places: Iterator[int] = field(default_factory=count)

    def enter(self, waiting: Waiting, phone: Phone, *, good: bool = True) -> Deed:
        """Enter an operation as a phone put it into its outbox."""
        operation = waiting.operation
        deed = self.deeds[operation["id"]] = Deed(operation, phone, next(self._places), good)
        return deed

    def mend(self, old: Waiting, mended: Waiting) -> None:
        """Enter an operation in the place of one that was refused, and is never to be taken."""
        before = self.deeds[old.operation["id"]]
        before.good = False
        before.reworded = old.operation["record"] == mended.operation["record"]
        self.deeds[mended.operation["id"]] = Deed(mended.operation, before.phone, before.place)
        self.met["mended"] += 1

    def records(self) -> dict[tuple[str, str], list[Deed]]:
        """Give the good operations by kind and record, in the order in which they have to take effect."""
        found: dict[tuple[str, str], list[Deed]] = {}
        for deed in sorted(self.deeds.values(), key=lambda one: one.place):
            if deed.good:
                found.setdefault((deed.kind, deed.record), []).append(deed)
        return found


def moment(text: str) -> datetime:
    """Read a time as the phones write it: in UTC with Z, or by the clock on the wall."""
    if text.endswith("Z"):
        return datetime.fromisoformat(text.removesuffix("Z")).replace(tzinfo=UTC)
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE)).astimezone(UTC)


def _count(written: Any) -> int:
    """Read a count as a phone writes it, or as it came back from the server."""
    if isinstance(written, int):
        return written
    assert written["low"] == written["best"] == written["high"]
    return int(written["best"])


def as_it_should_stand(kind: str, record: Record, code: str, codes: dict[str, str]) -> Any:
    """Give what has to stand in the season for a record as recorded; ``codes`` are those told for other records."""
    match kind:
        case "person":
            return record["name"]
        case "trip":
            return Trip(
                id=code,
                zone=ZONE,
                leader=record["leader"],
                authority="permit",
                status=record["status"],
                depart=moment(record["depart"]),
                back=moment(record["back"]) if "back" in record else None,
                crew=tuple(CrewMember(person=one["person"], role=one["role"]) for one in record["crew"]),
                note=record["note"],
            )
        case "haul":
            return Haul(
                id=code,
                start=moment(record["start"]),
                end=moment(record["end"]),
                gear=GearUse(gear="seine", length_mm=Fraction(12000)),
                fixes=tuple(Fix(lat=one["lat"], lon=one["lon"], radius_m=one["radius_m"]) for one in record["fixes"]),
                person=record.get("person", ""),
                note=record["note"],
            )
        case "line":
            return Line(
                id=code,
                taxon=record["taxon"],
                count=exactly(_count(record["count"])),
                fate=record["fate"],
                note=record["note"],
            )
        case "notice":
            return Notice(
                id=record["id"],
                authority="permit",
                trip=codes[record["trip"]],
                to="desk",
                sent=moment(record["sent"]),
                proof=record["proof"],
            )
        case "incident":
            about = tuple(codes[one] for one in record["about"])
            return Incident(id=record["id"], authority="permit", about=about, to="desk", text=record["text"])
    assert kind == "movement"
    return Movement(
        id=record["id"],
        at=moment(record["at"]),
        what=record["what"],
        count=exactly(_count(record["count"])),
        line=codes[record["line"]],
        reason=record["reason"],
    )
