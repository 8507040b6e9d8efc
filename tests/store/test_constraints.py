"""What the database itself refuses, whoever writes: unknown words, counts out of order, orphans, doubles.

Every refusal is tried by plain SQL on both engines, beside the same row without the fault, which is taken.
"""

import re
from contextlib import contextmanager
from typing import get_args

import pytest
from sqlalchemy import JSON, Boolean, CheckConstraint, DateTime, Float, Integer, UniqueConstraint, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import SQLModel

import api.entities  # noqa: F401 - registers the tables
from api.domain import vocabulary
from api.domain.deliveries import EnteredFrom
from api.entities.columns import Instant, Words
from api.store.engine import WRITES, open_engine

TABLES = SQLModel.metadata.tables
ORDER = [table.name for table in SQLModel.metadata.sorted_tables]
ONE_ROW = ("organisation", "audit_head")
INF, NAN = float("inf"), float("nan")
WHEN = "2028-01-03 10:00:00.000000"


def words_of(table, column):
    """Give the words to which a column is held, in their order."""
    for one in TABLES[table].constraints:
        if isinstance(one, CheckConstraint) and one.name == f"ck_{table}_{column}_known":
            return re.findall(r"'([^']*)'", str(one.sqltext).partition(" IN ")[2])
    return []


def value_of(table, column, number):
    """Give a value of a column that is valid and another for every number."""
    if column.foreign_keys:
        target = next(iter(column.foreign_keys)).column
        return None if target.table is column.table else value_of(target.table.name, target, number)
    words = words_of(table, column.name)
    if words:
        return words[number % len(words)]
    if column.nullable:
        return None
    if isinstance(column.type, Instant | DateTime):
        return f"2028-01-{number:02} 10:00:00.000000"
    if isinstance(column.type, Words | JSON):
        return "[]"
    for kind, value in ((Boolean, False), (Integer, number), (Float, 0.5)):
        if isinstance(column.type, kind):
            return value
    return f"{column.name[:1]}{number}"


FIXED = {
    "organisation": {"id": 1},
    "audit_head": {"id": 1},
    "filed_report": {"revision": 0},
    "acquisition": {"state": "accepted", "accession": "A28-{number}"},
    "catch_line": {"weight_low": 0.5, "weight_best": 0.5, "weight_high": 0.5},
    "session": {"ends_at": "2028-02-{number} 10:00:00.000000"},
}
"""What has to be so in a valid row of a table beyond the types of its columns."""

BESIDE = {("filed_report", "replaces"): {"revision": 1}}
"""What else has to be so once a column holds something."""


def row_of(table, number):
    row = {column.name: value_of(table, column, number) for column in TABLES[table].columns}
    if table == "audit_entry":
        # Only the one behind the last is taken.
        row["seq"] = min(number, 2)
    fixed = FIXED.get(table, {}).items()
    return row | {name: one.format(number=f"{number:02}") if isinstance(one, str) else one for name, one in fixed}


def put(connection, table, row):
    names, values = ", ".join(f'"{name}"' for name in row), ", ".join(f":{name}" for name in row)
    connection.execute(text(f'INSERT INTO "{table}" ({names}) VALUES ({values})'), row)


def foundation(connection, table, number):
    """Put in what a row of this number refers to."""
    for other in sorted(all_above(table), key=ORDER.index):
        put(connection, other, row_of(other, number))


def all_above(table):
    targets = {key.column.table.name for key in TABLES[table].foreign_keys} - {table}
    return targets.union(*(all_above(one) for one in targets))


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def engine(request):
    """Give a database of either engine in which each table has a row; every test takes back what it did."""
    engine = open_engine(request.getfixturevalue(f"{request.param}_maker")())
    with engine.connect().execution_options(**{WRITES: True}) as connection:
        for table in ORDER:
            if table != "audit_head":
                put(connection, table, row_of(table, 1))
        connection.commit()
    yield engine
    engine.dispose()


