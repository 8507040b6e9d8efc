"""The audit chain: whatever is changed in what was written, it is seen; and the database refuses to change it."""

import hashlib
import itertools
import random
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import bindparam, text
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session, select

from api.entities.audit import AuditEntry
from api.store.audit import Broken, entry_hash, first_broken
from api.store.engine import WRITES, open_engine
from api.store.unit_of_work import Actor, Store

START = datetime(2028, 7, 14, 2, 0, tzinfo=UTC)
LENGTH = 60
COLUMNS = tuple(AuditEntry.model_fields)
TEXTS = tuple(name for name in COLUMNS if name not in ("seq", "at"))
TRIES = 200
SEED = 20271125


# One chain an engine serves the whole file: every test undoes what it did, and that is held against the chain.


@pytest.fixture(scope="module")
def sqlite_chain(sqlite_maker):
    yield from written(sqlite_maker())


@pytest.fixture(scope="module")
def postgresql_chain(postgresql_maker):
    yield from written(postgresql_maker())


@pytest.fixture(params=["sqlite", "postgresql"])
def chain(request):
    return request.getfixturevalue(f"{request.param}_chain")


def written(url):
    """Write sixty entries in twenty transactions, with a change beside each."""
    engine, moments = open_engine(url), itertools.count(1)
    store = Store(engine, lambda: START + next(moments) * timedelta(minutes=7, microseconds=1))
    for number in range(LENGTH // 3):
        with store.writing(Actor(f"person-{number % 4}", "phone-é" if number % 2 else "")) as work:
            work.note("haul stored", f"haul {number}", {"site": "Zürich Reach", "count": number, "note": ""})
            work.note("line stored", f"catch line {number}", [number, "1/3", None])
            work.note("checked", f"trip {number}")
            for version in (1, 2, 3):
                work.changed("haul", f"haul {number}", version)
    yield store
    engine.dispose()


def stands(store):
    with store.reading() as session:
        return first_broken(session)


@contextmanager
def tampering(store, *, loose=False):
    """Give a connection whose transaction is undone at the end, and which the triggers do not hold up.

    ``loose`` also takes every constraint off the table of entries.
    """
    with store.engine.connect().execution_options(**{WRITES: True}) as connection:
        if store.engine.dialect.name == "sqlite":
            connection.execute(text("DROP TRIGGER audit_entry_no_update"))
            connection.execute(text("DROP TRIGGER audit_entry_no_delete"))
            connection.execute(text("DROP TRIGGER audit_entry_in_order"))
        else:
            connection.execute(text("DROP TRIGGER audit_entry_no_change ON audit_entry"))
            connection.execute(text("DROP TRIGGER audit_entry_in_order ON audit_entry"))
        if loose:
            connection.execute(text("CREATE TABLE loose AS SELECT * FROM audit_entry"))
            connection.execute(text("DROP TABLE audit_entry"))
            connection.execute(text("ALTER TABLE loose RENAME TO audit_entry"))
            for name in TEXTS if store.engine.dialect.name == "postgresql" else ():
                connection.execute(text(f"ALTER TABLE audit_entry ALTER {name} TYPE text"))
        yield connection
        connection.rollback()
    assert stands(store) == (LENGTH, None)


def told(connection):
    with Session(connection) as session:
        return first_broken(session)


def change(connection, place, **values):
    """Set columns of one entry by plain SQL."""
    parts = ", ".join(f"{name} = :{name}" for name in values)
    query = text(f"UPDATE audit_entry SET {parts} WHERE seq = :place")
    assert connection.execute(query, {**values, "place": place}).rowcount == 1


def entry(connection, seq):
    with Session(connection) as session:
        found = session.get_one(AuditEntry, seq)
        session.expunge(found)
        return found


# --- what stands


def test_an_empty_chain_stands(store):
    assert stands(store) == (0, None)


def test_the_chain_stands_as_it_was_written(chain):
    assert stands(chain) == (LENGTH, None)


def test_any_json_value_is_kept_as_content(store):
    # RFC 8785: no blanks, members in the order of their names. None says that there is nothing to tell.
    contents = {
        "0": 0,
        "false": False,
        '""': "",
        "[]": [],
        "[null]": [None],
        "1.5": 1.5,
        '"é"': "é",
        '{"a":[2],"b":1}': {"b": 1, "a": [2]},
        "{}": None,
    }
    with store.writing(Actor()) as work:
        for content in contents.values():
            work.note("told", "season", content)
    with store.reading() as session:
        assert list(session.exec(select(AuditEntry.content).order_by(AuditEntry.seq))) == list(contents)
        assert first_broken(session) == (len(contents), None)


def test_the_hash_is_the_sha_256_of_the_canonical_entry(chain):
    # Outside check: the canonical form of RFC 8785 written by hand.
    with chain.reading() as session:
        first = session.get_one(AuditEntry, 1)
    written = (
        '{"action":"haul stored","actor":"person-0","at":"2028-07-14T02:07:00.000001+00:00",'
        '"content":"{\\"count\\":0,\\"note\\":\\"\\",\\"site\\":\\"Zürich Reach\\"}","device":"","previous":"",'
        '"seq":1,"subject":"haul 0"}'
    )
    assert first.hash == hashlib.sha256(written.encode()).hexdigest()


# --- one bit


def _flipped_integer(stored, bit, width):
    raw = (stored ^ (1 << bit)) & ((1 << width) - 1)
    return raw - (1 << width) if raw >> (width - 1) else raw


def _flipped_bytes(stored, dice):
    raw = bytearray(stored)
    raw[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
    return bytes(raw)


def _flip_on_sqlite(connection, seq, name, dice):
    """Flip a bit of what is stored; gives False where the database cannot store the outcome."""
    if name == "seq":
        change(connection, seq, seq=_flipped_integer(seq, dice.randrange(64), 64))
        return True
    query = text(f"SELECT CAST({name} AS BLOB) FROM audit_entry WHERE seq = :seq")
    stored = connection.execute(query, {"seq": seq}).scalar_one()
    if not stored:
        return False
    # Any bytes are storable as text here, also such as are no UTF-8.
    query = text(f"UPDATE audit_entry SET {name} = CAST(:raw AS TEXT) WHERE seq = :seq")
    connection.execute(query, {"raw": _flipped_bytes(stored, dice), "seq": seq})
    return True


def _flip_on_postgresql(connection, seq, name, dice):
    if name == "seq":
        change(connection, seq, seq=_flipped_integer(seq, dice.randrange(32), 32))
        return True
    if name == "at":
        # A timestamptz is a whole number of microseconds in 64 bits, since 2000-01-01 (PostgreSQL's manual, 8.5).
        connection.execute(text("SET LOCAL TIME ZONE 'UTC'"))
        since = "SELECT (extract(epoch FROM at - '2000-01-01 00:00:00+00') * 1000000)::bigint FROM audit_entry"
        stored = connection.execute(text(f"{since} WHERE seq = :seq"), {"seq": seq}).scalar_one()
        days, rest = divmod(_flipped_integer(stored, dice.randrange(64), 64), 86_400_000_000)
        moved = (
            "'2000-01-01 00:00:00+00'::timestamptz + make_interval(days => :days) + :rest * interval '1 microsecond'"
        )
        values = {"days": days, "rest": rest, "seq": seq}
        connection.execute(text(f"UPDATE audit_entry SET at = {moved} WHERE seq = :seq"), values)
        return True
    stored = connection.execute(text(f"SELECT {name} FROM audit_entry WHERE seq = :seq"), {"seq": seq}).scalar_one()
    if not stored:
        return False
    try:
        flipped = _flipped_bytes(stored.encode(), dice).decode()
    except UnicodeDecodeError:
        return False
    if "\0" in flipped:
        return False
    change(connection, seq, **{name: flipped})
    return True


def test_a_flipped_bit_anywhere_is_found_every_time(chain):
    sqlite = chain.engine.dialect.name == "sqlite"
    flip = _flip_on_sqlite if sqlite else _flip_on_postgresql
    dice = random.Random(SEED)
    tried, missed = [], []
    with tampering(chain) as connection:
        while len(tried) < TRIES:
            seq, name = dice.randint(1, LENGTH), dice.choice(COLUMNS)
            point = connection.begin_nested()
            try:
                if flip(connection, seq, name, dice):
                    stood, broken = told(connection)
                    tried.append(name)
                    if broken is None or broken.seq != seq or stood != seq - 1:
                        missed.append((seq, name, stood, broken))
            except DBAPIError:
                pass  # the number is taken, or the moment lies beyond what the engine can store
            point.rollback()
        assert told(connection) == (LENGTH, None)
    assert missed == []
    assert len(tried) == TRIES
    assert set(tried) == set(COLUMNS)


# --- changes that a careless reading would smooth away


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("how", ["blank behind", "blank before", "nothing stored"])
def test_blanks_and_null_are_seen_in_every_text(chain, name, how):
    with tampering(chain, loose=True) as connection:
        before = getattr(entry(connection, 34), name)
        values = {"blank behind": f"{before} ", "blank before": f" {before}", "nothing stored": None}
        query = text(f"UPDATE audit_entry SET {name} = :value WHERE seq = 34").bindparams(bindparam("value"))
        connection.execute(query, {"value": values[how]})
        stood, broken = told(connection)
    assert (stood, broken.seq) == (33, 34)


def test_null_for_a_text_that_was_empty_is_seen(chain):
    with tampering(chain, loose=True) as connection:
        assert entry(connection, 1).device == entry(connection, 1).previous == ""
        for name in ("device", "previous"):
            point = connection.begin_nested()
            connection.execute(text(f"UPDATE audit_entry SET {name} = NULL WHERE seq = 1"))
            assert told(connection)[1].seq == 1, name
            point.rollback()


def test_a_time_that_is_gone_is_seen(chain):
    with tampering(chain, loose=True) as connection:
        connection.execute(text("UPDATE audit_entry SET at = NULL WHERE seq = 20"))
        assert told(connection)[1].seq == 20


def test_the_same_letters_otherwise_composed_are_seen(chain):
    # Unicode Standard Annex 15: U+00E9 and "e" with U+0301 are canonically equivalent.
    with tampering(chain) as connection:
        assert entry(connection, 4).device == "phone-\u00e9"
        change(connection, 4, device="phone-e\u0301")
        assert told(connection) == (3, Broken(4, "entry 4 was altered"))


def test_content_that_means_the_same_but_is_written_otherwise_is_seen(chain):
    with tampering(chain) as connection:
        change(connection, 2, content=entry(connection, 2).content.replace(",", ", "))
        assert told(connection) == (1, Broken(2, "entry 2 was altered"))


@pytest.mark.parametrize(
    "other",
    [
        "2028-07-14T02:07:00.000001",
        "2028-07-14!02:07:00.000001",
        "2028-07-14 02:07:00,000001",
        "2028-07-14 02:07:00.1",
        "2028-07-14 02:07:00.0000010",
        "2028-07-14 02:07:00.000001+00:00",
        "2028-07-14 02:07:00.000001Z",
        "2028-07-14 02:07:00.000001 ",
        "2028-07-14 02:07:00.000001 AD",
        "2028-07-14 02:07:00.000001\n",
        "2028-07-14 02:07:00.00000\u0661",
        "2028-07-14 12:07:00.000001+10:00",
        "soon",
        "",
    ],
)
def test_a_time_that_reads_the_same_but_is_stored_otherwise_is_seen_on_sqlite(sqlite_chain, other):
    with tampering(sqlite_chain) as connection:
        stored = connection.execute(text("SELECT at FROM audit_entry WHERE seq = 1")).scalar_one()
        assert stored == "2028-07-14 02:07:00.000001"
        change(connection, 1, at=other)
        assert told(connection)[1].seq == 1


@pytest.mark.parametrize("name", ["at", *TEXTS])
def test_the_same_bytes_as_another_type_are_seen_on_sqlite(sqlite_chain, name):
    with tampering(sqlite_chain) as connection:
        connection.execute(text(f"UPDATE audit_entry SET {name} = CAST({name} AS BLOB) WHERE seq = 50"))
        assert told(connection)[1].seq == 50


@pytest.mark.parametrize("name", ["at", *TEXTS])
def test_letters_behind_a_null_character_are_seen_on_sqlite(sqlite_chain, name):
    with tampering(sqlite_chain) as connection:
        connection.execute(text(f"UPDATE audit_entry SET {name} = {name} || char(0) || 'more' WHERE seq = 50"))
        assert told(connection)[1].seq == 50


@pytest.mark.parametrize(
    "other", ["infinity", "-infinity", "2028-07-14 02:07:00.000001+00 BC", "12028-07-14 02:07:00.000001+00"]
)
def test_a_time_that_no_clock_shows_is_seen_on_postgresql(postgresql_chain, other):
    with tampering(postgresql_chain) as connection:
        connection.execute(text(f"UPDATE audit_entry SET at = '{other}' WHERE seq = 1"))
        assert told(connection)[1].seq == 1


def test_the_zone_in_which_postgresql_shows_times_does_not_matter(postgresql_chain):
    with tampering(postgresql_chain) as connection:
        connection.execute(text("SET LOCAL TIME ZONE 'Australia/Lord_Howe'"))
        connection.execute(text("SET LOCAL datestyle = 'German'"))
        assert told(connection) == (LENGTH, None)


# --- removed, reordered, inserted, cut off


@pytest.mark.parametrize("seq", [1, 2, 31, LENGTH])
def test_a_removed_entry_is_found(chain, seq):
    with tampering(chain) as connection:
        connection.execute(text(f"DELETE FROM audit_entry WHERE seq = {seq}"))
        stood, broken = told(connection)
    assert (stood, broken.seq) == (seq - 1, seq)
    assert "missing" in broken.what


@pytest.mark.parametrize("left", [0, 1, 30, LENGTH - 1])
def test_entries_cut_off_at_the_end_are_found(chain, left):
    with tampering(chain) as connection:
        connection.execute(text(f"DELETE FROM audit_entry WHERE seq > {left}"))
        stood, broken = told(connection)
    what = f"entry {left + 1} and what followed are missing; {LENGTH} were written"
    assert (stood, broken) == (left, Broken(left + 1, what))


@pytest.mark.parametrize(
    "names",
    [
        ("at", *TEXTS),
        ("at", *(name for name in TEXTS if name not in ("previous", "hash"))),
        ("at", *(name for name in TEXTS if name != "previous")),
        ("content",),
    ],
    ids=["everything", "all but the hashes", "all but the hash before", "what was done"],
)
def test_two_entries_in_each_others_place_are_found(chain, names):
    with tampering(chain, loose=True) as connection:
        one, other = entry(connection, 20), entry(connection, 41)
        change(connection, 20, **_stored(chain, other, names))
        change(connection, 41, **_stored(chain, one, names))
        stood, broken = told(connection)
    assert (stood, broken.seq) == (19, 20)


def _stored(store, one, names):
    values = {name: getattr(one, name) for name in names}
    if "at" in values and store.engine.dialect.name == "sqlite":
        values["at"] = values["at"].strftime("%Y-%m-%d %H:%M:%S.%f")
    return values


def _forged(connection, seq, after):
    """Give an entry that nobody wrote, with a hash of its own that holds, behind another."""
    before = entry(connection, after)
    made = AuditEntry(**{**before.model_dump(), "seq": seq, "action": "never done", "previous": before.hash})
    made.hash = entry_hash(made)
    return made


def _insert(store, connection, made):
    names = ", ".join(COLUMNS)
    values = ", ".join(f":{name}" for name in COLUMNS)
    connection.execute(text(f"INSERT INTO audit_entry ({names}) VALUES ({values})"), _stored(store, made, COLUMNS))


def test_an_entry_added_at_the_end_is_found(chain):
    with tampering(chain) as connection:
        _insert(chain, connection, _forged(connection, LENGTH + 1, LENGTH))
        stood, broken = told(connection)
    assert stood == LENGTH + 1
    assert broken == Broken(LENGTH + 1, f"entry {LENGTH + 1} stands behind the last one that was written")


def test_an_entry_put_in_between_is_found(chain):
    with tampering(chain) as connection:
        made = _forged(connection, 31, 30)
        connection.execute(text("UPDATE audit_entry SET seq = -seq WHERE seq > 30"))
        connection.execute(text("UPDATE audit_entry SET seq = 1 - seq WHERE seq < 0"))
        _insert(chain, connection, made)
        assert told(connection) == (31, Broken(32, "entry 32 does not follow the one before it"))


@pytest.mark.parametrize("seq", [0, -5])
def test_an_entry_put_before_the_first_is_found(chain, seq):
    with tampering(chain) as connection:
        _insert(chain, connection, _forged(connection, seq, 1))
        assert told(connection) == (LENGTH, Broken(seq, f"entry {seq} stands before the first"))


def test_an_entry_that_stands_twice_is_found(chain):
    with tampering(chain, loose=True) as connection:
        connection.execute(text("INSERT INTO audit_entry SELECT * FROM audit_entry WHERE seq = 7"))
        assert told(connection) == (7, Broken(8, "entry 8 is missing; entry 7 stands in its place"))


@pytest.mark.parametrize(("seq", "found"), [(1, 2), (30, 31), (LENGTH, LENGTH)])
def test_an_entry_written_anew_with_a_hash_that_fits_is_found(chain, seq, found):
    with tampering(chain) as connection:
        other = entry(connection, seq)
        other.content = '{"count":0}'
        change(connection, seq, content=other.content, hash=entry_hash(other))
        assert told(connection)[1].seq == found


# --- the record of the last entry


@pytest.mark.parametrize(
    ("values", "broken"),
    [
        ({"seq": LENGTH + 1}, Broken(LENGTH + 1, "entry 61 and what followed are missing; 61 were written")),
        ({"seq": 28}, Broken(LENGTH, "the record of the last entry was altered")),
        ({"seq": 0}, Broken(LENGTH, "the record of the last entry was altered")),
        ({"seq": -1}, Broken(LENGTH, "the record of the last entry was altered")),
        ({"hash": ""}, Broken(LENGTH, "the record of the last entry was altered")),
        ({"hash": "0" * 64}, Broken(LENGTH, "the record of the last entry was altered")),
        ({"seq": 0, "hash": ""}, Broken(1, "entry 1 stands behind the last one that was written")),
        ({"changes": 61}, Broken(LENGTH, "the record of the last change says 61, but 60 stand, up to 60")),
        ({"changes": 0}, Broken(LENGTH, "the record of the last change says 0, but 60 stand, up to 60")),
    ],
)
def test_a_changed_head_is_found(chain, values, broken):
    with tampering(chain) as connection:
        parts = ", ".join(f"{name} = :{name}" for name in values)
        connection.execute(text(f"UPDATE audit_head SET {parts}"), values)
        assert told(connection) == (LENGTH, broken)


def test_a_flipped_bit_in_the_heads_hash_is_found(chain):
    with tampering(chain) as connection:
        stored = connection.execute(text("SELECT hash FROM audit_head")).scalar_one()
        for place in range(64):
            other = stored[:place] + chr(ord(stored[place]) ^ 1) + stored[place + 1 :]
            connection.execute(text("UPDATE audit_head SET hash = :other"), {"other": other})
            assert told(connection) == (LENGTH, Broken(LENGTH, "the record of the last entry was altered")), place


def test_a_head_that_is_gone_is_found(chain):
    with tampering(chain) as connection:
        connection.execute(text("DELETE FROM audit_head"))
        assert told(connection) == (LENGTH, Broken(LENGTH, "the record of the last entry is missing"))


@pytest.mark.parametrize("value", ["'sixty'", "x'80'", "60.5", "CAST(x'80' AS TEXT)"])
@pytest.mark.parametrize("name", ["seq", "hash", "changes"])
def test_a_head_of_another_type_is_found_on_sqlite(sqlite_chain, name, value):
    with tampering(sqlite_chain) as connection:
        connection.execute(text(f"UPDATE audit_head SET {name} = {value}"))
        assert told(connection)[1] is not None


def test_a_removed_change_is_found(chain):
    with tampering(chain) as connection:
        connection.execute(text("DELETE FROM change WHERE seq = 12"))
        broken = Broken(LENGTH, "the record of the last change says 60, but 59 stand, up to 60")
        assert told(connection) == (LENGTH, broken)


def test_a_chain_cut_back_together_with_its_head_shows_only_against_a_hash_noted_elsewhere(chain):
    # What a chain by itself cannot show; why the last hash is worth printing on paper.
    with tampering(chain) as connection:
        noted = entry(connection, LENGTH).hash
        values = {"seq": 40, "hash": entry(connection, 40).hash}
        connection.execute(text("DELETE FROM audit_entry WHERE seq > 40"))
        connection.execute(text("UPDATE audit_head SET seq = :seq, hash = :hash"), values)
        assert told(connection) == (40, None)
        query = text("SELECT count(*) FROM audit_entry WHERE hash = :noted")
        assert connection.execute(query, {"noted": noted}).scalar_one() == 0


# --- what the database refuses

OTHER = "SELECT {}, at, actor, device, 'nothing', subject, content, previous, hash FROM audit_entry WHERE seq = 3"
NEW = "SELECT {}, at, actor, device, action, subject, content, previous, '{}' FROM audit_entry WHERE seq = 60"
DEEDS = (
    "UPDATE audit_entry SET action = 'nothing' WHERE seq = 3",
    "UPDATE audit_entry SET action = action",
    "DELETE FROM audit_entry WHERE seq = 60",
    "DELETE FROM audit_entry",
    f"INSERT INTO audit_entry {OTHER.format(61)} ON CONFLICT (hash) DO UPDATE SET action = 'no'",
)


@pytest.mark.parametrize("deed", DEEDS)
def test_the_database_refuses_to_change_or_remove_an_entry(chain, deed):
    refused(chain, deed)


def test_postgresql_refuses_to_empty_the_table(postgresql_chain):
    refused(postgresql_chain, "TRUNCATE audit_entry")
    refused(postgresql_chain, "TRUNCATE audit_entry, audit_head CASCADE")


@pytest.mark.parametrize("deed", ["INSERT OR REPLACE INTO", "REPLACE INTO"])
def test_sqlite_refuses_to_replace_an_entry(sqlite_chain, deed):
    # Triggers meet a replaced row only with recursive triggers on (sqlite.org/lang_conflict.html).
    refused(sqlite_chain, f"{deed} audit_entry {OTHER.format(61)}")
    refused(sqlite_chain, f"{deed} audit_entry {OTHER.format(3)}", IN_ORDER)


IN_ORDER = "audit entries are written one behind the other"


@pytest.mark.parametrize("seq", [-1, 0, 1, 3, LENGTH, LENGTH + 2, 2**31 - 1])
def test_the_database_takes_no_entry_but_the_next_one(chain, seq):
    refused(chain, f"INSERT INTO audit_entry {NEW.format(seq, 'mark')}", IN_ORDER)
    refused(chain, f"INSERT INTO audit_entry {OTHER.format(seq)} ON CONFLICT DO NOTHING", IN_ORDER)


def test_entries_written_in_one_statement_have_to_follow_one_another_as_well(chain):
    following = f"{NEW.format(LENGTH + 1, 'one')} UNION ALL {NEW.format(LENGTH + 2, 'two')} ORDER BY 1"
    with tried(chain) as connection:
        assert connection.execute(text(f"INSERT INTO audit_entry {following}")).rowcount == 2
    gap = f"{NEW.format(LENGTH + 1, 'one')} UNION ALL {NEW.format(LENGTH + 3, 'two')} ORDER BY 1"
    refused(chain, f"INSERT INTO audit_entry {gap}", IN_ORDER)
    refused(chain, f"INSERT INTO audit_entry {following} DESC", IN_ORDER)


def test_the_first_entry_of_an_empty_chain_is_number_one(store):
    row = "SELECT {}, '2028-07-14 02:00:00.000000', '', '', '', '', '', '', 'x'"
    if store.engine.dialect.name == "postgresql":
        row = row.replace("000000'", "000000'::timestamptz")
    for seq in (0, 2):
        with pytest.raises(DBAPIError, match=IN_ORDER), store.writing(Actor()) as work:
            work.session.connection().execute(text(f"INSERT INTO audit_entry {row.format(seq)}"))
    with tried(store) as connection:
        assert connection.execute(text(f"INSERT INTO audit_entry {row.format(1)}")).rowcount == 1


@contextmanager
def tried(store):
    """Give a connection that may write; undone at the end."""
    with store.engine.connect().execution_options(**{WRITES: True}) as connection:
        yield connection
        connection.rollback()


def refused(store, deed, said="audit entries are never changed"):
    sqlite = store.engine.dialect.name == "sqlite"
    with (
        pytest.raises(IntegrityError if sqlite else DBAPIError, match=said),
        store.writing(Actor()) as work,
    ):
        work.session.connection().execute(text(deed))
    assert stands(store) == (LENGTH, None)
