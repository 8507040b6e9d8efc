"""The gate: kept catch lines of closed trips come to the door as lots, and a curator decides on each.

A lot follows its catch line until it is decided on; from then on it keeps what was decided. No decision gives
anything back to a limit.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlmodel import Session, col, func, select

from api.domain.acquisitions import (
    UNDECIDED,
    AcquisitionError,
    Choice,
    Decided,
    Decider,
    accession_number,
    accession_place,
    check_decider,
    decided,
)
from api.domain.calendar import local_day
from api.domain.counts import Amount, Count, exactly
from api.domain.facts import Book
from api.domain.reckoning.wording import amount_words
from api.domain.trips import Line, Movement
from api.domain.vocabulary import Gone
from api.entities.accounts import Account, AccountRoleHeld
from api.entities.acquisitions import Acquisition
from api.entities.catches import CatchLine
from api.entities.columns import NOTE_LENGTH
from api.entities.people import Organisation
from api.entities.trips import TripRecord
from api.exchange.printable import one_line
from api.exchange.season_out import amount_value, record_to_json
from api.operations.lots import content_of
from api.operations.lots_told import LotTold, Row, amended_since, count_of, doors_of, look_at, names_of, row_of
from api.operations.syncing import amend_standing
from api.store.books import current_book
from api.store.ids import new_id
from api.store.shelf import Shelf
from api.store.unit_of_work import Actor, Store, Work


class DecidedMeanwhileError(AcquisitionError):
    """A lot is not as the decider saw it; carries its state, who decided and when ("" and None: nobody yet)."""

    def __init__(self, state: str, version: int, by: str, at: datetime | None, accession: str = "") -> None:
        self.state, self.version, self.by, self.at, self.accession = state, version, by, at, accession
        if by and at is not None:
            number = f" as {accession}" if accession else ""
            said = f"{by} has decided on this lot meanwhile: it is {state}{number} since {at:%Y-%m-%d %H:%M} UTC"
        else:
            said = f"this lot is not as you saw it: its catch line was amended, and it is {state}"
        super().__init__(f"{said}; look at it again (version {version})")


class UnknownVersionError(AcquisitionError):
    """A decision names a version that the lot never had; carries it and the newest."""

    def __init__(self, version: int, newest: int) -> None:
        self.version, self.newest = version, newest
        super().__init__(f"this lot has no version {version} yet, its newest is {newest}; look at it again")


class NotAtTheGateError(AcquisitionError):
    """A lot was taken back from the gate: its line is not kept any more, or its trip not closed; carries the code."""

    def __init__(self, code: str) -> None:
        self.code = code
        super().__init__(
            f"the catch line {code} was amended and says 'kept' no more, or its trip was opened again; "
            "it comes to the gate when the trip is closed with it"
        )


# --- decisions


def accept(
    store: Store,
    actor: Actor,
    acquisition: str,
    *,
    version: int,
    door_count: Amount | None = None,
    died: Amount = 0,
    reason: str = "",
) -> LotTold:
    """Accept a lot under the next accession number of the year; gives it as it stands then.

    ``version`` is the one that the decider saw, ``door_count`` what was counted at the door (None: nobody
    recounted) and ``died`` what was dead on arrival, beside it. What the door counts above the record is a correction
    of the catch line, with the reason; what it counts below is missing, and the take stays, as it does of the dead.

    Raises UnknownAcquisitionError, NotACuratorError, OwnCatchError, DecidedMeanwhileError, NotAtTheGateError and
    what ``acquisitions.decided`` raises.
    """
    choice = Choice(move="accept", reason=clean(reason), door=door_count, died=died)
    return _decide(store, actor, acquisition, version, choice)


def decline(
    store: Store,
    actor: Actor,
    acquisition: str,
    *,
    version: int,
    reason: str,
    onward: str = "",
    door_count: Amount | None = None,
    died: Amount = 0,
) -> LotTold:
    """Decline a lot, with the reason and where it goes; nothing is given back to any limit. Raises as ``accept``."""
    choice = Choice(move="decline", reason=clean(reason), onward=onward, door=door_count, died=died)
    return _decide(store, actor, acquisition, version, choice)


def hold(store: Store, actor: Actor, acquisition: str, *, version: int, reason: str = "") -> LotTold:
    """Put a lot on hold until it is accepted or declined. Raises as ``accept``."""
    return _decide(store, actor, acquisition, version, Choice(move="hold", reason=clean(reason)))


def clean(text: str) -> str:
    """Give a text as it may be kept: on one line, printable, no longer than its column."""
    return one_line(text).strip()[:NOTE_LENGTH]


def _decide(store: Store, actor: Actor, named: str, version: int, choice: Choice) -> LotTold:
    with store.writing(actor) as work:
        row = row_of(work.session, named)
        (door,) = doors_of(work.session, [row])
        check_decider(decider_of(work.session, actor), door.collectors)
        _check_as_seen(work.session, row, version)
        outcome = decided(door, choice)
        _count_at_the_door(work, current_book(work.session, store.shared), row[2], choice, outcome)
        _write_decision(work, row, choice, outcome)
    return look_at(store, named)


def decider_of(session: Session, actor: Actor) -> Decider:
    """Give who would decide, with the roles of their open account."""
    query = select(AccountRoleHeld.role).join(Account, col(Account.id) == col(AccountRoleHeld.account_id))
    roles = session.exec(query.where(Account.person_id == actor.person, col(Account.closed_at).is_(None))).all()
    organisation = session.get(Organisation, 1)
    allowed = organisation is not None and organisation.own_catch_approved
    return Decider(person=actor.person, roles=frozenset(roles), own_catch_allowed=allowed)


def _check_as_seen(session: Session, row: Row, version: int) -> None:
    """Raise DecidedMeanwhileError or NotAtTheGateError unless a lot is as the decider saw it."""
    acquisition, lot, line, haul, trip = row
    undecided = acquisition.state in UNDECIDED
    if undecided and (line.fate != "kept" or trip.status != "closed"):
        raise NotAtTheGateError(line.code)
    stale = undecided and any(getattr(lot, name) != value for name, value in content_of(line, haul, trip).items())
    if acquisition.version == version and not stale:
        return
    by, at = acquisition.decided_by, acquisition.decided_at
    if version > acquisition.version + stale:
        raise UnknownVersionError(version, acquisition.version + stale)
    if stale or by is None or (undecided and amended_since(acquisition, line)):
        raise DecidedMeanwhileError(acquisition.state, acquisition.version + stale, "", None)
    name = names_of(session, [by]).get(by, by)
    raise DecidedMeanwhileError(acquisition.state, acquisition.version, name, at, acquisition.accession or "")


def _count_at_the_door(work: Work, book: Book, line: CatchLine, choice: Choice, outcome: Decided) -> None:
    """Write what the door says of the record: the catch line raised, some dead, or some missing."""
    if not choice.died and outcome.raised is None and outcome.missing is None:
        return
    shelf = Shelf(work, book)
    shelf.look_up([line.id])
    if choice.died:
        said = choice.reason or "found dead at the door"
        _note_departure(shelf, line.id, "died", exactly(choice.died), f"died on the way: {said}")
    if choice.door is None:
        return
    why = f"counted at the door: {amount_words(choice.door, line.unit)}" + (
        f"; {choice.reason}" if choice.reason else ""
    )
    if outcome.raised is not None:
        held = shelf.held("line", line.id)
        stands = shelf.record(held) if held is not None else None
        if held is None or not isinstance(stands, Line):
            raise AssertionError(line.id)
        amend_standing(shelf, held, stands, replace(stands, count=outcome.raised), why)
    if outcome.missing is not None:
        _note_departure(shelf, line.id, "missing", outcome.missing, why)


def _note_departure(shelf: Shelf, line: str, what: Gone, count: Count, why: str) -> None:
    """Write that some of a lot left it at the door."""
    work = shelf.work
    movement = Movement(
        id=new_id(), at=work.at, what=what, count=count, line=line, reason=why, person=work.actor.person
    )
    shelf.store("movement", movement, None, None)
    content = {"code": movement.id, "record": record_to_json(movement)}
    work.note("movement stored", f"movement {movement.id}", content)


def _write_decision(work: Work, row: Row, choice: Choice, outcome: Decided) -> None:
    acquisition, lot, line, _, trip = row
    # Asked before anything of the row is set: a question writes what is set so far, and half a decision is refused.
    if outcome.state == "accepted":
        acquisition.accession = _next_accession(work, trip)
    acquisition.state = outcome.state
    acquisition.version += 1
    acquisition.decided_at, acquisition.decided_by = work.at, work.actor.person
    acquisition.reason, acquisition.onward = choice.reason, choice.onward
    acquisition.door_count = None if choice.door is None else float(choice.door)
    content = {
        "line": line.code,
        "version": acquisition.version,
        "accession": acquisition.accession or "",
        "field count": record_to_json(count_of(lot)),
        "door count": None if choice.door is None else amount_value(choice.door),
        "died": amount_value(choice.died),
        "missing": record_to_json(outcome.missing) if outcome.missing is not None else None,
        "reason": choice.reason,
        "onward": choice.onward,
    }
    work.note(f"lot {outcome.state}", f"acquisition {acquisition.id}", content)
    work.changed("acquisition", acquisition.id, acquisition.version, trip.id)


def _next_accession(work: Work, trip: TripRecord) -> str:
    """Give the next number of the year that it is at the organisation (on the trip, where none is set up)."""
    organisation = work.session.get(Organisation, 1)
    year = local_day(work.at, organisation.zone if organisation is not None else trip.zone).year
    own = select(Acquisition.accession).where(col(Acquisition.accession).startswith(accession_number(year, 0)[:5]))
    longest_first = (func.length(Acquisition.accession).desc(), col(Acquisition.accession).desc())
    last = work.session.exec(own.order_by(*longest_first).limit(1)).first()
    return accession_number(year, accession_place(last) + 1 if last else 1)
