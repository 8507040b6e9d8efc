"""The tables are what the models say, a database is brought to them in one step or not at all."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import CheckConstraint, MetaData, func, inspect, select, text
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import SQLModel

from api.entities.people import Person
from api.entities.trips import TripRecord
from api.store import migrating
from api.store.audit import first_broken
from api.store.engine import open_engine
from api.store.migrating import NewerDatabaseError, OrphanError, migrate, newest_step, step_of
from api.store.unit_of_work import Actor, Store

ROOT = Path(__file__).resolve().parent.parent.parent


def shape_of(engine):
    """Give everything that the engine can tell of its tables, without the order in which it tells it."""
    told = inspect(engine)
    parts = {
        "columns": told.get_multi_columns(),
        "key": told.get_multi_pk_constraint(),
        "references": told.get_multi_foreign_keys(),
        "uniques": told.get_multi_unique_constraints(),
        "checks": told.get_multi_check_constraints(),
        "indexes": told.get_multi_indexes(),
    }

    def plain(one):
        if isinstance(one, dict):
            return tuple(sorted((key, plain(value)) for key, value in one.items()))
        return tuple(plain(part) for part in one) if isinstance(one, list) else str(one)

    return {
        table: {part: sorted(plain(found[None, table])) for part, found in parts.items()}
        for table in told.get_table_names()
    }


def rows_of(engine):
    found = MetaData()
    with engine.connect() as connection:
        found.reflect(connection)
        return {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key.columns))]
            for table in found.sorted_tables
        }


def triggers_of(engine):
    sqlite = engine.dialect.name == "sqlite"
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if sqlite
        else ("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
    )
    with engine.connect() as connection:
        return sorted(connection.execute(text(query)).scalars())


# --- models and migrations agree


def test_models_and_migrations_agree(store):
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_the_comparison_sees_a_column_and_a_type_that_differ(store):
    with store.engine.begin() as connection:
        connection.execute(text("ALTER TABLE site ADD COLUMN extra INTEGER"))
        connection.execute(text("DROP INDEX ix_haul_start"))
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        found = {one[0] for one in compare_metadata(context, SQLModel.metadata)}
    assert found == {"remove_column", "add_index"}


def test_migrated_tables_have_just_the_shape_that_the_models_make(empty, store):
    SQLModel.metadata.create_all(empty)
    made, migrated = shape_of(empty), shape_of(store.engine)
    del migrated["alembic_version"]
    for table in ("organisation", "audit_head"):
        # Their one key is 1; by which means the engine would count on does not matter.
        for shape in (made, migrated):
            shape[table]["columns"] = [one for one in shape[table]["columns"] if ("name", "id") not in one]
    assert made.keys() == migrated.keys() == SQLModel.metadata.tables.keys()
    for table, shape in made.items():
        assert migrated[table] == shape, table
    checks = sum(len(shape["checks"]) for shape in migrated.values())
    assert checks == sum(
        isinstance(one, CheckConstraint) for table in SQLModel.metadata.tables.values() for one in table.constraints
    )


# --- from nothing, and again


def test_an_empty_database_is_brought_to_the_newest_step(empty, store):
    assert step_of(empty) == ""
    assert migrate(empty) == ""
    assert step_of(empty) == newest_step() != ""
    assert shape_of(empty) == shape_of(store.engine)
    assert triggers_of(empty) == triggers_of(store.engine) != []
    fresh = Store(empty)
    with fresh.writing(Actor()) as work:
        work.note("set up", "organisation")
    with fresh.reading() as session:
        assert first_broken(session) == (1, None)


def test_migrating_twice_changes_nothing(store):
    with store.writing(Actor()) as work:
        work.note("set up", "organisation")
    shape, rows, triggers = shape_of(store.engine), rows_of(store.engine), triggers_of(store.engine)
    assert migrate(store.engine) == newest_step()
    assert migrate(store.engine) == newest_step()
    assert (shape_of(store.engine), rows_of(store.engine), triggers_of(store.engine)) == (shape, rows, triggers)


def test_the_step_is_told(empty, store):
    assert step_of(empty) == ""
    assert step_of(store.engine) == newest_step()
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'another'"))
    assert step_of(store.engine) == "another"


_MIGRATE = """
import sys
from api.store.engine import open_engine
from api.store.migrating import migrate

