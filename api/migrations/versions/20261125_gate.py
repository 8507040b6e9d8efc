"""Allotments, the gate, filed reports, photos."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261125_gate"
down_revision = "20261125_first"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the tables one step on."""
    op.create_table(
        "photo",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("of_kind", sa.String(10), nullable=False),
        sa.Column("of_record", sa.String(64), nullable=False),
        sa.Column("media_type", sa.String(40), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("received", sa.Integer(), nullable=False),
        sa.Column("shown_sha256", sa.String(64), nullable=True),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("begun_by", sa.String(64), nullable=False),
        sa.Column("whole_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("of_kind IN ('trip', 'haul', 'line')", name=op.f("ck_photo_of_kind_known")),
        sa.CheckConstraint("received >= 0 AND received <= size", name=op.f("ck_photo_received_within_size")),
        sa.CheckConstraint("size > 0", name=op.f("ck_photo_size_above_zero")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_photo_of_record"), ["of_record"], unique=False)
        batch_op.create_index(batch_op.f("ix_photo_sha256"), ["sha256"], unique=False)

    op.create_table(
        "allotment_pool",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("number", sa.String(64), nullable=False),
        sa.Column("label", sa.String(200), nullable=False),
        sa.Column("holder", sa.String(200), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("first_day", sa.String(10), nullable=False),
        sa.Column("unit", sa.String(12), nullable=False),
        sa.Column("room", sa.Float(), nullable=False),
        sa.Column("granted", sa.Float(), nullable=False),
        sa.CheckConstraint("granted >= 0 AND granted <= room", name=op.f("ck_allotment_pool_granted_within_room")),
        sa.CheckConstraint("room >= 0", name=op.f("ck_allotment_pool_room_not_negative")),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_allotment_pool_authority")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_allotment_pool")),
        sa.UniqueConstraint(
            "authority",
            "number",
            "label",
            "holder",
            "name",
            "first_day",
            name=op.f("uq_allotment_pool_authority_number_label_holder_name_first_day"),
        ),
    )
    op.create_table(
        "want",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("taxon", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("tank", sa.String(200), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.String(64), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("number >= 1", name=op.f("ck_want_number_at_least_one")),
        sa.ForeignKeyConstraint(["taxon"], ["taxon.id"], name=op.f("fk_want_taxon")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_want")),
    )
    with op.batch_alter_table("want", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_want_taxon"), ["taxon"], unique=False)

    op.create_table(
        "allotment",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("pool_id", sa.String(), nullable=False),
        sa.Column("trip_id", sa.String(), nullable=False),
        sa.Column("amount", sa.Float(), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("granted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("granted_by", sa.String(64), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.String(64), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.CheckConstraint("state IN ('open', 'returned', 'reclaimed')", name=op.f("ck_allotment_state_known")),
        sa.CheckConstraint("amount > 0", name=op.f("ck_allotment_amount_above_zero")),
        sa.ForeignKeyConstraint(["pool_id"], ["allotment_pool.id"], name=op.f("fk_allotment_pool_id")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_allotment_trip_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_allotment")),
        sa.UniqueConstraint("pool_id", "trip_id", name=op.f("uq_allotment_pool_id_trip_id")),
    )
    with op.batch_alter_table("allotment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_allotment_pool_id"), ["pool_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_allotment_trip_id"), ["trip_id"], unique=False)

    op.create_table(
        "filed_report",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("condition", sa.String(64), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("replaces", sa.String(), nullable=True),
        sa.Column("filing", sa.String(), nullable=False),
        sa.Column("snapshot_sha256", sa.String(64), nullable=False),
        sa.Column("pdf_sha256", sa.String(), nullable=False),
        sa.Column("unresolved", sa.JSON(), nullable=False),
        sa.Column("certified_name", sa.String(200), nullable=False),
        sa.Column("certified_title", sa.String(200), nullable=False),
        sa.Column("filed_by", sa.String(), nullable=False),
        sa.Column("filed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changes", sa.Text(), nullable=False),
        sa.CheckConstraint("(revision = 0) = (replaces IS NULL)", name=op.f("ck_filed_report_replaces_an_earlier_one")),
        sa.CheckConstraint("revision >= 0", name=op.f("ck_filed_report_revision_not_negative")),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_filed_report_authority")),
        sa.ForeignKeyConstraint(["filed_by"], ["person.id"], name=op.f("fk_filed_report_filed_by")),
        sa.ForeignKeyConstraint(["filing"], ["filing.id"], name=op.f("fk_filed_report_filing")),
        sa.ForeignKeyConstraint(["pdf_sha256"], ["document.sha256"], name=op.f("fk_filed_report_pdf_sha256")),
        sa.ForeignKeyConstraint(["replaces"], ["filed_report.id"], name=op.f("fk_filed_report_replaces")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_filed_report")),
        sa.UniqueConstraint("authority", "revision", name=op.f("uq_filed_report_authority_revision")),
    )
    with op.batch_alter_table("filed_report", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_filed_report_authority"), ["authority"], unique=False)

    op.create_table(
        "lot",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("line_id", sa.String(), nullable=False),
        sa.Column("taxon", sa.String(), nullable=False),
        sa.Column("authority", sa.String(), nullable=True),
        sa.Column("unit", sa.String(12), nullable=False),
        sa.Column("count_low", sa.Float(), nullable=False),
        sa.Column("count_best", sa.Float(), nullable=False),
        sa.Column("count_high", sa.Float(), nullable=False),
        sa.Column("count_exact", sa.JSON(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "0 <= count_low AND count_low <= count_best AND count_best <= count_high",
            name=op.f("ck_lot_count_in_order"),
        ),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_lot_authority")),
        sa.ForeignKeyConstraint(["line_id"], ["catch_line.id"], name=op.f("fk_lot_line_id")),
        sa.ForeignKeyConstraint(["taxon"], ["taxon.id"], name=op.f("fk_lot_taxon")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        sa.UniqueConstraint("line_id", name=op.f("uq_lot_line_id")),
    )
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lot_taxon"), ["taxon"], unique=False)

    op.create_table(
        "acquisition",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("lot_id", sa.String(), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("accession", sa.String(30), nullable=True),
        sa.Column("door_count", sa.Float(), nullable=True),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("decided_by", sa.String(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("onward", sa.String(200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(state = 'accepted') = (accession IS NOT NULL)", name=op.f("ck_acquisition_accession_when_accepted")
        ),
        sa.CheckConstraint(
            "state = 'waiting' OR decided_by IS NOT NULL", name=op.f("ck_acquisition_decided_by_somebody")
        ),
        sa.CheckConstraint(
            "state IN ('waiting', 'on hold', 'accepted', 'declined')", name=op.f("ck_acquisition_state_known")
        ),
        sa.ForeignKeyConstraint(["decided_by"], ["person.id"], name=op.f("fk_acquisition_decided_by")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_acquisition_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acquisition")),
        sa.UniqueConstraint("accession", name=op.f("uq_acquisition_accession")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_acquisition_lot_id")),
    )
    with op.batch_alter_table("acquisition", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_acquisition_state"), ["state"], unique=False)
