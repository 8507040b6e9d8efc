"""One transaction a request: all or nothing, writers in one line, readers before one picture, values as they were."""

import os
import random
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError, StatementError
from sqlmodel import SQLModel, func, select

from api.entities.accounts import FailedTry
from api.entities.audit import AuditEntry, AuditHead
from api.entities.catches import CatchLine, MeasuredRun
from api.entities.hauls import HaulRecord
from api.entities.people import Person
from api.entities.sync import Change
from api.entities.taxa import TaxonRecord
from api.entities.trips import CleaningRecord, TripRecord
from api.store.audit import first_broken
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store

ROOT = Path(__file__).resolve().parent.parent.parent
ACTOR = Actor("i-calloway", "phone-3")
AT = datetime(2028, 3, 9, 21, 30, tzinfo=UTC)


def person(name, **more):
    return {"id": name, "name": name.title(), "added_at": AT, **more}


def trip(record="trip-1", **more):
    stamp = {"received_at": AT, "zone": "Australia/Hobart", "leader": "maren"}
    return {"id": record, "code": record, **stamp, **more}


def haul(record="haul-1", **more):
    return {"id": record, "code": record, "trip_id": "trip-1", "place": 0, "start": AT, "received_at": AT, **more}


def line(record="line-1", **more):
    counts = {"count_low": 1.0, "count_best": 1.0, "count_high": 1.0, "taxon": "Galaxias maculatus"}
    return {"id": record, "code": record, "haul_id": "haul-1", "place": 0, "received_at": AT, **counts, **more}


def everything(store):
    """Give every row of every table."""
    with store.reading() as session:
        return {
            table.name: sorted(map(repr, session.connection().execute(table.select())))
            for table in SQLModel.metadata.sorted_tables
        }


def started(store):
    """Put a first person in, and give all that stands then."""
    with store.writing(ACTOR) as work:
        work.insert(Person, person("maren"))
        work.note("person stored", "person maren")
        work.changed("person", "maren", 1)
    return everything(store)


# --- all or nothing


def write_something(work):
    work.insert(TripRecord, trip())
    work.session.add(Person(**person("odin")))
    work.note("trip stored", "trip trip-1", {"by": "maren"})
    work.changed("trip", "trip-1", 1, "trip-1")


def fail_in_the_body(work):
    write_something(work)
    raise RuntimeError("stop")


def fail_after_writing(work):
    write_something(work)
    work.flush()
    work.session.flush()
    raise RuntimeError("stop")


def fail_by_interruption(work):
    write_something(work)
    work.flush()
    raise KeyboardInterrupt


def fail_at_an_orphan(work):
    write_something(work)
    work.insert(HaulRecord, haul(trip_id="trip-of-nobody"))


def fail_at_the_second_of_two_rows(work):
    write_something(work)
    work.insert(HaulRecord, haul())
    work.insert(HaulRecord, haul("haul-2", kind="nothing known"))


def fail_at_a_row_of_the_session(work):
    write_something(work)
    work.session.add(Person(**person("maren")))


def fail_at_the_entry_of_a_taken_change(work):
    write_something(work)
    work.insert(Change, {"seq": 1, "kind": "trip", "record": "x", "trip_id": "", "version": 1, "at": AT})


def swallow_a_failed_bulk_write(work):
    write_something(work)
    work.insert(HaulRecord, haul("haul-2", kind="nothing known"))
    with pytest.raises(IntegrityError):
        work.flush()


def swallow_a_failed_row(work):
    write_something(work)
    work.session.add(Person(**person("maren")))
    with pytest.raises(IntegrityError):
        work.session.flush()


@pytest.mark.parametrize(
    "body",
    [
        fail_in_the_body,
        fail_after_writing,
        fail_by_interruption,
        fail_at_an_orphan,
        fail_at_the_second_of_two_rows,
        fail_at_a_row_of_the_session,
        fail_at_the_entry_of_a_taken_change,
        swallow_a_failed_bulk_write,
        swallow_a_failed_row,
    ],
    ids=lambda one: one.__name__.replace("_", " "),
)
def test_whatever_fails_leaves_nothing(store, body):
    before = started(store)

    def attempt():
        with store.writing(ACTOR) as work:
            body(work)

    with pytest.raises((RuntimeError, KeyboardInterrupt, SQLAlchemyError)):
        attempt()
    assert everything(store) == before
    # And the line of writers goes on where it stood.
    with store.writing(ACTOR) as work:
        write_something(work)
    with store.reading() as session:
        assert first_broken(session) == (2, None)
        assert session.get_one(AuditHead, 1).changes == 2