@contextmanager
def attempt(engine, table):
    """Give a connection with everything below a row number 3 of a table; undone at the end."""
    with engine.connect().execution_options(**{WRITES: True}) as connection:
        foundation(connection, table, 3)
        yield connection
        connection.rollback()


def taken(connection, table, row):
    point = connection.begin_nested()
    put(connection, table, row)
    point.rollback()


def refused(connection, table, row):
    """Try to put a row in; gives what the database says of it."""
    point = connection.begin_nested()
    with pytest.raises(IntegrityError) as caught:
        put(connection, table, row)
    point.rollback()
    problem = caught.value.orig
    diagnosis = getattr(problem, "diag", None)
    return f"{type(problem).__name__} {problem} {diagnosis.constraint_name if diagnosis else ''}"


# --- checks

VERSIONED = (
    "trip", "haul", "catch_line", "notice", "incident", "movement", "filing",
    "acquisition", "authority_role", "receipt", "change",
)  # fmt: skip
PLACED = (
    "authority", "authority_role", "taxon", "taxon_synonym", "area", "trip_crew", "cleaning", "attestation", "reading",
    "haul", "fix", "haul_check", "catch_line", "measured_run", "shared_total", "correction",
)  # fmt: skip

POSITIONS = ("fix", "arrival")
OF_A_POSITION = (
    ("lat_in_range", {"lat": 90.000001}),
    ("lat_in_range", {"lat": -90.5}),
    ("lat_in_range", {"lat": INF}),
    ("lon_in_range", {"lon": 180.000001}),
    ("lon_in_range", {"lon": -181.0}),
    ("radius_not_negative", {"radius_m": -0.1}),
    ("radius_m_finite", {"radius_m": INF}),
    ("confidence_is_a_share", {"confidence": 0.0}),
    ("confidence_is_a_share", {"confidence": 1.0}),
    ("confidence_is_a_share", {"confidence": 95.0}),
)

