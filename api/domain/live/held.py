"""What is held at once, as the season grows: the walk through time is taken up where something changed."""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby

from api.domain.counts import NOTHING, Amount, Count
from api.domain.facts import Facts
from api.domain.reckoning.holdings import Moment, held_after
from api.domain.reckoning.tallies import Entry, Spec
from api.domain.rules.finding import Proof
from api.domain.rules.take_limits import Worst, worse

When = tuple[datetime, int, str]
"""The moment, take before movements, and the record."""


@dataclass(slots=True)
class _Step:
    """What one event changes of what is held; ``high`` leaves out the unbounded."""

    when: When
    added: Count
    low: Amount
    best: Amount
    high: Amount
    unbounded: int


@dataclass(slots=True)
class _State:
    """What is held after a step; ``worst`` is the worst moment up to there."""

    low: Amount = 0
    best: Amount = 0
    high: Amount = 0
    unbounded: int = 0
    worst: Worst | None = None

    @property
    def held(self) -> Count:
        """The state as low, best and high."""
        return Count(self.low, self.best, math.inf if self.unbounded else self.high)


@dataclass(slots=True, eq=False)
class HeldWalk:
    """One tally of what is held, step by step. What each line holds hangs on its own events alone."""

    spec: Spec
    _steps: list[_Step] = field(default_factory=list)
    _states: list[_State] = field(default_factory=list)
    """After each step, as far as they still hold good."""
    _of_haul: dict[str, list[_Step]] = field(default_factory=dict)
    _lines: dict[str, list[Entry]] = field(default_factory=dict)

    @property
    def lines(self) -> Proof:
        """The lines of the tally in order of capture."""
        return Proof(self._in_order)

    def _in_order(self) -> list[str]:
        entries = [entry for own in self._lines.values() for entry in own]
        return [one.line.line.id for one in sorted(entries, key=lambda entry: entry.line.capture)]

    def put(self, facts: Facts, haul: str, entry: Entry) -> None:
        """Take a line in, with the movements that ``facts`` hold of it."""
        self._lines.setdefault(haul, []).append(entry)
        before = NOTHING
        for moment in held_after(facts, [entry], [], self.spec.unit):
            step = _step(moment, before)
            insort(self._steps, step, key=_when)
            self._of_haul.setdefault(haul, []).append(step)
            self._cut(step)
            before = moment.held

    def take_out(self, haul: str) -> None:
        """Take a haul's lines out."""
        self._lines.pop(haul, None)
        for step in self._of_haul.pop(haul, ()):
            del self._steps[bisect_left(self._steps, step.when, key=_when)]
            self._cut(step)

    def _cut(self, step: _Step) -> None:
        """Drop the states from a step's moment on."""
        moment = (*step.when[:2], "")
        del self._states[bisect_left(self._steps, moment, key=_when) :]

    def worst(self, facts: Facts) -> Worst | None:
        """Walk on from where the states hold good; gives the worst moment of all."""
        waits: datetime | None = None
        first = len(self._states)
        for _, together in groupby(self._steps[first:], key=lambda step: step.when[:2]):
            before = self._states[-1] if self._states else _State()
            state, added, last = before, NOTHING, None
            for step in together:
                state = _State(
                    state.low + step.low,
                    state.best + step.best,
                    state.high + step.high,
                    state.unbounded + step.unbounded,
                    before.worst,
                )
                added, last = added + step.added, step
                self._states.append(state)
            if last is not None:
                moment = Moment(last.when[0], last.when[2], added, state.held, last.when[1])
                facts.ask_anew()
                state.worst = worse(facts, self.spec, before.worst, moment, before.held)
                waits = waits or facts.waits_for
        facts.waits_for = waits
        if waits is not None:
            # What is still to come is walked again once it has come.
            del self._states[bisect_left(self._steps, (waits, -1, ""), key=_when) :]
            return self._states[-1].worst if self._states else None
        return self._states[-1].worst if self._states else None


def _when(step: _Step) -> When:
    return step.when


def _step(moment: Moment, before: Count) -> _Step:
    """Give what one moment changes of what a line holds."""
    held = moment.held
    unbounded = (held.high == math.inf) - (before.high == math.inf)
    high = (0 if held.high == math.inf else held.high) - (0 if before.high == math.inf else before.high)
    when = (moment.at, moment.rank, moment.record)
    return _Step(when, moment.added, held.low - before.low, held.best - before.best, high, unbounded)
