"""Reading the audit chain, and holding it against itself."""

from __future__ import annotations

from sqlmodel import col, select

from api.entities.audit import AuditEntry
from api.store.audit import Broken, first_broken
from api.store.unit_of_work import Store


def verify_chain(store: Store) -> tuple[int, Broken | None]:
    """Give how many entries stand as they were written, and the first that does not (None: all do)."""
    with store.reading() as session:
        return first_broken(session)


def entries(store: Store, *, before: int = 0, limit: int = 100, subject: str = "") -> list[AuditEntry]:
    """Give entries, newest first; ``before`` (a number) goes on from a page, ``subject`` narrows to one record."""
    query = select(AuditEntry).order_by(col(AuditEntry.seq).desc()).limit(limit)
    if before:
        query = query.where(col(AuditEntry.seq) < before)
    if subject:
        query = query.where(col(AuditEntry.subject) == subject)
    with store.reading() as session:
        return list(session.exec(query).all())