CHECKS = [
    ("trip", "status_known", {"status": "under way"}),
    ("trip", "status_known", {"status": "Closed"}),
    ("trip", "status_known", {"status": ""}),
    ("trip", "back_after_depart", {"depart": "2028-01-03 10:00:00.000001", "back": "2028-01-03 10:00:00.000000"}),
    ("haul", "kind_known", {"kind": "trawl"}),
    ("haul", "end_after_start", {"start": "2028-01-03 10:00:00.000000", "end": "2028-01-03 09:59:59.999999"}),
    ("haul", "gear_number_at_least_one", {"gear_number": 0}),
    ("haul", "gear_number_at_least_one", {"gear_number": -2}),
    ("catch_line", "fate_known", {"fate": "eaten"}),
    ("catch_line", "fate_known", {"fate": "kept "}),
    ("catch_line", "unit_known", {"unit": "kg"}),
    ("catch_line", "unit_known", {"unit": "l"}),
    ("catch_line", "doubt_known", {"doubt": "cf"}),
    ("catch_line", "method_known", {"method": "guessed"}),
    ("catch_line", "count_in_order", {"count_low": -1.0}),
    ("catch_line", "count_in_order", {"count_low": -0.001, "count_best": -0.001, "count_high": 0.0}),
    ("catch_line", "count_in_order", {"count_low": 2.0, "count_best": 1.0, "count_high": 3.0}),
    ("catch_line", "count_in_order", {"count_low": 1.0, "count_best": 3.0, "count_high": 2.0}),
    ("catch_line", "count_in_order", {"count_low": INF, "count_best": 3.0, "count_high": 4.0}),
    ("catch_line", "weight_in_order", {"weight_low": -5.0, "weight_best": 1.0, "weight_high": 2.0}),
    ("catch_line", "weight_in_order", {"weight_low": 1.5, "weight_best": 1.0, "weight_high": 2.0}),
    ("catch_line", "weight_in_order", {"weight_low": 1.0, "weight_best": 3.0, "weight_high": 2.0}),
    ("catch_line", "raw_counted_not_negative", {"raw_counted": -1}),
    ("movement", "what_known", {"what": "given away"}),
    ("movement", "count_in_order", {"count_low": -1.0}),
    ("movement", "count_in_order", {"count_low": 4.0, "count_best": 5.0, "count_high": 4.5}),
    ("shared_total", "total_in_order", {"total_low": -1.0}),
    ("shared_total", "total_in_order", {"total_low": 9.0, "total_best": 8.0, "total_high": 9.0}),
    ("cleaning", "place_not_negative", {"place": -1}),
    ("area", "tolerance_not_negative", {"edge_tolerance_m": -1.0}),
    ("attestation", "kept_known", {"kept": "perhaps"}),
    ("trip_crew", "role_known", {"role": "captain"}),
    ("authority", "kind_known", {"kind": "permit"}),
    ("authority", "days_in_order", {"first_day": "2028-07-01", "last_day": "2028-06-30"}),
    ("authority_role", "role_known", {"role": "collector"}),
    ("account_role", "role_known", {"role": "holder"}),
    ("session", "kind_known", {"kind": "tablet"}),
    ("receipt", "answer_known", {"answer": "taken"}),
    ("conflict", "state_known", {"state": "settled"}),
    ("taxon", "rank_known", {"rank": "tribe"}),
    ("document", "size_not_negative", {"size": -1}),
    ("photo", "of_kind_known", {"of_kind": "person"}),
    ("photo", "size_above_zero", {"size": 0, "received": 0}),
    ("photo", "received_within_size", {"size": 10, "received": 11}),
    ("photo", "received_within_size", {"size": 10, "received": -1}),
    ("photo", "whole_when_all_is_here", {"size": 10, "received": 9, "shown_sha256": "a", "whole_at": WHEN}),
    ("photo", "whole_when_all_is_here", {"size": 10, "received": 10, "whole_at": WHEN}),
    ("allotment_pool", "room_not_negative|granted_within_room", {"room": -1.0, "granted": -1.0}),
    ("allotment_pool", "granted_within_room", {"room": 10.0, "granted": 10.5}),
    ("allotment_pool", "granted_within_room", {"room": 10.0, "granted": -0.5}),
    ("allotment", "state_known", {"state": "spent"}),
    ("allotment", "amount_above_zero", {"amount": 0.0}),
    ("want", "number_at_least_one", {"number": 0}),
    ("filed_report", "revision_not_negative", {"revision": -1, "replaces": "i1"}),
    ("filed_report", "replaces_an_earlier_one", {"revision": 1}),
    ("lot", "count_in_order", {"count_low": 2.0, "count_best": 1.0, "count_high": 3.0}),
    ("acquisition", "state_known", {"state": "kept", "accession": None}),
    ("acquisition", "accession_when_accepted", {"state": "accepted", "accession": None}),
    ("acquisition", "accession_when_accepted", {"state": "on hold"}),
    ("acquisition", "decided_by_somebody", {"state": "declined", "accession": None, "decided_by": None}),
    ("catch_line", "weight_whole_or_none", {"weight_low": None}),
    ("catch_line", "weight_whole_or_none", {"weight_best": None}),
    ("catch_line", "weight_whole_or_none", {"weight_high": None}),
    ("catch_line", "weight_whole_or_none", {"weight_low": None, "weight_best": None}),
    ("catch_line", "weight_whole_or_none", {"weight_low": None, "weight_high": None}),
    ("catch_line", "weight_whole_or_none", {"weight_best": None, "weight_high": None}),
    ("catch_line", "weight_bounded", {"weight_best": INF, "weight_high": INF}),
    ("catch_line", "count_bounded", {"count_best": INF, "count_high": INF}),
    ("catch_line", "count_bounded", {"count_low": INF, "count_best": INF, "count_high": INF}),
    ("lot", "count_bounded", {"count_best": INF, "count_high": INF}),
    ("movement", "count_bounded", {"count_best": INF, "count_high": INF}),
    ("shared_total", "total_bounded", {"total_best": INF, "total_high": INF}),
    ("area", "edge_tolerance_m_finite", {"edge_tolerance_m": INF}),
    ("acquisition", "door_count_finite", {"door_count": INF}),
    ("acquisition", "door_count_finite", {"door_count": -INF}),
    ("allotment_pool", "room_finite", {"room": INF}),
    ("allotment", "amount_finite", {"amount": INF}),
    ("session", "ends_after_made", {"made_at": "2028-02-03 10:00:00.000001"}),
    ("authority_version", "number_at_least_one", {"number": 0}),
    ("conflict", "based_on_at_least_one", {"based_on": 0}),
    ("receipt", "entered_from_known", {"entered_from": "slate"}),
    ("receipt", "ahead_with_its_time", {"device_ahead_s": 0}),
    ("receipt", "ahead_with_its_time", {"ahead_known_at": "2028-01-03 10:00:00.000000"}),
    *((table, name, fault) for table in POSITIONS for name, fault in OF_A_POSITION),
    *((table, "version_at_least_one", {"version": version}) for table in VERSIONED for version in (0, -1)),
    *((table, "place_not_negative", {"place": -1}) for table in PLACED if table != "cleaning"),
]


