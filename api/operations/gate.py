"""The gate: kept catch lines of closed trips come to the door as lots, and a curator decides on each.

A lot follows its catch line until it is decided on; from then on it keeps what was decided. No decision gives
anything back to a limit.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from typing import cast

from sqlalchemy import Select, or_
from sqlalchemy import select as select_rows
from sqlmodel import Session, col, func, select

from api.domain.acquisitions import (
    STATES,
    UNDECIDED,
    AcquisitionError,
    AtTheDoor,
    Choice,
    Decided,
    Decider,
    State,
    accession_number,
    accession_place,
    check_decider,
    collectors_of,
    decided,
    moved,
)
from api.domain.calendar import local_day
from api.domain.counts import NOTHING, Amount, Count
from api.domain.facts import Book
from api.domain.reckoning.wording import amount_words
from api.domain.rules.finding import Finding
from api.domain.trips import CrewMember, Line, Movement
from api.entities.accounts import Account, AccountRoleHeld
from api.entities.acquisitions import Acquisition, Lot, Want
from api.entities.catches import CatchLine
from api.entities.columns import NOTE_LENGTH
from api.entities.hauls import HaulRecord
from api.entities.papers import MovementRecord
from api.entities.people import Organisation, Person
from api.entities.trips import CrewEntry, TripRecord
from api.exchange.printable import one_line
from api.exchange.season_out import amount_value, record_to_json
from api.operations import compliance
from api.operations.lots import at_the_gate, bring_lots, content_of, in_order
from api.operations.syncing import amend_standing
from api.store import records
from api.store.books import current_book
from api.store.ids import new_id
from api.store.records import Names
from api.store.seasons import rows_of
from api.store.shelf import Shelf
from api.store.unit_of_work import Actor, Store, Work

Row = tuple[Acquisition, Lot, CatchLine, HaulRecord, TripRecord]


class UnknownAcquisitionError(AcquisitionError):
    """There is no such lot at the gate; carries the id."""

    def __init__(self, acquisition: str) -> None:
        self.acquisition = acquisition
        super().__init__(f"there is no lot '{acquisition[:80]}' at the gate; take an id from the list of lots")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTold:
    """A lot at the gate. ``id`` is what decisions name, ``line`` the code of its catch line.

    ``field_count`` is what the lot came with, ``on_hand`` what the record says should be there now. ``amended``
    tells that the catch line was amended after the lot was decided on. ``wanted`` is the number on open wants for
    its taxon. ``findings`` are those that rest on its line.
    """

    id: str
    state: str
    version: int
    accession: str
    line: str
    haul: str
    trip: str
    taxon: str
    authority: str
    unit: str
    field_count: Count
    on_hand: Count
    door_count: Amount | None
    decided_at: datetime | None
    decided_by: str
    decided_by_name: str
    reason: str
    onward: str
    collectors: tuple[str, ...]
    wanted: int
    amended: bool
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedLots:
    """Which lots are asked for: of a state, of a trip (its code); "" asks for all."""

    state: str = ""
    trip: str = ""
    start: int = 0
    limit: int = 50


# --- lots


def list_lots(store: Store, asked: AskedLots) -> tuple[int, list[LotTold]]:
    """Give the number of lots asked for, and a page of them in order of capture, with the findings on each.

    Raises AcquisitionError for a state that there is none of.
    """
    if asked.state not in ("", *STATES):
        raise AcquisitionError(f"'{asked.state[:60]}' is no state of a lot; the states are {', '.join(STATES)}")
    bring_lots(store)
    with store.reading() as session:
        wanted = [or_(at_the_gate(), col(Acquisition.state).not_in(UNDECIDED))]
        if asked.state:
            wanted.append(col(Acquisition.state) == asked.state)
        if asked.trip:
            # PostgreSQL takes no text with a NUL in it, not even to compare.
            wanted.append(col(TripRecord.code) == one_line(asked.trip))
        query = _lots().where(*wanted)
        number = session.exec(select(func.count()).select_from(query.subquery())).one()
        page = query.order_by(*in_order()).offset(asked.start).limit(asked.limit)
        told = _told(session, session.execute(page).all(), current_book(session, store.shared))
    return number, _with_findings(store, told)


def _lots() -> Select[Acquisition, Lot, CatchLine, HaulRecord, TripRecord]:
    """Give the query for lots with the records they hang on."""
    return (
        select_rows(Acquisition, Lot, CatchLine, HaulRecord, TripRecord)
        .join(Lot, col(Lot.id) == col(Acquisition.lot_id))
        .join(CatchLine, col(CatchLine.id) == col(Lot.line_id))
        .join(HaulRecord, col(HaulRecord.id) == col(CatchLine.haul_id))
        .join(TripRecord, col(TripRecord.id) == col(HaulRecord.trip_id))
    )


def _with_findings(store: Store, told: Sequence[LotTold]) -> list[LotTold]:
    """Put to each lot the findings that rest on its line, in the authorities' own order."""
    with compliance.now(store) as now:
        of_trip = {
            trip: [compliance.looked_up(finding) for finding in now.of_trip(trip)]
            for trip in {one.trip for one in told}
        }
    return [
        replace(one, findings=tuple(finding for finding in of_trip[one.trip] if one.line in finding.records))
        for one in told
    ]


