"""A trip's history: who entered each of its records and on which phone, and what was corrected afterwards.

Who entered what stands in the receipts of operations, not in the records themselves; what came in a file has none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from api.entities.accounts import Device
from api.entities.authorities import AuthorityRecord
from api.entities.catches import CatchLine
from api.entities.hauls import HaulRecord
from api.entities.papers import CorrectionRecord
from api.entities.people import Person
from api.entities.places import Site
from api.entities.sync import Receipt
from api.entities.trips import TripRecord
from api.exchange.correction_words import Naming, field_words, value_words
from api.operations.trips import trip_named
from api.store.unit_of_work import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A record as it was entered, or amended, by an operation.

    ``device`` is the phone's name ("" where it was entered at the desk or elsewhere), ``device_at`` the time by that
    phone's clock. ``entered_from`` is "screen" or "paper", "" where nobody told.
    """

    kind: str
    record: str
    version: int
    by: str
    by_name: str
    device: str
    at: datetime
    device_at: datetime | None
    entered_from: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionTold:
    """A correction in plain words; ``record`` is the id of what was corrected."""

    record: str
    field: str
    old: str
    new: str
    by: str
    by_name: str
    at: datetime
    why: str


@dataclass(frozen=True, slots=True)
class History:
    """What was entered, and what was corrected, each the oldest first."""

    entries: tuple[Entry, ...]
    corrections: tuple[CorrectionTold, ...]


def history_of(store: Store, trip: str) -> History:
    """Give the history of a trip (its id or its code), its hauls and its lines; raises UnknownTripError."""
    with store.reading() as session:
        row = trip_named(session, trip)
        hauls = session.exec(select(HaulRecord.id).where(HaulRecord.trip_id == row.id)).all()
        units = dict(session.exec(select(CatchLine.id, CatchLine.unit).where(col(CatchLine.haul_id).in_(hauls))).all())
        people = dict(session.exec(select(Person.id, Person.name)).all())
        own = [row.id, *hauls, *units]
        return History(tuple(_entries(session, own, people)), tuple(_corrections(session, row, own, units, people)))


def _entries(session: Session, records: list[str], people: Mapping[str, str]) -> Iterator[Entry]:
    phones = dict(session.exec(select(Device.id, Device.name)).all())
    receipts = select(Receipt).where(col(Receipt.record).in_(records), Receipt.answer == "stored")
    for one in session.exec(receipts.order_by(col(Receipt.at), col(Receipt.version), col(Receipt.operation_id))):
        yield Entry(
            kind=one.kind,
            record=one.record,
            version=one.version or 1,
            by=one.person_id,
            by_name=people.get(one.person_id, ""),
            device=phones.get(one.device_id, ""),
            at=one.at,
            device_at=one.device_at,
            entered_from=one.entered_from or "",
        )


def _corrections(
    session: Session, trip: TripRecord, records: list[str], units: Mapping[str, str], people: Mapping[str, str]
) -> Iterator[CorrectionTold]:
    sites = dict(session.exec(select(Site.id, Site.name)).all())
    authorities = dict(session.exec(select(AuthorityRecord.id, AuthorityRecord.number)).all())
    wanted = select(CorrectionRecord).where(col(CorrectionRecord.record).in_(records))
    found = session.exec(wanted.order_by(col(CorrectionRecord.at), col(CorrectionRecord.place))).all()
    # Where its unit was amended, too, a record's counts are told without one.
    unsaid = {one.record for one in found if one.field == "unit"}
    for one in found:
        unit = "individuals" if one.record in unsaid else units.get(one.record, "individuals")
        naming = Naming(trip.zone, people, sites, authorities, unit)
        yield CorrectionTold(
            record=one.record,
            field=field_words(one.field),
            old=value_words(one.field, one.old, naming),
            new=value_words(one.field, one.new, naming),
            by=one.by,
            by_name=people.get(one.by, one.by),
            at=one.at,
            why=one.why,
        )