def case_id(case):
    return " ".join([case[0], *(f"{name}={value}" for name, value in case[2].items())])


@pytest.mark.parametrize("case", CHECKS, ids=case_id)
def test_a_value_outside_what_is_allowed_is_refused(engine, case):
    table, name, fault = case
    with attempt(engine, table) as connection:
        row = row_of(table, 3)
        taken(connection, table, row)
        said = refused(connection, table, {**row, **fault})
    assert re.match("CheckViolation|IntegrityError CHECK", said)
    assert re.search(f"ck_{table}_({name})", said)


def test_every_check_of_every_table_was_tried():
    names = {one.name for table in TABLES.values() for one in table.constraints if isinstance(one, CheckConstraint)} - {
        "ck_organisation_one_row",
        "ck_audit_head_one_row",
    }
    assert names == {f"ck_{table}_{one}" for table, name, _ in CHECKS for one in name.split("|")}


def test_every_version_and_every_place_is_held():
    names = {(name, column.name) for name, table in TABLES.items() for column in table.columns}
    assert {table for table, column in names if column == "version"} == set(VERSIONED)
    assert {table for table, column in names if column == "place"} == set(PLACED)


NUMBERS = [(name, column.name) for name in ORDER for column in TABLES[name].columns if isinstance(column.type, Float)]


@pytest.mark.parametrize(("table", "column"), NUMBERS, ids="-".join)
def test_what_is_no_number_is_refused_by_every_column_of_numbers(engine, table, column):
    with attempt(engine, table) as connection:
        row = row_of(table, 3)
        if engine.dialect.name == "postgresql":
            assert re.match(f"CheckViolation.*ck_{table}_", refused(connection, table, {**row, column: NAN}), re.DOTALL)
        elif TABLES[table].columns[column].nullable and not column.startswith("weight"):
            # SQLite has no NaN: its driver writes NULL, which says here that nobody measured.
            put(connection, table, {**row, column: NAN})
            assert connection.execute(text(f'SELECT count(*) FROM "{table}" WHERE {column} IS NULL')).scalar_one()
        else:
            assert re.match("IntegrityError (NOT NULL|CHECK)", refused(connection, table, {**row, column: NAN}))


WITHOUT_BOUND = {(table, column) for table, column in NUMBERS if column.endswith("_high")}


@pytest.mark.parametrize(("table", "column"), NUMBERS, ids="-".join)
def test_only_the_high_of_a_count_may_be_without_bound(engine, table, column):
    with attempt(engine, table) as connection:
        row = {**row_of(table, 3), column: INF}
        if (table, column) in WITHOUT_BOUND:
            taken(connection, table, row)
        else:
            assert re.match("CheckViolation|IntegrityError CHECK", refused(connection, table, row))


