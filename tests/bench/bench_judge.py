"""Checking a season of 100,000 catch lines under the sample permit: ratios in one run, medians.

    python -m tests.bench.bench_judge

Prints (a) the time for 100,000 lines over the time for 10,000, and (b) over a pandas group-by of the same rows
once for each limit. The lines are drawn, seeded, from what the sample season's own hauls look like.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pandas as pd

from api.domain.conditions import TakeLimit
from api.domain.counts import exactly
from api.domain.facts import Book
from api.domain.judge import judge
from api.domain.trips import Haul, Line, Season, Trip
from api.exchange.books import read_book, read_season
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES

AS_OF = datetime(2028, 7, 14, tzinfo=UTC)
ROUNDS = 5
LINES_A_HAUL = 6
HAULS_A_TRIP = 4


def season_of(book: Book, lines: int) -> Season:
    """Draw a season of about so many lines from the sample's hauls, spread over the permit's term."""
    draw = random.Random(20)
    sample, _ = read_season([SAMPLE], book)
    hauls = [haul for trip in sample.trips for haul in trip.hauls if haul.lines and haul.end and haul.kind == "haul"]
    pool = [line for haul in hauls for line in haul.lines if line.unit == "individuals"]
    begins = book.authorities[0].begins
    trips = []
    for number in range(lines // (LINES_A_HAUL * HAULS_A_TRIP)):
        leaves = begins + timedelta(hours=22 + 24 * (number % 360), minutes=number // 360)
        made = []
        for place in range(HAULS_A_TRIP):
            pattern = draw.choice(hauls)
            start = leaves + timedelta(minutes=30 * place)
            picked = tuple(_line(draw, draw.choice(pool), f"L{number}-{place}-{one}") for one in range(LINES_A_HAUL))
            made.append(_haul(pattern, f"H{number}-{place}", start, picked))
        leader = draw.choice(["r-achterberg", "i-calloway"])
        crew = sample.trips[0].crew
        trips.append(
            Trip(
                id=f"T{number}",
                zone="Australia/Hobart",
                leader=leader,
                authority="kelloran-permit",
                crew=crew,
                hauls=tuple(made),
            )
        )
    return Season(trips=tuple(trips), people=sample.people, sites=sample.sites)


def _line(draw: random.Random, pattern: Line, name: str) -> Line:
    return replace(pattern, id=name, count=exactly(draw.randint(1, 9)), authority="", at=None, measurements=())


def _haul(pattern: Haul, name: str, start: datetime, lines: tuple[Line, ...]) -> Haul:
    return replace(
        pattern, id=name, start=start, end=start + timedelta(minutes=12), lines=lines, authority="", also_under=()
    )


def table_of(season: Season) -> pd.DataFrame:
    """Give the same rows as a table: one a line, with the columns that limits group by."""
    rows = [
        (
            line.taxon,
            line.fate,
            line.count.best,
            haul.start.date().isoformat(),
            trip.id,
            haul.id,
            haul.site,
            trip.leader,
        )
        for trip in season.trips
        for haul in trip.hauls
        for line in haul.lines
    ]
    return pd.DataFrame(rows, columns=["taxon", "fate", "count", "day", "trip", "haul", "site", "person"])


def group_once_per_limit(book: Book, table: pd.DataFrame) -> None:
    """Group the rows once for each limit of the permit, by the column of its period and the taxon."""
    column = {"day": "day", "rolling days": "day", "trip": "trip", "haul": "haul"}
    for clauses in (book.authorities[0].conditions,):
        for condition in clauses:
            if isinstance(condition, TakeLimit):
                for bound in condition.limits:
                    table.groupby([column.get(bound.period, "fate"), "taxon"])["count"].sum()


def timed(work: Callable[[], object]) -> float:
    """Give the median seconds of several rounds."""
    seconds = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - begin)
    return statistics.median(seconds)


def main() -> None:
    """Run both comparisons and print their ratios."""
    book, faults = read_book(SAMPLE_AUTHORITIES)
    if book is None or faults:
        raise SystemExit(str(faults))
    book = replace(book, authorities=book.authorities[:1])
    small, large = season_of(book, 10_000), season_of(book, 100_000)
    table = table_of(large)
    small_s = timed(lambda: judge(book, small, AS_OF))
    large_s = timed(lambda: judge(book, large, AS_OF))
    group_s = timed(lambda: group_once_per_limit(book, table))
    limits = sum(len(one.limits) for one in book.authorities[0].conditions if isinstance(one, TakeLimit))
    print(f"lines: {len(table)}; limits grouped: {limits}")
    print(f"10,000 lines {small_s:.2f} s; 100,000 lines {large_s:.2f} s; ratio {large_s / small_s:.1f} (bound 12)")
    print(f"group-by once per limit {group_s:.2f} s; ratio {large_s / group_s:.1f} (bound 10)")


if __name__ == "__main__":
    main()
