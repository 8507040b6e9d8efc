"""Reading the audit chain, and holding it against itself."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sqlmodel import col, select

from api.entities.audit import AuditEntry
from api.store.audit import Broken, first_broken
from api.store.unit_of_work import Store

_HASH = re.compile("[0-9a-f]{64}")


class NoHashError(ValueError):
    """A text is no hash of an audit entry; carries it."""

    def __init__(self, given: str) -> None:
        self.given = given
        super().__init__(
            f"'{given[:80]}' is no hash of an audit entry; give the 64 signs (0-9, a-f) that a filed report "
            "prints at the foot of its pages after 'Audit entry'"
        )


@dataclass(frozen=True, slots=True)
class Anchored:
    """How the chain stands to a hash from outside. ``entry`` is the number of the entry that bears it, None for none.

    An entry is worth what the chain before it is: ``holds`` asks that everything up to it stands.
    """

    stood: int
    broken: Broken | None
    entry: int | None

    @property
    def holds(self) -> bool:
        """Whether the chain holds that entry, and stands up to it."""
        return self.entry is not None and self.entry <= self.stood


def verify_chain(store: Store) -> tuple[int, Broken | None]:
    """Give how many entries stand as they were written, and the first that does not (None: all do)."""
    with store.reading() as session:
        return first_broken(session)


def anchored(store: Store, mark: str) -> Anchored:
    """Hold the chain against itself and against the hash of an entry as an issued report prints it.

    Raises NoHashError for a text that is no such hash.
    """
    clean = "".join(mark.split()).lower()
    if not _HASH.fullmatch(clean):
        raise NoHashError(mark)
    with store.reading() as session:
        stood, broken = first_broken(session)
        entry = session.exec(select(AuditEntry.seq).where(AuditEntry.hash == clean)).first()
    return Anchored(stood, broken, entry)


def entries(store: Store, *, before: int = 0, limit: int = 100, subject: str = "") -> list[AuditEntry]:
    """Give entries, newest first; ``before`` (a number) goes on from a page, ``subject`` narrows to one record."""
    query = select(AuditEntry).order_by(col(AuditEntry.seq).desc()).limit(limit)
    if before:
        query = query.where(col(AuditEntry.seq) < before)
    if subject:
        query = query.where(col(AuditEntry.subject) == subject)
    with store.reading() as session:
        return list(session.exec(query).all())
