"""Taking in what phones deliver: each operation once, in one transaction with its receipt and its audit entry.

A fact is never refused for breaking a permit. What is refused is what cannot be read or hangs on nothing; the
answer says why and how to mend it, and the same operation may come again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import col, select

from api.domain.deliveries import Answer, DeviceClock, EnteredFrom, deed_for
from api.domain.facts import Book
from api.domain.merging import ADDED_UP
from api.domain.trips import Haul, Line, Trip
from api.entities.accounts import Device
from api.entities.columns import ID_LENGTH
from api.entities.sync import Conflict, Receipt
from api.exchange.canonical import canonical, fingerprint
from api.exchange.faults import Fault
from api.exchange.one_record import AnyRecord, Setting, read_one
from api.exchange.season_out import record_to_json
from api.operations.allotting import give_back
from api.operations.living import follow
from api.store.books import current_book
from api.store.earlier import content_then
from api.store.ids import new_id
from api.store.limits import unkeepable
from api.store.shelf import Held, Shelf
from api.store.unit_of_work import Actor, Store, Work

MOST_IN_A_BATCH = 1000
_MOST_OFF_S = 2**31 - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One thing a phone did: a record made or amended, under an id that the phone gave the operation.

    ``parent`` is the trip of a haul or the haul of a line. ``based_on`` is the version that was amended (None
    for a new record), ``why`` the reason, which a closed trip asks for. Of ``device_clock`` and ``entered_from``
    None says that nobody told.
    """

    id: str
    kind: str
    record: Mapping[str, Any]
    parent: str = ""
    based_on: int | None = None
    why: str = ""
    device_clock: DeviceClock | None = None
    entered_from: EnteredFrom | None = None

    @property
    def made_at(self) -> datetime | None:
        """Give when it was made by the phone's clock."""
        return self.device_clock.at if self.device_clock else None

    def to_json(self) -> dict[str, Any]:
        """Give what a receipt's hash is made of: what was done, and when by the phone's clock.

        What is told beside it has no part in it, so that an operation is the same in whichever version of the
        protocol it comes, now or before the server was updated.
        """
        return {
            "id": self.id,
            "kind": self.kind,
            "record": dict(self.record),
            "parent": self.parent,
            "based_on": self.based_on,
            "why": self.why,
            "made_at": self.made_at.isoformat() if self.made_at else None,
        }


@dataclass(frozen=True, slots=True)
class Told:
    """The answer to one operation, with what to mend where it was refused."""

    id: str
    answer: Answer
    version: int | None = None
    code: str = ""
    problems: tuple[Fault, ...] = ()
    conflict: str = ""


@dataclass(frozen=True, slots=True)
class Answered:
    """What the receipt of an operation says that came before."""

    sha256: str
    answer: str
    record: str
    version: int | None


@dataclass(slots=True)
class _Batch:
    """A batch under way: what is known of the records it speaks of."""

    work: Work
    book: Book
    shelf: Shelf
    receipts: dict[str, Answered]


def push(
    store: Store, operations: Sequence[Operation], actor: Actor, device_time: datetime | None = None
) -> list[Told]:
    """Take in a batch in one transaction and judge what it touches; gives an answer to each operation, in their order.

    ``device_time`` is what the phone's clock said when it sent the batch: how far it is off is kept with the phone.
    Raises ValueError for a batch that is too large.
    """
    if len(operations) > MOST_IN_A_BATCH:
        raise ValueError(
            f"a batch holds at most {MOST_IN_A_BATCH} operations, this one {len(operations)}; send it in parts"
        )
    with store.writing(actor) as work:
        ids = [one.id for one in operations]
        receipts = {
            one.operation_id: Answered(one.sha256, one.answer, one.record, one.version)
            for one in work.session.exec(select(Receipt).where(col(Receipt.operation_id).in_(ids)))
        }
        _compare_clocks(work, device_time)
        book = current_book(work.session, store.shared)
        shelf = Shelf(work, book)
        shelf.look_up(_spoken_of(operations))
        batch = _Batch(work, book, shelf, receipts)
        told = [_take(batch, one) for one in operations]
    follow(store)
    return told


def _compare_clocks(work: Work, device_time: datetime | None) -> None:
    """Keep with the phone when it was heard of and by how much its clock is ahead."""
    device = work.session.get(Device, work.actor.device) if work.actor.device else None
    if device is None:
        return
    device.last_seen_at = work.at
    if device_time is not None and device_time.tzinfo is not None:
        fast = round((device_time - work.at).total_seconds())
        device.clock_fast_s = max(-_MOST_OFF_S, min(_MOST_OFF_S, fast))


def _spoken_of(operations: Iterable[Operation]) -> set[str]:
    """Give every id that a batch may speak of, so that all are looked up at once."""
    found: set[str] = set()
    for one in operations:
        found.add(one.parent)
        for key in ("id", "line", "trip", "about"):
            value = one.record.get(key)
            found.update(str(entry) for entry in (value if isinstance(value, list) else [value]) if entry)
    # An id that no column can hold is nobody's; the record that bears it is refused where it is read.
    return {one for one in found if one and one.isprintable() and len(one) <= ID_LENGTH}