def _told(session: Session, rows: Sequence[Row], book: Book) -> list[LotTold]:
    """Put what is told of some lots together."""
    deciders = {one.decided_by for one, *_ in rows if one.decided_by}
    names = _names(session, deciders)
    wants = session.exec(select(Want.taxon, Want.number).where(col(Want.ended_at).is_(None))).all()
    told = []
    for row, door in zip(rows, _doors(session, rows), strict=True):
        above = book.taxa.lineage(row[1].taxon)
        wanted = sum(number for taxon, number in wants if taxon in above)
        told.append(_lot_told(row, door, names.get(row[0].decided_by or "", ""), wanted))
    return told


def _names(session: Session, people: Collection[str]) -> dict[str, str]:
    return dict(session.exec(select(Person.id, Person.name).where(col(Person.id).in_(people))).all())


def _doors(session: Session, rows: Sequence[Row]) -> list[AtTheDoor]:
    """Give each lot as the record has it: with what left or joined it, and with who collected it."""
    movements: dict[str, list[Movement]] = {}
    for one in rows_of(session, MovementRecord, "at", "id", only=("line", [line.id for _, _, line, *_ in rows])):
        movements.setdefault(one["line"], []).append(records.movement_of(one, Names()))
    crews: dict[str, list[CrewMember]] = {}
    for one in rows_of(session, CrewEntry, "trip_id", "place", only=("trip_id", sorted({row[4].id for row in rows}))):
        crews.setdefault(one["trip_id"], []).append(records.crew_of(one))
    doors = []
    for acquisition, _, line, haul, trip in rows:
        gone, gained = moved(movements.get(line.id, ()))
        doors.append(
            AtTheDoor(
                state=cast("State", acquisition.state),
                count=_count(line),
                unit=line.unit,
                collectors=collectors_of(trip.leader, crews.get(trip.id, ()), line.person or haul.person or ""),
                gone=gone,
                gained=gained,
            )
        )
    return doors


def _lot_told(row: Row, door: AtTheDoor, decider: str, wanted: int) -> LotTold:
    acquisition, lot, line, haul, trip = row
    return LotTold(
        id=acquisition.id,
        state=acquisition.state,
        version=acquisition.version,
        accession=acquisition.accession or "",
        line=line.code,
        haul=haul.code,
        trip=trip.code,
        taxon=lot.taxon,
        authority=lot.authority or "",
        unit=lot.unit,
        field_count=_count(lot),
        on_hand=door.expected,
        door_count=_exact(acquisition.door_count),
        decided_at=acquisition.decided_at,
        decided_by=acquisition.decided_by or "",
        decided_by_name=decider,
        reason=acquisition.reason,
        onward=acquisition.onward,
        collectors=tuple(sorted(door.collectors)),
        wanted=wanted,
        amended=acquisition.state not in UNDECIDED and _amended_since(acquisition, line),
    )


def _amended_since(acquisition: Acquisition, line: CatchLine) -> bool:
    """Tell whether a line was amended after the last decision on its lot."""
    return acquisition.decided_at is not None and line.received_at > acquisition.decided_at


