"""The tallies of one limit: lines by holder, name and period, each with sums that can be added to and taken from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from api.domain.facts import Facts
from api.domain.permits import Clause
from api.domain.reckoning.buckets import NOT_RECORDED, Key, is_sure
from api.domain.reckoning.sums import Sums
from api.domain.reckoning.tallies import Entry, Spec
from api.domain.taxa import Identification

Stretch = date | datetime | None
"""What parts a tally further: the day within rolling days, the published total before a line of a shared quota."""

Slot = tuple[Key, Stretch]


@dataclass(slots=True)
class Stack:
    """A tally's lines in one stretch, by haul, with their sums before, in, and after the version.

    ``unsure`` sums up by name those lines that may be of another name's tally as well.
    """

    hauls: dict[str, list[Entry]] = field(default_factory=dict)
    sums: tuple[Sums, Sums, Sums] = field(default_factory=lambda: (Sums(), Sums(), Sums()))
    unsure: dict[Identification, tuple[Sums, Sums, Sums]] = field(default_factory=dict)


def era_of(clause: Clause, at: datetime) -> int:
    """Tell whether a moment is before a version (0), in it (1), or after it (2)."""
    if clause.begins is not None and at < clause.begins:
        return 0
    return 1 if clause.holds_at(at) else 2


def capture(entry: Entry) -> tuple[datetime, str, str]:
    """Give where a line stands in the order of capture."""
    return entry.line.capture


@dataclass(slots=True, eq=False)
class Tallies:
    """Every tally of one limit."""

    spec: Spec
    stacks: dict[Slot, Stack] = field(default_factory=dict)
    of_haul: dict[str, set[Slot]] = field(default_factory=dict)
    keys: dict[tuple[date | None, str], dict[Key, set[Stretch]]] = field(default_factory=dict)
    """The tallies of each period, with the stretches in which they have lines."""
    touched: set[Slot] = field(default_factory=set)

    def put(self, facts: Facts, haul: str, pieces: Iterable[tuple[Slot, Entry]]) -> None:
        """Take a haul's lines in."""
        for slot, entry in pieces:
            stack = self.stacks.setdefault(slot, Stack())
            stack.hauls.setdefault(haul, []).append(entry)
            self._open(slot)
            self.of_haul.setdefault(haul, set()).add(slot)
            self._weigh(facts, stack, entry, add=True)
        self._touch(self.of_haul.get(haul, ()))

    def take_out(self, facts: Facts, haul: str) -> None:
        """Take a haul's lines out."""
        slots = self.of_haul.pop(haul, set())
        self._touch(slots)
        for slot in slots:
            stack = self.stacks[slot]
            for entry in stack.hauls.pop(haul):
                self._weigh(facts, stack, entry, add=False)
            if not stack.hauls:
                self._close(slot)

    def _open(self, slot: Slot) -> None:
        of_period = self.keys.setdefault(slot[0].period, {})
        if slot[0] not in of_period:
            of_period[slot[0]] = set()
            self._touch_lent(slot[0])
        of_period[slot[0]].add(slot[1])

    def _close(self, slot: Slot) -> None:
        del self.stacks[slot]
        of_period = self.keys[slot[0].period]
        of_period[slot[0]].discard(slot[1])
        if not of_period[slot[0]]:
            self._touch_lent(slot[0])
            del of_period[slot[0]]

    def _touch_lent(self, key: Key) -> None:
        """Touch all that a tally may be lent, when it comes into being or goes."""
        if self._lends:
            self.touched.update((key, stretch) for other in self.keys[key.period].values() for stretch in other)

    def _weigh(self, facts: Facts, stack: Stack, entry: Entry, *, add: bool) -> None:
        era = era_of(self.spec.clause, entry.line.at)
        sums = [stack.sums[era]]
        name = entry.line.name
        if self.spec.by_name and not is_sure(facts, name):
            sums.append(stack.unsure.setdefault(name, (Sums(), Sums(), Sums()))[era])
        for one in sums:
            if add:
                one.add(entry)
            else:
                one.take_off(entry)

    def _touch(self, slots: Iterable[Slot]) -> None:
        """Touch tallies, and with one that may lend its lines to others all those of its period."""
        self.touched.update(self.reached_by(slots))

    def reached_by(self, slots: Iterable[Slot]) -> set[Slot]:
        """Give the slots in which the lines of some stand or may stand: their own, and those they may be lent to."""
        found = set(slots)
        for key, stretch in tuple(found):
            if key.holder == NOT_RECORDED or self.stacks[key, stretch].unsure:
                found.update((other, stretch) for other in self.keys[key.period])
        return found

    def _lenders(self, facts: Facts, key: Key, stretch: Stretch) -> Iterator[tuple[Stack, Identification | None]]:
        """Give the stacks whose lines may be of a tally as well: all of them (None), or those of a name."""
        # A tally is known by its holder and name; only few periods hold any that lends.
        for other in self.keys.get(key.period, ()):
            anywhere = other.holder == NOT_RECORDED
            stack = self.stacks.get((other, stretch))
            if stack is None or other == key or (other.holder != key.holder and not anywhere):
                continue
            if other.name == key.name:
                yield stack, None
                continue
            for name in stack.unsure:
                if facts.book.taxa.fit(name, (key.name,)).possible:
                    yield stack, name

    @property
    def _lends(self) -> bool:
        return self.spec.by_name or self.spec.holder in ("site", "waterbody", "container")

    def sums(self, facts: Facts, key: Key, stretch: Stretch) -> tuple[Sums, Sums, Sums]:
        """Give a tally's sums before, in and after the version, what may be its own included."""
        stack = self.stacks.get((key, stretch))
        found = (Sums(), Sums(), Sums())
        if stack is not None:
            if not self._lends:
                return stack.sums
            for total, own in zip(found, stack.sums, strict=True):
                total += own  # noqa: PLW2901 - added to in place
        for lender, name in self._lenders(facts, key, stretch) if self._lends else ():
            for total, lent in zip(found, lender.sums if name is None else lender.unsure[name], strict=True):
                total += lent.possible()  # noqa: PLW2901 - added to in place
        return found

    def entries(self, facts: Facts, key: Key, stretch: Stretch) -> list[Entry]:
        """Give a tally's lines in order of capture, what may be its own included."""
        stack = self.stacks.get((key, stretch))
        found = [entry for own in stack.hauls.values() for entry in own] if stack is not None else []
        for lender, name in self._lenders(facts, key, stretch) if self._lends else ():
            found += [
                Entry(entry.line, entry.count.possible(nominal=False))
                for lent in lender.hauls.values()
                for entry in lent
                if name is None or entry.line.name == name
            ]
        return sorted(found, key=capture)

    def stretches(self, key: Key) -> set[Stretch]:
        """Give the stretches in which a tally has lines, or may have."""
        own = self.keys.get(key.period, {})
        if key not in own:
            return set()
        if not self._lends:
            return own[key]
        return {stretch for other in own.values() for stretch in other}