def _take(batch: _Batch, operation: Operation) -> Told:
    """Answer one operation from its receipt, or carry it out and write the receipt."""
    try:
        mark = fingerprint(operation.to_json())
    except ValueError as problem:
        what = f"The operation cannot be kept: {problem}."
        return Told(
            operation.id,
            "refused",
            problems=(Fault(operation.kind[:60], "", what, "Mend the value and send it again."),),
        )
    receipt = batch.receipts.get(operation.id)
    if receipt is not None and receipt.sha256 != mark:
        what = "This operation came before with another content; the first one stands."
        mend = "Send the change as an operation with an id of its own."
        return Told(operation.id, "refused", problems=(Fault(operation.kind[:60], "id", what, mend),))
    if receipt is not None and receipt.answer != "refused":
        return _again(batch, operation, receipt)
    told, record = _carry_out(batch, operation)
    _write_receipt(batch, operation, mark, told, record)
    return told


def _again(batch: _Batch, operation: Operation, receipt: Answered) -> Told:
    """Answer an operation that came before and was taken."""
    held = batch.shelf.held(operation.kind, receipt.record)
    code = held.code if held else ""
    if receipt.answer == "stored":
        return Told(operation.id, "already had", receipt.version, code)
    batch.work.flush()
    kept = batch.work.session.exec(select(Conflict.id).where(Conflict.operation_id == operation.id)).first()
    return Told(operation.id, "conflict", receipt.version, code, conflict=kept or "")


def _write_receipt(batch: _Batch, operation: Operation, mark: str, told: Told, record: str) -> None:
    work, clock = batch.work, operation.device_clock
    problems = [{"where": one.where, "what": one.what, "mend": one.mend} for one in told.problems]
    row: dict[str, Any] = {
        "operation_id": operation.id,
        "device_id": work.actor.device,
        "person_id": work.actor.person,
        "kind": operation.kind[:40],
        "record": record if record.isprintable() and len(record) <= ID_LENGTH else "",
        "sha256": mark,
        "answer": told.answer if told.answer in ("refused", "conflict") else "stored",
        "problems": problems,
        "version": told.version,
        "at": work.at,
        "device_at": clock.at if clock else None,
        "device_ahead_s": clock.ahead_s if clock else None,
        "ahead_known_at": clock.known_at if clock else None,
        "entered_from": operation.entered_from,
    }
    before = batch.receipts.get(operation.id)
    batch.receipts[operation.id] = Answered(mark, row["answer"], row["record"], told.version)
    if before is None:
        work.insert(Receipt, row)
        return
    # It was refused before and came again. Its row may still wait to be written in this very batch.
    work.flush()
    stands = work.session.get_one(Receipt, operation.id)
    for name, value in row.items():
        setattr(stands, name, value)


def _carry_out(batch: _Batch, operation: Operation) -> tuple[Told, str]:
    """Read the record, decide, and store, amend or keep both; gives the answer and the record's id."""
    record_id = str(operation.record.get("id", ""))
    parent, faults = _parent(batch, operation)
    setting = Setting(parent.zone if parent else "", parent.authority if parent else "")
    record, told = read_one(operation.kind, operation.record, batch.book, setting)
    faults += told
    if record is not None and not faults:
        faults += unkeepable(record, operation.kind)
    if record is not None and not faults:
        faults += batch.shelf.unknown_in(record)
    if record is None or faults:
        return Told(operation.id, "refused", problems=tuple(faults)), record_id
    held = batch.shelf.held(operation.kind, record_id)
    stands = batch.shelf.record(held) if held is not None else None
    if held is not None and parent is not None and held.parent != parent.id:
        # To say "stored" and leave it where it is would lose what the phone meant.
        what = f"It was entered under the {parent.kind} '{held.parent}', and stays there."
        mend = f"Amend it where it is, and enter a new one under the other {parent.kind}."
        return Told(operation.id, "refused", problems=(Fault(operation.kind, "parent", what, mend),)), record_id
    same = stands == _as_stored(record, held)
    counted_on = same and held is not None and _counted_on(batch, held, record, operation.based_on)
    deed = deed_for(held=held.version if held else None, same=same, based_on=operation.based_on, counted_on=counted_on)
    match deed:
        case "store":
            stored = batch.shelf.store(operation.kind, record, parent, operation.made_at)
            _note(batch, operation, stored, record, "stored")
            return Told(operation.id, "stored", 1, stored.code), record_id
        case "same":
            return Told(operation.id, "stored", held.version if held else 1, held.code if held else ""), record_id
        case "gone":
            what = "There is no such record here to amend."
            fault = Fault(operation.kind, "id", what, "Send it as a new record, without 'based_on'.")
            return Told(operation.id, "refused", problems=(fault,)), record_id
        case _ if held is None or stands is None:
            raise AssertionError(deed)
        case _ if held.closed and not operation.why.strip():
            # Before a conflict, too: what was refused for want of a reason, and has long been sent anew with one,
            # may come once more, and is no version that anybody still offers.
            what, mend = "The trip is closed; a change needs its reason.", "Say why it is changed."
            return Told(operation.id, "refused", problems=(Fault(operation.kind, "why", what, mend),)), record_id
        case "amend":
            return _amend(batch, operation, held, stands, record), record_id
        case _:
            return _keep_both(batch, operation, held, stands, record), record_id


