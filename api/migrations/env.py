"""Runs migrations on the connection handed over by ``api.store.migrating``; there is no other way in."""

from __future__ import annotations

from typing import Any, Literal

from alembic import context
from sqlmodel import SQLModel
from sqlmodel.sql.sqltypes import AutoString

import api.entities  # noqa: F401 - registers the tables
from api.entities.columns import Exact, Instant, Words


def _plain(kind: str, item: Any, _autogen: Any) -> str | Literal[False]:
    """Write column types as the database has them: a migration must not change when the code does."""
    if kind != "type":
        return False
    if isinstance(item, Instant):
        return "sa.DateTime(timezone=True)"
    if isinstance(item, Words):
        return "sa.JSON()"
    if isinstance(item, Exact):
        return "sa.String(64)"
    return f"sa.String({item.length or ''})" if isinstance(item, AutoString) else False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    compare_type=True,
    render_item=_plain,
)
context.run_migrations()
