"""One record as a phone sends it: the shapes of the trips file, each record by itself.

A trip comes without its hauls and a haul without its lines: those are records of their own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, get_args

from api.domain.facts import Book
from api.domain.trips import Haul, Incident, Line, Movement, Notice, Person, Trip
from api.exchange.faults import Fault
from api.exchange.plain_words import shown
from api.exchange.record_reading import Reading, built
from api.exchange.season_fields import shape_of
from api.exchange.season_json import read_haul, read_line, read_trip

RecordKind: TypeAlias = Literal["person", "trip", "haul", "line", "notice", "incident", "movement"]
KINDS: tuple[str, ...] = get_args(RecordKind)

AnyRecord: TypeAlias = Person | Trip | Haul | Line | Notice | Incident | Movement

_PAPERS: dict[str, Any] = {"person": Person, "notice": Notice, "incident": Incident, "movement": Movement}
_CHILDREN = {"trip": "hauls", "haul": "lines"}


@dataclass(frozen=True, slots=True)
class Setting:
    """What stands around a record: the zone in which its times are written, and the authority it inherits."""

    zone: str = ""
    authority: str = ""


def read_one(kind: str, raw: object, book: Book, setting: Setting) -> tuple[AnyRecord | None, list[Fault]]:
    """Read one record, or tell everything that is wrong with it; never raises for what ``raw`` holds."""
    if kind not in KINDS:
        return None, [
            Fault(kind[:60], "", f"{shown(kind)} is no kind of record.", f"The kinds are {', '.join(KINDS)}.")
        ]
    if not isinstance(raw, Mapping):
        return None, [Fault(kind, "", f"An object is wanted, but {shown(raw)} was found.", "Send the record's fields.")]
    reading = Reading(kind, book, file_zone=setting.zone, zone=setting.zone, authority=setting.authority)
    children = _CHILDREN.get(kind)
    if children and raw.get(children):
        what = f"A {kind} is sent without its {children}."
        return None, [Fault(kind, children, what, "Send each of them as a record of its own.")]
    record: AnyRecord | None
    match kind:
        case "trip":
            record = read_trip(raw, reading, "")
        case "haul":
            record = read_haul(raw, reading, "")
        case "line":
            record = read_line(raw, reading, "")
        case _:
            record = built(shape_of(_PAPERS[kind]), raw, reading, "")
    return (None if reading.faults else record), reading.faults
