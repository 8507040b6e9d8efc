"""What every limit on take still leaves a trip, tally by tally, in the authority's own order.

The safe number is given, as everywhere: what may have been taken already counts as taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from api.domain.counts import Amount, Count, exactly, left_of
from api.domain.facts import Facts, HaulFact, LineFact
from api.domain.reckoning.buckets import NOT_RECORDED, OUT_OF_SEASON, Key, buckets_of, period_of
from api.domain.reckoning.holdings import held_tallies
from api.domain.reckoning.tallies import Spec, specs_of
from api.domain.remaining import Given, taken_by_trip, taken_in, tally_of
from api.domain.rules.take_limits import holder_words, period_words, what_words, window_words
from api.domain.taxa import Identification
from api.domain.trips import Haul, Line, Trip
from api.domain.vocabulary import Operator

_EACH = {
    "person": "each person",
    "site": "each site",
    "waterbody": "each water",
    "container": "each container",
    "everybody": "all holders together",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """One tally of one limit as it stands for a trip.

    ``what`` names the animals, ``whose`` the holder ("" for the authority's own tally), ``period`` the period in
    words. ``by_name`` tells that every name has a tally of its own: then ``whose`` is the name. ``container`` says how
    the limit is issued where that is by a container ("shell crate of 24 L"). ``beyond`` is the amount after which the
    limit begins, "" where it holds from the first. ``given`` is the trip's allotment of it, ``rest`` what the trip has
    left of that; None where it has none.
    """

    number: str
    label: str
    what: str
    whose: str
    period: str
    limit: Amount
    operator: Operator
    unit: str
    left: Count
    by_name: bool = False
    container: str = ""
    beyond: str = ""
    given: Amount | None = None
    rest: Amount | None = None


def limits_ahead(
    facts: Facts, authority: str, trip: Trip, at: datetime, given: Sequence[Given] = ()
) -> tuple[Ahead, ...]:
    """Give every tally of every limit on take in force at a moment; raises KeyError for an unknown authority.

    Where each person, site, water or name has a tally of its own, the one that nothing was taken from yet stands
    first, then those from which something may have been taken in the period that the moment is in.
    """
    moment = _moment(facts.book.authority(authority).id, trip, at)
    return tuple(
        one
        for clauses in facts.clauses[authority].values()
        for clause in clauses
        if clause.holds_at(at)
        for spec in specs_of(clause)
        for one in _tallies(facts, spec, moment, given)
    )


def _moment(authority: str, trip: Trip, at: datetime) -> LineFact:
    """Give a line at a moment on a trip, to ask in which period it falls."""
    haul = HaulFact(Haul(id="", start=at), trip, at, frozenset({authority}))
    line = Line(id="", taxon="", count=exactly(1), fate="kept", at=at)
    return LineFact(line, haul, at, authority, trip.leader, Identification(""))


def _tallies(facts: Facts, spec: Spec, moment: LineFact, given: Sequence[Given]) -> Iterator[Ahead]:
    first, record = period_of(spec, moment)
    if record == OUT_OF_SEASON:
        return
    own = Key(_own_holder(spec, moment), "", first, record)
    each = spec.by_name or spec.holder in ("person", "site", "waterbody", "container")
    areas = [own._replace(holder=area) for area in spec.condition.only.areas] if spec.holder == "area" else [own]
    for key in areas:
        # Nobody stands behind "each": what was taken stands in the tallies that follow.
        yield _ahead(facts, spec, moment, key, given, untouched=each)
    if each:
        for key in _begun(facts, spec, own):
            told = _ahead(facts, spec, moment, key, given)
            if told.left.low < _whole(spec):
                yield told


def _own_holder(spec: Spec, moment: LineFact) -> str:
    return f"crew of {moment.haul.trip.id}" if spec.holder == "crew" else ""


def _begun(facts: Facts, spec: Spec, own: Key) -> list[Key]:
    """Give the tallies of the same period that have a line, by holder and name."""
    held = spec.period == "held"
    buckets = [bucket for bucket, _ in held_tallies(facts, spec)] if held else buckets_of(facts, spec)
    return sorted({bucket.key for bucket in buckets if bucket.key.period == own.period and bucket.key != own})


def _whole(spec: Spec) -> Amount:
    return spec.amount - 1 if spec.operator == "fewer than" and spec.whole else spec.amount


def _ahead(
    facts: Facts, spec: Spec, moment: LineFact, key: Key, given: Sequence[Given], *, untouched: bool = False
) -> Ahead:
    taken = exactly(0) if untouched else taken_in(facts, spec, moment, key)
    number, name = spec.condition.number, key.name if spec.by_name else ""
    tally = (spec.clause.authority.id, number, spec.label, name)
    amounts = [one.amount for one in given if tally_of(one) == tally]
    amount = sum(amounts) if amounts else None
    rest = None if amount is None else left_of(taken_by_trip(facts, spec, moment.haul.trip.id, name), amount, "at most")
    return Ahead(
        number=number,
        label=spec.label,
        what=what_words(spec),
        whose=_whose(facts, spec, key, untouched=untouched),
        period=_period(spec, key, moment),
        limit=spec.amount,
        operator=spec.operator,
        unit=spec.unit,
        left=left_of(taken, spec.amount, spec.operator, whole=spec.whole),
        by_name=spec.by_name,
        container=_container(spec),
        beyond="" if spec.condition.after is None else spec.condition.after.amount,
        given=amount,
        rest=None if rest is None else rest.low,
    )


def _container(spec: Spec) -> str:
    name = spec.bound.container
    known = (one for one in spec.clause.authority.containers if one.name == name)
    return next((f"{name} of {one.litres} L" for one in known), "")


def _whose(facts: Facts, spec: Spec, key: Key, *, untouched: bool) -> str:
    if untouched:
        return _EACH.get(spec.holder, "")
    if spec.holder == "crew":
        return ""  # its label says so
    if spec.holder == "everybody":
        return _EACH["everybody"]
    words = holder_words(facts, spec, key._replace(record=""))
    return f"{spec.holder} not recorded" if key.holder == NOT_RECORDED else words


def _period(spec: Spec, key: Key, moment: LineFact) -> str:
    if spec.period == "held":
        return "held at once"
    if spec.period == "rolling days":
        return window_words(spec, moment.day(spec.clause.authority.zone))
    return period_words(spec, key)
