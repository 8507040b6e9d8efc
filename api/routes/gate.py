"""The gate: lots at the door and what a curator decides on each, and what the collection wants."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field

from api.domain.rules.finding import Finding
from api.exchange.season_out import amount_value
from api.operations import gate, lots_told, wanting
from api.operations.lots_told import AskedLots, LotTold
from api.operations.sessions import Who
from api.operations.wanting import WantTold
from api.routes.deps import Reader, Roles, StoreHere, actor_of
from api.routes.shapes import CountRead, Sent

router = APIRouter(prefix="/api", tags=["gate"])

CURATORS = Roles("curator")
Curator = Annotated[Who, Depends(CURATORS)]
State = Literal["waiting", "on hold", "accepted", "declined"]
Start = Annotated[int, Query(ge=0, le=2**31)]
DoorCount = Annotated[Decimal, Field(ge=0, le=1_000_000_000, max_digits=16, decimal_places=6)]


class RestsRead(BaseModel):
    """A finding that rests on a lot's catch line."""

    authority: str
    number: str
    outcome: Literal["met", "broken", "open", "not used"]
    about: str
    sentence: str

    @classmethod
    def of(cls, finding: Finding) -> RestsRead:
        """Make it of a finding."""
        return cls(
            authority=finding.authority,
            number=finding.number,
            outcome=finding.outcome,
            about=finding.about,
            sentence=finding.sentence,
        )


class LotRead(BaseModel):
    """A lot at the gate; decisions name its ``id`` and the ``version`` that was seen.

    ``field_count`` is what its catch line said when it was decided on (or says now), ``on_hand`` what the record
    says should be there; ``door_count`` is null where nobody recounted. ``amended``: the line was amended after
    the decision. ``collectors`` (ids) may not decide on it. ``wanted`` is the number on open wants for the taxon.
    ``findings`` are those on the lot itself, ``of_haul`` and ``of_trip`` those on its haul and its trip alone.
    """

    id: str
    state: State
    version: int
    accession: str
    line: str
    haul: str
    trip: str
    taxon: str
    authority: str
    unit: Literal["individuals", "L", "g"]
    field_count: CountRead
    on_hand: CountRead
    door_count: int | str | None
    decided_at: datetime | None
    decided_by: str
    decided_by_name: str
    reason: str
    onward: str
    collectors: list[str]
    wanted: int
    amended: bool
    findings: list[RestsRead]
    of_haul: list[RestsRead]
    of_trip: list[RestsRead]

    @classmethod
    def of(cls, lot: LotTold) -> LotRead:
        """Make it of what is told of a lot."""
        return cls.model_validate(
            {
                **{name: getattr(lot, name) for name in cls.model_fields},
                "field_count": CountRead.of(lot.field_count),
                "on_hand": CountRead.of(lot.on_hand),
                "door_count": None if lot.door_count is None else amount_value(lot.door_count),
                "collectors": list(lot.collectors),
                "findings": [RestsRead.of(one) for one in lot.findings],
                "of_haul": [RestsRead.of(one) for one in lot.of_haul],
                "of_trip": [RestsRead.of(one) for one in lot.of_trip],
            }
        )


class StateCount(BaseModel):
    """How many lots are in a state."""

    state: State
    lots: int


class TripCount(BaseModel):
    """How many lots of a trip (its code) were asked for."""

    trip: str
    lots: int


class LotsRead(BaseModel):
    """A page of lots; ``total`` is the number of all that were asked for.

    ``states`` counts whatever is asked for but the state; ``trips`` stand in the order in which their lots do.
    """

    total: int
    lots: list[LotRead]
    states: list[StateCount]
    trips: list[TripCount]


class HoldSent(Sent):
    """A lot put on hold; ``expected_version`` is the version that the curator saw."""

    expected_version: int = Field(ge=1, le=2**31 - 1)
    reason: str = Field(default="", max_length=4000)


class AcceptSent(HoldSent):
    """A lot accepted; a door count that is not what the record says needs its reason. ``died``: on the way, beside it."""

    door_count: DoorCount | None = None
    died: DoorCount | None = None


class DeclineSent(HoldSent):
    """A lot declined, with its reason and where it goes; "" only where nothing arrived. No way leads to a release."""

    onward: str = Field(default="", max_length=200)
    door_count: DoorCount | None = None
    died: DoorCount | None = None


