"""A database made by the first step, with the sample season in it, comes through to the last one."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from math import inf, nan

import pytest
from sqlalchemy import delete, insert, inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import SQLModel, select

from api.domain.counts import Count
from api.entities.audit import AuditEntry
from api.entities.catches import CatchLine
from api.entities.sync import Change
from api.entities.trips import TripRecord
from api.operations.importing import import_files
from api.operations.sessions import Who
from api.routes import sync
from api.routes.shapes import PushSent
from api.store.audit import first_broken
from api.store.engine import WRITES
from api.store.migrating import migrate, newest_step, step_of
from api.store.seasons import season_from
from api.store.unit_of_work import Actor, Store
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES, write_season

FIRST = "20261125_first"


@pytest.fixture
def first(empty, clock):
    """Give a store of the first step, in which nothing is."""
    migrate(empty, FIRST)
    return Store(empty, clock)


def taken_over(store, first):
    """Write what stands in a store of the newest step into one of the first, as far as that has room for it.

    Today's program knows tables that the first step has not: it cannot write there itself.
    """
    held = inspect(first.engine)
    with (
        store.engine.connect() as source,
        first.engine.connect().execution_options(**{WRITES: True}) as target,
        target.begin(),
    ):
        for table in SQLModel.metadata.sorted_tables:
            if not held.has_table(table.name):
                continue
            names = [one["name"] for one in held.get_columns(table.name)]
            rows = [dict(row) for row in source.execute(select(*(table.c[name] for name in names))).mappings()]
            if target.execute(select(table.c[names[0]]).limit(1)).first() is not None:
                target.execute(delete(table))
            if rows:
                target.execute(insert(table), rows)


@pytest.fixture
def old(first, store, tmp_path):
    """Give a store of the first step with the sample season in it; ``store`` holds the same at the newest step."""
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    taken_over(store, first)
    return first


def stands(store):
    with store.reading() as session:
        return season_from(session), first_broken(session)


def by_hand(store, statement, **values):
    """Change a database past the program."""
    with store.engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        assert connection.execute(text(statement), values).rowcount == 1


def test_the_sample_season_comes_through_every_step(old, store):
    before = stands(store)
    assert step_of(old.engine) == FIRST
    assert before[1][1] is None
    assert migrate(old.engine) == FIRST
    assert step_of(old.engine) == newest_step() != FIRST
    assert stands(old) == before
    with old.reading() as session:
        # What later steps brought is there, and empty.
        assert session.connection().execute(text("SELECT count(*) FROM acquisition")).scalar_one() == 0


# --- what came before the update, and comes again after it

SENT = {
    "id": "0197a000-0000-7000-8000-000000000001",
    "kind": "trip",
    "record": {
        "id": "0197a000-0000-7000-8000-000000000002",
        "zone": "Australia/Hobart",
        "leader": "ann",
        "authority": "permit",
        "status": "open",
        "depart": "2027-08-01T07:00",
        "crew": [{"person": "ann", "role": "holder"}],
    },
    "parent": "",
    "based_on": None,
    "why": "",
    "made_at": "2027-08-01T07:02:00+10:00",
}
HASH = "ea3b9d256baf02a77c46e1096a2837659cda749e7797139760ec5cad6c1136d7"
"""What the program of the first protocol wrote into its receipt (seen there)."""


def test_what_was_delivered_before_the_update_is_had_already_in_either_protocol(first, store, tmp_path):
    authority, trips = write_season(tmp_path)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    taken_over(store, first)
    with first.writing(Actor("ann", "phone-1")) as work:
        trip = {"id": SENT["record"]["id"], "code": "T27-001", "zone": "Australia/Hobart", "leader": "ann"}
        work.insert(TripRecord, {**trip, "status": "open", "received_at": work.at})
    by_hand(
        first,
        "INSERT INTO receipt (operation_id, device_id, person_id, kind, record, sha256, answer, problems, version, at) "
        "VALUES (:id, 'phone-1', 'ann', 'trip', :record, :hash, 'stored', '[]', 1, '2027-08-01 02:00:00.000000')",
        id=SENT["id"],
        record=SENT["record"]["id"],
        hash=HASH,
    )
    migrate(first.engine)
    phone = Who("ann", "Ann Oake", "ann", frozenset({"collector"}), "session", "phone-1")
    clock_then = {"at": SENT["made_at"], "ahead_s": 3, "known_at": "2027-07-31T20:00:00Z"}
    newest = {key: value for key, value in SENT.items() if key != "made_at"}
    newest |= {"device_clock": clock_then, "entered_from": "screen"}
    for protocol, operation in ((1, SENT), (2, newest)):
        body = PushSent.model_validate({"protocol": protocol, "operations": [operation]})
        (told,) = sync.push(body, first, phone).answers
        assert (told.answer, told.version, told.code) == ("already had", 1, "T27-001")
    assert len(stands(first)[0].trips) == 2


# --- half a weight, which only another hand can have written

HALVES = (
    {"low": 12.5, "best": None, "high": None, "exact": None},
    {"low": 3.5, "best": None, "high": None, "exact": '["7/2", "4", "inf"]'},
    {"low": None, "best": 4.0, "high": 5.0, "exact": '["4", "3", "5"]'},
)
MENDED = (None, Count(Fraction(7, 2), 4, inf), None)


def weighed(season, weights):
    """Give a season in which some lines have other weights."""

    def line_of(line):
        return replace(line, weight=weights.get(line.id, line.weight))

    return replace(
        season,
        trips=tuple(
            replace(
                trip,
                hauls=tuple(replace(haul, lines=tuple(map(line_of, haul.lines))) for haul in trip.hauls),
            )
            for trip in season.trips
        ),
    )


def halved(store):
    """Leave halves of a weight in some lines; gives the lines' codes."""
    with store.reading() as session:
        query = select(CatchLine.code).where(CatchLine.weight_low == None).order_by(CatchLine.id)  # noqa: E711
        codes = session.exec(query.limit(len(HALVES))).all()
    for code, half in zip(codes, HALVES, strict=True):
        columns = ", ".join(f"weight_{name} = :{name}" for name in half)
        by_hand(store, f"UPDATE catch_line SET {columns} WHERE code = :code", code=code, **half)
    return codes


