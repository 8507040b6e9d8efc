"""A trip bears where its crew stood as it began."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261126_arrival"
down_revision = "20261126_together"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the tables one step on."""
    op.create_table(
        "arrival",
        sa.Column("trip_id", sa.String(64), nullable=False),
        sa.Column("lat", sa.Float(), nullable=False),
        sa.Column("lon", sa.Float(), nullable=False),
        sa.Column("radius_m", sa.Float(), nullable=True),
        sa.Column("confidence", sa.Float(), nullable=False),
        sa.Column("source", sa.String(60), nullable=False),
        sa.CheckConstraint("confidence > 0 AND confidence < 1", name=op.f("ck_arrival_confidence_is_a_share")),
        sa.CheckConstraint("lat BETWEEN -90 AND 90", name=op.f("ck_arrival_lat_in_range")),
        sa.CheckConstraint("lon BETWEEN -180 AND 180", name=op.f("ck_arrival_lon_in_range")),
        sa.CheckConstraint("radius_m IS NULL OR radius_m >= 0", name=op.f("ck_arrival_radius_not_negative")),
        sa.CheckConstraint("radius_m BETWEEN -1e300 AND 1e300", name=op.f("ck_arrival_radius_m_finite")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_arrival_trip_id")),
        sa.PrimaryKeyConstraint("trip_id", name=op.f("pk_arrival")),
    )
