"""Whose record this is."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel, Field

from api.operations import organisations
from api.routes.deps import Administrator, Reader, StoreHere
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["organisation"])


class OrganisationSent(Sent):
    """The organisation as it shall be; ``own_catch_approved`` lets a curator decide on what they collected."""

    name: str = Field(min_length=1, max_length=200)
    zone: str = Field(min_length=1, max_length=64)
    own_catch_approved: bool


class OrganisationRead(BaseModel):
    """The organisation; ``demo`` tells that everything here is invented.

    ``server_time`` is the server's clock as it answers (UTC): on a demo it stands in the sample's own year.
    """

    name: str
    zone: str
    own_catch_approved: bool
    demo: bool
    server_time: datetime


@router.get("/organisation")
def read_organisation(store: StoreHere, _asking: Reader) -> OrganisationRead:
    """Give the organisation."""
    return _read(organisations.organisation(store), store)


@router.put("/organisation")
def set_organisation(body: OrganisationSent, store: StoreHere, asking: Administrator) -> OrganisationRead:
    """Name the organisation, or change its name, its zone, or who may approve their own catch."""
    told = organisations.set_organisation(
        store, asking.actor, name=body.name, zone=body.zone, own_catch_approved=body.own_catch_approved
    )
    return _read(told, store)


def _read(told: organisations.OrganisationTold, store: StoreHere) -> OrganisationRead:
    return OrganisationRead(**asdict(told), server_time=store.clock())
