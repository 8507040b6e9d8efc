"""What every test shares: where the build has to give the same answer twice, so do the drawn examples."""

from __future__ import annotations

import asyncio
import os
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import settings
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from api.operations import accounts
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.databases import postgresql_databases, quick_folder, sqlite_databases
from tests.served import app_on, client_of, with_accounts, with_season

# Elsewhere each run draws anew and may find more; a found fault becomes a named case.
settings.register_profile("same each time", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("same each time")


HEAVY = frozenset({"database_url", "sqlite_maker", "postgresql_maker", "playwright", "demo_server", "node"})
"""Fixtures that bring a database, a browser, a server or Node: what asks for one is not among the quick tests."""


ENGINES = ("sqlite", "postgresql")
"""Parameters by which a fixture asks for a database while it is made, so that no name of it tells."""


def pytest_collection_modifyitems(items):
    """Mark what is heavy as slow, so that the quick selection needs none of it."""
    for item in items:
        params = item.callspec.params.values() if hasattr(item, "callspec") else ()
        if not HEAVY.isdisjoint(getattr(item, "fixturenames", ())) or any(one in ENGINES for one in params):
            item.add_marker(pytest.mark.slow)


@pytest.fixture(autouse=True, scope="module")
def _no_loop_is_left_running():
    """Fail at once where the file before left an event loop running: whatever runs its own would fail instead."""
    with pytest.raises(RuntimeError, match="no running event loop"):
        asyncio.get_running_loop()


@pytest.fixture(scope="session")
def sqlite_maker():
    """Give a maker of fresh SQLite databases."""
    with quick_folder("creekledger-sqlite-") as folder, sqlite_databases(folder) as make:
        yield make


@pytest.fixture(scope="session")
def postgresql_maker(tmp_path_factory):
    """Give a maker of fresh databases on a PostgreSQL server that runs while the tests do."""
    # The server's package asks for the user's run-time folder, which a build machine does not have.
    os.environ.setdefault("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("runtime")))
    with postgresql_databases() as make:
        yield make


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request):
    """Give the address of a fresh database; every test that asks for it runs on both engines."""
    maker = request.getfixturevalue(f"{request.param}_maker")
    url = maker()
    yield url
    maker.let_go(url)


class Clock:
    """A clock that stands still until it is set."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        """Give the time it stands at."""
        return self.at

    def forward(self, **by: float) -> None:
        """Set it on by a timedelta's parts."""
        self.at += timedelta(**by)


@pytest.fixture
def clock():
    """Give a clock that stands at the sample season's last moment."""
    return Clock(datetime(2028, 7, 14, 2, 0, tzinfo=UTC))


@pytest.fixture
def store(database_url, clock):
    """Give a store on a fresh database."""
    engine = open_engine(database_url)
    yield Store(engine, clock)
    engine.dispose()


@pytest.fixture
def cheap_hashes(monkeypatch):
    """Hash passwords cheaply: at full cost each takes 64 MB and a tenth of a second, and is tested elsewhere."""
    hasher = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(accounts, "HASHER", hasher)


@pytest.fixture
def served(store, tmp_path, cheap_hashes):
    """Give an app on a store with the builders' permit and trip, and one account per role."""
    with_season(store, tmp_path)
    with_accounts(store)
    return app_on(store, tmp_path)


@pytest.fixture
def client(served, store):
    """Give a maker of clients: signed in as a role, or as nobody."""
    opened = []

    def make(role: str = ""):
        one = client_of(served, store, role)
        opened.append(one)
        return one

    yield make
    for one in opened:
        one.close()