@pytest.mark.parametrize(
    ("table", "edge"),
    [
        ("trip", {"depart": "2028-01-03 10:00:00.000000", "back": "2028-01-03 10:00:00.000000"}),
        ("trip", {"depart": None, "back": "2028-01-03 10:00:00.000000"}),
        ("haul", {"start": "2028-01-03 10:00:00.000000", "end": "2028-01-03 10:00:00.000000"}),
        ("haul", {"gear_number": 1}),
        ("catch_line", {"count_low": 0.0, "count_best": 0.0, "count_high": 0.0}),
        ("catch_line", {"count_low": 0.0, "count_best": 0.0, "count_high": INF}),
        ("catch_line", {"weight_low": 0.0, "weight_best": 0.0, "weight_high": 0.0, "raw_counted": 0}),
        *((table, {"lat": 90.0, "lon": -180.0, "radius_m": 0.0}) for table in POSITIONS),
        *((table, {"lat": -90.0, "lon": 180.0, "radius_m": None}) for table in POSITIONS),
        *((table, {"confidence": 0.9999}) for table in POSITIONS),
        ("authority", {"first_day": "2028-07-01", "last_day": "2028-07-01"}),
        ("document", {"size": 0}),
        ("photo", {"size": 10, "received": 10, "shown_sha256": "a", "whole_at": WHEN}),
        ("cleaning", {"place": 0}),
        ("catch_line", {"weight_low": None, "weight_best": None, "weight_high": None}),
        ("catch_line", {"weight_low": 0.0, "weight_best": 0.0, "weight_high": INF}),
        ("catch_line", {"version": 1, "place": 0}),
        ("receipt", {"version": None, "entered_from": None}),
        ("receipt", {"device_ahead_s": -3, "ahead_known_at": "2028-01-03 10:00:00.000000"}),
        ("conflict", {"based_on": 1}),
        ("session", {"made_at": "2028-02-03 10:00:00.000000", "ends_at": "2028-02-03 10:00:00.000000"}),
    ],
    ids=str,
)
def test_what_stands_exactly_at_an_edge_is_taken(engine, table, edge):
    with attempt(engine, table) as connection:
        taken(connection, table, {**row_of(table, 3), **edge})


@pytest.mark.parametrize(
    ("table", "column", "words"),
    [
        ("catch_line", "fate", vocabulary.Fate),
        ("catch_line", "doubt", vocabulary.Doubt),
        ("catch_line", "method", vocabulary.Method),
        ("taxon", "rank", vocabulary.Rank),
        ("trip_crew", "role", vocabulary.Role),
        ("authority_role", "role", vocabulary.Role),
        ("account_role", "role", vocabulary.AccountRole),
        ("receipt", "entered_from", EnteredFrom),
    ],
)
def test_the_database_knows_just_the_words_of_the_vocabulary(engine, table, column, words):
    assert set(words_of(table, column)) == set(get_args(words))
    with attempt(engine, table) as connection:
        for word in get_args(words):
            taken(connection, table, {**row_of(table, 3), column: word})


def test_the_database_knows_just_the_movements_of_the_vocabulary(engine):
    words = get_args(vocabulary.Gone) + get_args(vocabulary.Gained)
    assert set(words_of("movement", "what")) == set(words)
    with attempt(engine, "movement") as connection:
        for word in words:
            taken(connection, "movement", {**row_of("movement", 3), "what": word})


# --- one row only


@pytest.mark.parametrize("table", ONE_ROW)
@pytest.mark.parametrize("number", [1, 2, 0, -1])
def test_a_second_organisation_or_head_is_refused(engine, table, number):
    with attempt(engine, table) as connection:
        said = refused(connection, table, {**row_of(table, 3), "id": number})
    assert (f"ck_{table}_one_row" in said) == (number != 1)


