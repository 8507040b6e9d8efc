"""Taking up SQLite's write-ahead log while another process does the same.

Of two connections that switch one file at once, the one that would wait for the other is refused at once, however long
its busy timeout: SQLite calls no busy handler where that might be a deadlock (sqlite.org/c3ref/busy_handler.html).
Two servers started together on a new file met it about once in ten starts; that is test_migrations' to hold.
"""

from __future__ import annotations

import sqlite3

import pytest

from api.store import engine as engines


class Refused:
    """A cursor whose switch is refused so many times, as SQLite refuses it."""

    def __init__(self, cursor: sqlite3.Cursor, times: int) -> None:
        self.cursor, self.times = cursor, times

    def execute(self, statement: str) -> None:
        if self.times > 0:
            self.times -= 1
            raise sqlite3.OperationalError("database is locked")
        self.cursor.execute(statement)


@pytest.fixture
def cursor(tmp_path):
    connection = sqlite3.connect(tmp_path / "season.sqlite")
    yield connection.cursor()
    connection.close()


def test_a_switch_that_was_refused_is_tried_again(cursor):
    refused = Refused(cursor, times=3)
    engines._take_up_wal(refused)
    assert refused.times == 0
    assert cursor.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_nobody_waits_for_ever(cursor, monkeypatch):
    monkeypatch.setattr(engines, "_BUSY_MS", 100)
    with pytest.raises(sqlite3.OperationalError, match="database is locked"):
        engines._take_up_wal(Refused(cursor, times=10**6))
