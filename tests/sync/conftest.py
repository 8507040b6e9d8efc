"""Grounds for the simulation, one on each engine, set up once and made anew for each seed."""

from __future__ import annotations

import pytest
import structlog
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from api.operations import accounts
from tests.sync.grounds import postgresql_ground, sqlite_ground
from tests.sync.killed_server import Launcher


@pytest.fixture(scope="session")
def _cheap():
    """Hash passwords cheaply while the grounds are set up: at full cost each takes a tenth of a second."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(accounts, "HASHER", PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),)))
        yield


@pytest.fixture(autouse=True)
def _no_log():
    """Write no line for each of the many requests."""
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory())
    yield
    structlog.reset_defaults()


@pytest.fixture(scope="session")
def sqlite(sqlite_maker, tmp_path_factory, _cheap):
    """Give a ground in an SQLite file."""
    with sqlite_ground(sqlite_maker, tmp_path_factory.mktemp("sync-sqlite")) as ground:
        yield ground


@pytest.fixture(scope="session")
def postgresql(postgresql_maker, tmp_path_factory, _cheap):
    """Give a ground on a PostgreSQL server."""
    with postgresql_ground(postgresql_maker, tmp_path_factory.mktemp("sync-postgresql")) as ground:
        yield ground


@pytest.fixture(scope="session")
def launcher():
    """Give the process that starts servers."""
    one = Launcher()
    yield one
    one.stop()
