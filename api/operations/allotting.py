"""Granting allotments at trip planning, giving back what a closed trip did not use, reclaiming by a person.

Everything is decided under the one line that all writers stand in; the database refuses an over-grant besides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from api.domain.allotments import Pool, UnknownPoolError, pools_for
from api.domain.counts import Amount
from api.domain.facts import Facts
from api.domain.remaining import Given
from api.domain.trips import Trip
from api.entities.allotments import Allotment, AllotmentPool
from api.entities.sync import Change
from api.entities.trips import TripRecord
from api.operations.trips import trip_named
from api.store.books import current_book
from api.store.ids import new_id
from api.store.seasons import season_from
from api.store.unit_of_work import Actor, Store, Work


class TripOverError(ValueError):
    """A trip that is closed or called off takes no allotment; carries its state."""

    def __init__(self, trip: str, status: str) -> None:
        self.trip, self.status = trip, status
        super().__init__(f"the trip {trip} is {status}; only a planned or open one is given an allotment")


class UnknownAllotmentError(ValueError):
    """There is no open allotment of that id; carries it."""

    def __init__(self, allotment: str) -> None:
        self.allotment = allotment
        super().__init__(f"there is no open allotment '{allotment[:80]}'; it may have been given back already")


class ReasonMissingError(ValueError):
    """Reclaiming needs its reason."""

    def __init__(self) -> None:
        super().__init__("an allotment is reclaimed with a reason; say what became of the trip")


@dataclass(frozen=True, slots=True)
class AllotmentTold:
    """An allotment as it stands. ``trip`` is the trip's id, ``code`` what people call it."""

    id: str
    trip: str
    code: str
    authority: str
    number: str
    label: str
    name: str
    first_day: str
    unit: str
    amount: float
    state: str
    granted_at: datetime
    granted_by: str
    ended_at: datetime | None
    why: str


@dataclass(frozen=True, slots=True)
class Room:
    """What a trip may still be given of one tally, what it has, and what it took at most."""

    pool: Pool
    left: Amount
    held: Amount
    used: Amount


def rooms_of(store: Store, trip: str, name: str = "") -> list[Room]:
    """Give every tally that a trip may be given from; raises UnknownTripError.

    ``name`` is the taxon that is meant where a limit counts each name by itself.
    """
    with store.reading() as session:
        planned, at = _trip(session, trip)
        facts = season_laid_out(session, store)
        stands = _granted(session)
        rooms = []
        for pool in pools_for(facts, _plain(planned), at, name):
            granted = stands.get(_key(pool), {})
            rooms.append(Room(pool, pool.left(granted), granted.get(planned.code, 0), pool.taken.get(planned.code, 0)))
        return rooms


def grant(
    store: Store,
    actor: Actor,
    trip: str,
    *,
    authority: str,
    number: str,
    amount: Amount,
    label: str = "",
    name: str = "",
) -> AllotmentTold:
    """Give a trip an allotment, or more of the one it has.

    Raises UnknownTripError, TripOverError, UnknownPoolError, BadAmountError and NothingLeftError.
    """
    with store.writing(actor) as work:
        planned, at = _trip(work.session, trip)
        if planned.status not in ("planned", "open"):
            raise TripOverError(planned.code, planned.status)
        pools = pools_for(season_laid_out(work.session, store), _plain(planned), at, name)
        pool = _chosen(pools, authority, number, label, name)
        granted = _granted(work.session).get(_key(pool), {})
        pool.check(amount, granted)
        row = _pool_row(work, pool)
        # The room may have shrunk below what is granted already, by take outside of allotments: that much may stay.
        before = sum(granted.values(), start=0)
        row.room = float(max(pool.room - pool.spent(granted), before))
        row.granted = float(before + amount)
        work.session.add(row)
        work.session.flush()
        held = _allotment_row(work, row.id, planned.id, float(amount))
        content = {
            "trip": planned.code,
            "condition": number,
            "label": label,
            "amount": held.amount,
            "more": float(amount),
        }
        work.note("allotment granted", f"allotment {held.id}", content)
        work.changed("allotment", held.id, 1, planned.id)
        return _told(held, row, planned.code)


def _chosen(pools: Sequence[Pool], authority: str, number: str, label: str, name: str) -> Pool:
    for pool in pools:
        if (pool.authority, pool.number, pool.label, pool.key.name) == (authority, number, label, name):
            return pool
        if (pool.authority, pool.number, pool.label, pool.key.name) == (authority, number, label, ""):
            return pool
    known = [" ".join(part for part in (one.authority, one.number, one.label) if part) for one in pools]
    raise UnknownPoolError(" ".join(part for part in (authority, number, label) if part)[:160], known)


def give_back(work: Work, trip: str) -> int:
    """Give back the allotments of a trip that is closed or called off; gives how many there were.

    What it used is in the record by now; what it did not use others may take.
    """
    rows = work.session.exec(select(Allotment).where(Allotment.trip_id == trip, Allotment.state == "open")).all()
    for row in rows:
        _end(work, row, "returned", "the trip is over")
    return len(rows)


def reclaim(store: Store, actor: Actor, allotment: str, why: str) -> AllotmentTold:
    """Take back the allotment of a trip that never came back, with the reason.

    Raises UnknownAllotmentError and ReasonMissingError.
    """
    if not why.strip():
        raise ReasonMissingError
    with store.writing(actor) as work:
        row = work.session.get(Allotment, allotment) if allotment.isprintable() else None
        if row is None or row.state != "open":
            raise UnknownAllotmentError(allotment)
        pool = _end(work, row, "reclaimed", why)
        code = work.session.get_one(TripRecord, row.trip_id).code
        return _told(row, pool, code)


