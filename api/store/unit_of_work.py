"""One transaction a request: what is written, its audit entries and its receipts stand or fall together.

Writers stand in one line: each first takes the row of the audit head. Whoever reads sees one snapshot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Engine, insert
from sqlmodel import Session, SQLModel, select

from api.entities.audit import AuditEntry, AuditHead
from api.entities.sync import Change
from api.store.audit import next_entry
from api.store.engine import READS, WRITES, write_lock

Clock = Callable[[], datetime]

SYSTEM = "system"


def now() -> datetime:
    """Give the time of this machine, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Actor:
    """Who does something: a person's id (or "system"), and the phone it came from."""

    person: str = SYSTEM
    device: str = ""


@dataclass(slots=True)
class Work:
    """A transaction under way. Rows may be added to the session, or handed over in bulk with ``insert``."""

    session: Session
    head: AuditHead
    at: datetime
    actor: Actor
    _rows: dict[type[SQLModel], list[dict[str, Any]]] = field(default_factory=dict)
    # The head's row is written at ``flush``; till then its numbers go on here, or every query would write it.
    _last: tuple[int, str] = field(init=False)
    _changes: int = field(init=False)

    def __post_init__(self) -> None:
        self._last, self._changes = (self.head.seq, self.head.hash), self.head.changes

    def note(self, action: str, subject: str, content: Any = None) -> None:
        """Write an audit entry; ``content`` is any JSON value worth reading later, None for nothing ({})."""
        told = (action, subject, {} if content is None else content)
        entry = next_entry(self._last, self.at, self.actor.person, self.actor.device, told)
        self._last = entry["seq"], entry["hash"]
        self.insert(AuditEntry, entry)

    def changed(self, kind: str, record: str, version: int, trip: str = "") -> None:
        """Enter a change of the season, which phones pull and checks follow."""
        self._changes += 1
        row = {"seq": self._changes, "kind": kind, "record": record, "trip_id": trip, "version": version}
        self.insert(Change, {**row, "at": self.at})

    def insert(self, table: type[SQLModel], row: dict[str, Any]) -> None:
        """Hand over a new row; rows are written in bulk, in the order of their tables, at ``flush``."""
        self._rows.setdefault(table, []).append(row)

    def flush(self) -> None:
        """Write the rows handed over so far, tables that others refer to first."""
        self.head.seq, self.head.hash, self.head.changes = *self._last, self._changes
        self.session.flush()
        known = SQLModel.metadata.sorted_tables
        for table in sorted(self._rows, key=lambda one: known.index(one.__table__)):  # type: ignore[attr-defined]
            self.session.execute(insert(table), self._rows[table])
        self._rows.clear()


@dataclass(frozen=True, slots=True)
class Store:
    """A database with the clock that its entries are dated by."""

    engine: Engine
    clock: Clock = now
    shared: dict[str, Any] = field(default_factory=dict, compare=False)
    """What is read once and kept until it changes (see ``books.current_book``)."""

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open a session that sees one snapshot and writes nothing."""
        own: dict[str, Any] = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        options = {READS: True} if self._sqlite else own
        with self.engine.connect().execution_options(**options) as connection, Session(connection) as session:
            yield session

    @contextmanager
    def writing(self, actor: Actor) -> Iterator[Work]:
        """Open a transaction; it is committed at the end, and leaves nothing behind if anything fails."""
        with ExitStack() as stack:
            if self._sqlite:
                stack.enter_context(write_lock(self.engine))
            connection = stack.enter_context(self.engine.connect().execution_options(**{WRITES: True}))
            session = stack.enter_context(Session(connection, expire_on_commit=False))
            head = session.exec(select(AuditHead).where(AuditHead.id == 1).with_for_update()).one()
            work = Work(session, head, self.clock(), actor)
            yield work
            work.flush()
            session.commit()

    @property
    def _sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"
