"""What is held at each moment: take and gains in, deaths and departures out, line by line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from api.domain.conditions import Only
from api.domain.counts import NOTHING, UNKNOWN, Amount, Count, total
from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.buckets import Bucket, Key, buckets_of, is_sure
from api.domain.reckoning.fitting import fit_name
from api.domain.reckoning.tallies import Entry, Spec, shrunk
from api.domain.taxa import MAYBE, NO, PROBABLY, YES, Fit, Identification
from api.domain.trips import Movement

GAINS: frozenset[str] = frozenset({"born", "given", "found"})


@dataclass(frozen=True, slots=True)
class Moment:
    """The state of what is held after what happened at one moment; ``added`` is what it brought in.

    Of one moment take (rank 0) comes before movements (rank 1).
    """

    at: datetime
    record: str
    added: Count
    held: Count
    rank: int = 0


@dataclass(frozen=True, slots=True)
class _Event:
    """One change of what a line (or a gift of no line) holds; ``clear`` where its unit is that of the tally."""

    at: datetime
    rank: int
    record: str
    lot: str
    count: Count
    gain: bool
    clear: bool = True

    @property
    def order(self) -> tuple[datetime, int, str]:
        """Where the event stands in time: take before movements of the same moment."""
        return self.at, self.rank, self.record


def held_after(
    facts: Facts, entries: list[Entry], extra: list[tuple[Movement, Count]], unit: str = "individuals"
) -> Iterator[Moment]:
    """Walk take, gains and departures in order of time and give what is held after each, in ``unit``.

    Shapes: ``entries`` are lines with the count that belongs, ``extra`` gains without a line. A line
    never holds less than nothing, whatever its departures say. What leaves a line in another unit than
    the tally's leaves an unknown rest, nothing once all of the line has gone.
    """
    events = [event for entry in entries for event in _events_of(facts, entry, unit)]
    events.extend(_Event(movement.at, 1, movement.id, movement.id, count, gain=True) for movement, count in extra)
    totals = {entry.line.line.id: entry.line.line.count.high for entry in entries}
    held: dict[str, Count] = {}
    gone: dict[str, Amount] = {}
    running = NOTHING
    for (at, rank), together in groupby(sorted(events, key=lambda one: one.order), key=lambda one: one.order[:2]):
        added, record, unknown = NOTHING, "", False
        low, best, high = running.low, running.best, running.high
        for event in together:
            old = held.get(event.lot, NOTHING)
            if not event.gain:
                gone[event.lot] = gone.get(event.lot, 0) + event.count.low
            new = _changed(old, event, all_gone=gone.get(event.lot, 0) >= totals.get(event.lot, math.inf))
            held[event.lot] = new
            low, best = low + new.low - old.low, best + new.best - old.best
            # An unknown high cannot be taken off a sum again: then the lots are added up anew.
            unknown = unknown or math.inf in (high, old.high, new.high)
            high = high if unknown else high + new.high - old.high
            record, added = event.record, added + event.count if event.gain else added
        running = Count(low, best, total(held.values()).high if unknown else high)
        yield Moment(at, record, added, running, rank)


def _events_of(facts: Facts, entry: Entry, unit: str) -> Iterator[_Event]:
    line = entry.line.line
    yield _Event(entry.line.at, 0, line.id, line.id, entry.count, gain=True)
    for movement in facts.movements_of.get(line.id, ()):
        gain = movement.what in GAINS
        clear = line.unit == unit
        count = movement.count if clear or not gain else UNKNOWN
        if gain and not entry.count.low:
            count = count.possible(nominal=entry.count.best > 0)
        yield _Event(movement.at, 1, movement.id, line.id, count, gain, clear)


def _changed(old: Count, event: _Event, *, all_gone: bool) -> Count:
    """Give what a lot holds after an event."""
    if event.gain:
        return old + event.count
    if event.clear:
        low, high = max(0, old.low - event.count.high), max(0, old.high - event.count.low)
        return Count(low, min(high, max(low, old.best - event.count.best)), high)
    return NOTHING if all_gone else Count(0, old.best, old.high)


def held_tallies(facts: Facts, spec: Spec) -> list[tuple[Bucket, list[tuple[Movement, Count]]]]:
    """Give each tally of what is held with the births and gifts of no catch line that count in it.

    Where each recorded name has a tally, so has a name that only came by birth or gift. Whose a birth is,
    where the limit speaks of holders, is not recorded: it may be anybody's.
    """
    gains = gains_under(facts, spec)
    buckets = buckets_of(facts, spec, keys_of_gains(spec, gains))
    return [(bucket, gains_in(facts, spec, bucket.key, gains)) for bucket in buckets]


def keys_of_gains(spec: Spec, gains: list[tuple[Movement, Count]]) -> list[Key]:
    """Give the tallies that births and gifts of no catch line have by themselves."""
    return list(dict.fromkeys(Key("", movement.taxon if spec.by_name else "", None, "") for movement, _ in gains))


def gains_in(facts: Facts, spec: Spec, key: Key, gains: list[tuple[Movement, Count]]) -> list[tuple[Movement, Count]]:
    """Give the births and gifts that count in one tally."""
    found = []
    for movement, count in gains:
        fit = YES if key.holder == "" else MAYBE
        if spec.by_name:
            name = Identification(movement.taxon)
            if movement.taxon == key.name:
                fit &= YES if is_sure(facts, name) else PROBABLY
            else:
                fit &= NO if is_sure(facts, name) else facts.book.taxa.fit(name, (key.name,)) & MAYBE
        if fit.possible:
            found.append((movement, shrunk(count, fit)))
    return found


def gains_under(facts: Facts, spec: Spec) -> list[tuple[Movement, Count]]:
    """Give births, gifts and finds without a catch line that count against a limit on what is held."""
    found = []
    for movement in _gains_of(facts, spec.clause):
        if not movement.taxon:
            continue
        name = Identification(movement.taxon)
        fit = fit_name(facts, spec.clause, name) & fit_gain(facts, spec.condition.only, movement)
        fit &= fit_gain(facts, spec.narrower, movement)
        if spec.taxa is not None:
            fit &= facts.book.taxa.fit(name, spec.taxa)
        count = movement.count if spec.unit == "individuals" else UNKNOWN
        if fit.possible:
            found.append((movement, shrunk(count, fit)))
    return found


def gains_for(facts: Facts, clause: Clause) -> list[tuple[Movement, Count]]:
    """Give births, gifts and finds without a catch line under a clause's authority that it may speak of."""
    found = []
    for movement in _gains_of(facts, clause):
        fit = fit_gain(facts, clause.condition.only, movement)
        if fit.possible:
            found.append((movement, shrunk(movement.count, fit)))
    return found


def _gains_of(facts: Facts, clause: Clause) -> Iterator[Movement]:
    for movement in facts.movements_of.get("", ()):
        if movement.what in GAINS and movement.authority == clause.authority.id:
            yield movement


def fit_gain(facts: Facts, only: Only, movement: Movement) -> Fit:
    """Tell how a birth or gift fits what narrows a condition: by its taxon; nothing else of it is recorded."""
    fit = YES
    if only.taxa:
        fit = facts.book.taxa.fit(Identification(movement.taxon), only.taxa) if movement.taxon else MAYBE
    return fit if only == Only(taxa=only.taxa) else fit & MAYBE
