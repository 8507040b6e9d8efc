"""What a record said in an earlier version, read from the audit trail of its amendments."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlmodel import Session, col, select

from api.entities.audit import AuditEntry
from api.store.shelf import Held


def content_then(session: Session, held: Held, now: Mapping[str, Any], version: int) -> dict[str, Any] | None:
    """Give a record as it stood in ``version``, from what it says ``now`` and every amendment since.

    None where the trail does not reach back so far, as for what came with a file. What was written in this
    transaction has to be flushed.
    """
    query = (
        select(AuditEntry.content)
        .where(AuditEntry.subject == f"{held.kind} {held.id}", AuditEntry.action == f"{held.kind} amended")
        .order_by(col(AuditEntry.seq).desc())
    )
    told = dict(now)
    stood = held.version
    for text in session.exec(query):
        if stood <= version:
            break
        amendment = json.loads(text)
        if amendment.get("version") != stood:
            return None
        for name, (before, _after) in amendment["changes"].items():
            told[name] = before
        stood -= 1
    return {name: value for name, value in told.items() if value is not None} if stood == version else None
