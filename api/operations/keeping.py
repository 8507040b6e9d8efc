"""Backups and restores, and opening the store that settings name."""

from __future__ import annotations

from pathlib import Path

from api.settings import Settings
from api.store.audit import first_broken
from api.store.backups import BadBackupError, Saved, back_up
from api.store.backups import restore as take_in
from api.store.engine import open_engine
from api.store.migrating import migrate
from api.store.unit_of_work import Clock, Store, now


def open_store(settings: Settings, clock: Clock = now) -> Store:
    """Open the store, with its tables brought to the newest step; makes the data folder where there is none."""
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    migrate(engine)
    return Store(engine, clock)


def backup(settings: Settings, out: Path) -> Saved:
    """Write a backup of the store that settings name."""
    return back_up(open_store(settings), settings.files, out)


def restore(settings: Settings, archive: Path) -> Saved:
    """Take a backup into the empty store that settings name; its audit chain must stand."""
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    saved = take_in(archive, engine, settings.files)
    with Store(engine).reading() as session:
        _, broken = first_broken(session)
    if broken is not None:
        raise BadBackupError(f"the backup was taken in, but its audit chain is broken: {broken.what}")
    return saved
