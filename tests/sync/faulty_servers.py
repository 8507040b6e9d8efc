"""Servers and phones that are wrong on purpose, each in one way, to show that the simulation notices.

A faulty server is made by changing the real one for the length of a test.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import select

from api.entities.sync import Receipt
from api.operations import syncing
from api.operations.syncing import Operation, Told
from api.store.unit_of_work import Actor, Store, Work
from tests.sync.power import PowerCutError
from tests.sync.simulated_phone import Answer, Phone, Reply, Waiting, answers_in

real_push = syncing.push
real_take = syncing._take
real_write_receipt = syncing._write_receipt


def take_without_looking_at_receipts(batch: Any, operation: Operation) -> Told:
    """Carry every operation out as if it had never come; its receipt is written over the one that was there."""
    told, record = syncing._carry_out(batch, operation)
    syncing._write_receipt(batch, operation, syncing.fingerprint(operation.to_json()), told, record)
    return told


class _NothingOfItError(Exception):
    """Carries the receipts that a rehearsal would have written."""

    def __init__(self, rows: list[dict[str, Any]]) -> None:
        self.rows = rows
        super().__init__()


@dataclass(frozen=True)
class _Rehearsal:
    """A store of which nothing stays: what would be written is told, and rolled back."""

    real: Store
    operations: Sequence[Operation]

    @property
    def shared(self) -> dict[str, Any]:
        return self.real.shared

    @contextmanager
    def writing(self, actor: Actor) -> Iterator[Work]:
        with self.real.writing(actor) as work:
            yield work
            work.flush()
            ids = [one.id for one in self.operations]
            work.session.flush()
            rows = work.session.exec(select(Receipt).where(Receipt.operation_id.in_(ids)))
            raise _NothingOfItError([one.model_dump() for one in rows])


def push_receipts_first(
    store: Store, operations: Sequence[Operation], actor: Actor, device_time: datetime | None = None
) -> list[Told]:
    """Commit the receipts in a transaction of their own, and the records in the next one."""
    with store.reading() as session:
        known = {one.operation_id for one in session.exec(select(Receipt).where(Receipt.answer != "refused"))}
    try:
        real_push(_Rehearsal(store, operations), operations, actor, device_time)
    except _NothingOfItError as told:
        rows = told.rows
    with store.writing(actor) as work:
        for row in rows:
            work.session.merge(Receipt(**row))
    taken: set[str] = set()

    def take(batch: Any, operation: Operation) -> Told:
        if operation.id in known | taken:
            return real_take(batch, operation)
        told, _ = syncing._carry_out(batch, operation)
        if told.answer != "refused":
            taken.add(operation.id)
        return told

    syncing._take = take
    try:
        return real_push(store, operations, actor, device_time)
    finally:
        syncing._take = real_take


def push_answering_too_early(
    store: Store, operations: Sequence[Operation], actor: Actor, device_time: datetime | None = None
) -> list[Told]:
    """Answer whether or not the commit came through."""
    answers: list[Told] = []

    def take(batch: Any, operation: Operation) -> Told:
        told = real_take(batch, operation)
        answers.append(told)
        return told

    syncing._take = take
    try:
        return real_push(store, operations, actor, device_time)
    except PowerCutError:
        if len(answers) < len(operations):
            raise
        return answers
    finally:
        syncing._take = real_take


class BelievesErrors(Phone):
    """A phone that counts an HTTP error as sent."""

    def believe(self, batch: Sequence[Waiting], reply: Reply) -> None:
        """Take any reply that is an error for word that all was stored."""
        if reply.status >= 500:
            _all_sent(self, batch)
        Phone.believe(self, batch, reply)


class BelievesPages(Phone):
    """A phone that counts whatever has the status 200 as sent."""

    def believe(self, batch: Sequence[Waiting], reply: Reply) -> None:
        """Look at the status alone."""
        if reply.status == 200:
            _all_sent(self, batch)


class DropsRefusals(Phone):
    """A phone that deletes what the server refused."""

    def believe(self, batch: Sequence[Waiting], reply: Reply) -> None:
        """Count every answer as the end of it."""
        Phone.believe(self, batch, reply)
        named = {one["id"] for one in answers_in(reply)}
        self.outbox = [one for one in self.outbox if one.operation["id"] not in named]


class NamesAnew(Phone):
    """A phone that gives a record and its operation new ids each time it tries to send them."""

    def batch(self, most: int, *, again: float, calm: bool = False) -> list[Waiting]:
        """Give new ids to what was made here and goes out once more."""
        chosen = Phone.batch(self, most, again=again, calm=calm)
        tried = self.__dict__.setdefault("tried", set())
        for one in chosen:
            operation = one.operation
            if operation["id"] in tried and operation["kind"] == "line" and operation["based_on"] is None:
                record = {**operation["record"], "id": self.new_id()}
                one.operation = {**operation, "id": self.new_id(), "record": record}
            tried.add(one.operation["id"])
        return chosen


def _all_sent(phone: Phone, batch: Sequence[Waiting]) -> None:
    for one in batch:
        phone.take(one.operation["id"], Answer("stored", 1, phone.codes.get(one.record, "")))