def _count(row: Lot | CatchLine) -> Count:
    return records.count_of("count", row.model_dump()) or NOTHING


def _exact(number: float | None) -> Amount | None:
    """Give a door count as it was given: floats write themselves as the shortest decimal that means them."""
    if number is None:
        return None
    exact = Fraction(repr(number))
    return exact.numerator if exact.denominator == 1 else exact


# --- decisions


def accept(
    store: Store, actor: Actor, acquisition: str, *, version: int, door_count: Amount | None = None, reason: str = ""
) -> LotTold:
    """Accept a lot under the next accession number of the year; gives it as it stands then.

    ``version`` is the one that the decider saw, ``door_count`` what was counted at the door (None: nobody
    recounted). What the door counts above the record is a correction of the catch line, with the reason; what it
    counts below is missing, and the take stays.

    Raises UnknownAcquisitionError, NotACuratorError, OwnCatchError, DecidedMeanwhileError, NotAtTheGateError and
    what ``acquisitions.decided`` raises.
    """
    return _decide(store, actor, acquisition, version, Choice(move="accept", reason=clean(reason), door=door_count))


def decline(
    store: Store,
    actor: Actor,
    acquisition: str,
    *,
    version: int,
    reason: str,
    onward: str = "",
    door_count: Amount | None = None,
) -> LotTold:
    """Decline a lot, with the reason and where it goes; nothing is given back to any limit. Raises as ``accept``."""
    choice = Choice(move="decline", reason=clean(reason), onward=onward, door=door_count)
    return _decide(store, actor, acquisition, version, choice)


def hold(store: Store, actor: Actor, acquisition: str, *, version: int, reason: str = "") -> LotTold:
    """Put a lot on hold until it is accepted or declined. Raises as ``accept``."""
    return _decide(store, actor, acquisition, version, Choice(move="hold", reason=clean(reason)))


def clean(text: str) -> str:
    """Give a text as it may be kept: on one line, printable, no longer than its column."""
    return one_line(text).strip()[:NOTE_LENGTH]


def _decide(store: Store, actor: Actor, named: str, version: int, choice: Choice) -> LotTold:
    with store.writing(actor) as work:
        row = _row(work.session, named)
        (door,) = _doors(work.session, [row])
        check_decider(decider_of(work.session, actor), door.collectors)
        _check_as_seen(work.session, row, version)
        outcome = decided(door, choice)
        _count_at_the_door(work, current_book(work.session, store.shared), row[2], choice, outcome)
        _write_decision(work, row, choice, outcome)
    return look_at(store, named)


def look_at(store: Store, acquisition: str) -> LotTold:
    """Give one lot as it stands, with its findings; raises UnknownAcquisitionError."""
    with store.reading() as session:
        told = _told(session, [_row(session, acquisition)], current_book(session, store.shared))
    return _with_findings(store, told)[0]


def _row(session: Session, named: str) -> Row:
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    query = _lots().where(col(Acquisition.id) == named)
    row = session.execute(query).first() if named.isprintable() else None
    if row is None:
        raise UnknownAcquisitionError(named)
    return row


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
    if stale or by is None or (undecided and _amended_since(acquisition, line)):
        raise DecidedMeanwhileError(acquisition.state, acquisition.version + stale, "", None)
    name = _names(session, [by]).get(by, by)
    raise DecidedMeanwhileError(acquisition.state, acquisition.version, name, at, acquisition.accession or "")


def _count_at_the_door(work: Work, book: Book, line: CatchLine, choice: Choice, outcome: Decided) -> None:
    """Write what the door's count says of the record: the catch line raised, or some missing."""
    if choice.door is None or (outcome.raised is None and outcome.missing is None):
        return
    shelf = Shelf(work, book)
    shelf.look_up([line.id])
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
        movement = Movement(
            id=new_id(), at=work.at, what="missing", count=outcome.missing, line=line.id, reason=why,
            person=work.actor.person,
        )  # fmt: skip
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
        "field count": record_to_json(_count(lot)),
        "door count": None if choice.door is None else amount_value(choice.door),
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
