"""An app on a store, with one account per role, and clients that are signed in."""

from __future__ import annotations

from pathlib import Path

from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select

from api.entities.accounts import ROLES, Account
from api.main import build_app
from api.operations.accounts import add_account
from api.operations.importing import import_files
from api.operations.sessions import begin_session
from api.settings import Settings
from api.store.unit_of_work import Actor, Store
from tests.builders import authority_file, write_season

PASSWORD = "three boats in the reeds"
HOST = "http://127.0.0.1:8765"


def app_on(store: Store, folder: Path) -> FastAPI:
    """Build an app; its rates are no bound for tests."""
    return build_app(Settings(data=folder, requests_a_minute=1_000_000), store)


def with_accounts(store: Store) -> None:
    """Add one account per role, named after it."""
    for role in ROLES:
        add_account(store, Actor(), name=f"Some {role}", login=f"the-{role}", password=PASSWORD, roles=(role,))


def with_season(store: Store, folder: Path) -> None:
    """Take the builders' permit and trip in."""
    authority, trips = write_season(folder, authority_file())
    import_files(store, folder / "files", [authority], [trips], Actor())


def token_for(store: Store, role: str) -> str:
    """Begin a session of the role's account without its password: hashing is slow, and tested elsewhere."""
    with store.writing(Actor()) as work:
        account = work.session.exec(select(Account).where(Account.login == f"the-{role}")).one()
        return begin_session(work, account, "browser", "test").token


def client_of(app: FastAPI, store: Store, role: str = "") -> TestClient:
    """Give a client, signed in as a role or as nobody."""
    headers = {"Authorization": f"Bearer {token_for(store, role)}"} if role else {}
    return TestClient(app, base_url=HOST, headers=headers, follow_redirects=False)