engine = open_engine(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
print(migrate(engine))
"""


def test_two_servers_started_at_once_migrate_one_after_the_other(empty, empty_url):
    command = [sys.executable, "-c", _MIGRATE, empty_url]
    servers = [
        subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for _ in range(2)
    ]
    for one in servers:
        assert one.stdout.readline() == "ready\n"
    for one in servers:
        one.stdin.write("go\n")
        one.stdin.flush()
    told = sorted(one.communicate(timeout=300)[0] for one in servers)
    assert [one.returncode for one in servers] == [0, 0]
    # One found it empty, the other found it done.
    assert told == ["\n", f"{newest_step()}\n"]
    assert step_of(empty) == newest_step()


# --- steps that are not known here


@pytest.mark.parametrize("step", ["20991231_later", "' OR 1 = 1", "base"])
def test_a_database_of_an_unknown_step_is_refused(store, step):
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = :step"), {"step": step})
    shape, rows = shape_of(store.engine), rows_of(store.engine)
    with pytest.raises(NewerDatabaseError, match="install a newer version") as refused:
        migrate(store.engine)
    assert refused.value.step == step
    assert (shape_of(store.engine), rows_of(store.engine)) == (shape, rows)


# --- steps that fail


HEAD = '''
"""A step of a test."""
import sqlalchemy as sa
from alembic import op

revision = "20991231_next"
down_revision = "{before}"


def upgrade() -> None:
'''


@pytest.fixture
def next_step(tmp_path, monkeypatch):
    """Give a function that puts a step behind the last one, as a later version of the program would have it."""
    scripts = tmp_path / "migrations, 100 % copied"
    shutil.copytree(migrating._SCRIPTS, scripts, ignore=shutil.ignore_patterns("__pycache__"))

    def write(*lines):
        body = HEAD.format(before=newest_step()) + "".join(f"    {line}\n" for line in lines)
        (scripts / "versions" / "20991231_next.py").write_text(body, encoding="utf-8")
        monkeypatch.setattr(migrating, "_SCRIPTS", scripts)

    return write


def with_people(store):
    """Put rows in that refer to one another."""
    at = store.clock()
    with store.writing(Actor("maren")) as work:
        work.insert(Person, {"id": "maren", "name": "Maren", "added_at": at})
        stamp = {"received_at": at, "zone": "Australia/Hobart", "leader": "maren"}
        work.insert(TripRecord, {"id": "trip-1", "code": "T28-001", **stamp})
        work.note("trip stored", "trip trip-1")
        work.changed("trip", "trip-1", 1, "trip-1")


def stands_as_before(store, before):
    assert (step_of(store.engine), shape_of(store.engine), rows_of(store.engine), triggers_of(store.engine)) == before
    with store.writing(Actor("maren")) as work:
        work.note("looked", "trip trip-1")
    with store.reading() as session:
        assert first_broken(session) == (2, None)


def state_of(store):
    return step_of(store.engine), shape_of(store.engine), rows_of(store.engine), triggers_of(store.engine)


DONE = (
    'op.create_table("tide", sa.Column("id", sa.Integer(), primary_key=True))',
    'op.add_column("trip", sa.Column("tide", sa.String(20)))',
    "op.execute(\"UPDATE trip SET tide = 'spring'\")",
    "op.execute(\"INSERT INTO site (id, name) VALUES ('ford', 'Lower Ford')\")",
    'with op.batch_alter_table("person") as batch:',
    '    batch.add_column(sa.Column("phone", sa.String(20)))',
    'op.drop_table("failed_try")',
    'op.drop_index("ix_haul_start")',
)


@pytest.mark.parametrize(
    ("failure", "error"),
    [
        ('raise RuntimeError("half-way")', RuntimeError),
        ('op.execute("INSERT INTO nowhere VALUES (1)")', DBAPIError),
        ("op.execute(\"INSERT INTO organisation VALUES (2, 'Marrow Aquarium', 'UTC', false, false)\")", IntegrityError),
        ("raise KeyboardInterrupt", KeyboardInterrupt),
    ],
    ids=["an error of its own", "an error of the database", "a constraint", "an interruption"],
)
def test_a_step_that_fails_half_way_leaves_the_old_shape(store, next_step, failure, error):
    with_people(store)
    before = state_of(store)
    next_step(*DONE, failure)
    with pytest.raises(error):
        migrate(store.engine)
    stands_as_before(store, before)


def test_the_same_step_without_the_failure_is_done(store, next_step):
    with_people(store)
    before = newest_step()
    next_step(*DONE)
    assert migrate(store.engine) == before
    assert step_of(store.engine) == "20991231_next"
    shape = shape_of(store.engine)
    assert "tide" in shape
    assert "failed_try" not in shape
    assert rows_of(store.engine)["site"] == [("ford", "Lower Ford")]


def test_a_first_step_that_fails_leaves_an_empty_database(empty, next_step):
    next_step('raise RuntimeError("half-way")')
    with pytest.raises(RuntimeError, match="half-way"):
        migrate(empty)
    assert shape_of(empty) == {}
    assert step_of(empty) == ""


def test_a_database_may_be_brought_to_a_step_on_the_way(empty, store, next_step):
    newest = newest_step()
    next_step(*DONE)
    assert migrate(empty, to=newest) == ""
    assert step_of(empty) == newest
    assert shape_of(empty) == shape_of(store.engine)
    assert migrate(empty) == newest
    assert step_of(empty) == "20991231_next"


# --- tables made anew under rows that refer to them

ANEW = (
    'with op.batch_alter_table("person", recreate="auto") as batch:',
    '    batch.alter_column("name", type_=sa.String(300), existing_type=sa.String(200), existing_nullable=False)',
    '    batch.create_check_constraint(op.f("ck_person_name_not_blank"), "name <> \'\'")',
)


def test_a_step_may_make_a_table_anew_that_others_refer_to(store, next_step):
    with_people(store)
    next_step(*ANEW)
    migrate(store.engine)
    with store.reading() as session:
        assert session.get_one(TripRecord, "trip-1").leader == session.get_one(Person, "maren").id
    refused = []
    for deed in ("DELETE FROM person", "INSERT INTO person SELECT 'x', '', left_on, added_at FROM person"):
        with pytest.raises(IntegrityError) as caught, store.writing(Actor()) as work:
            work.session.connection().execute(text(deed))
        refused.append(str(caught.value.orig).lower())
    # References are held again afterwards, and so is what the step brought.
    assert "foreign key" in refused[0]
    assert "ck_person_name_not_blank" in refused[1]


def test_a_step_that_would_leave_orphans_is_undone(store, next_step):
    with_people(store)
    before = state_of(store)
    next_step(*ANEW, 'op.execute("DELETE FROM person")')
    with pytest.raises((OrphanError, IntegrityError), match=r"(?i)rows of trip would refer|foreign key"):
        migrate(store.engine)
    stands_as_before(store, before)
    with pytest.raises(IntegrityError), store.writing(Actor()) as work:
        work.session.connection().execute(text("DELETE FROM person"))


def test_on_sqlite_the_tables_with_orphans_are_told(sqlite_maker, next_step, clock):
    engine = open_engine(sqlite_maker())
    store = Store(engine, clock)
    with_people(store)
    next_step('op.execute("DELETE FROM person")')
    with pytest.raises(OrphanError) as refused:
        migrate(engine)
    assert refused.value.tables == ("trip",)
    with store.reading() as session:
        assert session.exec(select(func.count()).select_from(Person)).scalar_one() == 1
    engine.dispose()
