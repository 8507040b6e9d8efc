"""Backups and restores, and opening the store that settings name."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import OperationalError

from api.settings import Settings
from api.store.audit import first_broken
from api.store.backups import BadBackupError, Saved, back_up
from api.store.backups import restore as take_in
from api.store.engine import open_engine
from api.store.migrating import migrate, step_of
from api.store.unit_of_work import Clock, Store, now


class NoStoreError(ValueError):
    """There is no record where one was looked for; carries the place."""

    def __init__(self, place: str) -> None:
        self.place = place
        super().__init__(
            f"there is no record in {place}; look at --data and --database, or make one: creekledger migrate"
        )


class StoreUnreachableError(ValueError):
    """A database does not answer, or lets nobody in; carries what it said."""

    def __init__(self, said: str) -> None:
        self.said = said
        super().__init__(f"the database cannot be reached ({said}); see that it runs, and look at its address")


def open_store(settings: Settings, clock: Clock = now) -> Store:
    """Open the store, with its tables brought to the newest step; makes the data folder where there is none.

    The folder is for the user alone: it holds the accounts. Raises StoreUnreachableError and what ``migrate`` raises.
    """
    _make_folder(settings)
    engine = open_engine(settings.database_url)
    try:
        with _reached():
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, clock)


@contextmanager
def opened(store: Store) -> Iterator[Store]:
    """Give a store for one command, and let go of its database at the end."""
    try:
        yield store
    finally:
        store.engine.dispose()


def existing_store(settings: Settings) -> Store:
    """Open a store that is there already: a misspelt folder is not taken for an empty record.

    Raises NoStoreError, and as ``open_store``.
    """
    file = settings.database_url.removeprefix("sqlite:///")
    if file != settings.database_url and not Path(file).is_file():
        raise NoStoreError(file)
    engine = open_engine(settings.database_url)
    try:
        with _reached():
            empty = not step_of(engine)
    finally:
        engine.dispose()
    if empty:
        raise NoStoreError("the database")
    return open_store(settings)


def _make_folder(settings: Settings) -> None:
    settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)


@contextmanager
def _reached() -> Iterator[None]:
    """Tell of a database that cannot be reached in one line."""
    try:
        yield
    except OperationalError as problem:
        raise StoreUnreachableError(str(problem.orig).strip().splitlines()[0]) from problem


def backup(settings: Settings, out: Path) -> Saved:
    """Write a backup of the store that settings name; raises NoStoreError and StoreUnreachableError."""
    with opened(existing_store(settings)) as store:
        return back_up(store, settings.files, out)


def restore(settings: Settings, archive: Path) -> Saved:
    """Take a backup into the empty store that settings name; its audit chain must stand."""
    _make_folder(settings)
    engine = open_engine(settings.database_url)
    with opened(Store(engine)) as store:
        with _reached():
            saved = take_in(archive, engine, settings.files)
        with store.reading() as session:
            _, broken = first_broken(session)
    if broken is not None:
        raise BadBackupError(f"the backup was taken in, but its audit chain is broken: {broken.what}")
    return saved
