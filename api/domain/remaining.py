"""How many more may be kept: the least over every limit that covers an animal and over a trip's allotments.

The safe number is given: what may have been taken already counts as taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from api.domain.conditions import Prohibited, TakeLimit
from api.domain.counts import NOTHING, UNKNOWN, Amount, Count, exactly, left_of, total
from api.domain.facts import Facts, HaulFact, LineFact
from api.domain.permits import Clause, clauses_of
from api.domain.reckoning.buckets import Key, buckets_of, hypothetical, in_period
from api.domain.reckoning.fitting import fit_line, fit_name
from api.domain.reckoning.holdings import held_after, held_tallies
from api.domain.reckoning.tallies import Spec, specs_of
from api.domain.taxa import Fit, Identification
from api.domain.trips import Haul, Line, Trip
from api.domain.vocabulary import BASIS_FATES


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a trip was given of one tally (an allotment). ``name`` is the taxon where each name has its own tally."""

    authority: str
    number: str
    label: str = ""
    name: str = ""
    unit: str = "individuals"
    amount: Amount


@dataclass(frozen=True, slots=True)
class Room:
    """What one limit still allows of an animal: ``left`` (low is safe), and whether it covers it for certain.

    ``by`` tells whether the limit itself speaks, or the trip's allotment under it.
    """

    number: str
    label: str
    limit: Amount
    taken: Count
    left: Count
    certain: bool
    by: Literal["limit", "allotment", "prohibition"] = "limit"


