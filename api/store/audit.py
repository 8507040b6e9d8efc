"""The audit chain: every entry holds the hash of the one before it, so that no change of the past goes unseen.

What is held against the hash is what the database has stored, letter by letter: a value that merely reads the
same (a time with another separator, a number where text stood) counts as altered. What a chain cannot show is
that everything from some entry to the end was written anew, head and all; for that, the last hash has to be
known from elsewhere, such as an issued report.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Generator, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import ColumnElement, Integer, LargeBinary, case, cast, func
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from api.entities.audit import AuditEntry, AuditHead
from api.entities.sync import Change
from api.exchange.canonical import canonical

_BATCH = 2000
_TEXTS = ("actor", "device", "action", "subject", "content", "previous", "hash")
_HASHED = ("seq", *_TEXTS[:-1])

_STORED_TIME = re.compile("([0-9]{4}-[0-9]{2}-[0-9]{2}) ([0-9]{2}:[0-9]{2}:[0-9]{2}[.][0-9]{6})")
"""A moment as SQLite keeps it, and as PostgreSQL is asked to write it."""


def entry_hash(entry: AuditEntry) -> str:
    """Give the SHA-256 (hex) of an entry with the hash before it, over canonical JSON."""
    at = entry.at.astimezone(UTC).isoformat(timespec="microseconds")
    return _hash({name: getattr(entry, name) for name in _HASHED}, at)


def _hash(told: Mapping[str, Any], at: str) -> str:
    return hashlib.sha256(canonical({"at": at, **{name: told[name] for name in _HASHED}})).hexdigest()


def next_entry(
    head: tuple[int, str], at: datetime, actor: str, device: str, told: tuple[str, str, Any]
) -> dict[str, Any]:
    """Make the row of the entry that follows the last one (its number and hash); ``told`` is action, subject, content."""
    action, subject, content = told
    seq, previous = head
    row = {
        "seq": seq + 1,
        "at": at,
        "actor": actor,
        "device": device,
        "action": action,
        "subject": subject,
        "content": canonical(content).decode("utf-8"),
        "previous": previous,
    }
    return {**row, "hash": _hash(row, at.astimezone(UTC).isoformat(timespec="microseconds"))}


@dataclass(frozen=True, slots=True)
class Broken:
    """The first entry that is not as it was written, and what is wrong with it."""

    seq: int
    what: str


def first_broken(session: Session) -> tuple[int, Broken | None]:
    """Hold the whole chain against itself: how many entries stand, and the first that was tampered with.

    Ask in a reading session: in a transaction that writes, entries may still wait to be written.
    """
    stood, previous = 0, ""
    with closing(_entries(session)) as entries:
        for stored in entries:
            wrong = _wrong(stored, stood + 1, previous)
            if wrong:
                return stood, Broken(stood + 1, wrong)
            stood, previous = stored["seq"], _text(stored["hash"]) or ""
    return stood, _wrong_at_head(session, stood, previous) or _before_the_first(session)


def _wrong(stored: Mapping[str, Any], expected: int, previous: str) -> str:
    """Tell what is wrong with the entry at a place, "" for nothing."""
    if stored["seq"] != expected:
        return f"entry {expected} is missing; entry {stored['seq']} stands in its place"
    told: dict[str, Any] = {"seq": expected, **{name: _text(stored[name]) for name in _TEXTS}}
    time = _STORED_TIME.fullmatch(_text(stored["at"]) or "")
    if time is None or None in told.values():
        return f"entry {expected} was altered: it holds what was never written there"
    if told["previous"] != previous:
        return f"entry {expected} does not follow the one before it"
    if _hash(told, f"{time[1]}T{time[2]}+00:00") != told["hash"]:
        return f"entry {expected} was altered"
    return ""


def _wrong_at_head(session: Session, stood: int, previous: str) -> Broken | None:
    """Hold the record of the last entry, and of the last change, against what stands."""
    heads = session.execute(select_columns(*_raw(session, AuditHead, "seq", "hash", "changes"))).mappings().all()
    if len(heads) != 1:
        return Broken(stood, "the record of the last entry is missing")
    seq, mark, changes = heads[0]["seq"], _text(heads[0]["hash"]), heads[0]["changes"]
    if seq is None or mark is None:
        return Broken(stood, "the record of the last entry was altered")
    if seq > stood:
        return Broken(stood + 1, f"entry {stood + 1} and what followed are missing; {seq} were written")
    if seq < stood and mark == _hash_at(session, seq):
        return Broken(seq + 1, f"entry {seq + 1} stands behind the last one that was written")
    if seq != stood or mark != previous:
        return Broken(stood, "the record of the last entry was altered")
    number = col(Change.seq)
    last, found = session.execute(select_columns(func.max(number), func.count()).where(number > 0)).one()
    if not changes == (last or 0) == found:
        return Broken(stood, f"the record of the last change says {changes}, but {found} stand, up to {last or 0}")
    return None


def _before_the_first(session: Session) -> Broken | None:
    stray = session.exec(select(func.min(col(AuditEntry.seq))).where(col(AuditEntry.seq) < 1)).one()
    return None if stray is None else Broken(stray, f"entry {stray} stands before the first")


def _hash_at(session: Session, seq: int) -> str:
    return session.exec(select(AuditEntry.hash).where(AuditEntry.seq == seq)).first() or ""


def _entries(session: Session) -> Generator[Mapping[str, Any], None, None]:
    """Give the entries in their order as they are stored."""
    seq = col(AuditEntry.seq)
    query = select_columns(*_raw(session, AuditEntry, "seq", "at", *_TEXTS)).where(seq > 0).order_by(seq)
    with session.execute(query, execution_options={"yield_per": _BATCH}) as found:
        for row in found.mappings():
            yield dict(row)


def _raw(session: Session, table: type[AuditEntry | AuditHead], *names: str) -> Iterator[ColumnElement[Any]]:
    """Give columns such that nothing stored is smoothed away in reading; NULL for what is of another type.

    SQLite keeps any type in any column and any bytes as text, and its driver reads times generously.
    """
    sqlite = session.get_bind().dialect.name == "sqlite"
    for name in names:
        column: Any = col(getattr(table, name))
        whole = isinstance(column.type, Integer)
        if sqlite and whole:
            yield case((func.typeof(column) == "integer", column)).label(name)
        elif sqlite:
            yield case((func.typeof(column) == "text", cast(column, LargeBinary))).label(name)
        elif name == "at":
            written = func.to_char(func.timezone("UTC", column), "YYYY-MM-DD HH24:MI:SS.US AD")
            yield func.replace(written, " AD", "").label(name)
        else:
            yield column


def _text(stored: Any) -> str | None:
    """Give stored text; None where it is none, or bytes that are no UTF-8."""
    try:
        return stored.decode("utf-8") if isinstance(stored, bytes) else stored
    except UnicodeDecodeError:
        return None
