"""One seeded run: three collectors, their phones and lines, a server that loses its power, and calm at the end."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from tests.sync.faulty_lines import FAULTS, FaultyLine
from tests.sync.grounds import BEGIN, Ground
from tests.sync.logbook import Logbook
from tests.sync.outings import Collector, Outing
from tests.sync.power import PLACES, Power
from tests.sync.server_in_process import ServerInProcess
from tests.sync.simulated_phone import Phone, Reply, Request, Way, running_fast
from tests.sync.verdicts import Seen, differences, misjudged

SHORT, LONG = 10, 26
"""Steps of a run: every eighth is long, so that old deliveries meet much newer ones."""

OLD = 1
"""The place of the phone that speaks the protocol before the newest."""

MOST_ROUNDS = 60
"""In calm, how often the phones are given the chance to get rid of what waits."""

KILLED = "power lost"
IN_PROCESS: dict[str, int] = {**FAULTS, KILLED: 14}


@dataclass(slots=True)
class Clock:
    """The time of the run."""

    at: datetime = BEGIN

    def __call__(self) -> datetime:
        """Give the time."""
        return self.at


@dataclass(slots=True)
class MortalLine(FaultyLine):
    """A line to a server inside the test, which may lose its power over a request."""

    mortal: ServerInProcess | None = None

    def suffer(self, fault: str, request: Request) -> Reply:
        """Let one fault happen to a request."""
        if fault != KILLED or self.mortal is None:
            return FaultyLine.suffer(self, fault, request)
        place = self.dice.choice(PLACES)
        return self.mortal.ask_and_die(request, place, self.dice.randrange(1, 28) if place == PLACES[0] else 1)


@dataclass(slots=True)
class Crew:
    """The phones with their collectors and lines, whatever the server is."""

    logbook: Logbook
    phones: list[Phone]
    collectors: list[Collector]
    lines: list[FaultyLine]
    up_to_date: Phone | None = None

    def settle(self) -> None:
        """In calm, send and mend until nothing more can be got rid of, or a bound is reached."""
        for line in self.lines:
            line.calm = True
        tried: list[list[str]] = [[] for _ in self.phones]
        for _ in range(MOST_ROUNDS):
            for place, collector in enumerate(self.collectors):
                collector.mend()
                # What waits for something else is tried again once anything has come through or was mended.
                waiting = self._waiting()
                if collector.phone.has_hope() and tried[place] != waiting:
                    tried[place] = waiting
                    collector.phone.send(1000, calm=True)
        # What was under way all the time arrives after everything else.
        for line in self.lines:
            while line.deliver_late():
                pass

    def _waiting(self) -> list[str]:
        return [one.operation["id"] for phone in self.phones for one in phone.outbox]

    def catch_up(self, *others: Phone) -> None:
        """In calm, let one of the phones, and some others, ask for all that is new."""
        self.up_to_date = self.phones[len(self.logbook.deeds) % len(self.phones)]
        for phone in (self.up_to_date, *others):
            while phone.pull(limit=25 if phone is self.up_to_date else 1000):
                pass

    def seen(self, fresh: Phone) -> Seen:
        """Give what the phones know, to be held against the store."""
        return Seen(self.logbook, self.phones, (self.up_to_date or fresh, fresh))

    def met(self) -> Counter[str]:
        """Count what happened in the run."""
        met = Counter(self.logbook.met)
        for line in self.lines:
            met.update(line.met)
        for phone in self.phones:
            met["phone restarted"] += phone.restarts
            answers = [one for told in phone.told.values() for one in told]
            met.update(one.answer for one in answers)
            met.update(f"{one.answer}, protocol {phone.protocol}" for one in answers)
            met["clock compared"] += phone.protocol == 2 and phone.compared is not None
            met.update(_kind_of_refusal(one["what"]) for answer in answers for one in answer.problems)
        met["corrected"] = sum(1 for deed in self.logbook.deeds.values() if deed.good and deed.operation["why"])
        return met


def _kind_of_refusal(what: str) -> str:
    for words, kind in (
        ("that it belongs to", "a parent was missing"),
        ("needs its reason", "a reason was missing"),
        ("There is no person", "a person was missing"),
        ("no such record here", "the record to amend was missing"),
        ("There is no", "what a paper speaks of was missing"),
    ):
        if words in what:
            return kind
    return "a slip"


def crew_of(
    seed: int,
    ground: Ground,
    clock: Callable[[], datetime],
    line_to: Callable[[random.Random], FaultyLine],
    kind: type[Phone] = Phone,
) -> Crew:
    """Make three phones with their collectors, of whom one or two have begun a trip."""
    outing, phones, collectors, lines = Outing(), [], [], []
    names = random.Random(f"{seed} trips")
    for place, enrolled in enumerate(ground.enrolled[:3]):
        line = line_to(random.Random(f"{seed} line {place}"))
        fast = names.choice((0, 0, 0, 11_220))
        phone = kind(
            f"phone {place + 1}",
            enrolled.person,
            enrolled.device,
            enrolled.token,
            line,
            random.Random(f"{seed} phone {place}"),
            running_fast(clock, fast),
            protocol=1 if place == OLD else 2,
        )
        lines.append(line)
        phones.append(phone)
        collectors.append(Collector(phone, outing, random.Random(f"{seed} collector {place}")))
    for collector in names.sample(collectors, names.choice((1, 2))):
        collector.begin_trip()
    return Crew(outing.logbook, phones, collectors, lines)


def fresh_phone(ground: Ground, way: Way, clock: Callable[[], datetime]) -> Phone:
    """Give a phone that was in no creek."""
    last = ground.enrolled[3]
    return Phone("the fresh phone", last.person, last.device, last.token, way, random.Random(0), clock)


@dataclass(slots=True)
class Outcome:
    """What a run left behind: every difference between logbook and store, and what happened on the way."""

    differences: list[str]
    met: Counter[str] = field(default_factory=Counter)


def run(seed: int, ground: Ground, kind: type[Phone] = Phone, faults: Mapping[str, int] = IN_PROCESS) -> Outcome:
    """Play one seed against the server inside the test; every tenth goes through the whole app.

    On every fifth the season is judged as it grows, by whichever server stands, and held against judging it whole.
    """
    ground.renew()
    clock, power, judging = Clock(), Power(), seed % 5 == 1
    with _server(ground, clock, power, whole=seed % 10 == 3, judging=judging) as server:
        crew = crew_of(seed, ground, clock, lambda dice: MortalLine(server, dice, faults, mortal=server), kind)
        dice = random.Random(f"{seed} steps")
        for _ in range(SHORT if seed % 8 else LONG):
            clock.at += timedelta(seconds=dice.randrange(5, 200))
            _step(crew, dice)
        crew.settle()
        fresh = fresh_phone(ground, server, clock)
        crew.catch_up(fresh)
        found = differences(crew.seen(fresh), server.store, ground.before)
        if judging:
            found += misjudged(server.store)
    return Outcome(found, crew.met() + power.struck)


@contextmanager
def _server(ground: Ground, clock: Clock, power: Power, *, whole: bool, judging: bool) -> Iterator[ServerInProcess]:
    power.watch(ground.engine)
    server = ServerInProcess(ground, clock, power, whole=whole, judging=judging)
    try:
        yield server
    finally:
        server.stop()
        power.cut_at("")
        power.unwatch(ground.engine)


def _step(crew: Crew, dice: random.Random) -> None:
    place = dice.randrange(len(crew.phones))
    collector, line = crew.collectors[place], crew.lines[place]
    match dice.choices(("enter", "send", "pull", "mend", "late", "restart"), (34, 36, 10, 8, 9, 3))[0]:
        case "enter":
            for _ in range(dice.randrange(1, 4)):
                collector.act()
        case "send":
            collector.phone.send(dice.randrange(1, 13))
        case "pull":
            collector.phone.pull(dice.choice((3, 20, 500)))
        case "mend":
            collector.mend(0.7)
        case "restart":
            collector.phone.restart()
        case _:
            line.deliver_late()


def told(outcome: Outcome, seed: int, file: str) -> str:
    """Say what went wrong with a seed, and how it is played again."""
    again = f"CREEKLEDGER_SEED={seed} python -m pytest tests/sync/{file}"
    return "\n".join((f"seed {seed}; play it again with: {again}", *outcome.differences))


def kinds_of(differences: Sequence[str]) -> set[str]:
    """Give the first words of differences."""
    return {one.partition(":")[0] for one in differences}
