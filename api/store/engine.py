"""Engines for SQLite and PostgreSQL that behave alike: durable commits, foreign keys, one snapshot a reading.

SQLite: write-ahead log, ``synchronous=FULL``, foreign keys on; a writing transaction takes its lock at once
(BEGIN IMMEDIATE), so that two writers wait for each other and neither fails halfway; a reading one cannot write.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

WRITES = "creekledger_writes"
"""The execution option of a connection that is going to write."""

READS = "creekledger_reads"
"""The execution option of a connection that must not write."""

REBUILDS = "creekledger_rebuilds"
"""The execution option of a connection that makes tables anew, during which SQLite cannot hold foreign keys."""

_BUSY_MS = 30_000
_PAUSE_S = 0.02
_PRAGMAS = ("synchronous=FULL", "foreign_keys=ON", "recursive_triggers=ON")


def open_engine(url: str) -> Engine:
    """Open an engine on a database address ("sqlite:///PATH" or "postgresql+psycopg://...")."""
    if url.startswith("sqlite"):
        engine = create_engine(url, connect_args={"timeout": _BUSY_MS / 1000, "check_same_thread": False})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    return create_engine(url, pool_pre_ping=True, pool_size=10, max_overflow=10)


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver's own transactions begin too late and too weakly; ours are begun by hand (see _begin_sqlite).
    connection.isolation_level = None
    cursor = connection.cursor()
    # With recursive triggers on, INSERT OR REPLACE meets the triggers of the row that it would remove.
    for pragma in (f"busy_timeout={_BUSY_MS}", *_PRAGMAS):
        cursor.execute(f"PRAGMA {pragma}")
    _take_up_wal(cursor)
    cursor.close()


def _take_up_wal(cursor: Any) -> None:
    """Bring the file to its write-ahead log, waiting for another process that does so just now.

    The switch needs the file to itself and fails at once where it has not, however long the busy timeout.
    """
    until = time.monotonic() + _BUSY_MS / 1000
    while True:
        try:
            cursor.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError:
            if time.monotonic() > until:
                raise
            time.sleep(_PAUSE_S)
        else:
            return


def _begin_sqlite(connection: Connection) -> None:
    options = connection.get_execution_options()
    # Both are set each time: a connection comes back from the pool as its last user left it.
    connection.exec_driver_sql(f"PRAGMA query_only={'ON' if options.get(READS, False) else 'OFF'}")
    connection.exec_driver_sql(f"PRAGMA foreign_keys={'OFF' if options.get(REBUILDS, False) else 'ON'}")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get(WRITES, False) else "BEGIN")


_locks: dict[str, threading.Lock] = {}
_locks_guard = threading.Lock()


def write_lock(engine: Engine) -> threading.Lock:
    """Give the lock that a process's writers to one SQLite file share.

    The database's own lock makes a waiting writer sleep in growing steps; a queue inside the process is fair
    and far quicker. Other processes still meet at the database's lock.
    """
    name = str(engine.url)
    with _locks_guard:
        return _locks.setdefault(name, threading.Lock())
