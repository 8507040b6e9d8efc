"""The database itself refuses halves of a weight, numbers that are none, versions and places below the first.

Audit entries can be written only one behind the other, and a code for a phone may have been made on the server.
Receipts have room for what a phone knew of its clock, and for what was entered from paper.

What an older database may hold by another hand than the program's, a weight of which only some bounds are there, is
mended before the rule stands: from its exact bounds where those are whole, else it is set aside. Either way what
stood stays readable: as a correction of the line, and in an audit entry. Nothing else that the new rules refuse was
ever written by any version; should it be there, the step is undone and the database names the rule.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "20261125_hardening"
down_revision = "20261125_gate"
branch_labels = None
depends_on = None

_PLACE = ("place_not_negative", "place >= 0")
_VERSION = ("version_at_least_one", "version >= 1")
_COUNT = ("count_bounded", "count_best <= 1e300 AND count_high <> 'NaN'")

_CHECKS = {
    "acquisition": (("door_count_finite", "door_count BETWEEN -1e300 AND 1e300"), _VERSION),
    "allotment": (("amount_finite", "amount BETWEEN -1e300 AND 1e300"),),
    "allotment_pool": (("room_finite", "room BETWEEN -1e300 AND 1e300"),),
    "area": (("edge_tolerance_m_finite", "edge_tolerance_m BETWEEN -1e300 AND 1e300"), _PLACE),
    "attestation": (_PLACE,),
    "authority": (_PLACE,),
    "authority_role": (_VERSION, _PLACE),
    "authority_version": (("number_at_least_one", "number >= 1"),),
    "catch_line": (
        _COUNT,
        ("weight_bounded", "weight_best <= 1e300 AND weight_high <> 'NaN'"),
        (
            "weight_whole_or_none",
            "(weight_low IS NULL) = (weight_best IS NULL) AND (weight_best IS NULL) = (weight_high IS NULL)",
        ),
        _VERSION,
        _PLACE,
    ),
    "change": (_VERSION,),
    "conflict": (("based_on_at_least_one", "based_on >= 1"),),
    "correction": (_PLACE,),
    "filing": (_VERSION,),
    "fix": (("radius_m_finite", "radius_m BETWEEN -1e300 AND 1e300"), _PLACE),
    "haul": (_VERSION, _PLACE),
    "haul_check": (_PLACE,),
    "incident": (_VERSION,),
    "lot": (_COUNT,),
    "measured_run": (_PLACE,),
    "movement": (_COUNT, _VERSION),
    "notice": (_VERSION,),
    "reading": (_PLACE,),
    "session": (("ends_after_made", "made_at <= ends_at"),),
    "shared_total": (("total_bounded", "total_best <= 1e300 AND total_high <> 'NaN'"), _PLACE),
    "taxon": (_PLACE,),
    "taxon_synonym": (_PLACE,),
    "trip": (_VERSION,),
    "trip_crew": (_PLACE,),
}

_RECEIPT = (
    _VERSION,
    ("entered_from_known", "entered_from IN ('screen', 'paper')"),
    ("ahead_with_its_time", "(device_ahead_s IS NULL) = (ahead_known_at IS NULL)"),
)


def upgrade() -> None:
    """Bring the tables one step on."""
    _mend_weights(op.get_bind())
    for table, checks in _CHECKS.items():
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name, rule in checks:
                batch_op.create_check_constraint(batch_op.f(f"ck_{table}_{name}"), sa.text(rule))
    with op.batch_alter_table("receipt", schema=None) as batch_op:
        batch_op.add_column(sa.Column("device_ahead_s", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("ahead_known_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("entered_from", sa.String(10), nullable=True))
        for name, rule in _RECEIPT:
            batch_op.create_check_constraint(batch_op.f(f"ck_receipt_{name}"), sa.text(rule))
    with op.batch_alter_table("enrolment", schema=None) as batch_op:
        batch_op.alter_column("made_by", existing_type=sa.String(), nullable=True)
    _guard_order()


def _guard_order() -> None:
    """Refuse an audit entry that is not numbered as the next one."""
    said = "audit entries are written one behind the other"
    following = "(SELECT coalesce(max(seq), 0) + 1 FROM audit_entry)"
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            f"CREATE TRIGGER audit_entry_in_order BEFORE INSERT ON audit_entry WHEN NEW.seq <> {following} "
            f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
        )
        return
    op.execute(
        "CREATE FUNCTION audit_entry_follows() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN IF NEW.seq <> {following} THEN RAISE EXCEPTION '{said}'; END IF; RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER audit_entry_in_order BEFORE INSERT ON audit_entry "
        "FOR EACH ROW EXECUTE FUNCTION audit_entry_follows()"
    )


# --- half a weight

_BOUNDS = ("low", "best", "high")
_WHY = "a weight of which only some bounds are there can be neither read nor judged; what stood is kept here"


def _table(name: str, *columns: str, **typed: Any) -> sa.TableClause:
    return sa.table(name, *map(sa.column, columns), *(sa.column(column, kind) for column, kind in typed.items()))


_AT = sa.DateTime(timezone=True)
_WEIGHT = {f"weight_{bound}": sa.Float() for bound in _BOUNDS} | {"weight_exact": sa.JSON(none_as_null=True)}
_LINE = _table("catch_line", "id", "haul_id", "version", **_WEIGHT)
_HAUL = _table("haul", "id", "trip_id")
_HEAD = _table("audit_head", "seq", "hash", "changes")
_CORRECTION = _table("correction", "id", "place", "record", "field", "old", "new", "by", "why", at=_AT)
_CHANGE = _table("change", "seq", "kind", "record", "trip_id", "version", at=_AT)
_ENTRY = _table("audit_entry", "seq", "actor", "device", "action", "subject", "content", "previous", "hash", at=_AT)


def _mend_weights(connection: sa.Connection) -> None:
    """Fill a half weight in from its exact bounds, or set it aside, and say so where corrections are read."""
    low, best, high = _LINE.c.weight_low, _LINE.c.weight_best, _LINE.c.weight_high
    none = sa.and_(low.is_(None), best.is_(None), high.is_(None))
    whole = sa.and_(low.is_not(None), best.is_not(None), high.is_not(None), sa.text(_CHECKS["catch_line"][1][1]))
    query = sa.select(_LINE, _HAUL.c.trip_id).join(_HAUL, _HAUL.c.id == _LINE.c.haul_id)
    for row in connection.execute(query.where(~none, ~whole).order_by(_LINE.c.id)).mappings().all():
        _mend_weight(connection, row)


def _mend_weight(connection: sa.Connection, row: sa.RowMapping) -> None:
    at, version = datetime.now(UTC), row["version"] + 1
    old = {bound: None if row[f"weight_{bound}"] is None else str(row[f"weight_{bound}"]) for bound in _BOUNDS}
    old_exact = row["weight_exact"]
    bounds = _exact_bounds(old_exact)
    values = dict(zip((f"weight_{bound}" for bound in _BOUNDS), bounds or (None, None, None), strict=True))
    values |= {"version": version, "weight_exact": old_exact if bounds else None}
    connection.execute(sa.update(_LINE).where(_LINE.c.id == row["id"]).values(values))
    before = _written({**old, "exact": old_exact})
    after = _written(dict(zip(_BOUNDS, old_exact, strict=True))) if bounds else ""
    place = connection.execute(sa.select(sa.func.count()).select_from(_CORRECTION)).scalar_one()
    told = {"record": row["id"], "field": "weight", "old": before, "new": after, "by": "system", "why": _WHY}
    connection.execute(sa.insert(_CORRECTION).values(id=str(uuid.uuid4()), place=place, at=at, **told))
    head = connection.execute(sa.select(_HEAD)).one()
    change = {"kind": "line", "record": row["id"], "trip_id": row["trip_id"], "version": version}
    connection.execute(sa.insert(_CHANGE).values(seq=head.changes + 1, at=at, **change))
    content = _written({"version": version, "changes": {"weight": [before, after]}, "why": _WHY})
    entry = {
        "seq": head.seq + 1, "actor": "system", "device": "", "action": "line amended", "subject": f"line {row['id']}",
        "content": content, "previous": head.hash,
    }  # fmt: skip
    # The chain's rule: SHA-256 over the entry in canonical JSON, its moment in UTC to the microsecond.
    mark = hashlib.sha256(_written({**entry, "at": at.isoformat(timespec="microseconds")}).encode()).hexdigest()
    connection.execute(sa.insert(_ENTRY).values(**entry, at=at, hash=mark))
    connection.execute(sa.update(_HEAD).values(seq=head.seq + 1, hash=mark, changes=head.changes + 1))


def _written(content: dict[str, object]) -> str:
    """Write texts and whole numbers as RFC 8785 does; all names here are plain letters."""
    return json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _exact_bounds(exact: object) -> tuple[float, ...] | None:
    """Give the bounds that were kept as exact fractions, None unless all three are there and in order."""
    if not isinstance(exact, list) or len(exact) != len(_BOUNDS):
        return None
    try:
        bounds = tuple(float("inf") if one == "inf" else float(Fraction(one)) for one in exact)
    except (ValueError, TypeError, ArithmeticError):
        return None
    low, best, high = bounds
    return bounds if 0 <= low <= best <= high and best <= 1e300 else None
