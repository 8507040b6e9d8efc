"""Conditions that are judged trip by trip: what happened on other trips plays no part, or only its neighbours do."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

from api.domain.conditions import GearRule
from api.domain.facts import Facts
from api.domain.live.cells import Cells, Ground, settled
from api.domain.permits import Clause
from api.domain.rules import gear
from api.domain.rules.finding import Finding

Rule = Callable[[Facts, Clause], list[Finding]]

_NEVER_ENDS = datetime.max.replace(tzinfo=UTC)


@dataclass(slots=True, eq=False)
class ByTrip:
    """A condition whose findings each rest on one trip alone; its cells are the trips."""

    clause: Clause
    rule: Rule
    hangs_on: frozenset[str] = frozenset()
    """Kinds of papers of no trip (see ``Part.papers``) on which every finding may hang."""
    cells: Cells = field(default_factory=Cells)
    _trips: set[str] = field(default_factory=set)
    _touched: set[Hashable] = field(default_factory=set)

    def forget(self, trip: str) -> None:
        """Take a trip out."""
        self._trips.discard(trip)
        self._touched.add(trip)

    def take(self, facts: Facts, trip: str) -> None:
        """Take a trip in."""
        del facts
        self._trips.add(trip)
        self._touched.add(trip)

    def papers(self, kind: str) -> None:
        """Judge every trip anew where the condition hangs on such papers."""
        if kind in self.hangs_on:
            self._touched.update(self._trips)

    def again(self, key: Hashable) -> None:
        """Judge a trip anew."""
        self._touched.add(key)

    def settle(self, ground: Ground) -> None:
        """Judge the trips touched, each alone."""
        for trip in self._touched:
            facts = ground.facts_of([str(trip)])
            facts.ask_anew()
            findings = self.rule(facts, self.clause) if trip in self._trips else []
            settled(ground, self, trip, facts, findings)
        self._touched.clear()

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on a trip."""
        return self.cells.of([trip])


Span = tuple[datetime, datetime]


@dataclass(slots=True, eq=False)
class Gear:
    """A gear condition: how many stood at once hangs on the trips whose sets were in the water meanwhile."""

    clause: Clause
    cells: Cells = field(default_factory=Cells)
    _set_out: dict[str, Span] = field(default_factory=dict)
    """From a trip's first setting to its last lift."""
    _worked: dict[str, Span] = field(default_factory=dict)
    """From a trip's first haul or setting to its last."""
    _touched: set[Hashable] = field(default_factory=set)

    @property
    def _counts_together(self) -> bool:
        condition = self.clause.condition
        return isinstance(condition, GearRule) and any(entry.together for entry in condition.gear)

    def forget(self, trip: str) -> None:
        """Take a trip out; those that its sets stood beside are judged anew."""
        self._touch_beside(trip)
        self._set_out.pop(trip, None)
        self._worked.pop(trip, None)
        self._touched.add(trip)

    def take(self, facts: Facts, trip: str) -> None:
        """Take a trip in; those that its sets stood beside are judged anew."""
        hauls = [one.haul for one in facts.hauls_under.get(self.clause.authority.id, ())]
        if hauls:
            starts = [haul.start for haul in hauls]
            self._worked[trip] = min(starts), max(starts)
        sets = [haul for haul in hauls if haul.kind == "set"]
        if sets:
            ends = [haul.end or _NEVER_ENDS for haul in sets]
            self._set_out[trip] = min(haul.start for haul in sets), max(ends)
        self._touched.add(trip)
        self._touch_beside(trip)

    def _touch_beside(self, trip: str) -> None:
        span = self._set_out.get(trip)
        if span is not None and self._counts_together:
            self._touched.update(other for other, worked in self._worked.items() if _meet(span, worked))

    def papers(self, kind: str) -> None:
        """Papers play no part."""

    def again(self, key: Hashable) -> None:
        """Judge a trip anew."""
        self._touched.add(key)

    def settle(self, ground: Ground) -> None:
        """Judge the trips touched, each beside those whose sets may have stood meanwhile."""
        for key in self._touched:
            trip = str(key)
            worked = self._worked.get(trip)
            beside = [trip]
            if worked is not None and self._counts_together:
                beside += [other for other, span in self._set_out.items() if other != trip and _meet(span, worked)]
            facts = ground.facts_of(beside)
            facts.ask_anew()
            found = gear.judge(facts, self.clause) if worked is not None else []
            stands = ground.trip(trip)
            own = {haul.id for haul in stands.hauls} if stands is not None else set()
            settled(ground, self, trip, facts, [one for one in found if one.records[0] in own])
        self._touched.clear()

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on a trip's hauls."""
        return self.cells.of([trip])


def _meet(one: Span, other: Span) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


GroupsOf = Callable[[Facts, Clause], set[str]]
"""Names the groups (days, sites, a year, the term) in which a trip has a part, as findings are about them."""


@dataclass(slots=True, eq=False)
class ByGroup:
    """A condition judged over groups of lines or hauls from several trips: a day, a site, a year, the term.

    ``anywhere`` is the group of what may belong to any group; "" where there is no such thing.
    """

    clause: Clause
    rule: Rule
    groups_of: GroupsOf
    anywhere: str = ""
    cells: Cells = field(default_factory=Cells)
    _members: dict[str, set[str]] = field(default_factory=dict)
    _groups: dict[str, set[str]] = field(default_factory=dict)
    _touched: set[Hashable] = field(default_factory=set)

    def forget(self, trip: str) -> None:
        """Take a trip out of its groups."""
        for group in self._groups.pop(trip, ()):
            self._touch(group)
            self._members[group].discard(trip)
            if not self._members[group]:
                del self._members[group]

    def take(self, facts: Facts, trip: str) -> None:
        """Put a trip into its groups."""
        groups = self.groups_of(facts, self.clause)
        if groups:
            self._groups[trip] = groups
        for group in groups:
            self._members.setdefault(group, set()).add(trip)
            self._touch(group)

    def _touch(self, group: str) -> None:
        self._touched.add(group)
        if group == self.anywhere:
            self._touched.update(self._members)

    def papers(self, kind: str) -> None:
        """Papers of no trip play no part."""

    def again(self, key: Hashable) -> None:
        """Judge a group anew."""
        self._touched.add(key)

    def settle(self, ground: Ground) -> None:
        """Judge the groups touched, each with the trips that have a part in it."""
        for key in self._touched:
            group = str(key)
            facts = ground.facts_of(self._trips_in(group))
            facts.ask_anew()
            found = self.rule(facts, self.clause) if group in self._members else []
            own = [one for one in found if one.about in (group, f"{group}, report")]
            settled(ground, self, group, facts, own)
        self._touched.clear()

    def _trips_in(self, group: str) -> set[str]:
        anywhere = self._members.get(self.anywhere, set()) if self.anywhere else set()
        return self._members.get(group, set()) | anywhere

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on the groups in which a trip has a part."""
        groups = self._groups.get(trip, set())
        return self.cells.of(self._members if self.anywhere in groups else groups)
