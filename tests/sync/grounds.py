"""Databases that are made anew for each seed: a permit, its people, and four phones that are enrolled."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, make_url, text

from api.operations.accounts import add_account
from api.operations.enrolments import enrol, make_enrolment
from api.operations.importing import import_files
from api.operations.sessions import Who
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store
from tests.builders import write_season
from tests.sync.logbook import ZONE
from tests.sync.verdicts import Before, before_of

BEGIN = datetime(2027, 8, 1, 2, 0, tzinfo=UTC)
PASSWORD = "four oars under one thwart"
PEOPLE = {"ann": "Ann Oake", "ben": "Ben Oake", "cat": "Cat Reed", "dan": "Dan Fell"}
"""Three with a phone in the creek, and a fourth whose phone is new at the end."""

_NO_TRIPS: dict[str, Any] = {"format": "creekledger trips 1", "zone": ZONE, "trips": [], "people": PEOPLE}


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A phone with its session."""

    who: Who
    token: str = field(repr=False)

    @property
    def person(self) -> str:
        """Give the id of the person whose phone it is."""
        return self.who.person

    @property
    def device(self) -> str:
        """Give the phone's own id."""
        return self.who.device


@dataclass(frozen=True, slots=True)
class Ground:
    """One database. ``renew`` makes it anew, as it was before any phone recorded anything."""

    url: str
    engine: Engine
    enrolled: tuple[Enrolled, ...]
    before: Before
    folder: Path
    _copy: Callable[[], None]

    def who(self, token: str) -> Who:
        """Give whose session a token is."""
        return next(one.who for one in self.enrolled if one.token == token)

    def renew(self) -> None:
        """Bring the database back to its beginning; nobody may have it open."""
        self.engine.dispose()
        self._copy()


def _set_up(url: str, folder: Path) -> tuple[tuple[Enrolled, ...], Before]:
    engine = open_engine(url)
    store = Store(engine, lambda: BEGIN)
    folder.mkdir(exist_ok=True)
    authority, trips = write_season(folder, trips=_NO_TRIPS)
    import_files(store, folder / "files", [authority], [trips], Actor())
    enrolled = []
    for person in PEOPLE:
        add_account(store, Actor(), person=person, login=f"{person}-login", password=PASSWORD, roles=("collector",))
        code = make_enrolment(store, Actor(), f"{person}-login").code
        signed = enrol(store, code, device_name=f"{person}'s phone", address="127.0.0.1")
        enrolled.append(Enrolled(signed.who, signed.token))
    before = before_of(store)
    engine.dispose()
    return tuple(enrolled), before


@contextmanager
def sqlite_ground(make: Callable[[], str], folder: Path) -> Iterator[Ground]:
    """Give a ground in an SQLite file."""
    pattern, url = make(), make()
    enrolled, before = _set_up(pattern, folder)
    source, target = (Path(str(make_url(one).database)) for one in (pattern, url))

    def copy() -> None:
        for part in ("-wal", "-shm"):
            target.with_name(target.name + part).unlink(missing_ok=True)
        shutil.copy(source, target)

    engine = open_engine(url)
    yield Ground(url, engine, enrolled, before, folder, copy)
    engine.dispose()


@contextmanager
def postgresql_ground(make: Callable[[], str], folder: Path) -> Iterator[Ground]:
    """Give a ground on a PostgreSQL server."""
    pattern, url = make(), make()
    enrolled, before = _set_up(pattern, folder)
    names = [make_url(one).database for one in (pattern, url)]
    keeper = create_engine(make_url(url).set(database="postgres"), isolation_level="AUTOCOMMIT")

    def copy() -> None:
        with keeper.connect() as connection:
            connection.execute(text(f"DROP DATABASE {names[1]} WITH (FORCE)"))
            connection.execute(text(f"CREATE DATABASE {names[1]} TEMPLATE {names[0]}"))

    engine = open_engine(url)
    yield Ground(url, engine, enrolled, before, folder, copy)
    engine.dispose()
    keeper.dispose()
