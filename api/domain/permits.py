"""Authorities: permits and licences as issued, their versions, and the terms in force at a moment.

The conditions themselves are in ``conditions.py``. An amendment lists only what changes; each version
holds from its moment, and tallies run on across it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Literal

from api.domain.calendar import end_of_day, instant, parse_day, parse_month_day, start_of_day, zone_named
from api.domain.conditions import Condition
from api.domain.vocabulary import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Qualification:
    """What a person is trained or certified for, and the last day it holds."""

    name: str
    last_day: str

    def __post_init__(self) -> None:
        parse_day(self.last_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPerson:
    """A person listed by an authority, with the days (both included) on which the role holds."""

    id: str
    name: str
    role: Role
    first_day: str = ""
    last_day: str = ""
    qualifications: tuple[Qualification, ...] = ()

    def __post_init__(self) -> None:
        for text in (self.first_day, self.last_day):
            if text:
                parse_day(text)

    def holds_on(self, day: date) -> bool:
        """Tell whether the role holds on a local day."""
        return not (
            (self.first_day and day < parse_day(self.first_day)) or (self.last_day and day > parse_day(self.last_day))
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedGroup:
    """A set of taxa that an authority lists together, under the authority's own title."""

    id: str
    title: str
    taxa: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedContainer:
    """A measure of material by a named container, in litres as the user entered it."""

    name: str
    litres: str
    source: str = ""

    def __post_init__(self) -> None:
        try:
            fits = Fraction(self.litres) > 0
        except (ValueError, ZeroDivisionError):
            fits = False
        if not fits:
            raise ValueError(f"the container '{self.name}' needs its litres as a number above 0, got '{self.litres}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherPaper:
    """Another permit, licence or consent, with the days on which it stands; "" where not entered."""

    name: str
    first_day: str = ""
    last_day: str = ""
    reference: str = ""

    def __post_init__(self) -> None:
        for text in (self.first_day, self.last_day):
            if text:
                parse_day(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """A written change: conditions replaced or added by number, withdrawn ones, people and groups anew.

    ``from_moment`` is local to the authority's zone (or carries an offset).
    """

    number: str
    from_moment: str
    title: str = ""
    conditions: tuple[Condition, ...] = ()
    withdrawn: tuple[str, ...] = ()
    people: tuple[NamedPerson, ...] | None = None
    groups: tuple[NamedGroup, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Authority:
    """A permit or licence as issued: who may take what, where, when, how, until when.

    ``first_day`` and ``last_day`` are both included. ``year_starts`` ("MM-DD") begins its permit year.
    ``reference_lat`` and ``reference_lon`` give daylight where a haul has no position of its own.
    """

    id: str
    kind: Literal["collecting permit", "fishing licence", "consent", "other"]
    number: str
    title: str
    issuer: str
    holder: str
    zone: str
    first_day: str
    last_day: str
    conditions: tuple[Condition, ...]
    address: str = ""
    contact: str = ""
    purpose: str = ""
    issued_on: str = ""
    year_starts: str = "01-01"
    reference_lat: float | None = None
    reference_lon: float | None = None
    people: tuple[NamedPerson, ...] = ()
    groups: tuple[NamedGroup, ...] = ()
    containers: tuple[NamedContainer, ...] = ()
    other_papers: tuple[OtherPaper, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    certification: str = ""
    report_sections: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        zone_named(self.zone)
        parse_month_day(self.year_starts)
        if parse_day(self.first_day) > parse_day(self.last_day):
            raise ValueError(
                f"the authority ends ({self.last_day}) before it begins ({self.first_day}); correct one of the days"
            )
        self._refuse_double_numbers()
        moments = [instant(amendment.from_moment, self.zone) for amendment in self.amendments]
        if moments != sorted(moments):
            raise ValueError("the amendments are not in the order in which they take effect; sort them")

    def _refuse_double_numbers(self) -> None:
        seen: set[str] = set()
        for condition in self.conditions:
            if condition.number in seen:
                raise ValueError(f"the condition number '{condition.number}' is used twice")
            seen.add(condition.number)

    @property
    def begins(self) -> datetime:
        """The first instant at which the authority stands (UTC)."""
        return start_of_day(parse_day(self.first_day), self.zone)

    @property
    def ends(self) -> datetime:
        """The first instant at which it no longer stands (UTC)."""
        return end_of_day(parse_day(self.last_day), self.zone)


@dataclass(frozen=True, slots=True)
class Version:
    """The terms of an authority from one moment on (UTC). Version 1 has no lower bound."""

    number: int
    title: str
    begins: datetime | None
    conditions: dict[str, Condition]
    people: tuple[NamedPerson, ...]
    groups: dict[str, NamedGroup]


@dataclass(frozen=True, slots=True)
class Clause:
    """One condition in one version of an authority, with the span in which it holds (UTC, end excluded)."""

    authority: Authority
    version: Version
    condition: Condition
    begins: datetime | None
    ends: datetime | None

    def holds_at(self, at: datetime) -> bool:
        """Tell whether the clause is in force at an instant."""
        return (self.begins is None or at >= self.begins) and (self.ends is None or at < self.ends)


def versions_of(authority: Authority) -> tuple[Version, ...]:
    """Give every version, oldest first."""
    conditions = {condition.number: condition for condition in authority.conditions}
    groups = {group.id: group for group in authority.groups}
    people = authority.people
    versions = [Version(1, "as issued", None, dict(conditions), people, dict(groups))]
    for place, amendment in enumerate(authority.amendments, start=2):
        conditions |= {condition.number: condition for condition in amendment.conditions}
        for number in amendment.withdrawn:
            conditions.pop(number, None)
        groups |= {group.id: group for group in amendment.groups}
        people = amendment.people if amendment.people is not None else people
        begins = instant(amendment.from_moment, authority.zone)
        title = f"amendment {amendment.number}"
        versions.append(Version(place, title, begins, dict(conditions), people, dict(groups)))
    return tuple(versions)


def version_at(versions: tuple[Version, ...], at: datetime) -> Version:
    """Give the version in force at an instant (the first one before it holds, too)."""
    found = versions[0]
    for version in versions[1:]:
        if version.begins is not None and version.begins <= at:
            found = version
    return found


def clauses_of(authority: Authority) -> dict[str, tuple[Clause, ...]]:
    """Give each condition number's clauses, in the authority's own order, one per version that holds it.

    Numbers that only an amendment brings follow at the end, in its order.
    """
    versions = versions_of(authority)
    order: dict[str, list[Clause]] = {}
    for place, version in enumerate(versions):
        ends = versions[place + 1].begins if place + 1 < len(versions) else None
        for number, condition in version.conditions.items():
            order.setdefault(number, []).append(Clause(authority, version, condition, version.begins, ends))
    return {number: tuple(clauses) for number, clauses in order.items()}