def _end(work: Work, row: Allotment, state: str, why: str) -> AllotmentPool:
    pool = work.session.get_one(AllotmentPool, row.pool_id)
    pool.granted = max(0.0, pool.granted - row.amount)
    row.state, row.ended_at, row.ended_by, row.why = state, work.at, work.actor.person, why
    work.session.flush()
    work.note(f"allotment {state}", f"allotment {row.id}", {"amount": row.amount, "why": why})
    work.changed("allotment", row.id, 2, row.trip_id)
    return pool


def allotments(store: Store, *, trip: str = "", state: str = "") -> list[AllotmentTold]:
    """Give allotments, the newest first; narrowed by trip (id) and state."""
    query = (
        select(Allotment, AllotmentPool, TripRecord.code)
        .join(AllotmentPool, col(AllotmentPool.id) == col(Allotment.pool_id))
        .join(TripRecord, col(TripRecord.id) == col(Allotment.trip_id))
        .order_by(col(Allotment.granted_at).desc(), col(Allotment.id).desc())
    )
    if trip:
        query = query.where(Allotment.trip_id == trip)
    if state:
        query = query.where(Allotment.state == state)
    with store.reading() as session:
        return [_told(row, pool, code) for row, pool, code in session.exec(query)]


def given_to(session: Session, trip: str) -> list[Given]:
    """Give the open allotments of a trip (its id), oldest first, as limits are reckoned with."""
    query = (
        select(Allotment, AllotmentPool)
        .join(AllotmentPool, col(AllotmentPool.id) == col(Allotment.pool_id))
        .where(Allotment.trip_id == trip, Allotment.state == "open")
        .order_by(col(Allotment.granted_at), col(Allotment.id))
    )
    return [
        Given(
            authority=pool.authority,
            number=pool.number,
            label=pool.label,
            name=pool.name,
            unit=pool.unit,
            amount=_exactly(row.amount),
        )
        for row, pool in session.exec(query)
    ]


def _exactly(amount: float) -> Amount:
    return int(amount) if amount.is_integer() else amount


def _told(row: Allotment, pool: AllotmentPool, code: str) -> AllotmentTold:
    return AllotmentTold(
        row.id,
        row.trip_id,
        code,
        pool.authority,
        pool.number,
        pool.label,
        pool.name,
        pool.first_day,
        pool.unit,
        row.amount,
        row.state,
        row.granted_at,
        row.granted_by,
        row.ended_at,
        row.why,
    )


def _trip(session: Session, trip: str) -> tuple[TripRecord, datetime]:
    """Give a trip (by id or code) and the moment at which it draws on a limit."""
    row = trip_named(session, trip)
    return row, row.depart or row.received_at


def _plain(row: TripRecord) -> Trip:
    return Trip(id=row.code, zone=row.zone, leader=row.leader, authority=row.authority or "")


def season_laid_out(session: Session, store: Store) -> Facts:
    """Lay the season out as it stands in this transaction; what was laid out serves until the season changes."""
    apart = ("allotment", "acquisition")
    query = select(Change.seq).where(col(Change.kind).not_in(apart)).order_by(col(Change.seq).desc()).limit(1)
    mark = session.exec(query).first()
    held: tuple[int | None, Facts] | None = store.shared.get("laid out")
    if held is None or held[0] != mark:
        facts = Facts.of(current_book(session, store.shared), season_from(session), store.clock())
        held = store.shared["laid out"] = (mark, facts)
    return held[1]


PoolKey = tuple[str, str, str, str, str, str]


def _key(pool: Pool) -> PoolKey:
    first = pool.key.first_day.isoformat() if pool.key.first_day else ""
    return pool.authority, pool.number, pool.label, pool.key.holder, pool.key.name, first


def _granted(session: Session) -> dict[PoolKey, dict[str, Amount]]:
    """Give what open allotments hold, by pool and by the trips' codes."""
    query = (
        select(Allotment, AllotmentPool, TripRecord.code)
        .join(AllotmentPool, col(AllotmentPool.id) == col(Allotment.pool_id))
        .join(TripRecord, col(TripRecord.id) == col(Allotment.trip_id))
        .where(Allotment.state == "open")
    )
    found: dict[PoolKey, dict[str, Amount]] = {}
    for row, pool, code in session.exec(query):
        key = (pool.authority, pool.number, pool.label, pool.holder, pool.name, pool.first_day)
        found.setdefault(key, {})[code] = _exactly(row.amount)
    return found


def _pool_row(work: Work, pool: Pool) -> AllotmentPool:
    authority, number, label, holder, name, first_day = _key(pool)
    query = select(AllotmentPool).where(
        AllotmentPool.authority == authority,
        AllotmentPool.number == number,
        AllotmentPool.label == label,
        AllotmentPool.holder == holder,
        AllotmentPool.name == name,
        AllotmentPool.first_day == first_day,
    )
    found = work.session.exec(query).first()
    return found or AllotmentPool(
        id=new_id(),
        authority=authority,
        number=number,
        label=label,
        holder=holder,
        name=name,
        first_day=first_day,
        unit=pool.unit,
        room=0.0,
    )


def _allotment_row(work: Work, pool: str, trip: str, amount: float) -> Allotment:
    """Add to the trip's open allotment, open a given-back one again, or begin one."""
    row = work.session.exec(select(Allotment).where(Allotment.pool_id == pool, Allotment.trip_id == trip)).first()
    if row is None:
        row = Allotment(
            id=new_id(), pool_id=pool, trip_id=trip, amount=amount, granted_at=work.at, granted_by=work.actor.person
        )
    elif row.state == "open":
        row.amount += amount
    else:
        row.state, row.amount, row.ended_at, row.ended_by, row.why = "open", amount, None, "", ""
        row.granted_at, row.granted_by = work.at, work.actor.person
    work.session.add(row)
    work.session.flush()
    return row
