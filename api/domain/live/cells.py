"""Cells: the findings on one condition, kept apart by what they speak of, so that each can be judged anew alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from api.domain.facts import Facts
from api.domain.rules.finding import Finding
from api.domain.trips import Trip
from api.domain.vocabulary import Outcome


class Ground(Protocol):
    """What a part may ask of the season while it judges anew."""

    @property
    def base(self) -> Facts:
        """The season without its trips: the book, the papers, the names, the moment."""
        ...

    def trip(self, trip: str) -> Trip | None:
        """Give a trip that has begun (or is planned) by the moment judged at, None where there is none."""
        ...

    def facts_of(self, trips: Iterable[str]) -> Facts:
        """Lay out some trips alone, with the papers that speak of them; trips that are not there are left out."""
        ...

    def wake(self, part: Part, key: Hashable, moment: datetime) -> None:
        """Have a part's cell judged anew once a moment has come."""
        ...


@dataclass(slots=True)
class Cells:
    """Findings by what they speak of, with the number of each outcome and the moment each waits for."""

    found: dict[Hashable, tuple[Finding, ...]] = field(default_factory=dict)
    outcomes: Counter[Outcome] = field(default_factory=Counter)
    due: dict[Hashable, datetime] = field(default_factory=dict)

    def put(self, key: Hashable, findings: Sequence[Finding], due: datetime | None = None) -> None:
        """Put findings in place of those that stood there; none take the cell away."""
        for old in self.found.pop(key, ()):
            self.outcomes[old.outcome] -= 1
        self.due.pop(key, None)
        if findings:
            self.found[key] = tuple(findings)
            for new in findings:
                self.outcomes[new.outcome] += 1
        if due is not None:
            self.due[key] = due

    def __iter__(self) -> Iterator[Finding]:
        for findings in self.found.values():
            yield from findings

    def of(self, keys: Iterable[Hashable]) -> Iterator[Finding]:
        """Give the findings of some cells."""
        for key in keys:
            yield from self.found.get(key, ())


class Part(Protocol):
    """One condition in one version, judged as the season grows."""

    cells: Cells

    def forget(self, trip: str) -> None:
        """Take out all that a trip brought; what it touched is judged anew at the next ``settle``."""
        ...

    def take(self, facts: Facts, trip: str) -> None:
        """Take in what a trip brings, laid out alone."""
        ...

    def papers(self, kind: str) -> None:
        """Hear that papers of a kind that hang on no trip changed: filing, shared total, gain."""
        ...

    def again(self, key: Hashable) -> None:
        """Have a cell judged anew at the next ``settle``."""
        ...

    def settle(self, ground: Ground) -> None:
        """Judge anew what was touched since the last time."""
        ...

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings that rest on a trip, its hauls or its lines."""
        ...


def settled(ground: Ground, part: Part, key: Hashable, facts: Facts, findings: Sequence[Finding]) -> None:
    """Put a cell's findings in place, and see that it is judged anew when what it waits for has come."""
    due, before = facts.waits_for, part.cells.due.get(key)
    part.cells.put(key, findings, due)
    if due is not None and due != before:
        ground.wake(part, key, due)
