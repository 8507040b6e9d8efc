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


class ConflictRead(BaseModel):
    """Two versions of one record: the one that stands and the one a phone offered."""

    id: str
    kind: str
    record: str
    stands: dict[str, Any]
    offered: dict[str, Any]
    state: Literal["open", "ours", "theirs"]
    why: str
    made_at: datetime
    settled_at: datetime | None
    settled_by: str


class SettlementSent(Sent):
    """Which version shall stand, and why."""

    take: Literal["stands", "offered"]
    why: str = Field(max_length=2000)


@router.get("")
def list_conflicts(
    store: StoreHere, _asking: Reader, state: Literal["", "open", "ours", "theirs"] = "open"
) -> list[ConflictRead]:
    """Give conflicts, the oldest first."""
    return [ConflictRead.model_validate(one, from_attributes=True) for one in conflicts.conflicts(store, state=state)]


@router.post("/{conflict}/settlement")
def settle_conflict(
    conflict: str, body: SettlementSent, store: StoreHere, asking: Annotated[Who, Depends(DECIDERS)]
) -> ConflictRead:
    """Settle a conflict; both versions stay readable."""
    told = conflicts.settle(store, asking.actor, conflict, body.take, body.why)
    return ConflictRead.model_validate(told, from_attributes=True)
