"""Conflicts between phones, and settling them."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field

from api.operations import conflicts
from api.operations.sessions import Who
from api.routes.deps import Reader, Roles, StoreHere
from api.routes.shapes import Sent

router = APIRouter(prefix="/api/conflicts", tags=["sync"])

DECIDERS = Roles("curator", "administrator")

State = Literal["open", "ours", "theirs", "both", "followed"]
"""*ours*: what stood was kept; *theirs*: what was offered was taken; *both*: counted together; *followed*: the same
phone has offered a newer version since."""


class OfferingRead(BaseModel):
    """Who offered a version, and from which phone: ids and the phone's name; "" where nobody noted it."""

    person: str
    device: str
    device_name: str


class ConflictRead(BaseModel):
    """Two versions of one record: the one that stands and the one a phone offered.

    Of an open one about a catch line, ``base`` is what both began from, and ``together`` what it is with the
    animals that either added; null where nobody can tell.
    """

    id: str
    kind: str
    record: str
    stands: dict[str, Any]
    offered: dict[str, Any]
    base: dict[str, Any] | None
    together: dict[str, Any] | None
    offered_by: OfferingRead
    state: State
    why: str
    made_at: datetime
    settled_at: datetime | None
    settled_by: str


class SettlementSent(Sent):
    """Which version shall stand, or that both are counted together, and why."""

    take: Literal["stands", "offered", "together"]
    why: str = Field(max_length=2000)


@router.get("")
def list_conflicts(store: StoreHere, _asking: Reader, state: State | Literal[""] = "open") -> list[ConflictRead]:
    """Give conflicts, the oldest first."""
    return [ConflictRead.model_validate(one, from_attributes=True) for one in conflicts.conflicts(store, state=state)]


@router.post("/{conflict}/settlement")
def settle_conflict(
    conflict: str, body: SettlementSent, store: StoreHere, asking: Annotated[Who, Depends(DECIDERS)]
) -> ConflictRead:
    """Settle a conflict; both versions stay readable."""
    told = conflicts.settle(store, asking.actor, conflict, body.take, body.why)
    return ConflictRead.model_validate(told, from_attributes=True)
