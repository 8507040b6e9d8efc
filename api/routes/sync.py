"""Where phones deliver and ask what is new."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.domain.deliveries import DeviceClock
from api.exchange.protocols import check_protocol
from api.operations import pulling, syncing
from api.operations.syncing import MOST_IN_A_BATCH, Operation
from api.routes.deps import Reader, StoreHere, Writer, actor_of
from api.routes.problems import ProblemError
from api.routes.shapes import ChangedRead, FaultRead, OperationSent, PullRead, PushRead, PushSent, ToldRead

router = APIRouter(prefix="/api/sync", tags=["sync"])


@router.post("/push")
def push(body: PushSent, store: StoreHere, asking: Writer) -> PushRead:
    """Deliver operations. Each is answered: stored, already had, refused (why, how to mend), or conflict.

    The newest protocol and the one before it are spoken (see /healthz); another is answered with 409.
    """
    check_protocol(body.protocol)
    if len(body.operations) > MOST_IN_A_BATCH:
        raise ProblemError(413, f"A batch holds at most {MOST_IN_A_BATCH} operations; send it in parts.")
    operations = [_operation(one) for one in body.operations]
    told = syncing.push(store, operations, actor_of(asking), device_time=body.device_time)
    answers = [
        ToldRead(
            id=one.id,
            answer=one.answer,
            version=one.version,
            code=one.code,
            problems=[FaultRead(where=fault.where, what=fault.what, mend=fault.mend) for fault in one.problems],
            conflict=one.conflict,
        )
        for one in told
    ]
    return PushRead(answers=answers, server_time=store.clock())


def _operation(sent: OperationSent) -> Operation:
    told = sent.model_dump(exclude={"device_clock"})
    clock = sent.device_clock
    return Operation(**told, device_clock=DeviceClock(clock.at, clock.ahead_s, clock.known_at) if clock else None)


@router.get("/pull")
def pull(
    store: StoreHere,
    _asking: Reader,
    after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    limit: Annotated[int, Query(ge=1, le=pulling.MOST_IN_A_PULL)] = 500,
) -> PullRead:
    """Give the records that changed after a cursor, each once, as they stand now."""
    pulled = pulling.pull(store, after, limit)
    changes = [
        ChangedRead(
            seq=one.seq,
            kind=one.kind,
            id=one.id,
            version=one.version,
            trip=one.trip,
            at=one.at,
            code=one.code,
            parent=one.parent,
            record=one.record,
        )
        for one in pulled.changes
    ]
    return PullRead(changes=changes, cursor=pulled.cursor, more=pulled.more)
