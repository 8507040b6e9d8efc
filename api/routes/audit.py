"""What happened: the audit entries, newest first."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel

from api.operations import auditing
from api.operations.sessions import Who
from api.routes.deps import Roles, StoreHere

router = APIRouter(prefix="/api/audit", tags=["audit"])

OVERSEERS = Roles("administrator", "inspector")


class AuditEntryRead(BaseModel):
    """One thing done, by whom, to what; each entry holds the hash of the one before."""

    seq: int
    at: datetime
    actor: str
    device: str
    action: str
    subject: str
    content: str
    previous: str
    hash: str


@router.get("")
def list_audit(
    store: StoreHere,
    _asking: Annotated[Who, Depends(OVERSEERS)],
    before: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
    subject: Annotated[str, Query(max_length=160)] = "",
) -> list[AuditEntryRead]:
    """Give audit entries, newest first; ``before`` goes on from a page, ``subject`` narrows to one record."""
    return [
        AuditEntryRead(**entry.model_dump())
        for entry in auditing.entries(store, before=before, limit=limit, subject=subject)
    ]
