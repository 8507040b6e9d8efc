"""Clients that want the same thing at the same moment: threads of one process, or of several processes.

As a process of its own it takes orders, a line of JSON each on standard input, lets its clients loose on the
database that the order names, and tells what each got in a line of JSON on standard output.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from api.domain.allotments import NothingLeftError
from api.operations import allotting, gate
from api.operations.gate import DecidedMeanwhileError
from api.store.engine import open_engine
from api.store.unit_of_work import Actor, Store

ROOT = Path(__file__).resolve().parent.parent.parent
AT = datetime(2028, 7, 14, 2, 0, tzinfo=UTC)
Order = dict[str, Any]


def take(store: Store, trip: str, amount: int) -> int:
    """Ask for an amount of the builders' limit, and when that is refused for one, as long as one is left.

    Gives what was granted. Nobody gives up while anything is left, so that in the end nothing is.
    """
    asked = amount
    while True:
        try:
            allotting.grant(store, Actor("ann"), trip, authority="permit", number="1", amount=asked)
        except NothingLeftError as told:
            if not told.left:
                return 0
            asked = 1
        else:
            return asked


def approve(store: Store, lot: str, curator: str) -> str:
    """Accept a lot as seen at version 1; gives the accession number, or what who came too late is told."""
    try:
        return gate.accept(store, Actor(curator), lot, version=1).accession
    except DecidedMeanwhileError as told:
        return f"too late: {told.accession}"


DEEDS: dict[str, Callable[..., Any]] = {"take": take, "approve": approve}


def at_once(pool: ThreadPoolExecutor, deeds: Sequence[Callable[[], Any]]) -> list[Any]:
    """Do things in a thread each, begun together; gives what came of each."""
    begin = threading.Barrier(len(deeds))

    def one(deed: Callable[[], Any]) -> Any:
        begin.wait(timeout=60)
        return deed()

    return [told.result() for told in [pool.submit(one, deed) for deed in deeds]]


def ordered(order: Order, store: Store, pool: ThreadPoolExecutor) -> list[Any]:
    """Let the clients of an order loose: each has its own arguments."""
    return at_once(pool, [partial(DEEDS[order["deed"]], store, *each) for each in order["clients"]])


class Process:
    """A process of rivals."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.operations.rivals"]
        self._process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def order(self, order: Order) -> None:
        """Give an order; does not wait for what comes of it."""
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()

    def told(self) -> list[Any]:
        """Wait for what came of the last order, client by client."""
        assert self._process.stdout is not None
        told = json.loads(self._process.stdout.readline())
        assert isinstance(told, list), told
        return told

    def stop(self) -> None:
        """Let go of the process."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(60)
        self._process.stdout.close()


@contextmanager
def two_processes() -> Iterator[tuple[Process, Process]]:
    """Give two processes of rivals."""
    both = Process(), Process()
    try:
        yield both
    finally:
        for one in both:
            one.stop()


def main() -> None:
    """Take orders until there are no more."""
    stores: dict[str, Store] = {}
    with ThreadPoolExecutor(8) as pool:
        for line in sys.stdin:
            order = json.loads(line)
            url = order["database"]
            if url not in stores:
                stores[url] = Store(open_engine(url), lambda: AT)
            try:
                told: Any = ordered(order, stores[url], pool)
            except Exception as problem:  # noqa: BLE001 - whatever it is, the test has to hear of it
                told = repr(problem)
            sys.stdout.write(json.dumps(told) + "\n")
            sys.stdout.flush()
    for store in stores.values():
        store.engine.dispose()


if __name__ == "__main__":
    main()
