"""What is held at each moment: take and gains in, deaths and departures out, line by line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from api.domain.counts import NOTHING, Amount, Count
from api.domain.facts import Facts
from api.domain.reckoning.tallies import Entry, Spec
from api.domain.taxa import Identification
from api.domain.trips import Movement

GAINS: frozenset[str] = frozenset({"born", "given", "found"})


@dataclass(frozen=True, slots=True)
class Moment:
    """The state of what is held after one event; ``added`` is what the event brought in."""

    at: datetime
    record: str
    added: Count
    held: Count


def held_after(facts: Facts, entries: list[Entry], extra: list[tuple[Movement, Count]]) -> Iterator[Moment]:
    """Walk take, gains and departures in order of time and give what is held after each.

    Shapes: ``entries`` are lines with the count that belongs, ``extra`` gains without a line. A line
    never holds less than nothing, whatever its departures say.
    """
    events: list[tuple[datetime, int, str, str, Count, bool]] = []
    for entry in entries:
        line = entry.line
        events.append((line.at, 0, line.line.id, line.line.id, entry.count, True))
        for movement in facts.movements_of.get(line.line.id, ()):
            gain = movement.what in GAINS
            count = movement.count
            if gain and not entry.count.low:
                count = count.possible(nominal=entry.count.best > 0)
            events.append((movement.at, 1, movement.id, line.line.id, count, gain))
    events.extend((movement.at, 1, movement.id, movement.id, count, True) for movement, count in extra)
    held: dict[str, tuple[Amount, Amount, Amount]] = {}
    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    for at, _, record, line_id, count, gain in sorted(events, key=lambda event: event[:3]):
        old = held.get(line_id, (0, 0, 0))
        if gain:
            new = (old[0] + count.low, old[1] + count.best, old[2] + count.high)
        else:
            new = (max(0, old[0] - count.high), max(0, old[1] - count.best), max(0, old[2] - count.low))
        held[line_id] = new
        low, best, high = low + new[0] - old[0], best + new[1] - old[1], high + new[2] - old[2]
        yield Moment(at, record, count if gain else NOTHING, Count(low, max(low, best), max(low, best, high)))


def gains_under(facts: Facts, spec: Spec) -> list[tuple[Movement, Count]]:
    """Give births, gifts and finds without a catch line that count against a limit on what is held."""
    found = []
    for movement in facts.movements_of.get("", ()):
        if movement.what in GAINS and movement.authority == spec.clause.authority.id and movement.taxon:
            members = spec.taxa if spec.taxa is not None else _members(spec)
            fit = facts.book.taxa.fit(Identification(movement.taxon), members)
            if fit.possible:
                found.append((movement, movement.count if fit.certain else movement.count.possible(nominal=False)))
    return found


def _members(spec: Spec) -> tuple[str, ...]:
    condition = spec.condition
    return spec.clause.version.groups[condition.group].taxa if condition.group else condition.taxa
