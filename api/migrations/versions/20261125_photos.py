"""A photo shows a record once, and is whole only when all of it is here."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261125_photos"
down_revision = "20261125_hardening"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the tables one step on."""
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.create_unique_constraint(
            batch_op.f("uq_photo_sha256_of_kind_of_record"), ["sha256", "of_kind", "of_record"]
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_photo_whole_when_all_is_here"),
            sa.text("whole_at IS NULL OR (received = size AND shown_sha256 IS NOT NULL)"),
        )
