"""The audit chain: every entry holds the hash of the one before it, so that no change of the past goes unseen."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlmodel import Session, select

from api.entities.audit import AuditEntry, AuditHead
from api.exchange.canonical import canonical

_BATCH = 2000


def entry_hash(entry: AuditEntry) -> str:
    """Give the SHA-256 (hex) of an entry with the hash before it, over canonical JSON."""
    content = {
        "seq": entry.seq,
        "at": _time(entry.at),
        "actor": entry.actor,
        "device": entry.device,
        "action": entry.action,
        "subject": entry.subject,
        "content": entry.content,
        "previous": entry.previous,
    }
    return hashlib.sha256(canonical(content)).hexdigest()


def _time(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def next_entry(head: AuditHead, at: datetime, actor: str, device: str, told: tuple[str, str, Any]) -> AuditEntry:
    """Make the entry that follows the head, and move the head on; ``told`` is action, subject and content."""
    action, subject, content = told
    entry = AuditEntry(
        seq=head.seq + 1,
        at=at,
        actor=actor,
        device=device,
        action=action,
        subject=subject,
        content=canonical(content).decode("utf-8"),
        previous=head.hash,
        hash="",
    )
    entry.hash = entry_hash(entry)
    head.seq, head.hash = entry.seq, entry.hash
    return entry


@dataclass(frozen=True, slots=True)
class Broken:
    """The first entry that is not as it was written, and what is wrong with it."""

    seq: int
    what: str


def first_broken(session: Session) -> tuple[int, Broken | None]:
    """Hold the whole chain against itself: how many entries stand, and the first that was tampered with."""
    head = session.get_one(AuditHead, 1)
    stood, previous = 0, ""
    for entry in _entries(session):
        expected = stood + 1
        if entry.seq != expected:
            return stood, Broken(expected, f"entry {expected} is missing; entry {entry.seq} stands in its place")
        if entry.previous != previous:
            return stood, Broken(entry.seq, f"entry {entry.seq} does not follow the one before it")
        if entry_hash(entry) != entry.hash:
            return stood, Broken(entry.seq, f"entry {entry.seq} was altered")
        stood, previous = entry.seq, entry.hash
    if head.seq != stood:
        return stood, Broken(stood + 1, f"entry {stood + 1} and what followed are missing; {head.seq} were written")
    if head.hash != previous:
        return stood, Broken(stood, "the record of the last entry was altered")
    return stood, None


def _entries(session: Session) -> Iterable[AuditEntry]:
    query = select(AuditEntry).order_by(AuditEntry.seq).execution_options(yield_per=_BATCH)  # type: ignore[arg-type]
    return session.exec(query)
