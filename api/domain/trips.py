"""What happened: trips, hauls and sets, catch lines, readings, and the papers around them.

All times are aware and in UTC; a trip carries the zone in which it happened. Lengths are whole tenths
of a millimetre and weights whole tenths of a gram, as measured. Records are plain frozen values.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from typing import Literal

from api.domain.counts import Count
from api.domain.places.positions import Fix
from api.domain.taxa import Identification
from api.domain.vocabulary import Doubt, Fate, Gained, Gone, Method, Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A run of lengths (tenths of a millimetre) or weights (tenths of a gram) under one named measure.

    ``measure`` is the trade's name ("total length", "carapace width", "weight"); ``variant`` says how
    it was taken ("tail squeezed", "with points"), "" when nobody said.
    """

    measure: str
    values: tuple[int, ...]
    variant: str = ""

    def __post_init__(self) -> None:
        if any(value <= 0 for value in self.values):
            raise ValueError(f"a {self.measure} must be above 0, got {min(self.values)} tenths")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One catch line: one taxon x fate x stage in a haul, with a count.

    ``count`` is in ``unit``: individuals, or litres or grams of material. ``stage`` and ``sex`` are ""
    when not recorded. ``authority`` is the one it stands under ("" takes the haul's). ``person`` is
    credited with the take where a limit is per person ("" takes the haul's). ``weight`` is the grams of
    all individuals together, None when not weighed. ``at`` is the moment of capture where it differs
    from the haul's. ``held_in`` and ``containers`` say how material was measured ("2 round basket").
    """

    id: str
    taxon: str
    count: Count
    fate: Fate = "released"
    unit: Literal["individuals", "L", "g"] = "individuals"
    doubt: Doubt = ""
    one_of: tuple[str, ...] = ()
    name_as_written: str = ""
    method: Method = "counted"
    stage: str = ""
    sex: str = ""
    authority: str = ""
    person: str = ""
    container: str = ""
    measured_as: str = ""
    weight: Count | None = None
    measurements: tuple[Measurement, ...] = ()
    raw_counted: int | None = None
    raw_share: str = ""
    cause: str = ""
    photo: str = ""
    note: str = ""
    at: datetime | None = None

    @property
    def identification(self) -> Identification:
        """The name given, with its doubt."""
        return Identification(self.taxon, self.doubt, self.one_of)


@dataclass(frozen=True, slots=True, kw_only=True)
class GearUse:
    """The gear as it was used. Lengths in millimetres; None where nobody measured.

    ``gear`` is the kind ("seine", "hand net", "trap"); ``marked`` tells whether it bore its marking.
    """

    gear: str
    length_mm: Fraction | None = None
    mesh_mm: Fraction | None = None
    opening_mm: Fraction | None = None
    number: int = 1
    marked: bool | None = None
    tag: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One water reading. ``quantity`` names it, ``value`` is decimal text as read, ``unit`` as on the meter."""

    quantity: str
    value: str
    unit: str
    at: datetime | None = None
    instrument: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Haul:
    """One pull of a moving net, or one set of standing gear.

    ``start`` is the shot or the setting, ``end`` the landing or the lift (None: not recorded, or a set
    still out). A haul's animals count as caught at its end, or at its start where no end is known.
    ``fixes`` run from start to end; empty means that no position was recorded. ``checks`` are the times
    at which a set was looked into between. ``fate`` tells of a set that was not lifted.
    ``in_sight`` says whether the permit holder saw the work; None when not recorded.
    """

    id: str
    start: datetime
    end: datetime | None = None
    kind: Literal["haul", "set"] = "haul"
    gear: GearUse | None = None
    site: str = ""
    waterbody: str = ""
    fixes: tuple[Fix, ...] = ()
    authority: str = ""
    also_under: tuple[str, ...] = ()
    person: str = ""
    lines: tuple[Line, ...] = ()
    readings: tuple[Reading, ...] = ()
    checks: tuple[datetime, ...] = ()
    lost: bool = False
    swept_m: Fraction | None = None
    in_sight: bool | None = None
    device_start: datetime | None = None
    note: str = ""

    @property
    def caught_at(self) -> datetime:
        """The moment at which this haul's animals count as caught (UTC)."""
        return self.end or self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewMember:
    """A person on a trip and what they did there."""

    person: str
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleaning:
    """Gear cleaned (or said not to have been) before the next water."""

    at: datetime
    method: str
    minutes: Fraction | None = None
    gear: str = ""
    done: bool = True
    person: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attestation:
    """A named person's word on one condition: kept, not kept, or nothing to keep, with the reason."""

    authority: str
    condition: str
    person: str
    at: datetime
    kept: Literal["kept", "not kept", "did not arise"]
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One outing under one leader. ``authority`` is what its hauls stand under unless they say otherwise.

    ``papers`` lists the documents carried, None when nobody noted it. ``paper_record`` marks a trip that
    was entered from paper. ``arrived`` is where the crew stood as it began, None where nobody read it; places
    are judged by the hauls' own positions.
    """

    id: str
    zone: str
    leader: str
    authority: str = ""
    may_stand_under: tuple[str, ...] = ()
    status: Literal["planned", "open", "closed", "cancelled"] = "closed"
    depart: datetime | None = None
    back: datetime | None = None
    crew: tuple[CrewMember, ...] = ()
    hauls: tuple[Haul, ...] = ()
    readings: tuple[Reading, ...] = ()
    cleanings: tuple[Cleaning, ...] = ()
    attestations: tuple[Attestation, ...] = ()
    papers: tuple[str, ...] | None = None
    arrived: Fix | None = None
    paper_record: bool = False
    clock_fast_s: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody named in the record, enrolled or not."""

    id: str
    name: str

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("a person needs a name; write what the crew calls them")


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A notice sent before a trip or project (or of its cancellation), with its proof.

    ``trip`` is the trip told of. ``content`` lists what it said.
    """

    id: str
    authority: str
    trip: str
    to: str
    sent: datetime
    channel: str = ""
    content: tuple[str, ...] = ()
    proof: str = ""
    cancels: bool = False
    replied: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """A report made to somebody about an encounter, deaths, an over-take or lost gear.

    ``about`` lists the ids of the lines, hauls or trips it tells of.
    """

    id: str
    authority: str
    about: tuple[str, ...]
    to: str
    told: datetime | None = None
    channel: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Animals or material of one catch line entering or leaving what is held.

    ``line`` is the catch line whose animals moved ("" for births and gifts, which name ``taxon`` and
    ``authority`` themselves). ``consent`` is the reference of the leave given, "" when none is recorded.
    """

    id: str
    at: datetime
    what: Gone | Gained
    count: Count
    line: str = ""
    taxon: str = ""
    authority: str = ""
    to: str = ""
    consent: str = ""
    reason: str = ""
    person: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filing:
    """A report handed in. ``accepted`` is None while the agency has not answered."""

    id: str
    authority: str
    condition: str
    filed: datetime
    by: str = ""
    covers: str = ""
    accepted: bool | None = None
    proof: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedTotal:
    """The running total of a quota shared with others, as published and entered by the user."""

    authority: str
    condition: str
    as_of: datetime
    total: Count


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A record amended: who, when, why, old and new. The record itself already holds the new value."""

    record: str
    field: str
    old: str
    new: str
    by: str
    at: datetime
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """Everything that happened, as plain values."""

    trips: tuple[Trip, ...] = ()
    notices: tuple[Notice, ...] = ()
    incidents: tuple[Incident, ...] = ()
    movements: tuple[Movement, ...] = ()
    filings: tuple[Filing, ...] = ()
    shared_totals: tuple[SharedTotal, ...] = ()
    corrections: tuple[Correction, ...] = ()
    people: dict[str, str] = field(default_factory=dict)
    """Names of people by their ids."""
    sites: dict[str, str] = field(default_factory=dict)
    """Names of sites by their ids."""
