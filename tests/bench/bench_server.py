"""What one more haul costs as the season grows, what sync costs beside bare inserts, and how long writers wait.

    python -m tests.bench.bench_server [sqlite] [postgresql] [--lines 1000 100000]

Prints, for each engine: (a) the median time to store and judge one more haul of six catch lines, pushed as a
phone pushes it (validated, stored, audited, receipted, judged), at 100,000 catch lines over that at 1,000 (goal
1.5); (b) the rate of 1,000 catch lines pushed in batches over that of SQLModel's ``add_all`` of the same rows in
one transaction (goal 0.1); (c) the 99th percentile over the median of one haul with eight clients writing (goal
10). PostgreSQL is the tests' own, with its disk waited for; SQLite runs as the server runs it.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from sqlmodel import Session, col, select

from api.domain.facts import Book
from api.domain.trips import Haul, Line, Season, Trip
from api.entities.audit import AuditHead
from api.entities.catches import CatchLine
from api.entities.trips import TripRecord
from api.exchange.books import read_book
from api.exchange.season_out import record_to_json
from api.operations import compliance, living
from api.operations.importing import take_book, take_season
from api.operations.syncing import Operation, push
from api.store.engine import open_engine
from api.store.ids import new_id
from api.store.unit_of_work import Actor, Store
from tests.bench.bench_judge import AS_OF, season_of
from tests.builders import SAMPLE_AUTHORITIES
from tests.databases import Maker, postgresql_databases, sqlite_databases

ROUNDS, WARMING = 40, 5
HAULS_A_TRIP = 4
BATCHES, LINES_A_BATCH = 4, 250
CLIENTS, HAULS_A_CLIENT = 8, 40
OFFICE = Actor("system")


@contextmanager
def databases(engine: str) -> Iterator[Maker]:
    """Give a maker of addresses of fresh databases."""
    if engine == "postgresql":
        with postgresql_databases(durable=True) as make:
            yield make
        return
    with tempfile.TemporaryDirectory() as folder, sqlite_databases(Path(folder)) as make:
        yield make


def filled(url: str, book: Book, season: Season) -> Store:
    """Open a store on a database, fill it, and read and judge the season once."""
    store = Store(open_engine(url), lambda: AS_OF)
    with store.writing(OFFICE) as work:
        take_book(work, book)
        work.flush()
        take_season(work, season)
    living.warm(store)
    return store


class Phone:
    """Pushes hauls like those of the season, on trips of its own at the end of the season."""

    def __init__(self, store: Store, season: Season, day: int) -> None:
        self.store, self.day = store, day
        self.patterns = [haul for trip in season.trips[:40] for haul in trip.hauls]
        self.last = max(haul.start for trip in season.trips for haul in trip.hauls)
        self.model, self.trip, self.hauls = season.trips[0], "", 0

    def begin_trip(self) -> None:
        """Push a trip of its own."""
        self.trip, self.hauls = new_id(), 0
        departs = self.last + timedelta(days=1, minutes=self.day)
        trip = replace(self.model, id=self.trip, hauls=(), depart=departs, status="open")
        self._push([self._operation("trip", trip)])

    def haul(self, lines: int = 6) -> list[Operation]:
        """Give the operations of one haul and its lines."""
        pattern = self.patterns[self.hauls % len(self.patterns)]
        start = self.last + timedelta(days=1, hours=1, minutes=self.day + 20 * self.hauls)
        haul = replace(pattern, id=new_id(), start=start, end=start + timedelta(minutes=12), lines=())
        self.hauls += 1
        every = [pattern.lines[number % len(pattern.lines)] for number in range(lines)]
        return [
            self._operation("haul", haul, self.trip),
            *(self._operation("line", replace(line, id=new_id()), haul.id) for line in every),
        ]

    @staticmethod
    def _operation(kind: str, record: Trip | Haul | Line, parent: str = "") -> Operation:
        content = {name: value for name, value in record_to_json(record).items() if name not in ("hauls", "lines")}
        return Operation(id=new_id(), kind=kind, record=content, parent=parent)

    def _push(self, operations: list[Operation]) -> None:
        told = push(self.store, operations, OFFICE)
        refused = [one for one in told if one.answer != "stored"]
        if refused:
            raise SystemExit(str(refused[0]))

    def timed_push(self, operations: list[Operation]) -> float:
        """Push, and give the seconds it took."""
        begin = time.perf_counter()
        self._push(operations)
        return time.perf_counter() - begin


def one_more_haul(store: Store, season: Season) -> float:
    """Give the median seconds of storing and judging one more haul."""
    phone, spent = Phone(store, season, 0), []
    for number in range(ROUNDS + WARMING):
        if number % HAULS_A_TRIP == 0:
            phone.begin_trip()
        spent.append(phone.timed_push(phone.haul()))
    _see_that_it_was_judged(store, phone.trip)
    return statistics.median(spent[WARMING:])


def _see_that_it_was_judged(store: Store, trip: str) -> None:
    with store.reading() as session:
        code = session.get_one(TripRecord, trip).code
        head = session.get_one(AuditHead, 1).changes
    if living.living(store).changes != head:
        raise SystemExit("what was stored was not judged")
    with compliance.now(store) as now:
        found = now.of_trip(code)
    if not found:
        raise SystemExit(f"no finding rests on the trip {trip}")


def sync_rate(store: Store, season: Season) -> float:
    """Give the catch lines a second, pushed in batches."""
    phone, spent = Phone(store, season, 5), 0.0
    for _ in range(BATCHES):
        phone.begin_trip()
        operations = [one for _ in range(LINES_A_BATCH // 10) for one in phone.haul(10)]
        spent += phone.timed_push(operations)
    return BATCHES * LINES_A_BATCH / spent


def bare_rate(store: Store) -> float:
    """Give the rows a second of the same lines added by SQLModel in one transaction."""
    with Session(store.engine) as session:
        rows = session.exec(select(CatchLine).order_by(col(CatchLine.id).desc()).limit(BATCHES * LINES_A_BATCH)).all()
        own = [row.model_dump() for row in rows]
    made = [CatchLine(**{**row, "id": new_id(), "code": new_id()}) for row in own]
    begin = time.perf_counter()
    with Session(store.engine) as session:
        session.add_all(made)
        session.commit()
    return len(made) / (time.perf_counter() - begin)


def writers(store: Store, season: Season) -> tuple[float, float]:
    """Give the median and the 99th percentile of one haul's seconds with eight clients writing."""
    spent: list[float] = []
    phones = [Phone(store, season, 10 + number) for number in range(CLIENTS)]

    def work(phone: Phone) -> None:
        for number in range(HAULS_A_CLIENT):
            if number % HAULS_A_TRIP == 0:
                phone.begin_trip()
            spent.append(phone.timed_push(phone.haul()))

    threads = [threading.Thread(target=work, args=(phone,)) for phone in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    cuts = statistics.quantiles(spent, n=100)
    return statistics.median(spent), cuts[98]


def main() -> None:
    """Run all comparisons and print their ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", nargs="*", default=["sqlite", "postgresql"])
    parser.add_argument("--lines", nargs=2, type=int, default=[1000, 100_000])
    asked = parser.parse_args()
    book, faults = read_book(SAMPLE_AUTHORITIES)
    if book is None or faults:
        raise SystemExit(str(faults))
    for engine in asked.engines:
        with databases(engine) as make:
            hauls = {}
            for lines in asked.lines:
                season = season_of(book, lines)
                begin = time.perf_counter()
                store = filled(make(), book, season)
                print(
                    f"{engine}, {lines:,} lines: taken in and judged in {time.perf_counter() - begin:.1f} s", flush=True
                )
                hauls[lines] = one_more_haul(store, season)
                print(f"  one more haul {hauls[lines] * 1000:.1f} ms", flush=True)
                pushed = statistics.median(sync_rate(store, season) for _ in range(3))
                bare = statistics.median(bare_rate(store) for _ in range(3))
                print(f"  sync {pushed:,.0f} lines/s, add_all {bare:,.0f} rows/s, ratio {pushed / bare:.2f} (goal 0.1)")
                middle, slow = writers(store, season)
                print(
                    f"  8 writers: median {middle * 1000:.1f} ms, p99 {slow * 1000:.1f} ms, ratio {slow / middle:.1f} (goal 10)"
                )
                store.engine.dispose()
            few, many = asked.lines
            print(
                f"  one more haul, {many:,} lines over {few:,}: {hauls[many] / hauls[few]:.2f} (goal 1.5)", flush=True
            )


if __name__ == "__main__":
    main()
