"""What routes ask for: the store, who is asking, and whether they may."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from api.entities.accounts import ROLES
from api.operations.sessions import Who, who
from api.routes.problems import ProblemError
from api.settings import Settings
from api.store.unit_of_work import Actor, Store

COOKIE = "creekledger_session"
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def the_store(request: Request) -> Store:
    """Give the store that the app was built with."""
    store: Store = request.app.state.store
    return store


def the_settings(request: Request) -> Settings:
    """Give the settings that the app was built with."""
    settings: Settings = request.app.state.settings
    return settings


StoreHere = Annotated[Store, Depends(the_store)]
SettingsHere = Annotated[Settings, Depends(the_settings)]


def token_of(request: Request) -> str:
    """Give the session's token: a phone sends it as a bearer, a browser as its cookie."""
    kind, _, token = request.headers.get("authorization", "").partition(" ")
    if kind.lower() == "bearer" and token:
        return token.strip()
    cookie = request.cookies.get(COOKIE, "")
    if cookie and request.method not in _SAFE_METHODS and not _same_origin(request):
        raise ProblemError(403, "The request comes from another site than this one.")
    return cookie


def _same_origin(request: Request) -> bool:
    """Tell whether a browser's request comes from our own pages (the cookie's SameSite says so too)."""
    origin = request.headers.get("origin")
    return origin is None or origin.partition("://")[2] == request.headers.get("host", "")


def someone(request: Request, store: StoreHere) -> Who | None:
    """Give who is asking, None for nobody known."""
    token = token_of(request)
    return who(store, token) if token else None


def address_of(request: Request) -> str:
    """Give the caller's address."""
    return request.client.host if request.client else ""


class Roles:
    """A dependency that lets in whoever holds one of some roles; anybody signed in where none is named."""

    def __init__(self, *roles: str) -> None:
        if unknown := set(roles) - set(ROLES):
            raise ValueError(f"no such roles: {unknown}")
        self.roles = frozenset(roles or ROLES)

    def __call__(self, asking: Annotated[Who | None, Depends(someone)]) -> Who:
        """Give who is asking; raises ProblemError 401 for nobody, 403 for the wrong role."""
        if asking is None:
            raise ProblemError(401, "Sign in first; the session may have ended.")
        if self.roles.isdisjoint(asking.roles):
            listed = " or ".join(sorted(self.roles))
            raise ProblemError(403, f"This needs the role {listed}; ask an administrator.")
        return asking


READERS = Roles()
"""Anybody signed in, the inspector too."""
WRITERS = Roles("collector", "curator", "administrator")
ADMINISTRATORS = Roles("administrator")

Reader = Annotated[Who, Depends(READERS)]
Writer = Annotated[Who, Depends(WRITERS)]
Administrator = Annotated[Who, Depends(ADMINISTRATORS)]


def actor_of(asking: Who) -> Actor:
    """Give the actor that audit entries name."""
    return asking.actor
