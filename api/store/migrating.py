"""Bringing a database to the newest shape of its tables, and telling which shape it has."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from api.store.engine import REBUILDS, WRITES

_SCRIPTS = Path(__file__).resolve().parent.parent / "migrations"

_LOCK = 7_209_316_451
"""Whoever migrates on PostgreSQL holds the lock of this number, so that two servers started at once take turns."""


class NewerDatabaseError(RuntimeError):
    """The database was made by a newer version of the program; carries the step that is not known here."""

    def __init__(self, step: str) -> None:
        self.step = step
        super().__init__(f"the database is at step '{step}', which this version does not know; install a newer version")


class OrphanError(RuntimeError):
    """After a migration, rows would refer to rows that are not there; carries the tables they stand in."""

    def __init__(self, tables: tuple[str, ...]) -> None:
        self.tables = tables
        super().__init__(
            f"rows of {', '.join(tables)} would refer to rows that are missing, so the database was left as it was; "
            "bring it back from a backup, or tell the makers"
        )


def config_on(connection: Connection) -> Config:
    """Give the configuration of migrations on a connection."""
    config = _config()
    config.attributes["connection"] = connection
    return config


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    return config


def newest_step() -> str:
    """Give the name of the last step."""
    return ScriptDirectory.from_config(_config()).get_current_head() or ""


def step_of(engine: Engine) -> str:
    """Give the step a database is at, "" for an empty one."""
    with engine.connect() as connection:
        return _step_on(connection)


def _step_on(connection: Connection) -> str:
    return MigrationContext.configure(connection).get_current_revision() or ""


def migrate(engine: Engine, to: str = "head") -> str:
    """Bring a database to a step (the newest by default) in one transaction; gives the step it was at.

    Raises NewerDatabaseError for a database of a newer version, OrphanError where a step would leave rows that
    refer to nothing. If anything fails, the database stays as it was.
    """
    known = {one.revision for one in ScriptDirectory.from_config(_config()).walk_revisions()}
    options = {WRITES: True, REBUILDS: True}
    with engine.connect().execution_options(**options) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
        before = _step_on(connection)
        if before and before not in known:
            raise NewerDatabaseError(before)
        command.upgrade(config_on(connection), to)
        if engine.dialect.name == "sqlite" and _step_on(connection) != before:
            _refuse_orphans(connection)
    return before


def _refuse_orphans(connection: Connection) -> None:
    # SQLite cannot hold foreign keys while a table is made anew (its DROP TABLE would count as deleting every
    # row), so they are looked at once, at the end. Source: sqlite.org/lang_altertable.html, section 7.
    tables = {str(row[0]) for row in connection.exec_driver_sql("PRAGMA foreign_key_check")}
    if tables:
        raise OrphanError(tuple(sorted(tables)))
