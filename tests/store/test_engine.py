"""Taking up SQLite's write-ahead log while another process has the file to itself.

The switch to WAL "must be able to obtain an exclusive lock" and does not wait as other statements do
(sqlite.org/pragma.html, journal_mode; sqlite.org/wal.html): without waiting, a second server started at once failed.
"""

from __future__ import annotations

import sqlite3
import threading

import pytest
from sqlalchemy.exc import OperationalError

from api.store import engine as engines
from api.store.engine import open_engine


@pytest.fixture
def taken(tmp_path):
    """Give a new file that somebody writes to just now, and their connection."""
    path = tmp_path / "season.sqlite"
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN EXCLUSIVE")
    other.execute("CREATE TABLE theirs (id INTEGER)")
    yield path, other
    other.close()


def test_whoever_comes_while_the_file_is_taken_waits_for_it(taken):
    path, other = taken
    release = threading.Timer(0.4, lambda: other.execute("COMMIT"))
    release.start()
    engine = open_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("SELECT count(*) FROM theirs").scalar() == 0
    release.join()
    engine.dispose()


def test_nobody_waits_for_ever(taken, monkeypatch):
    path, _ = taken
    monkeypatch.setattr(engines, "_BUSY_MS", 200)
    engine = open_engine(f"sqlite:///{path}")
    with pytest.raises(OperationalError, match="database is locked"), engine.connect():
        pass
    engine.dispose()
