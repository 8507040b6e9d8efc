"""What a phone would send: operations with ids of their own, valid by default."""

from __future__ import annotations

from typing import Any

from api.operations.syncing import Operation
from api.store.ids import new_id

ZONE = "Australia/Hobart"


def person(name: str = "Ann Oake", **changes: Any) -> Operation:
    """Give an operation that names a person."""
    record = {"id": new_id(), "name": name, **changes}
    return Operation(id=new_id(), kind="person", record=record)


def trip(leader: str, **changes: Any) -> Operation:
    """Give an operation that opens a trip."""
    record = {
        "id": new_id(),
        "zone": ZONE,
        "leader": leader,
        "authority": "permit",
        "status": "open",
        "depart": "2027-08-01T07:00",
        "crew": [{"person": leader, "role": "holder"}],
        **changes,
    }
    return Operation(id=new_id(), kind="trip", record=record)


def haul(parent: Operation, **changes: Any) -> Operation:
    """Give an operation that logs a haul of a trip."""
    record = {
        "id": new_id(),
        "start": "2027-08-01T08:00",
        "end": "2027-08-01T08:10",
        "gear": {"gear": "seine", "length_mm": "12 m"},
        "fixes": [{"lat": -42.3, "lon": 153.6, "radius_m": 8}],
        **changes,
    }
    return Operation(id=new_id(), kind="haul", record=record, parent=str(parent.record["id"]))


def line(parent: Operation, **changes: Any) -> Operation:
    """Give an operation that logs a catch line of a haul."""
    record = {"id": new_id(), "taxon": "Galaxias maculatus", "fate": "kept", "count": 3, **changes}
    return Operation(id=new_id(), kind="line", record=record, parent=str(parent.record["id"]))


def amended(before: Operation, based_on: int, why: str = "", **changes: Any) -> Operation:
    """Give an operation that amends the record of another one."""
    record = {**before.record, **changes}
    return Operation(id=new_id(), kind=before.kind, record=record, parent=before.parent, based_on=based_on, why=why)
