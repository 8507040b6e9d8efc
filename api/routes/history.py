"""Who entered a trip's records, on which phone, and what was corrected afterwards."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel

from api.operations import history
from api.routes.deps import Reader, StoreHere

router = APIRouter(prefix="/api", tags=["history"])


class EntryRead(BaseModel):
    """A record as it was entered (``version`` 1) or amended; ``device`` "" for no phone, ``at`` by the server's clock."""

    kind: str
    record: str
    version: int
    by: str
    by_name: str
    device: str
    at: datetime
    device_at: datetime | None
    entered_from: Literal["", "screen", "paper"]


class CorrectionRead(BaseModel):
    """A field of a record (its id) amended after the trip was closed, in plain words, with the reason."""

    record: str
    field: str
    old: str
    new: str
    by: str
    by_name: str
    at: datetime
    why: str


class HistoryRead(BaseModel):
    """What was entered and what was corrected, each the oldest first. What came in a file has no entry."""

    entries: list[EntryRead]
    corrections: list[CorrectionRead]


@router.get("/trips/{trip}/history")
def read_history(trip: str, store: StoreHere, _asking: Reader) -> HistoryRead:
    """Give who entered the records of a trip (id or code) and on which phone, and what was corrected afterwards."""
    return HistoryRead.model_validate(history.history_of(store, trip), from_attributes=True)
