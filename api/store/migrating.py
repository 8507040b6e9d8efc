"""Bringing a database to the newest shape of its tables, and telling which shape it has."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from api.store.engine import WRITES

_SCRIPTS = Path(__file__).resolve().parent.parent / "migrations"


class NewerDatabaseError(RuntimeError):
    """The database was made by a newer version of the program; carries the step that is not known here."""

    def __init__(self, step: str) -> None:
        self.step = step
        super().__init__(f"the database is at step '{step}', which this version does not know; install a newer version")


def config_on(connection: Connection) -> Config:
    """Give the configuration of migrations on a connection."""
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS))
    config.attributes["connection"] = connection
    return config


def newest_step() -> str:
    """Give the name of the last step."""
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS))
    return ScriptDirectory.from_config(config).get_current_head() or ""


def step_of(engine: Engine) -> str:
    """Give the step a database is at, "" for an empty one."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() or ""


def migrate(engine: Engine, to: str = "head") -> str:
    """Bring a database to a step (the newest by default) in one transaction; gives the step it was at.

    Raises NewerDatabaseError for a database of a newer version.
    """
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS))
    known = {one.revision for one in ScriptDirectory.from_config(config).walk_revisions()}
    before = step_of(engine)
    if before and before not in known:
        raise NewerDatabaseError(before)
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        command.upgrade(config_on(connection), to)
    return before
