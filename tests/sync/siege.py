"""A run against a real server: three phones at once, each in a thread of its own, while the server is killed.

The seed fixes what the collectors enter, what the lines do and where the server kills itself; what meets what is
left to the machine, so that a failing seed may have to be played several times to fail again.
"""

from __future__ import annotations

import random
import threading
import time
from collections import Counter
from datetime import UTC, datetime

from api.store.unit_of_work import Store
from tests.sync.faulty_lines import FaultyLine
from tests.sync.grounds import BEGIN, Ground
from tests.sync.killed_server import KilledServer, Launcher
from tests.sync.outings import Collector
from tests.sync.power import PLACES
from tests.sync.simulation import Crew, Outcome, crew_of, fresh_phone
from tests.sync.verdicts import differences

FAULTS = {"none": 80, "request lost": 4, "answer lost": 5, "delivered twice": 5, "delivered late": 6}
FROM_OUTSIDE = "from outside"
MOST_ENTRIES = 20
"""What one collector enters, unless nothing is left to be sent and the storm is not over yet."""


def besiege(seed: int, ground: Ground, launcher: Launcher) -> Outcome:
    """Play one seed; the server is killed twice from outside, and once at each place of its own work."""
    ground.renew()
    ahead = BEGIN - datetime.now(UTC)
    dice = random.Random(f"{seed} kills")
    server = KilledServer(launcher, ground, ahead.total_seconds())

    def clock() -> datetime:
        return datetime.now(UTC) + ahead

    crew = crew_of(seed, ground, clock, lambda own: FaultyLine(server, own, FAULTS))
    try:
        met = _storm(crew, server, dice)
        server.start()
        crew.settle()
        fresh = fresh_phone(ground, server, clock)
        crew.catch_up(fresh)
    finally:
        server.kill()
    store = Store(ground.engine, clock)
    found = differences(crew.seen(fresh), store, ground.before)
    ground.engine.dispose()
    return Outcome(found, crew.met() + met + _fates_of_the_cut(crew, server))


def _storm(crew: Crew, server: KilledServer, dice: random.Random) -> Counter[str]:
    """Let the phones work while the server is killed; gives how often it died where."""
    over, guard = threading.Event(), threading.Lock()
    workers = [
        threading.Thread(target=_work, args=(collector, line, over, guard))
        for collector, line in zip(crew.collectors, crew.lines, strict=True)
    ]
    met: Counter[str] = Counter()
    deaths = [*PLACES, FROM_OUTSIDE, FROM_OUTSIDE]
    dice.shuffle(deaths)
    for worker in workers:
        worker.start()
    try:
        for death in deaths:
            met[f"killed: {death}" if _dies(server, death, dice) else "not killed"] += 1
    finally:
        over.set()
        for worker in workers:
            worker.join()
    return met


def _dies(server: KilledServer, death: str, dice: random.Random) -> bool:
    """Start the server and see it die once; gives whether it did as it was to."""
    if death != FROM_OUTSIDE:
        server.start(death, dice.randrange(1, 60) if death == PLACES[0] else dice.randrange(1, 4))
        return server.wait_for(lambda: not server.alive())
    server.start()
    time.sleep(dice.uniform(0, 0.1))
    at_work = server.wait_for(server.is_at_work)
    time.sleep(dice.uniform(0, 0.03))
    server.kill()
    return at_work


def _work(collector: Collector, line: FaultyLine, over: threading.Event, guard: threading.Lock) -> None:
    """Enter, send, pull and mend until the storm is over."""
    dice, entries = collector.phone.dice, 0
    while not over.wait(dice.uniform(0.001, 0.02)):
        what = dice.choices(("enter", "send", "pull", "mend", "late", "restart"), (40, 40, 8, 6, 5, 1))[0]
        match what:
            case "enter" if entries < MOST_ENTRIES or not collector.phone.outbox:
                with guard:
                    collector.act()
                entries += 1
            case "pull":
                collector.phone.pull(dice.choice((5, 500)))
            case "mend":
                with guard:
                    collector.mend(0.7)
            case "late":
                line.deliver_late()
            case "restart":
                collector.phone.restart()
            case _:
                collector.phone.send(dice.randrange(1, 10))


def _fates_of_the_cut(crew: Crew, server: KilledServer) -> Counter[str]:
    """Count what had become of operations whose delivery was cut off: stored all the same, or nothing of them."""
    met: Counter[str] = Counter()
    told = {key: answers[0].answer for phone in crew.phones for key, answers in phone.told.items()}
    for operation in set(server.cut):
        met[f"cut off, then {told.get(operation, 'never told')}"] += 1
    return met
