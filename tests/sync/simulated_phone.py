"""A phone as the simulation knows it: an outbox that survives a restart, ids and a sequence of its own, and what it was told.

Its rules are few. An operation leaves the outbox only on an answer that names it. What was refused stays, with
the reason, until it is mended or what it waited for has come. Operations on one record go out in the order in
which they were made, and none overtakes one of them that stands refused. Nothing else counts as an answer: no
status, no page, no half of a body, no time that went by.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Protocol

Record = dict[str, Any]
Wire = dict[str, Any]
"""An operation as it goes over the line."""

REFUSED, CONFLICT = "refused", "conflict"
TAKEN = frozenset({"stored", "already had", CONFLICT})
"""The answers on which an operation leaves the outbox."""

_FIRST = ("Send the ", "Send it as a new record")
"""How the mending begins of what waits for something else: a parent, a person, or the record that it amends."""


@dataclass(frozen=True, slots=True)
class Request:
    """What a phone sends."""

    method: str
    path: str
    token: str
    body: bytes = b""


@dataclass(frozen=True, slots=True)
class Reply:
    """What comes back, if anything does."""

    status: int
    body: bytes


class NoAnswerError(Exception):
    """Nothing came back: the phone cannot tell whether the server heard it."""


class Way(Protocol):
    """A way to the server: the server itself, or a line before it."""

    def ask(self, request: Request) -> Reply:
        """Give the reply to a request; raises NoAnswerError."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a phone was told of one operation."""

    answer: str
    version: int | None
    code: str
    problems: tuple[dict[str, str], ...] = ()
    conflict: str = ""


@dataclass(slots=True)
class Waiting:
    """An operation in the outbox, with what the server said is wrong with it (nothing: it was not refused)."""

    sequence: int
    operation: Wire
    reasons: tuple[dict[str, str], ...] = ()

    @property
    def record(self) -> str:
        """Give the id of the record that it is about."""
        return str(self.operation["record"]["id"])

    @property
    def waits_for_another(self) -> bool:
        """Tell whether it was refused only because something else has to come first."""
        return bool(self.reasons) and all(one["mend"].startswith(_FIRST) for one in self.reasons if _tells(one))


def _tells(reason: dict[str, str]) -> bool:
    """Leave out what is a mere consequence: without its trip, nobody knows in which zone a haul's times are."""
    return "has no zone" not in reason["what"]