class WantRead(BaseModel):
    """What the collection needs; ``ended_at`` is null while it stands."""

    id: str
    taxon: str
    number: int
    tank: str
    reason: str
    made_at: datetime
    made_by: str
    ended_at: datetime | None

    @classmethod
    def of(cls, want: WantTold) -> WantRead:
        """Make it of what is told of a want."""
        return cls.model_validate({name: getattr(want, name) for name in cls.model_fields})


class WantsRead(BaseModel):
    """A page of wants in the order they were made; ``total`` is the number of all that were asked for."""

    total: int
    wants: list[WantRead]


class WantSent(Sent):
    """A number of a taxon (any of its names), the tank kept free for it, and why."""

    taxon: str = Field(min_length=1, max_length=200)
    number: int = Field(ge=1, le=2**31 - 1)
    tank: str = Field(default="", max_length=200)
    reason: str = Field(default="", max_length=4000)


def _exact(count: Decimal | None) -> Fraction | None:
    return None if count is None else Fraction(count)


@router.get("/acquisitions")
def list_acquisitions(
    store: StoreHere,
    _asking: Reader,
    state: State | Literal[""] = "",
    trip: Annotated[str, Query(max_length=64)] = "",
    grave: bool = False,
    order: Literal["oldest", "newest"] = "oldest",
    start: Start = 0,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> LotsRead:
    """Give the lots at the gate by trip, narrowed by state and trip (its code), with the findings on each.

    ``grave`` asks for those alone of which, or of whose haul, something is broken or open; ``order`` says whether the
    trips that wait longest or the newest stand first.
    """
    asked = AskedLots(state=state, trip=trip, grave=grave, order=order, start=start, limit=limit)
    told = lots_told.list_lots(store, asked)
    return LotsRead(
        total=told.total,
        lots=[LotRead.of(one) for one in told.lots],
        states=[StateCount.model_validate({"state": state, "lots": lots}) for state, lots in told.states.items()],
        trips=[TripCount(trip=trip, lots=lots) for trip, lots in told.trips.items()],
    )


@router.get("/acquisitions/{acquisition}")
def read_acquisition(acquisition: str, store: StoreHere, _asking: Reader) -> LotRead:
    """Give one lot as it stands."""
    return LotRead.of(lots_told.look_at(store, acquisition))


@router.post("/acquisitions/{acquisition}/accept")
def accept_acquisition(acquisition: str, body: AcceptSent, store: StoreHere, asking: Curator) -> LotRead:
    """Accept a lot under the next accession number; more at the door than recorded corrects the catch line."""
    told = gate.accept(
        store,
        actor_of(asking),
        acquisition,
        version=body.expected_version,
        door_count=_exact(body.door_count),
        died=_exact(body.died) or 0,
        reason=body.reason,
    )
    return LotRead.of(told)


@router.post("/acquisitions/{acquisition}/decline")
def decline_acquisition(acquisition: str, body: DeclineSent, store: StoreHere, asking: Curator) -> LotRead:
    """Decline a lot: held apart, transferred, or a veterinarian's matter. Gives nothing back to any limit."""
    told = gate.decline(
        store,
        actor_of(asking),
        acquisition,
        version=body.expected_version,
        reason=body.reason,
        onward=body.onward,
        door_count=_exact(body.door_count),
        died=_exact(body.died) or 0,
    )
    return LotRead.of(told)


@router.post("/acquisitions/{acquisition}/hold")
def hold_acquisition(acquisition: str, body: HoldSent, store: StoreHere, asking: Curator) -> LotRead:
    """Put a lot on hold until it is accepted or declined."""
    told = gate.hold(store, actor_of(asking), acquisition, version=body.expected_version, reason=body.reason)
    return LotRead.of(told)


@router.get("/wants")
def list_wants(
    store: StoreHere,
    _asking: Reader,
    ended: bool = False,
    start: Start = 0,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
) -> WantsRead:
    """Give the open wants; with ``ended`` those that have ended as well."""
    total, wants = wanting.list_wants(store, ended=ended, start=start, limit=limit)
    return WantsRead(total=total, wants=[WantRead.of(one) for one in wants])


@router.post("/wants", status_code=201)
def add_want(body: WantSent, store: StoreHere, asking: Curator) -> WantRead:
    """Add a want."""
    told = wanting.add_want(
        store, actor_of(asking), taxon=body.taxon, number=body.number, tank=body.tank, reason=body.reason
    )
    return WantRead.of(told)


@router.delete("/wants/{want}", status_code=204)
def end_want(want: str, store: StoreHere, asking: Curator) -> None:
    """End a want; it stays readable."""
    wanting.end_want(store, actor_of(asking), want)
