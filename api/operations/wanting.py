"""What the collection needs: wants for a number of a taxon, added and ended by curators.

A lot at the gate shows how many of it are wanted; a want decides nothing by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col, func, select

from api.domain.acquisitions import AcquisitionError, check_decider
from api.domain.taxa import UnknownTaxonError
from api.entities.acquisitions import Want
from api.entities.columns import NAME_LENGTH
from api.exchange.printable import one_line
from api.operations.gate import clean, decider_of
from api.store.books import current_book
from api.store.ids import new_id
from api.store.unit_of_work import Actor, Store

_LARGEST_WANT = 2**31 - 1


class WantRefusedError(AcquisitionError):
    """A want cannot stand; the text says why."""


class UnknownWantError(AcquisitionError):
    """There is no such want; carries the id."""

    def __init__(self, want: str) -> None:
        self.want = want
        super().__init__(f"there is no want '{want[:80]}'; take an id from the list of wants")


@dataclass(frozen=True, slots=True, kw_only=True)
class WantTold:
    """What the collection needs; ``ended_at`` is None while it stands."""

    id: str
    taxon: str
    number: int
    tank: str
    reason: str
    made_at: datetime
    made_by: str
    ended_at: datetime | None


def add_want(store: Store, actor: Actor, *, taxon: str, number: int, tank: str = "", reason: str = "") -> WantTold:
    """Add a want for a number of a taxon (any of its names); raises NotACuratorError and WantRefusedError."""
    with store.writing(actor) as work:
        check_decider(decider_of(work.session, actor), frozenset())
        book = current_book(work.session, store.shared)
        if not 1 <= number <= _LARGEST_WANT:
            raise WantRefusedError(f"{number} of a taxon cannot be wanted; give a number of animals from 1 on")
        try:
            accepted = book.taxa.resolve(taxon)
        except UnknownTaxonError as problem:
            raise WantRefusedError(f"{problem}; give a name from there, or have it added") from problem
        want = Want(
            id=new_id(), taxon=accepted, number=number, tank=one_line(tank).strip()[:NAME_LENGTH],
            reason=clean(reason), made_at=work.at, made_by=actor.person,
        )  # fmt: skip
        work.session.add(want)
        work.note("want added", f"want {want.id}", {"taxon": accepted, "number": number, "tank": want.tank})
        return _want_told(want)


def end_want(store: Store, actor: Actor, want: str) -> None:
    """End a want; one that has ended is left as it is. Raises NotACuratorError and UnknownWantError."""
    with store.writing(actor) as work:
        check_decider(decider_of(work.session, actor), frozenset())
        row = work.session.get(Want, want) if want.isprintable() else None
        if row is None:
            raise UnknownWantError(want)
        if row.ended_at is None:
            row.ended_at = work.at
            work.note("want ended", f"want {want}")


def list_wants(store: Store, *, ended: bool = False, start: int = 0, limit: int = 100) -> tuple[int, list[WantTold]]:
    """Give the number of open wants (with ``ended``: of all), and a page of them in the order they were made."""
    query = select(Want) if ended else select(Want).where(col(Want.ended_at).is_(None))
    with store.reading() as session:
        number = session.exec(select(func.count()).select_from(query.subquery())).one()
        page = query.order_by(col(Want.made_at), col(Want.id)).offset(start).limit(limit)
        return number, [_want_told(one) for one in session.exec(page)]


def _want_told(want: Want) -> WantTold:
    return WantTold(**want.model_dump())
