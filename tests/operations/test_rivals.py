"""Many want the last of something at once: two hundred times, in two processes on PostgreSQL, in threads on SQLite.

Sixteen clients ask for the last ten animals of a limit; two curators and more approve one lot. Each round the pool
is given back by hand, and what is granted next begins from ten again.
"""

from __future__ import annotations

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import text
from sqlmodel import func, select

from api.entities.acquisitions import Acquisition
from api.entities.audit import AuditEntry
from api.operations import allotting
from api.operations.accounts import add_account
from api.operations.importing import import_files
from api.operations.lots_told import AskedLots, list_lots
from api.operations.syncing import push
from api.store.audit import first_broken
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store
from tests import phones
from tests.builders import write_season
from tests.operations.rivals import AT, ordered, two_processes
from tests.operations.test_syncing import EMPTY

QUICK, ALL = 20, 200
OFFICE = Actor("ann")


@pytest.fixture(scope="module")
def processes():
    with two_processes() as both:
        yield both


@pytest.fixture(params=["sqlite", "postgresql"])
def arena(request, tmp_path):
    """Give a season with a permit of ten galaxias and no trip, and a way to let sixteen clients loose in it."""
    url = request.getfixturevalue(f"{request.param}_maker")()
    engine = open_engine(url)
    store = Store(engine, lambda: AT)
    authority, trips = write_season(tmp_path, trips=EMPTY)
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    if request.param == "postgresql":
        both = request.getfixturevalue("processes")

        def loose(deed, clients):
            half = len(clients) // 2
            for one, own in zip(both, (clients[:half], clients[half:]), strict=True):
                one.order({"database": url, "deed": deed, "clients": own})
            return [one.told() for one in both]

        yield store, loose
    else:
        with ThreadPoolExecutor(16) as pool:

            def loose(deed, clients):
                return [ordered({"deed": deed, "clients": clients}, store, pool)]

            yield store, loose
    engine.dispose()


def pool_of(store):
    """Give what the one pool says is granted, and what the open allotments add up to."""
    told = "SELECT granted, (SELECT sum(amount) FROM allotment WHERE state = 'open') FROM allotment_pool"
    with store.reading() as session:
        return tuple(session.connection().execute(text(told)).one())


@pytest.mark.parametrize("rounds", [QUICK, pytest.param(ALL - QUICK, marks=pytest.mark.slow)])
def test_sixteen_clients_never_get_more_than_the_last_ten_and_leave_none_of_them(arena, rounds):
    store, loose = arena
    planned = [phones.trip("ann", status="planned") for _ in range(4)]
    assert [told.answer for told in push(store, planned, OFFICE)] == ["stored"] * 4
    trips = [str(one.record["id"]) for one in planned]
    dice, grants, winners = random.Random(rounds), 0, Counter()
    for _ in range(rounds):
        told = loose("take", [[trips[place % 4], dice.choice((1, 1, 2, 3))] for place in range(16)])
        got = [amount for one in told for amount in one]
        assert (len(got), sum(got)) == (16, 10)
        assert pool_of(store) == (10, 10)
        grants += sum(amount > 0 for amount in got)
        winners[sum(any(one) for one in told)] += 1
        for one in allotting.allotments(store, state="open"):
            allotting.reclaim(store, OFFICE, one.id, "the next round")
        assert pool_of(store) == (0, None)
    with store.reading() as session:
        assert first_broken(session)[1] is None
        noted = select(func.count()).select_from(AuditEntry).where(AuditEntry.action == "allotment granted")
        assert session.exec(noted).one() == grants
    # Both processes were in the fight, and not one after the other.
    assert max(winners) == len(told)
    assert winners[len(told)] > rounds / 10


def test_a_lot_approved_by_many_at_once_has_one_number_and_all_others_are_told_of_it(arena, cheap_hashes):
    store, loose = arena
    rounds, rivals = 12, 8
    trip = phones.trip("ann", depart="2028-03-02T07:00", back="2028-03-02T12:00", status="closed")
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    push(store, [trip, haul, *(phones.line(haul, count=1) for _ in range(rounds))], OFFICE)
    curators = [
        add_account(
            store, Actor(), login=name, name=name.title(), password="wet sand under nine nails", roles=["curator"]
        )
        for name in ("ines", "maren")
    ]
    for number, lot in enumerate(list_lots(store, AskedLots(limit=100))[1], start=1):
        told = loose("approve", [[lot.id, curators[place % 4 // 2].person] for place in range(rivals)])
        accession = f"2028-{number:04}"
        answers = Counter(one for each in told for one in each)
        assert answers == {accession: 1, f"too late: {accession}": rivals - 1}
    with store.reading() as session:
        assert first_broken(session)[1] is None
        numbers = session.exec(select(Acquisition.accession).order_by(Acquisition.accession)).all()
        accepted = select(func.count()).select_from(AuditEntry).where(AuditEntry.action == "lot accepted")
        assert session.exec(accepted).one() == rounds
    assert numbers == [f"2028-{number:04}" for number in range(1, rounds + 1)]