def test_half_a_weight_is_mended_and_what_stood_stays_readable(old, store):
    (season, (entries, _)) = stands(store)
    codes = halved(old)
    migrate(old.engine)
    found, (after, broken) = stands(old)
    assert replace(found, corrections=()) == replace(
        weighed(season, dict(zip(codes, MENDED, strict=True))), corrections=()
    )
    assert (after, broken) == (entries + len(HALVES), None)
    new = found.corrections[len(season.corrections) :]
    assert [(one.record, one.field, one.by) for one in new] == [(code, "weight", "system") for code in codes]
    assert [json.loads(one.old) for one in new] == [
        {"low": "12.5", "best": None, "high": None, "exact": None},
        {"low": "3.5", "best": None, "high": None, "exact": ["7/2", "4", "inf"]},
        {"low": None, "best": "4.0", "high": "5.0", "exact": ["4", "3", "5"]},
    ]
    assert [one.new for one in new] == ["", '{"best":"4","high":"inf","low":"7/2"}', ""]
    assert found.corrections[: len(season.corrections)] == season.corrections


def test_a_mended_line_has_a_new_version_that_phones_pull_and_an_entry_of_the_chain(old):
    codes = halved(old)
    with old.reading() as session:
        last = session.exec(select(Change.seq).order_by(Change.seq.desc())).first()
    migrate(old.engine)
    with old.reading() as session:
        lines = session.exec(select(CatchLine).where(CatchLine.code.in_(codes)).order_by(CatchLine.id)).all()
        changes = session.exec(select(Change).where(Change.seq > last).order_by(Change.seq)).all()
        told = session.exec(select(AuditEntry).order_by(AuditEntry.seq.desc()).limit(len(codes))).all()
    assert [one.version for one in lines] == [2, 2, 2]
    assert [(one.kind, one.record, one.version) for one in changes] == [("line", one.id, 2) for one in lines]
    assert all(one.trip_id for one in changes)
    assert [(one.actor, one.action, one.subject) for one in reversed(told)] == [
        ("system", "line amended", f"line {one.id}") for one in lines
    ]
    # The season may be written on as before.
    with old.writing(Actor()) as work:
        work.note("looked", "season")
        work.changed("line", lines[0].id, 3)
    assert stands(old)[1][1] is None


def test_a_weight_with_a_bound_that_is_no_number_is_mended_as_half_of_one(old):
    with old.reading() as session:
        code = session.exec(select(CatchLine.code).order_by(CatchLine.id)).first()
    # PostgreSQL keeps NaN as a number above all others; for SQLite the driver writes NULL.
    columns = "weight_low = 1, weight_best = 2, weight_high = :nan"
    by_hand(old, f"UPDATE catch_line SET {columns} WHERE code = :code", code=code, nan=nan)
    migrate(old.engine)
    season, (_, broken) = stands(old)
    assert broken is None
    lines = [line for trip in season.trips for haul in trip.hauls for line in haul.lines]
    assert [line.weight for line in lines if line.id == code] == [None]
    high = "nan" if old.engine.dialect.name == "postgresql" else None
    assert json.loads(season.corrections[-1].old) == {"low": "1.0", "best": "2.0", "high": high, "exact": None}


def test_what_nobody_can_mend_stops_the_step_with_the_rules_name_and_changes_nothing(old, store):
    before = stands(store)
    by_hand(old, "UPDATE haul SET version = 0 WHERE code = (SELECT min(code) FROM haul)")
    halved(old)
    with pytest.raises(IntegrityError, match="ck_haul_version_at_least_one"):
        migrate(old.engine)
    assert step_of(old.engine) == FIRST
    by_hand(old, "UPDATE haul SET version = 1 WHERE code = (SELECT min(code) FROM haul)")
    migrate(old.engine)
    assert stands(old)[1] == (before[1][0] + len(HALVES), None)
