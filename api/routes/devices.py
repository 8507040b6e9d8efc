"""Phones: enrolled with a one-time code, listed, revoked."""

from __future__ import annotations

import io
from datetime import datetime

import segno
from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from api.operations import enrolments
from api.routes.deps import Reader, StoreHere, Writer, address_of
from api.routes.sessions import WhoRead, who_read
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["devices"])


class EnrolmentSent(Sent):
    """For whom a code is wanted (login or person's id)."""

    account: str = Field(max_length=64)


class EnrolmentRead(BaseModel):
    """A code, good once and until ``ends_at``; ``qr`` is the same as a picture (SVG)."""

    code: str
    qr: str
    ends_at: datetime
    person: str
    login: str


class EnrolSent(Sent):
    """The code as typed, and what the phone shall be called."""

    code: str = Field(max_length=100)
    name: str = Field(max_length=200)


class EnrolledRead(BaseModel):
    """The phone's session; the token is given here and never again."""

    token: str
    ends_at: datetime
    who: WhoRead


class DeviceRead(BaseModel):
    """A phone that was enrolled."""

    id: str
    name: str
    person: str
    person_name: str
    enrolled_at: datetime
    last_seen_at: datetime | None
    revoked_at: datetime | None
    clock_fast_s: int | None
    signed_in: bool


@router.post("/enrolments", status_code=201)
def make_enrolment(body: EnrolmentSent, store: StoreHere, asking: Writer) -> EnrolmentRead:
    """Make a code for a phone: for oneself, or for anybody as an administrator."""
    made = enrolments.make_enrolment(store, asking.actor, body.account)
    picture = io.BytesIO()
    segno.make(made.code, error="m", micro=False).save(picture, kind="svg", scale=6, border=4, xmldecl=False)
    return EnrolmentRead(
        code=made.code, qr=picture.getvalue().decode(), ends_at=made.ends_at, person=made.person, login=made.login
    )


@router.post("/devices", status_code=201)
def enrol(body: EnrolSent, request: Request, store: StoreHere) -> EnrolledRead:
    """Enrol a phone with a code; it needs no other sign-in."""
    signed = enrolments.enrol(store, body.code, device_name=body.name, address=address_of(request))
    return EnrolledRead(token=signed.token, ends_at=signed.ends_at, who=who_read(signed.who))


@router.get("/devices")
def list_devices(store: StoreHere, _asking: Reader) -> list[DeviceRead]:
    """Give every phone that was ever enrolled, the newest first."""
    return [
        DeviceRead(
            id=one.id,
            name=one.name,
            person=one.person,
            person_name=one.person_name,
            enrolled_at=one.enrolled_at,
            last_seen_at=one.last_seen_at,
            revoked_at=one.revoked_at,
            clock_fast_s=one.clock_fast_s,
            signed_in=one.signed_in,
        )
        for one in enrolments.devices(store)
    ]


@router.delete("/devices/{device}", status_code=204)
def revoke_device(device: str, store: StoreHere, asking: Writer) -> None:
    """Revoke a phone and its sessions: one's own, or anybody's as an administrator."""
    enrolments.revoke_device(store, asking.actor, device)
