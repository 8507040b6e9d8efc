"""New ids: UUIDv7 (RFC 9562), which sort by the time they were made. That time is never evidence of when."""

from __future__ import annotations

import uuid_utils


def new_id() -> str:
    """Give a new id as text."""
    return str(uuid_utils.uuid7())