def test_what_does_not_fail_is_there_at_once_with_its_entry_and_its_change(store):
    started(store)
    with store.writing(ACTOR) as work:
        write_something(work)
    with store.reading() as session:
        assert session.get_one(TripRecord, "trip-1").leader == "maren"
        assert session.get_one(Person, "odin").name == "Odin"
        entry, change = session.get_one(AuditEntry, 2), session.get_one(Change, 2)
        assert (entry.actor, entry.device, entry.action) == ("i-calloway", "phone-3", "trip stored")
        assert (change.kind, change.record, change.trip_id, change.version) == ("trip", "trip-1", "trip-1", 1)
        assert entry.at == change.at == store.clock()


_CRASH = """
import os, sys
from datetime import UTC, datetime
from api.entities.people import Person
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store

store = Store(open_engine(sys.argv[1]))
with store.writing(Actor("odin")) as work:
    work.insert(Person, {"id": "odin", "name": "Odin", "added_at": datetime.now(UTC)})
    work.note("person stored", "person odin")
    work.changed("person", "odin", 1)
    work.flush()
    work.session.flush()
    os._exit(9)
"""


def test_a_process_that_dies_in_the_middle_leaves_nothing(store, database_url):
    before = started(store)
    died = run(_CRASH, database_url)
    died.communicate(timeout=120)
    assert died.returncode == 9
    assert everything(store) == before
    with store.writing(ACTOR) as work:
        write_something(work)


