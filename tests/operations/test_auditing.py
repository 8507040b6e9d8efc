"""The audit chain held against a hash from outside, such as a filed report prints.

What a chain cannot show by itself is that everything from some entry on was written anew; a hash kept elsewhere can.
"""

import pytest
from sqlalchemy import text
from sqlmodel import Session, select

from api.entities.audit import AuditEntry, AuditHead
from api.operations.auditing import NoHashError, anchored, verify_chain
from api.store.audit import Broken, entry_hash
from api.store.engine import WRITES
from api.store.unit_of_work import Actor


@pytest.fixture
def chain(store):
    """Give a store with six entries."""
    for number in range(1, 7):
        with store.writing(Actor("ann")) as work:
            work.note("haul stored", f"haul {number}", {"count": number})
    return store


def hashes(store):
    with store.reading() as session:
        return dict(session.exec(select(AuditEntry.seq, AuditEntry.hash)).all())


def written_anew(store, first, *, head=True):
    """Change an entry and write every later one to fit, as somebody with the whole database could."""
    with store.engine.connect().execution_options(**{WRITES: True}) as connection:
        names = ("audit_entry_no_update",) if store.engine.dialect.name == "sqlite" else ("audit_entry_no_change",)
        on = "" if store.engine.dialect.name == "sqlite" else " ON audit_entry"
        for name in names:
            connection.execute(text(f"DROP TRIGGER {name}{on}"))
        with Session(connection) as session:
            previous = ""
            for entry in session.exec(select(AuditEntry).order_by(AuditEntry.seq)).all():
                if entry.seq == first:
                    entry.content = '{"count":99}'
                if entry.seq >= first and head:
                    entry.previous = previous or entry.previous
                    entry.hash = entry_hash(entry)
                previous = entry.hash
            if head:
                session.get_one(AuditHead, 1).hash = previous
            session.commit()
        connection.commit()


@pytest.mark.parametrize("entry", [1, 3, 6])
def test_an_anchor_is_found_at_its_entry(chain, entry):
    told = anchored(chain, hashes(chain)[entry])
    assert (told.entry, told.stood, told.broken, told.holds) == (entry, 6, None, True)


def test_an_anchor_may_be_typed_with_blanks_and_capitals(chain):
    mark = hashes(chain)[4]
    assert anchored(chain, f" {mark[:30].upper()} {mark[30:]}\n").entry == 4


def test_a_chain_written_anew_stands_by_itself_but_not_against_an_anchor(chain):
    before = hashes(chain)
    written_anew(chain, 3)
    assert verify_chain(chain) == (6, None)
    assert [anchored(chain, before[entry]).holds for entry in range(1, 7)] == [True, True, False, False, False, False]
    assert anchored(chain, before[5]).entry is None


def test_an_entry_behind_a_break_does_not_hold(chain):
    before = hashes(chain)
    written_anew(chain, 3, head=False)
    told = anchored(chain, before[5])
    assert (told.entry, told.stood, told.holds) == (5, 2, False)
    assert told.broken == Broken(3, "entry 3 was altered")
    assert anchored(chain, before[2]).holds


@pytest.mark.parametrize("given", ["", "abc", "g" * 64, "0" * 63, "0" * 65, "0" * 63 + "\0"])
def test_what_is_no_hash_is_told_from_one_that_is_not_there(chain, given):
    with pytest.raises(NoHashError, match="64 signs"):
        anchored(chain, given)
    told = anchored(chain, "0" * 64)
    assert (told.entry, told.holds, told.broken) == (None, False, None)
