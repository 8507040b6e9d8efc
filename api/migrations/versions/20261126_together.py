"""Two versions of a line may be counted together, and a phone's newer version takes the place of its older one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261126_together"
down_revision = "20261125_photos"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the tables one step on."""
    with op.batch_alter_table("conflict", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_conflict_state_known"), type_="check")
        batch_op.create_check_constraint(
            batch_op.f("ck_conflict_state_known"),
            sa.text("state IN ('open', 'theirs', 'ours', 'both', 'followed')"),
        )