def run(script, *arguments):
    command = [sys.executable, "-c", script, *arguments]
    where = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(command, cwd=ROOT, env=where, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


# --- how rows are handed over


def test_rows_may_be_handed_over_before_what_they_refer_to(store):
    with store.writing(ACTOR) as work:
        work.insert(CatchLine, line())
        work.insert(HaulRecord, haul())
        work.insert(TripRecord, trip())
        work.insert(TaxonRecord, {"id": "Galaxias maculatus", "place": 0, "rank": "species"})
        work.insert(Person, person("maren"))
    with store.reading() as session:
        assert session.get_one(CatchLine, "line-1").haul_id == "haul-1"


def test_rows_of_one_table_may_have_different_fields(store):
    with store.writing(ACTOR) as work:
        work.insert(Person, person("maren"))
        work.insert(Person, person("odin", left_on="2028-01-01"))
        work.insert(Person, person("tamsin"))
    with store.reading() as session:
        found = {one.id: one.left_on for one in session.exec(select(Person))}
    assert found == {"maren": None, "odin": "2028-01-01", "tamsin": None}


# --- many writers


def stood_in_line(store, writes):
    """Hold what many writers left: no gap, no double, a chain that stands, times in order."""
    with store.reading() as session:
        entries = session.exec(select(AuditEntry).order_by(AuditEntry.seq)).all()
        changes = session.exec(select(Change).order_by(Change.seq)).all()
        head = session.get_one(AuditHead, 1)
        assert first_broken(session) == (writes, None)
        assert session.exec(select(func.count()).select_from(Person)).one() == writes
    assert [one.seq for one in entries] == list(range(1, writes + 1))
    assert [one.seq for one in changes] == list(range(1, 2 * writes + 1))
    assert (head.seq, head.hash, head.changes) == (writes, entries[-1].hash, 2 * writes)
    # Each transaction's two changes stand beside one another, and in the order of the entries.
    assert [one.record for one in changes[::2]] == [one.record for one in changes[1::2]]
    assert [one.subject for one in entries] == [f"person {one.record}" for one in changes[::2]]
    return entries


def test_writers_from_eight_threads_leave_no_gap(database_url):
    engine = open_engine(database_url)
    store = Store(engine)
    together = threading.Barrier(8)

    def write(who):
        together.wait()
        for number in range(25):
            with store.writing(Actor(f"crew-{who}")) as work:
                name = f"{who}-{number}"
                work.changed("person", name, 1)
                work.insert(Person, person(name))
                work.note("person stored", f"person {name}")
                work.changed("person", name, 2)

    with ThreadPoolExecutor(8) as pool:
        for done in [pool.submit(write, who) for who in range(8)]:
            done.result()
    entries = stood_in_line(store, 200)
    assert [one.at for one in entries] == sorted(one.at for one in entries)
    assert {one.actor for one in entries} == {f"crew-{who}" for who in range(8)}
    engine.dispose()


_WRITE = """
import sys
from datetime import UTC, datetime
from api.entities.people import Person
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store

store, who = Store(open_engine(sys.argv[1])), sys.argv[2]
print("ready", flush=True)
sys.stdin.readline()
for number in range(60):
    with store.writing(Actor(who)) as work:
        name = f"{who}-{number}"
        work.changed("person", name, 1)
        work.insert(Person, {"id": name, "name": name, "added_at": datetime.now(UTC)})
        work.note("person stored", f"person {name}")
        work.changed("person", name, 2)
"""


def test_writers_from_two_processes_leave_no_gap(store, database_url):
    writers = [run(_WRITE, database_url, who) for who in ("north", "south")]
    for one in writers:
        assert one.stdout.readline() == "ready\n"
    for one in writers:
        one.stdin.write("go\n")
        one.stdin.flush()
    # This process writes as well, so that three stand in line.
    for number in range(20):
        with store.writing(Actor("here")) as work:
            work.changed("person", f"here-{number}", 1)
            work.insert(Person, person(f"here-{number}"))
            work.note("person stored", f"person here-{number}")
            work.changed("person", f"here-{number}", 2)
    for one in writers:
        one.communicate(timeout=300)
        assert one.returncode == 0
    entries = stood_in_line(store, 140)
    assert {who: sum(one.actor == who for one in entries) for who in ("north", "south", "here")} == {
        "north": 60,
        "south": 60,
        "here": 20,
    }


# --- readers


def test_a_reader_sees_one_picture_while_a_writer_commits(store):
    started(store)
    with store.reading() as session:
        assert session.exec(select(func.count()).select_from(Person)).one() == 1
        with store.writing(ACTOR) as work:
            write_something(work)
        # The writer was not held up, and nothing that it wrote is here: not in tables read before, nor in others.
        assert session.exec(select(func.count()).select_from(Person)).one() == 1
        assert session.exec(select(func.count()).select_from(TripRecord)).one() == 0
        assert session.get_one(AuditHead, 1).seq == 1
        assert first_broken(session) == (1, None)
    with store.reading() as session:
        assert session.exec(select(func.count()).select_from(Person)).one() == 2
        assert first_broken(session) == (2, None)


def test_the_chain_stands_whenever_it_is_looked_at_while_others_write(store):
    ended = threading.Event()

    def write():
        try:
            for number in range(60):
                with store.writing(ACTOR) as work:
                    work.note("told", f"person {number}")
                    work.changed("person", str(number), 1)
        finally:
            ended.set()

    with ThreadPoolExecutor(1) as pool:
        writer, seen = pool.submit(write), []
        while not ended.is_set():
            with store.reading() as session:
                stood, broken = first_broken(session)
                assert broken is None
                seen.append(stood)
        writer.result()
    assert seen == sorted(seen)
    assert len(set(seen)) > 1


@pytest.mark.parametrize(
    "deed",
    [
        "INSERT INTO site (id, name) VALUES ('ford', 'Lower Ford')",
        "UPDATE audit_head SET changes = 7",
        "DELETE FROM person",
        "DROP TABLE cleaning",
        "CREATE TABLE other (id INTEGER)",
    ],
)
def test_a_reading_session_cannot_write(store, deed):
    before = started(store)

    def attempt():
        with store.reading() as session:
            session.connection().execute(text(deed))
            session.commit()

    with pytest.raises(DBAPIError, match=r"readonly database|read-only transaction"):
        attempt()
    assert everything(store) == before


def test_rows_added_while_reading_are_not_written(store):
    before = started(store)

    def attempt():
        with store.reading() as session:
            session.add(Person(**person("odin")))
            session.commit()

    with pytest.raises(DBAPIError, match=r"readonly database|read-only transaction"):
        attempt()
    assert everything(store) == before


def test_a_connection_that_was_read_on_may_be_written_on(store):
    for number in range(30):
        with store.reading() as session:
            assert first_broken(session) == (number, None)
        with store.writing(ACTOR) as work:
            work.note("told", f"person {number}")


# --- times


def times():
    """Give moments with many offsets: whole and odd ones, clocks that change, both ends of the calendar."""
    dice = random.Random(20271125)
    moments = [
        datetime(2028, 3, 1, 17, 0, tzinfo=timezone(timedelta(hours=-8))),
        datetime(1, 1, 1, tzinfo=UTC),
        datetime(999, 12, 31, 23, 59, 59, 1, tzinfo=UTC),
        datetime(9999, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC),
        # Clocks are set back at 3:00 summer time: 2:30 is there twice (tz database, Australia/Hobart).
        datetime(2028, 4, 2, 2, 30, fold=0, tzinfo=ZoneInfo("Australia/Hobart")),
        datetime(2028, 4, 2, 2, 30, fold=1, tzinfo=ZoneInfo("Australia/Hobart")),
        datetime(1850, 6, 1, tzinfo=ZoneInfo("Europe/Amsterdam")),
    ]
    for minutes in range(-1439, 1440, 37):
        offset = timezone(timedelta(minutes=minutes, seconds=dice.choice((0, 0, 17))))
        day = datetime(1900, 1, 1, tzinfo=offset) + timedelta(days=dice.randrange(73_000))
        moments.append(day + timedelta(microseconds=dice.randrange(86_400_000_000)))
    return moments


def test_a_time_of_any_offset_comes_back_as_the_same_instant_in_utc(store):
    moments = times()
    assert moments[4] != moments[5].astimezone(UTC)
    with store.writing(ACTOR) as work:
        for number, moment in enumerate(moments):
            work.insert(FailedTry, {"id": number + 1, "subject": "login maren", "at": moment})
    with store.reading() as session:
        found = [one.at for one in session.exec(select(FailedTry).order_by(FailedTry.id))]
        ordered = [one.at for one in session.exec(select(FailedTry).order_by(FailedTry.at, FailedTry.id))]
        later = session.exec(select(func.count()).where(FailedTry.at > moments[0])).one()
    assert [one.astimezone(UTC) for one in moments] == found
    assert {one.utcoffset() for one in found} == {timedelta(0)}
    assert {one.tzinfo for one in found} == {UTC}
    # The database orders and compares them as instants, whatever offset they were asked with.
    assert ordered == sorted(found)
    assert later == sum(one > moments[0] for one in moments)


def test_times_come_back_in_utc_from_a_server_set_to_another_zone(postgresql_maker):
    url = postgresql_maker()
    engine = open_engine(url)
    with engine.begin() as connection:
        name = connection.execute(text("SELECT current_database()")).scalar_one()
        connection.execute(text(f"ALTER DATABASE {name} SET timezone = 'Australia/Lord_Howe'"))
    engine.dispose()
    engine = open_engine(url)
    store = Store(engine)
    with store.writing(ACTOR) as work:
        assert work.session.connection().execute(text("SHOW timezone")).scalar_one() == "Australia/Lord_Howe"
        work.insert(Person, person("maren"))
        work.note("person stored", "person maren")
    with store.reading() as session:
        assert session.get_one(Person, "maren").added_at == AT
        assert session.get_one(Person, "maren").added_at.tzinfo is UTC
        assert first_broken(session) == (1, None)
    engine.dispose()


@pytest.mark.parametrize("way", ["in bulk", "in the session", "in a question"])
def test_a_time_without_an_offset_is_refused(store, way):
    before = started(store)
    naive = datetime(2028, 3, 9, 21, 30)  # noqa: DTZ001 - that is what is refused

    def attempt():
        with store.writing(ACTOR) as work:
            if way == "in bulk":
                work.insert(Person, person("odin", added_at=naive))
            elif way == "in the session":
                work.session.add(Person(**person("odin", added_at=naive)))
            else:
                work.session.exec(select(Person).where(Person.added_at < naive)).all()

    with pytest.raises(StatementError, match="has no offset from UTC; say in which zone it was read"):
        attempt()
    assert everything(store) == before


def test_a_clock_without_an_offset_is_refused(store, clock):
    before = started(store)
    clock.at = clock.at.replace(tzinfo=None)

    def attempt():
        with store.writing(ACTOR) as work:
            work.note("told", "person maren")

    with pytest.raises((StatementError, ValueError), match="has no offset from UTC"):
        attempt()
    assert everything(store) == before


def test_a_clock_of_another_zone_dates_entries_by_the_same_instant(store, clock):
    clock.at = datetime(2028, 4, 2, 2, 30, fold=1, tzinfo=ZoneInfo("Australia/Hobart"))
    with store.writing(ACTOR) as work:
        work.note("told", "person maren")
    with store.reading() as session:
        assert session.get_one(AuditEntry, 1).at == datetime(2028, 4, 1, 16, 30, tzinfo=UTC)
        assert first_broken(session) == (1, None)


# --- exact values


FRACTIONS = [
    Fraction(0),
    Fraction(1, 3),
    Fraction(7, 2),
    Fraction(254, 10),
    Fraction(-22, 7),
    Fraction(10**30 + 1, 10**30),
    Fraction(1, 2**100),
    Fraction(2**53 + 1),
    None,
]


def season(work):
    work.insert(Person, person("maren"))
    work.insert(TaxonRecord, {"id": "Galaxias maculatus", "place": 0, "rank": "species"})
    work.insert(TripRecord, trip())
    work.insert(HaulRecord, haul())
    work.insert(CatchLine, line())


def test_exact_fractions_come_back_as_they_were(store):
    with store.writing(ACTOR) as work:
        season(work)
        for place, minutes in enumerate(FRACTIONS):
            row = {"trip_id": "trip-1", "place": place, "at": AT, "method": "soap", "minutes": minutes}
            work.insert(CleaningRecord, row)
    with store.reading() as session:
        found = [one.minutes for one in session.exec(select(CleaningRecord).order_by(CleaningRecord.place))]
    assert found == FRACTIONS
    assert {type(one) for one in found} == {Fraction, type(None)}


@pytest.mark.parametrize(
    "words",
    [(), ("chart",), ("permit", "licence", "permit"), ("", " ", "é", "e\u0301", 'a "word"', "a,b", "null"), None],
)
def test_lists_of_words_come_back_as_they_were(store, words):
    with store.writing(ACTOR) as work:
        season(work)
        work.insert(TripRecord, trip("trip-2", papers=words, may_stand_under=words or ()))
    with store.reading() as session:
        found = session.get_one(TripRecord, "trip-2")
        assert (found.papers, found.may_stand_under) == (words, words or ())
        null = session.exec(select(func.count()).where(TripRecord.id == "trip-2", TripRecord.papers.is_(None))).one()
    # No list is NULL to the database too, and not the JSON word null.
    assert null == (words is None)


def test_lists_of_numbers_come_back_as_they_were(store):
    runs = [(), (0,), (412, 7, 412, 3), tuple(range(2000)), (2**53 - 1, -(2**53) + 1)]
    with store.writing(ACTOR) as work:
        season(work)
        for place, values in enumerate(runs):
            work.insert(MeasuredRun, {"line_id": "line-1", "place": place, "measure": "total length", "values": values})
    with store.reading() as session:
        assert [one.values for one in session.exec(select(MeasuredRun).order_by(MeasuredRun.place))] == runs


def test_bounds_that_floats_do_not_hold_come_back_as_written(store):
    bounds = ("1/3", "9007199254740993", "inf")
    with store.writing(ACTOR) as work:
        season(work)
        exact = {"count_low": 1 / 3, "count_best": 2.0**53, "count_high": float("inf"), "count_exact": bounds}
        work.insert(CatchLine, line("line-2", place=1, **exact))
    with store.reading() as session:
        found = session.get_one(CatchLine, "line-2")
        assert found.count_exact == bounds
        assert (found.count_low, found.count_best, found.count_high) == (1 / 3, 2.0**53, float("inf"))
