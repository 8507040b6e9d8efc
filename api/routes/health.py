"""Whether the server answers and its database does."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel

from api import VERSION
from api.exchange.protocols import ACCEPTED
from api.operations.compliance import changes_now
from api.routes.deps import StoreHere

router = APIRouter(tags=["health"])


class Health(BaseModel):
    """The server's version; that there is an answer at all says that the database was read.

    ``protocols``: the versions in which phones may push, the newest last.
    """

    version: str
    protocols: list[int]


@router.get("/healthz")
def healthz(store: StoreHere) -> Health:
    """Read the database and answer; open to everybody, and tells nothing of the season."""
    changes_now(store)
    return Health(version=VERSION, protocols=list(ACCEPTED))
