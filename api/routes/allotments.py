"""Allotments: what a trip may be given, what it was given, and taking it back."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from api.exchange.season_out import amount_value
from api.operations import allotting
from api.routes.deps import Administrator, Reader, StoreHere
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["allotments"])


class RoomRead(BaseModel):
    """One tally that a trip may be given from: the most in all, what is left to give, what the trip has and took at most.

    Where ``short``, the limit must not be reached: less than ``left`` may be given.
    """

    authority: str
    number: str
    label: str
    name: str
    about: str
    unit: str
    limit: float
    left: float
    short: bool
    held: float
    used: int | str


class AllotmentSent(Sent):
    """What a trip shall be given of a limit, named as the trip's rooms name it."""

    authority: str = Field(max_length=64)
    number: str = Field(max_length=64)
    label: str = Field(default="", max_length=200)
    name: str = Field(default="", max_length=200)
    amount: float = Field(gt=0, le=1e9, allow_inf_nan=False)


class AllotmentRead(BaseModel):
    """An allotment as it stands."""

    id: str
    trip: str
    code: str
    authority: str
    number: str
    label: str
    name: str
    first_day: str
    unit: str
    amount: float
    state: Literal["open", "returned", "reclaimed"]
    granted_at: datetime
    granted_by: str
    ended_at: datetime | None
    why: str


class ReclaimSent(Sent):
    """Why an allotment is taken back."""

    why: str = Field(max_length=2000)


def _read(told: allotting.AllotmentTold) -> AllotmentRead:
    return AllotmentRead.model_validate(told, from_attributes=True)


@router.get("/trips/{trip}/rooms")
def list_rooms(
    trip: str, store: StoreHere, _asking: Reader, name: Annotated[str, Query(max_length=200)] = ""
) -> list[RoomRead]:
    """Give what a trip (id or code) may be given of each limit that it shares with other trips."""
    return [
        RoomRead(
            authority=one.pool.authority,
            number=one.pool.number,
            label=one.pool.label,
            name=one.pool.key.name,
            about=one.pool.about,
            unit=one.pool.unit,
            limit=float(one.pool.room),
            left=float(one.left),
            short=one.pool.short,
            held=float(one.held),
            used=amount_value(one.used),
        )
        for one in allotting.rooms_of(store, trip, name)
    ]


@router.post("/trips/{trip}/allotments", status_code=201)
def grant_allotment(trip: str, body: AllotmentSent, store: StoreHere, asking: Administrator) -> AllotmentRead:
    """Give a trip an allotment, or more of the one it has; never more than is left."""
    amount = int(body.amount) if body.amount.is_integer() else body.amount
    told = allotting.grant(
        store,
        asking.actor,
        trip,
        authority=body.authority,
        number=body.number,
        label=body.label,
        name=body.name,
        amount=amount,
    )
    return _read(told)


@router.get("/allotments")
def list_allotments(
    store: StoreHere,
    _asking: Reader,
    trip: Annotated[str, Query(max_length=64)] = "",
    state: Literal["", "open", "returned", "reclaimed"] = "",
) -> list[AllotmentRead]:
    """Give allotments, the newest first; narrowed by trip (id) and state."""
    return [_read(one) for one in allotting.allotments(store, trip=trip, state=state)]


@router.post("/allotments/{allotment}/reclaim")
def reclaim_allotment(allotment: str, body: ReclaimSent, store: StoreHere, asking: Administrator) -> AllotmentRead:
    """Take back the allotment of a trip that never came back."""
    return _read(allotting.reclaim(store, asking.actor, allotment, body.why))