def _as_stored(record: AnyRecord, held: Held | None) -> AnyRecord:
    """Give a record under the code that it bears in the store, to be held against what stands there."""
    if held is None or not isinstance(record, Trip | Haul | Line):
        return record
    return replace(record, id=held.code)


def _counted_on(batch: _Batch, held: Held, record: AnyRecord, based_on: int | None) -> bool:
    """Tell whether a line was counted on from an older version, as what stands here was."""
    if not isinstance(record, Line) or based_on is None or based_on >= held.version:
        return False
    now = record_to_json(record)
    base = content_then(batch.work.session, held, now, based_on)
    return base is None or any(base.get(name) != now.get(name) for name in ADDED_UP)


def _parent(batch: _Batch, operation: Operation) -> tuple[Held | None, list[Fault]]:
    """Find the trip of a haul or the haul of a line."""
    above = {"haul": "trip", "line": "haul"}.get(operation.kind)
    if above is None:
        return None, []
    held = batch.shelf.held(above, operation.parent)
    if held is None:
        what = f"The {above} that it belongs to ('{operation.parent}') is not here."
        return None, [Fault(operation.kind, "parent", what, f"Send the {above} first; then this one again.")]
    return held, []


def _amend(batch: _Batch, operation: Operation, held: Held, stands: AnyRecord, record: AnyRecord) -> Told:
    """Put an amended record in place of the one that stands."""
    version = amend_standing(batch.shelf, held, stands, _as_stored(record, held), operation.why, operation.made_at)
    return Told(operation.id, "stored", version, held.code)


def amend_standing(
    shelf: Shelf, held: Held, stands: AnyRecord, amended: AnyRecord, why: str, made_at: datetime | None = None
) -> int:
    """Put an amended record (under its code) in place of the one that stands; gives its new version.

    Of a closed trip the old values are kept as corrections, with the reason.
    """
    closed = held.closed
    old, new = record_to_json(stands), record_to_json(amended)
    changed = {name: (old.get(name), new.get(name)) for name in {**old, **new} if old.get(name) != new.get(name)}
    version = shelf.amend(held, amended, made_at)
    if isinstance(amended, Trip) and amended.status in ("closed", "cancelled"):
        give_back(shelf.work, held.id)
    if closed:
        for name, (before, after) in sorted(changed.items()):
            shelf.correct(held, name, _words(before), _words(after), why)
    content = {"version": version, "changes": {name: list(pair) for name, pair in changed.items()}, "why": why}
    shelf.work.note(f"{held.kind} amended", f"{held.kind} {held.id}", content)
    return version


def _words(value: Any) -> str:
    """Write a value of a record as a correction shows it."""
    if value is None:
        return ""
    return value if isinstance(value, str) else canonical(value).decode("utf-8")


def _keep_both(batch: _Batch, operation: Operation, held: Held, stands: AnyRecord, record: AnyRecord) -> Told:
    """Keep the version that stands and the one offered, until a person decides."""
    _let_follow(batch, held, operation.based_on)
    conflict = new_id()
    batch.work.insert(
        Conflict,
        {
            "id": conflict,
            "operation_id": operation.id,
            "kind": operation.kind,
            "record": held.id,
            "based_on": operation.based_on,
            "stands": canonical(record_to_json(stands)).decode("utf-8"),
            "offered": canonical(record_to_json(_as_stored(record, held))).decode("utf-8"),
            "state": "open",
            "made_at": batch.work.at,
            "settled_at": None,
            "settled_by": "",
            "why": operation.why,
        },
    )
    batch.work.note("conflict kept", f"{operation.kind} {held.id}", {"conflict": conflict, "version": held.version})
    return Told(operation.id, "conflict", held.version, held.code, conflict=conflict)


def _let_follow(batch: _Batch, held: Held, based_on: int | None) -> None:
    """Set aside what this phone offered before from the same version: what it offers now has all that in it."""
    work = batch.work
    work.flush()
    query = (
        select(Conflict)
        .join(Receipt, col(Receipt.operation_id) == col(Conflict.operation_id))
        .where(Conflict.record == held.id, Conflict.state == "open", Conflict.based_on == based_on)
        .where(Receipt.device_id == work.actor.device, Receipt.device_id != "")
    )
    for before in work.session.exec(query):
        before.state, before.settled_at = "followed", work.at
        work.note("conflict followed", f"conflict {before.id}", {"record": held.id})


def _note(batch: _Batch, operation: Operation, held: Held, record: AnyRecord, deed: str) -> None:
    content = {"code": held.code, "record": record_to_json(record)}
    batch.work.note(f"{operation.kind} {deed}", f"{operation.kind} {held.id}", content)
