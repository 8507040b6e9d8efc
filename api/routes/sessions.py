"""Signing in and out over the API, one's own sessions and password."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, Field

from api.operations import sessions
from api.routes.deps import COOKIE, Reader, SettingsHere, StoreHere, address_of
from api.routes.pages import set_cookie
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["sessions"])


class SignInSent(Sent):
    """Login and password."""

    login: str = Field(max_length=200)
    password: str = Field(max_length=1000)
    label: str = Field(default="", max_length=200)


class WhoRead(BaseModel):
    """Who is signed in."""

    person: str
    name: str
    login: str
    roles: list[str]
    session: str
    device: str


class SessionRead(BaseModel):
    """A session that stands; ``current`` marks the one that asks."""

    id: str
    kind: str
    label: str
    device: str
    made_at: datetime
    used_at: datetime
    ends_at: datetime
    current: bool


class PasswordSent(Sent):
    """A new password, with the old one."""

    old: str = Field(max_length=1000)
    new: str = Field(max_length=1000)


def who_read(known: sessions.Who) -> WhoRead:
    """Give who is signed in, for the wire."""
    return WhoRead(
        person=known.person,
        name=known.name,
        login=known.login,
        roles=sorted(known.roles),
        session=known.session,
        device=known.device,
    )


@router.post("/sessions", status_code=201)
def sign_in(
    body: SignInSent, request: Request, response: Response, store: StoreHere, settings: SettingsHere
) -> WhoRead:
    """Begin a browser's session; its token comes as a cookie."""
    signed = sessions.sign_in(store, body.login, body.password, address=address_of(request), label=body.label)
    set_cookie(response, signed, settings.secure)
    return who_read(signed.who)


@router.get("/me")
def read_me(asking: Reader) -> WhoRead:
    """Give who is signed in."""
    return who_read(asking)


@router.get("/sessions")
def list_sessions(store: StoreHere, asking: Reader) -> list[SessionRead]:
    """Give one's own sessions, the newest first."""
    return [
        SessionRead(
            id=one.id,
            kind=one.kind,
            label=one.label,
            device=one.device,
            made_at=one.made_at,
            used_at=one.used_at,
            ends_at=one.ends_at,
            current=one.current,
        )
        for one in sessions.sessions_of(store, asking.person, asking.session)
    ]


@router.delete("/sessions/current", status_code=204)
def end_session(response: Response, store: StoreHere, asking: Reader) -> None:
    """Sign out."""
    sessions.sign_out(store, asking.session)
    response.delete_cookie(COOKIE, path="/")


@router.delete("/sessions/{session}", status_code=204)
def revoke_session(session: str, store: StoreHere, asking: Reader) -> None:
    """Revoke a session: one's own, or anybody's as an administrator."""
    sessions.revoke_session(store, asking.actor, session)


@router.put("/me/password", status_code=204)
def change_own_password(body: PasswordSent, store: StoreHere, asking: Reader) -> None:
    """Change one's own password; all other sessions end."""
    sessions.change_password(store, asking.actor, asking.person, body.new, old=body.old, keep=asking.session)