# --- doubles


def uniques():
    for name in ORDER:
        if name in ONE_ROW:
            continue
        if name != "audit_entry":
            # A number twice is not the next one, and is refused as that (see test_audit.py).
            yield name, tuple(column.name for column in TABLES[name].primary_key.columns)
        # A table keeps its constraints in a set: their order is chance, and parallel runs need one order.
        for one in sorted(TABLES[name].constraints, key=lambda each: str(each.name)):
            if isinstance(one, UniqueConstraint):
                yield name, tuple(column.name for column in one.columns)


@pytest.mark.parametrize(
    ("table", "columns"), list(uniques()), ids=lambda one: one if isinstance(one, str) else "+".join(one)
)
def test_a_second_row_with_what_only_one_may_have_is_refused(engine, table, columns):
    with attempt(engine, table) as connection:
        row, first = row_of(table, 3), row_of(table, 1)
        taken(connection, table, row)
        said = refused(connection, table, {**row, **{name: first[name] for name in columns}})
        if len(columns) > 1:
            for name in columns:
                others = {one: first[one] for one in columns if one != name}
                if row[name] != first[name]:
                    taken(connection, table, {**row, **others})
    assert re.match("UniqueViolation|IntegrityError UNIQUE", said)
    assert all(name in said for name in columns)


def test_what_people_call_a_record_is_there_only_once():
    assert {("trip", ("code",)), ("haul", ("code",)), ("catch_line", ("code",)), ("account", ("login",))} < set(
        uniques()
    )


# --- orphans


def references():
    return [(name, column.name) for name in ORDER for column in TABLES[name].columns if column.foreign_keys]


@pytest.mark.parametrize(("table", "column"), references())
def test_a_row_that_refers_to_nothing_is_refused(engine, table, column):
    with attempt(engine, table) as connection:
        row = row_of(table, 3)
        taken(connection, table, row)
        said = refused(connection, table, {**row, column: "nobody", **BESIDE.get((table, column), {})})
    assert re.match("ForeignKeyViolation|IntegrityError FOREIGN KEY", said)
    if said.startswith("ForeignKeyViolation"):
        assert f"fk_{table}_{column}" in said


@pytest.mark.parametrize(
    "table", sorted({key.column.table.name for one in TABLES.values() for key in one.foreign_keys})
)
def test_a_row_that_others_refer_to_is_neither_removed_nor_renamed(engine, table):
    (key,) = TABLES[table].primary_key.columns
    mark = row_of(table, 1)[key.name]
    own = [one.parent.name for one in TABLES[table].foreign_keys if one.column.table.name == table]
    with attempt(engine, table) as connection:
        for column in own:
            put(connection, table, {**row_of(table, 3), column: mark, **BESIDE.get((table, column), {})})
        for deed in (f"DELETE FROM {table}", f"UPDATE {table} SET {key.name} = 'other'"):
            point = connection.begin_nested()
            with pytest.raises(IntegrityError, match=r"(?i)foreign key"):
                connection.execute(text(f"{deed} WHERE {key.name} = :mark"), {"mark": mark})
            point.rollback()


# --- gaps


@pytest.mark.parametrize("table", ORDER)
def test_a_row_without_what_every_row_has_is_refused(engine, table):
    with attempt(engine, table) as connection:
        if table == "organisation":
            connection.execute(text("DELETE FROM organisation"))
        if table == "audit_head":
            connection.execute(text("DELETE FROM audit_head"))
        row = row_of(table, 3)
        taken(connection, table, row)
        for column in TABLES[table].columns:
            # SQLite fills in a number where that alone is the key.
            counted = column.primary_key and isinstance(column.type, Integer) and len(TABLES[table].primary_key) == 1
            if column.nullable or counted:
                continue
            said = refused(connection, table, {**row, column.name: None})
            assert re.match("NotNullViolation|IntegrityError NOT NULL", said)
            assert column.name in said