@dataclass(slots=True)
class Phone:
    """One phone. ``clock`` is its own, which may be wrong; ``dice`` draws its ids and the sizes of its batches."""

    name: str
    person: str
    device: str
    token: str
    way: Way
    dice: random.Random
    clock: Callable[[], datetime]
    protocol: int = 2
    """Which version it speaks; one that was not updated speaks the one before."""
    compared: tuple[int, str] | None = None
    """By how many seconds its clock was ahead of the server's when last compared, and when that was by the server's."""
    outbox: list[Waiting] = field(default_factory=list)
    told: dict[str, list[Answer]] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    mirror: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    """What it pulled: each record as it stood when last heard of."""
    pulled: list[dict[str, Any]] = field(default_factory=list)
    cursor: int = 0
    restarts: int = 0
    _sequence: int = 0

    def new_id(self) -> str:
        """Make a UUIDv7 (RFC 9562, 5.7): 48 bits of milliseconds, the version, the variant, and dice."""
        milliseconds = int(self.clock().timestamp() * 1000)
        number = milliseconds << 80 | 0x7 << 76 | self.dice.getrandbits(12) << 64
        number |= 0b10 << 62 | self.dice.getrandbits(62)
        text = f"{number:032x}"
        return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))

    def record(
        self, kind: str, record: Record, parent: str = "", based_on: int | None = None, why: str = ""
    ) -> Waiting:
        """Put an operation into the outbox."""
        self._sequence += 1
        waiting = Waiting(self._sequence, self._operation(kind, record, parent, based_on, why))
        self.outbox.append(waiting)
        return waiting

    def mend(self, waiting: Waiting, record: Record, why: str) -> Waiting:
        """Put a mended operation in the place of a refused one; it has an id of its own."""
        old = waiting.operation
        mended = Waiting(waiting.sequence, self._operation(old["kind"], record, old["parent"], old["based_on"], why))
        self.outbox[self.outbox.index(waiting)] = mended
        return mended

    def _operation(self, kind: str, record: Record, parent: str, based_on: int | None, why: str) -> Wire:
        operation = {
            "id": self.new_id(),
            "kind": kind,
            "record": record,
            "parent": parent,
            "based_on": based_on,
            "why": why,
        }
        shown = self.clock().isoformat()
        if self.protocol == 1:
            return {**operation, "made_at": shown}
        ahead_s, known_at = self.compared or (None, None)
        clock = {"at": shown, "ahead_s": ahead_s, "known_at": known_at}
        return {**operation, "device_clock": clock, "entered_from": ("screen", "paper")[self._sequence % 2]}

    def restart(self) -> None:
        """Go off and on again: what is left of the outbox is what its storage holds, which is text."""
        self.restarts += 1
        stored = json.dumps([[one.sequence, one.operation, one.reasons] for one in self.outbox])
        self.outbox = [
            Waiting(sequence, operation, tuple(reasons)) for sequence, operation, reasons in json.loads(stored)
        ]

    def refused(self) -> list[Waiting]:
        """Give what waits with a reason told."""
        return [one for one in self.outbox if one.reasons]

    def has_hope(self) -> bool:
        """Tell whether anything waits that may be taken as it is."""
        return any(not one.reasons or one.waits_for_another for one in self.outbox)

    def batch(self, most: int, *, again: float, calm: bool = False) -> list[Waiting]:
        """Choose what to send, oldest first; ``again`` is how likely a refused one is tried again.

        In calm, what waits for something else is tried each time, and what has to be mended is not.

        Of several amendments of one record only the first goes: were it refused, the next would be based on a
        version that never came to be.
        """
        chosen: list[Waiting] = []
        behind: set[str] = set()
        for waiting in self.outbox:
            if len(chosen) == most:
                break
            if waiting.record in behind:
                continue
            if waiting.reasons:
                behind.add(waiting.record)
                if not waiting.waits_for_another if calm else self.dice.random() >= again:
                    continue
            chosen.append(waiting)
            if waiting.operation["based_on"] is not None:
                behind.add(waiting.record)
        return chosen

    def send(self, most: int, *, again: float = 0.4, calm: bool = False) -> None:
        """Send a batch, and believe what is answered."""
        batch = self.batch(most, again=again, calm=calm)
        if not batch:
            return
        body = {
            "protocol": self.protocol,
            "operations": [one.operation for one in batch],
            "device_time": self.clock().isoformat(),
        }
        request = Request("POST", "/api/sync/push", self.token, json.dumps(body).encode())
        try:
            reply = self.way.ask(request)
        except NoAnswerError:
            return
        self.believe(batch, reply)

    def believe(self, _batch: Sequence[Waiting], reply: Reply) -> None:
        """Take in the answers of a reply, and by how much its clock differs from the server's."""
        server_time = body_of(reply).get("server_time")
        if server_time is not None:
            ahead = self.clock() - datetime.fromisoformat(server_time)
            self.compared = round(ahead.total_seconds()), server_time
        for told in answers_in(reply):
            self.take(str(told["id"]), answer_of(told))

    def take(self, operation: str, answer: Answer) -> None:
        """Take in one answer: what is named as taken leaves the outbox, what is refused keeps the reason."""
        self.told.setdefault(operation, []).append(answer)
        for waiting in self.outbox:
            if waiting.operation["id"] != operation:
                continue
            if answer.code:
                self.codes[waiting.record] = answer.code
            if answer.answer in TAKEN:
                self.outbox.remove(waiting)
            elif answer.answer == REFUSED:
                waiting.reasons = answer.problems
            return

    def pull(self, limit: int) -> bool:
        """Ask what is new since the last time; gives whether more is waiting (or nothing was heard)."""
        request = Request("GET", f"/api/sync/pull?after={self.cursor}&limit={limit}", self.token)
        try:
            found = body_of(self.way.ask(request))
        except NoAnswerError:
            return True
        if not isinstance(found.get("changes"), list):
            return True
        for one in found["changes"]:
            self.mirror[one["kind"], one["id"]] = one
            self.pulled.append(one)
        self.cursor = found["cursor"]
        return bool(found["more"])


def body_of(reply: Reply) -> dict[str, Any]:
    """Read the body of a reply; {} for whatever is no answer of our server."""
    if reply.status != 200:
        return {}
    try:
        found = json.loads(reply.body)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def answers_in(reply: Reply) -> list[dict[str, Any]]:
    """Give the answers in a reply; none for whatever is no answer of our server."""
    found = body_of(reply).get("answers")
    return found if isinstance(found, list) else []


def answer_of(told: dict[str, Any]) -> Answer:
    """Read one answer."""
    return Answer(told["answer"], told["version"], told["code"], tuple(told["problems"]), told["conflict"])


def running_fast(clock: Callable[[], datetime], seconds: int) -> Callable[[], datetime]:
    """Give a clock that is ahead of another one."""
    return lambda: clock() + timedelta(seconds=seconds)
