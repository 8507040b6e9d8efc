"""What records say of other records: lines that moved, conditions reported on, people, sites, trips told of.

Looked at once everything is together, since a movement may stand in another file than its catch line.
A record that speaks of something unknown is told and left out; unknown people and sites are only told.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from api.domain.counts import Count
from api.domain.facts import Book
from api.domain.trips import Line, Movement, Season, Trip
from api.exchange.faults import Fault
from api.exchange.plain_words import choice
from api.exchange.season_merge import Origins


@dataclass(slots=True)
class _Known:
    """Everything that a record may speak of."""

    book: Book
    origins: Origins
    units: Mapping[str, str]
    left_out: Collection[str]
    lines: dict[str, Line] = field(default_factory=dict)
    trips: set[str] = field(default_factory=set)
    records: set[str] = field(default_factory=set)
    conditions: dict[str, tuple[str, ...]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def tell(self, key: str, mark: str, field_name: str, what: str, mend: str) -> None:
        """Take down what is wrong with a record, at its place."""
        file, where = self.origins.get((key, mark), ("", f"{key} {mark}"))
        self.faults.append(Fault(file, f"{where}: {field_name}" if field_name else where, what, mend))


def reference_faults(
    season: Season,
    book: Book,
    origins: Origins,
    units: Mapping[str, str] | None = None,
    left_out: Collection[str] = (),
) -> tuple[Season, list[Fault]]:
    """Give the season without records that speak of unknown ones, and a fault for each of these.

    ``units`` holds the units ("L", "g", "individuals") that movements wrote beside their counts, by id;
    ``left_out`` the ids of trips, hauls and lines that the files hold but that have faults of their own.
    """
    known = _known_of(season, _Known(book, origins, units or {}, left_out))
    trips = tuple(_with_good_attestations(trip, known) for trip in season.trips)
    movements = tuple(_whole(one, known) for one in season.movements if _movement_fits(one, known))
    notices = tuple(
        one for one in season.notices if _listed("notices", one.id, "trip", [one.trip], known.trips, "trip", known)
    )
    incidents = tuple(
        one
        for one in season.incidents
        if _listed("incidents", one.id, "about", one.about, known.records, "record", known)
    )
    filings = tuple(one for one in season.filings if _condition_known("filings", one.id, one, known))
    totals = tuple(
        one for at, one in enumerate(season.shared_totals) if _condition_known("shared_totals", str(at), one, known)
    )
    _people_and_sites(season, known)
    good = replace(
        season,
        trips=trips,
        movements=movements,
        notices=notices,
        incidents=incidents,
        filings=filings,
        shared_totals=totals,
    )
    return good, known.faults


def _known_of(season: Season, known: _Known) -> _Known:
    for trip in season.trips:
        known.trips.add(trip.id)
        known.records.add(trip.id)
        for haul in trip.hauls:
            known.records.add(haul.id)
            known.lines.update((line.id, line) for line in haul.lines)
    known.records.update(known.lines)
    for authority in known.book.authorities:
        every = [authority.conditions, *(amendment.conditions for amendment in authority.amendments)]
        known.conditions[authority.id] = tuple(dict.fromkeys(one.number for part in every for one in part))
    return known


def _listed(
    key: str, mark: str, path: str, names: Iterable[str], listed: Collection[str], what: str, known: _Known
) -> bool:
    """Tell of every name that is not among the known ones."""
    missing = [name for name in names if name and name not in listed]
    for name in missing:
        if name in known.left_out:
            known.tell(key, mark, path, f"The {what} '{name}' is left out for its own faults.", "Mend that one first.")
            continue
        mend = choice(name, listed) or f"Give the id of a {what} of this season."
        known.tell(key, mark, path, f"There is no {what} '{name}'.", mend)
    return not missing


def _condition_known(key: str, mark: str, one: Any, known: _Known) -> bool:
    """See that the condition a record speaks of is one of its authority's."""
    numbers = known.conditions.get(one.authority, ())
    if one.condition in numbers or (key == "filings" and not one.condition and one.authority in known.conditions):
        return True
    what = f"The authority '{one.authority}' has no condition '{one.condition}'."
    known.tell(key, mark, "condition", what, choice(one.condition, numbers))
    return False


def _with_good_attestations(trip: Trip, known: _Known) -> Trip:
    good = tuple(one for one in trip.attestations if _condition_known("trips", trip.id, one, known))
    return trip if len(good) == len(trip.attestations) else replace(trip, attestations=good)


def _movement_fits(one: Movement, known: _Known) -> bool:
    """See that a movement's line exists and is counted in the same unit."""
    if not one.line:
        if one.taxon and one.authority:
            return True
        mend = "Give the 'line' whose animals moved, or 'taxon' and 'authority' for births and gifts."
        known.tell("movements", one.id, "", "The movement says neither which catch line it is of nor what it is.", mend)
        return False
    if not _listed("movements", one.id, "line", [one.line], known.lines, "catch line", known):
        return False
    line = known.lines[one.line]
    written = known.units.get(one.id, line.unit)
    if written != line.unit:
        what = f"The movement is counted in {written}, its catch line '{line.id}' in {line.unit}."
        known.tell("movements", one.id, "count", what, f"Write the count in {line.unit}.")
        return False
    bounds = (one.count.low, one.count.high)
    if line.unit == "individuals" and any(amount % 1 for amount in bounds if amount != float("inf")):
        known.tell("movements", one.id, "count", "A number of animals is whole.", "Write a whole number.")
        return False
    return True


def _whole(one: Movement, known: _Known) -> Movement:
    """Cut the middle of a range of animals ("3-4") down to a whole number, as for a catch line."""
    line = known.lines.get(one.line)
    if line is None or line.unit != "individuals" or not one.count.best % 1:
        return one
    return replace(one, count=Count(one.count.low, int(one.count.best), one.count.high))


def _people_and_sites(season: Season, known: _Known) -> None:
    """Tell of people and sites that are in no table, where the files give such tables; once for each."""
    people = set(season.people)
    for authority in known.book.authorities:
        every = [authority.people, *(amendment.people or () for amendment in authority.amendments)]
        people.update(person.id for part in every for person in part)
    if season.people:
        _not_in_table(_people_of(season), people, "person", "people", known)
    if season.sites:
        uses = (("hauls", haul.id, haul.site) for trip in season.trips for haul in trip.hauls)
        _not_in_table(uses, season.sites, "site", "sites", known)


def _not_in_table(
    uses: Iterable[tuple[str, str, str]], table: Collection[str], what: str, key: str, known: _Known
) -> None:
    told: set[str] = set()
    for kind, mark, name in uses:
        if name and name not in table and name not in told:
            told.add(name)
            mend = choice(name, table) or f"Add it to '{key}'."
            known.tell(kind, mark, "", f"The {what} '{name}' is not in '{key}'.", mend)


def _people_of(season: Season) -> Iterator[tuple[str, str, str]]:
    for trip in season.trips:
        others: list[Any] = [*trip.crew, *trip.cleanings, *trip.attestations]
        yield from (("trips", trip.id, name) for name in (trip.leader, *(one.person for one in others)))
        yield from (("hauls", haul.id, haul.person) for haul in trip.hauls)
        yield from (("lines", line.id, line.person) for haul in trip.hauls for line in haul.lines)
    yield from (("movements", one.id, one.person) for one in season.movements)
