"""The first tables of the server."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261125_first"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Bring the tables one step on."""
    op.create_table(
        "area",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("edge_tolerance_m", sa.Float(), nullable=False),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("drawn", sa.String(200), nullable=False),
        sa.Column("datum", sa.String(200), nullable=False),
        sa.Column("geometry", sa.JSON(), nullable=False),
        sa.CheckConstraint("edge_tolerance_m >= 0", name=op.f("ck_area_tolerance_not_negative")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area")),
        sa.UniqueConstraint("place", name=op.f("uq_area_place")),
    )
    op.create_table(
        "audit_entry",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(64), nullable=False),
        sa.Column("device", sa.String(64), nullable=False),
        sa.Column("action", sa.String(60), nullable=False),
        sa.Column("subject", sa.String(160), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_audit_entry")),
        sa.UniqueConstraint("hash", name=op.f("uq_audit_entry_hash")),
    )
    with op.batch_alter_table("audit_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_audit_entry_actor"), ["actor"], unique=False)
        batch_op.create_index(batch_op.f("ix_audit_entry_subject"), ["subject"], unique=False)

    op.create_table(
        "audit_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("changes", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_audit_head_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_head")),
    )
    op.create_table(
        "authority",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("number", sa.String(200), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("issuer", sa.String(200), nullable=False),
        sa.Column("holder", sa.String(200), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("first_day", sa.String(10), nullable=False),
        sa.Column("last_day", sa.String(10), nullable=False),
        sa.CheckConstraint(
            "kind IN ('collecting permit', 'fishing licence', 'consent', 'other')", name=op.f("ck_authority_kind_known")
        ),
        sa.CheckConstraint("first_day <= last_day", name=op.f("ck_authority_days_in_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_authority")),
        sa.UniqueConstraint("place", name=op.f("uq_authority_place")),
    )
    op.create_table(
        "change",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("record", sa.String(64), nullable=False),
        sa.Column("trip_id", sa.String(64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_change")),
    )
    with op.batch_alter_table("change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_change_record"), ["record"], unique=False)
        batch_op.create_index(batch_op.f("ix_change_trip_id"), ["trip_id"], unique=False)

    op.create_table(
        "correction",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("record", sa.String(64), nullable=False),
        sa.Column("field", sa.String(60), nullable=False),
        sa.Column("old", sa.Text(), nullable=False),
        sa.Column("new", sa.Text(), nullable=False),
        sa.Column("by", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_correction")),
        sa.UniqueConstraint("place", name=op.f("uq_correction_place")),
    )
    with op.batch_alter_table("correction", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_correction_record"), ["record"], unique=False)

    op.create_table(
        "document",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("media_type", sa.String(100), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_by", sa.String(64), nullable=False),
        sa.CheckConstraint("size >= 0", name=op.f("ck_document_size_not_negative")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_document")),
    )
    op.create_table(
        "failed_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("subject", sa.String(200), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failed_try")),
    )
    with op.batch_alter_table("failed_try", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_failed_try_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_failed_try_subject"), ["subject"], unique=False)

    op.create_table(
        "organisation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("own_catch_approved", sa.Boolean(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_organisation_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_organisation")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("left_on", sa.String(10), nullable=True),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )
    op.create_table(
        "receipt",
        sa.Column("operation_id", sa.String(64), nullable=False),
        sa.Column("device_id", sa.String(64), nullable=False),
        sa.Column("person_id", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("record", sa.String(64), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("answer", sa.String(10), nullable=False),
        sa.Column("problems", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("answer IN ('stored', 'refused', 'conflict')", name=op.f("ck_receipt_answer_known")),
        sa.PrimaryKeyConstraint("operation_id", name=op.f("pk_receipt")),
    )
    with op.batch_alter_table("receipt", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_receipt_device_id"), ["device_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_receipt_record"), ["record"], unique=False)

    op.create_table(
        "site",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
    )
    op.create_table(
        "taxon",
        sa.Column("id", sa.String(200), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("rank", sa.String(20), nullable=False),
        sa.Column("parent_id", sa.String(), nullable=True),
        sa.Column("common", sa.String(200), nullable=False),
        sa.Column("origin", sa.String(20), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "rank IN ('species', 'genus', 'family', 'order', 'class', 'phylum', 'kingdom', 'subspecies', 'group', 'material')",
            name=op.f("ck_taxon_rank_known"),
        ),
        sa.ForeignKeyConstraint(["parent_id"], ["taxon.id"], name=op.f("fk_taxon_parent_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_taxon")),
        sa.UniqueConstraint("place", name=op.f("uq_taxon_place")),
    )
    op.create_table(
        "account",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("login", sa.String(64), nullable=False),
        sa.Column("password_hash", sa.String(300), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_account_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("login", name=op.f("uq_account_login")),
        sa.UniqueConstraint("person_id", name=op.f("uq_account_person_id")),
    )
    op.create_table(
        "authority_document",
        sa.Column("authority_id", sa.String(64), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.ForeignKeyConstraint(["authority_id"], ["authority.id"], name=op.f("fk_authority_document_authority_id")),
        sa.ForeignKeyConstraint(["sha256"], ["document.sha256"], name=op.f("fk_authority_document_sha256")),
        sa.PrimaryKeyConstraint("authority_id", "sha256", name=op.f("pk_authority_document")),
    )
    op.create_table(
        "authority_role",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority_id", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("first_day", sa.String(10), nullable=False),
        sa.Column("last_day", sa.String(10), nullable=False),
        sa.Column("qualifications", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "role IN ('holder', 'deputy', 'named', 'assistant', 'student', 'observer')",
            name=op.f("ck_authority_role_role_known"),
        ),
        sa.ForeignKeyConstraint(["authority_id"], ["authority.id"], name=op.f("fk_authority_role_authority_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_authority_role_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_authority_role")),
        sa.UniqueConstraint(
            "authority_id", "version", "place", name=op.f("uq_authority_role_authority_id_version_place")
        ),
    )
    with op.batch_alter_table("authority_role", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_authority_role_authority_id"), ["authority_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_authority_role_person_id"), ["person_id"], unique=False)

    op.create_table(
        "authority_version",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority_id", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("terms", sa.JSON(), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("keyed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("keyed_by", sa.String(64), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["authority_id"], ["authority.id"], name=op.f("fk_authority_version_authority_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_authority_version")),
        sa.UniqueConstraint("authority_id", "number", name=op.f("uq_authority_version_authority_id_number")),
    )
    with op.batch_alter_table("authority_version", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_authority_version_authority_id"), ["authority_id"], unique=False)

    op.create_table(
        "conflict",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("operation_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("record", sa.String(64), nullable=False),
        sa.Column("based_on", sa.Integer(), nullable=True),
        sa.Column("stands", sa.Text(), nullable=False),
        sa.Column("offered", sa.Text(), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("settled_by", sa.String(64), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.CheckConstraint("state IN ('open', 'theirs', 'ours')", name=op.f("ck_conflict_state_known")),
        sa.ForeignKeyConstraint(["operation_id"], ["receipt.operation_id"], name=op.f("fk_conflict_operation_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_conflict")),
        sa.UniqueConstraint("operation_id", name=op.f("uq_conflict_operation_id")),
    )
    with op.batch_alter_table("conflict", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_conflict_record"), ["record"], unique=False)

    op.create_table(
        "device",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("enrolled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_seen_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("clock_fast_s", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_device_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
    )
    with op.batch_alter_table("device", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_device_person_id"), ["person_id"], unique=False)

    op.create_table(
        "filing",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("condition", sa.String(64), nullable=False),
        sa.Column("filed", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(64), nullable=False),
        sa.Column("covers", sa.String(200), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=True),
        sa.Column("proof", sa.String(200), nullable=False),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_filing_authority")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_filing")),
    )
    with op.batch_alter_table("filing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_filing_authority"), ["authority"], unique=False)

    op.create_table(
        "incident",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("about", sa.JSON(), nullable=False),
        sa.Column("to", sa.String(200), nullable=False),
        sa.Column("told", sa.DateTime(timezone=True), nullable=True),
        sa.Column("channel", sa.String(60), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_incident_authority")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_incident")),
    )
    with op.batch_alter_table("incident", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_incident_authority"), ["authority"], unique=False)

    op.create_table(
        "issued_name",
        sa.Column("taxon_id", sa.String(200), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_issued_name_taxon_id")),
        sa.PrimaryKeyConstraint("taxon_id", name=op.f("pk_issued_name")),
    )
    op.create_table(
        "notice",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("trip", sa.String(64), nullable=False),
        sa.Column("to", sa.String(200), nullable=False),
        sa.Column("sent", sa.DateTime(timezone=True), nullable=False),
        sa.Column("channel", sa.String(60), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("proof", sa.String(200), nullable=False),
        sa.Column("cancels", sa.Boolean(), nullable=False),
        sa.Column("replied", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_notice_authority")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
    )
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_authority"), ["authority"], unique=False)
        batch_op.create_index(batch_op.f("ix_notice_trip"), ["trip"], unique=False)

    op.create_table(
        "shared_total",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("condition", sa.String(64), nullable=False),
        sa.Column("as_of", sa.DateTime(timezone=True), nullable=False),
        sa.Column("total_low", sa.Float(), nullable=False),
        sa.Column("total_best", sa.Float(), nullable=False),
        sa.Column("total_high", sa.Float(), nullable=False),
        sa.Column("total_exact", sa.JSON(), nullable=True),
        sa.CheckConstraint(
            "0 <= total_low AND total_low <= total_best AND total_best <= total_high",
            name=op.f("ck_shared_total_total_in_order"),
        ),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_shared_total_authority")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shared_total")),
        sa.UniqueConstraint(
            "authority", "condition", "as_of", "place", name=op.f("uq_shared_total_authority_condition_as_of_place")
        ),
    )
    op.create_table(
        "taxon_synonym",
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("taxon_id", sa.String(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_taxon_synonym_taxon_id")),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_taxon_synonym")),
    )
    with op.batch_alter_table("taxon_synonym", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_taxon_synonym_taxon_id"), ["taxon_id"], unique=False)

    op.create_table(
        "trip",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("leader", sa.String(), nullable=False),
        sa.Column("authority", sa.String(), nullable=True),
        sa.Column("may_stand_under", sa.JSON(), nullable=False),
        sa.Column("status", sa.String(12), nullable=False),
        sa.Column("depart", sa.DateTime(timezone=True), nullable=True),
        sa.Column("back", sa.DateTime(timezone=True), nullable=True),
        sa.Column("papers", sa.JSON(), nullable=True),
        sa.Column("paper_record", sa.Boolean(), nullable=False),
        sa.Column("clock_fast_s", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("status IN ('planned', 'open', 'closed', 'cancelled')", name=op.f("ck_trip_status_known")),
        sa.CheckConstraint("depart IS NULL OR back IS NULL OR depart <= back", name=op.f("ck_trip_back_after_depart")),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_trip_authority")),
        sa.ForeignKeyConstraint(["leader"], ["person.id"], name=op.f("fk_trip_leader")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trip")),
        sa.UniqueConstraint("code", name=op.f("uq_trip_code")),
    )
    with op.batch_alter_table("trip", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_trip_authority"), ["authority"], unique=False)
        batch_op.create_index(batch_op.f("ix_trip_depart"), ["depart"], unique=False)
        batch_op.create_index(batch_op.f("ix_trip_leader"), ["leader"], unique=False)

    op.create_table(
        "account_role",
        sa.Column("account_id", sa.String(64), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.CheckConstraint(
            "role IN ('collector', 'curator', 'administrator', 'inspector')", name=op.f("ck_account_role_role_known")
        ),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_account_role_account_id")),
        sa.PrimaryKeyConstraint("account_id", "role", name=op.f("pk_account_role")),
    )
    op.create_table(
        "attestation",
        sa.Column("trip_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("authority", sa.String(), nullable=False),
        sa.Column("condition", sa.String(64), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept", sa.String(20), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.CheckConstraint("kept IN ('kept', 'not kept', 'did not arise')", name=op.f("ck_attestation_kept_known")),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_attestation_authority")),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_attestation_person")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_attestation_trip_id")),
        sa.PrimaryKeyConstraint("trip_id", "place", name=op.f("pk_attestation")),
    )
    op.create_table(
        "cleaning",
        sa.Column("trip_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("method", sa.String(200), nullable=False),
        sa.Column("minutes", sa.String(64), nullable=True),
        sa.Column("gear", sa.String(200), nullable=False),
        sa.Column("done", sa.Boolean(), nullable=False),
        sa.Column("person", sa.String(64), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("place >= 0", name=op.f("ck_cleaning_place_not_negative")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_cleaning_trip_id")),
        sa.PrimaryKeyConstraint("trip_id", "place", name=op.f("pk_cleaning")),
    )
    op.create_table(
        "enrolment",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("code_hash", sa.String(64), nullable=False),
        sa.Column("account_id", sa.String(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("device_id", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_enrolment_account_id")),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_enrolment_device_id")),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_enrolment_made_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enrolment")),
        sa.UniqueConstraint("code_hash", name=op.f("uq_enrolment_code_hash")),
    )
    op.create_table(
        "haul",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("trip_id", sa.String(), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("start", sa.DateTime(timezone=True), nullable=False),
        sa.Column("end", sa.DateTime(timezone=True), nullable=True),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("gear", sa.String(60), nullable=True),
        sa.Column("gear_length_mm", sa.String(64), nullable=True),
        sa.Column("gear_mesh_mm", sa.String(64), nullable=True),
        sa.Column("gear_opening_mm", sa.String(64), nullable=True),
        sa.Column("gear_number", sa.Integer(), nullable=True),
        sa.Column("gear_marked", sa.Boolean(), nullable=True),
        sa.Column("gear_tag", sa.String(60), nullable=True),
        sa.Column("site", sa.String(64), nullable=False),
        sa.Column("waterbody", sa.String(200), nullable=False),
        sa.Column("authority", sa.String(), nullable=True),
        sa.Column("also_under", sa.JSON(), nullable=False),
        sa.Column("person", sa.String(), nullable=True),
        sa.Column("lost", sa.Boolean(), nullable=False),
        sa.Column("swept_m", sa.String(64), nullable=True),
        sa.Column("in_sight", sa.Boolean(), nullable=True),
        sa.Column("device_start", sa.DateTime(timezone=True), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("kind IN ('haul', 'set')", name=op.f("ck_haul_kind_known")),
        sa.CheckConstraint('"end" IS NULL OR start <= "end"', name=op.f("ck_haul_end_after_start")),
        sa.CheckConstraint("gear_number IS NULL OR gear_number >= 1", name=op.f("ck_haul_gear_number_at_least_one")),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_haul_authority")),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_haul_person")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_haul_trip_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_haul")),
        sa.UniqueConstraint("code", name=op.f("uq_haul_code")),
    )
    with op.batch_alter_table("haul", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_haul_authority"), ["authority"], unique=False)
        batch_op.create_index(batch_op.f("ix_haul_site"), ["site"], unique=False)
        batch_op.create_index(batch_op.f("ix_haul_start"), ["start"], unique=False)
        batch_op.create_index(batch_op.f("ix_haul_trip_id"), ["trip_id"], unique=False)

    op.create_table(
        "session",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("account_id", sa.String(), nullable=False),
        sa.Column("device_id", sa.String(), nullable=True),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("label", sa.String(200), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("kind IN ('browser', 'phone')", name=op.f("ck_session_kind_known")),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_session_account_id")),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_session_device_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_session_token_hash")),
    )
    with op.batch_alter_table("session", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_session_account_id"), ["account_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_session_device_id"), ["device_id"], unique=False)

    op.create_table(
        "trip_crew",
        sa.Column("trip_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.CheckConstraint(
            "role IN ('holder', 'deputy', 'named', 'assistant', 'student', 'observer')",
            name=op.f("ck_trip_crew_role_known"),
        ),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_trip_crew_person")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_trip_crew_trip_id")),
        sa.PrimaryKeyConstraint("trip_id", "place", name=op.f("pk_trip_crew")),
    )
    with op.batch_alter_table("trip_crew", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_trip_crew_person"), ["person"], unique=False)

    op.create_table(
        "catch_line",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("haul_id", sa.String(), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("taxon", sa.String(), nullable=False),
        sa.Column("count_low", sa.Float(), nullable=False),
        sa.Column("count_best", sa.Float(), nullable=False),
        sa.Column("count_high", sa.Float(), nullable=False),
        sa.Column("count_exact", sa.JSON(), nullable=True),
        sa.Column("fate", sa.String(10), nullable=False),
        sa.Column("unit", sa.String(12), nullable=False),
        sa.Column("doubt", sa.String(5), nullable=False),
        sa.Column("one_of", sa.JSON(), nullable=False),
        sa.Column("name_as_written", sa.String(200), nullable=False),
        sa.Column("method", sa.String(12), nullable=False),
        sa.Column("stage", sa.String(60), nullable=False),
        sa.Column("sex", sa.String(30), nullable=False),
        sa.Column("authority", sa.String(), nullable=True),
        sa.Column("person", sa.String(), nullable=True),
        sa.Column("container", sa.String(200), nullable=False),
        sa.Column("measured_as", sa.String(200), nullable=False),
        sa.Column("weight_low", sa.Float(), nullable=True),
        sa.Column("weight_best", sa.Float(), nullable=True),
        sa.Column("weight_high", sa.Float(), nullable=True),
        sa.Column("weight_exact", sa.JSON(), nullable=True),
        sa.Column("raw_counted", sa.Integer(), nullable=True),
        sa.Column("raw_share", sa.String(30), nullable=False),
        sa.Column("cause", sa.String(200), nullable=False),
        sa.Column("photo", sa.String(200), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("doubt IN ('', 'cf.', 'aff.', '?')", name=op.f("ck_catch_line_doubt_known")),
        sa.CheckConstraint("fate IN ('kept', 'released', 'dead', 'lost')", name=op.f("ck_catch_line_fate_known")),
        sa.CheckConstraint(
            "method IN ('counted', 'by eye', 'by volume', 'by weight', 'raised')",
            name=op.f("ck_catch_line_method_known"),
        ),
        sa.CheckConstraint("unit IN ('individuals', 'L', 'g')", name=op.f("ck_catch_line_unit_known")),
        sa.CheckConstraint(
            "0 <= count_low AND count_low <= count_best AND count_best <= count_high",
            name=op.f("ck_catch_line_count_in_order"),
        ),
        sa.CheckConstraint(
            "0 <= weight_low AND weight_low <= weight_best AND weight_best <= weight_high",
            name=op.f("ck_catch_line_weight_in_order"),
        ),
        sa.CheckConstraint(
            "raw_counted IS NULL OR raw_counted >= 0", name=op.f("ck_catch_line_raw_counted_not_negative")
        ),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_catch_line_authority")),
        sa.ForeignKeyConstraint(["haul_id"], ["haul.id"], name=op.f("fk_catch_line_haul_id")),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name=op.f("fk_catch_line_person")),
        sa.ForeignKeyConstraint(["taxon"], ["taxon.id"], name=op.f("fk_catch_line_taxon")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_catch_line")),
        sa.UniqueConstraint("code", name=op.f("uq_catch_line_code")),
    )
    with op.batch_alter_table("catch_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_catch_line_authority"), ["authority"], unique=False)
        batch_op.create_index(batch_op.f("ix_catch_line_haul_id"), ["haul_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_catch_line_taxon"), ["taxon"], unique=False)

    op.create_table(
        "fix",
        sa.Column("haul_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("lat", sa.Float(), nullable=False),
        sa.Column("lon", sa.Float(), nullable=False),
        sa.Column("radius_m", sa.Float(), nullable=True),
        sa.Column("confidence", sa.Float(), nullable=False),
        sa.Column("source", sa.String(60), nullable=False),
        sa.CheckConstraint("confidence > 0 AND confidence < 1", name=op.f("ck_fix_confidence_is_a_share")),
        sa.CheckConstraint("lat BETWEEN -90 AND 90", name=op.f("ck_fix_lat_in_range")),
        sa.CheckConstraint("lon BETWEEN -180 AND 180", name=op.f("ck_fix_lon_in_range")),
        sa.CheckConstraint("radius_m IS NULL OR radius_m >= 0", name=op.f("ck_fix_radius_not_negative")),
        sa.ForeignKeyConstraint(["haul_id"], ["haul.id"], name=op.f("fk_fix_haul_id")),
        sa.PrimaryKeyConstraint("haul_id", "place", name=op.f("pk_fix")),
    )
    op.create_table(
        "haul_check",
        sa.Column("haul_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["haul_id"], ["haul.id"], name=op.f("fk_haul_check_haul_id")),
        sa.PrimaryKeyConstraint("haul_id", "place", name=op.f("pk_haul_check")),
    )
    op.create_table(
        "reading",
        sa.Column("holder", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("trip_id", sa.String(), nullable=False),
        sa.Column("haul_id", sa.String(), nullable=True),
        sa.Column("quantity", sa.String(60), nullable=False),
        sa.Column("value", sa.String(60), nullable=False),
        sa.Column("unit", sa.String(30), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("instrument", sa.String(200), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["haul_id"], ["haul.id"], name=op.f("fk_reading_haul_id")),
        sa.ForeignKeyConstraint(["trip_id"], ["trip.id"], name=op.f("fk_reading_trip_id")),
        sa.PrimaryKeyConstraint("holder", "place", name=op.f("pk_reading")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reading_trip_id"), ["trip_id"], unique=False)

    op.create_table(
        "measured_run",
        sa.Column("line_id", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("measure", sa.String(60), nullable=False),
        sa.Column("variant", sa.String(60), nullable=False),
        sa.Column("values", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["line_id"], ["catch_line.id"], name=op.f("fk_measured_run_line_id")),
        sa.PrimaryKeyConstraint("line_id", "place", name=op.f("pk_measured_run")),
    )
    op.create_table(
        "movement",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_from", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("what", sa.String(20), nullable=False),
        sa.Column("count_low", sa.Float(), nullable=False),
        sa.Column("count_best", sa.Float(), nullable=False),
        sa.Column("count_high", sa.Float(), nullable=False),
        sa.Column("count_exact", sa.JSON(), nullable=True),
        sa.Column("line", sa.String(), nullable=True),
        sa.Column("taxon", sa.String(), nullable=True),
        sa.Column("authority", sa.String(), nullable=True),
        sa.Column("to", sa.String(200), nullable=False),
        sa.Column("consent", sa.String(200), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("person", sa.String(64), nullable=False),
        sa.CheckConstraint(
            "what IN ('died', 'released', 'transferred', 'sold', 'voucher', 'escaped', 'used up', 'presumed dead', 'missing', 'born', 'given', 'found')",
            name=op.f("ck_movement_what_known"),
        ),
        sa.CheckConstraint(
            "0 <= count_low AND count_low <= count_best AND count_best <= count_high",
            name=op.f("ck_movement_count_in_order"),
        ),
        sa.ForeignKeyConstraint(["authority"], ["authority.id"], name=op.f("fk_movement_authority")),
        sa.ForeignKeyConstraint(["line"], ["catch_line.id"], name=op.f("fk_movement_line")),
        sa.ForeignKeyConstraint(["taxon"], ["taxon.id"], name=op.f("fk_movement_taxon")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_line"), ["line"], unique=False)
    op.execute("INSERT INTO audit_head (id, seq, hash, changes) VALUES (1, 0, '', 0)")
    _guard_audit()


def _guard_audit() -> None:
    """Refuse any change of an audit entry in the database itself."""
    if op.get_bind().dialect.name == "sqlite":
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER audit_entry_no_{deed.lower()} BEFORE {deed} ON audit_entry "
                "BEGIN SELECT RAISE(ABORT, 'audit entries are never changed'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION audit_entry_stays() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'audit entries are never changed'; END $$"
    )
    op.execute(
        "CREATE TRIGGER audit_entry_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON audit_entry "
        "FOR EACH STATEMENT EXECUTE FUNCTION audit_entry_stays()"
    )