@dataclass(frozen=True, slots=True)
class Allowance:
    """How many more may be kept under one authority: the least of all rooms; None where no limit covers it.

    ``binding`` is the room that decides: of several equally tight ones the one that surely covers the
    animal, then the widest limit.
    """

    authority: str
    more: Amount | None
    binding: Room | None
    rooms: tuple[Room, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """Where and when an animal is about to be kept, and by whom; what is not given is not recorded."""

    at: datetime
    trip: Trip
    haul: Haul
    person: str = ""
    stage: str = ""
    sex: str = ""


def keep_at_most(
    facts: Facts, authority: str, name: Identification, situation: Situation, given: Sequence[Given] = ()
) -> Allowance:
    """Give how many more of an animal so named may be kept now under an authority, within what the trip was given.

    Counts every line caught up to ``situation.at``; against an allotment all that the trip took of it, whenever.
    Raises KeyError for an unknown authority.
    """
    entry = _imagined(authority, name, situation)
    rooms: list[Room] = []
    for clauses in clauses_of(facts.book.authority(authority)).values():
        for clause in clauses:
            if clause.holds_at(situation.at):
                rooms.extend(_rooms(facts, clause, entry, given))
    binding = min(rooms, key=lambda room: (room.left.low, not room.certain, -room.limit), default=None)
    return Allowance(authority, binding.left.low if binding else None, binding, tuple(rooms))


def _imagined(authority: str, name: Identification, situation: Situation) -> LineFact:
    """Build the line that keeping one more such animal would make."""
    line = Line(
        id="",
        taxon=name.taxon,
        doubt=name.doubt,
        one_of=name.one_of,
        count=exactly(1),
        fate="kept",
        stage=situation.stage,
        sex=situation.sex,
        authority=authority,
    )
    haul = replace(situation.haul, lines=())
    fact = HaulFact(haul, situation.trip, situation.at, frozenset({authority}))
    person = situation.person or situation.haul.person or situation.trip.leader
    return LineFact(line, fact, situation.at, authority, person, name)


def _rooms(facts: Facts, clause: Clause, entry: LineFact, given: Sequence[Given]) -> list[Room]:
    condition = clause.condition
    if isinstance(condition, Prohibited):
        fit = fit_name(facts, clause, entry.line.identification) & fit_line(facts, clause, condition.only, entry)
        covers = fit.possible and "kept" in BASIS_FATES[condition.counts]
        room = Room(condition.number, "prohibited", 0, NOTHING, NOTHING, fit.certain, "prohibition")
        return [room] if covers else []
    if not isinstance(condition, TakeLimit):
        return []
    rooms = []
    for spec in specs_of(clause):
        limit = _room(facts, spec, entry)
        if limit is not None:
            rooms.append(limit)
            rooms.extend(_given_rooms(facts, spec, entry, given, certain=limit.certain))
    return rooms


def _given_rooms(facts: Facts, spec: Spec, entry: LineFact, given: Iterable[Given], *, certain: bool) -> Iterable[Room]:
    """Give what is left of the trip's allotments under one limit."""
    name = entry.name.taxon if spec.by_name else ""
    for one in given:
        if tally_of(one) == (spec.clause.authority.id, spec.condition.number, spec.label, name):
            taken = taken_by_trip(facts, spec, entry.haul.trip.id, name)
            left = left_of(taken, one.amount, "at most")
            yield Room(one.number, one.label, one.amount, taken, left, certain, "allotment")


def tally_of(given: Given) -> tuple[str, str, str, str]:
    """Give which tally an allotment is of: authority, condition, label and name."""
    return given.authority, given.number, given.label, given.name


def taken_by_trip(facts: Facts, spec: Spec, trip: str, name: str = "") -> Count:
    """Give what a trip took in a limit, whenever, of one name where each has its own tally."""
    buckets = buckets_of(facts, spec)
    return total(
        entry.count
        for bucket in buckets
        if bucket.key.name == name
        for entry in bucket.entries
        if entry.line.haul.trip.id == trip
    )


def _room(facts: Facts, spec: Spec, entry: LineFact) -> Room | None:
    """Give what one limit leaves for the animal, None where it does not cover it."""
    if spec.unit != "individuals":
        return None
    entered = hypothetical(facts, spec, entry)
    if not entered:
        return None
    taken = max((taken_in(facts, spec, entry, key) for key in entered), key=lambda count: count.high)
    left = left_of(taken, spec.amount, spec.operator, whole=spec.whole)
    fit = _cover(facts, spec, entry)
    return Room(spec.condition.number, spec.label, spec.amount, taken, left, fit.certain)


def _cover(facts: Facts, spec: Spec, entry: LineFact) -> Fit:
    fit = fit_name(facts, spec.clause, entry.line.identification)
    if spec.taxa is not None:
        fit &= facts.book.taxa.fit(entry.line.identification, spec.taxa)
    return fit & fit_line(facts, spec.clause, spec.condition.only, entry)


def taken_in(facts: Facts, spec: Spec, entry: LineFact, entered: Key) -> Count:
    """Give what stands against the limit in a tally at the moment of a line (``entry``)."""
    if spec.period == "held":
        return _held(facts, spec, entry, entered)
    entries = [one for bucket in buckets_of(facts, spec) if bucket.key == entered for one in bucket.entries]
    entries = [one for one in entries if one.line.at <= entry.at and _in_window(spec, entry, one.line)]
    if spec.holder != "everybody":
        return total(one.count for one in entries)
    totals = [
        one
        for one in facts.published(spec.clause.authority.id, spec.condition.number)
        if one.as_of <= entry.at and in_period(spec, entered, one.as_of)
    ]
    if not totals:
        return UNKNOWN + total(one.count for one in entries)
    # A published total holds the own take up to its moment; only what came after stands on top.
    return totals[-1].total + total(one.count for one in entries if one.line.at > totals[-1].as_of)


def _held(facts: Facts, spec: Spec, entry: LineFact, entered: Key) -> Count:
    held = NOTHING
    for bucket, gains in held_tallies(facts, spec):
        if bucket.key == entered:
            for moment in held_after(facts, bucket.entries, gains, spec.unit):
                held = moment.held if moment.at <= entry.at else held
    return held


def _in_window(spec: Spec, entry: LineFact, other: LineFact) -> bool:
    """Tell whether a line is in the same run of rolling days; other periods are the tally's own."""
    zone = spec.clause.authority.zone
    return spec.period != "rolling days" or 0 <= (entry.day(zone) - other.day(zone)).days < spec.bound.days
