"""Take limits as the season grows: every tally keeps its sums, so that one more haul needs no count anew."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from api.domain.counts import UNKNOWN
from api.domain.facts import Facts
from api.domain.live.cells import Cells, Ground, settled
from api.domain.live.held import HeldWalk
from api.domain.live.tallies import Slot, Stretch, Tallies, capture, era_of
from api.domain.live.trigger import Trigger
from api.domain.permits import Clause
from api.domain.reckoning.buckets import Bucket, Key, in_period, placed, spread
from api.domain.reckoning.holdings import gains_in, gains_under, keys_of_gains
from api.domain.reckoning.sums import Sums
from api.domain.reckoning.tallies import Entry, Spec, beyond, lines_in, specs_of, whole_of
from api.domain.rules.finding import Finding
from api.domain.rules.take_limits import (
    Lines,
    Standing,
    finding_of,
    held_finding,
    held_in,
    holder_words,
    period_words,
    runs_on,
    since_words,
    window_words,
)


@dataclass(slots=True, eq=False)
class _Limit:
    """One limit of a condition, its tallies, and what it needs besides."""

    spec: Spec
    tallies: Tallies
    trigger: Trigger | None
    walk: HeldWalk | None
    found: dict[str, list[Entry]] = field(default_factory=dict)
    """The lines of each haul before what lies below the trigger's amount is taken off."""

    @classmethod
    def of(cls, spec: Spec) -> _Limit:
        """Begin with no lines."""
        walked = spec.period == "held" and not spec.by_name and spec.holder in ("permit", "everybody")
        return cls(
            spec,
            Tallies(spec),
            Trigger(spec) if spec.condition.after is not None else None,
            HeldWalk(spec) if walked else None,
        )


@dataclass(slots=True, eq=False)
class Take:
    """A take limit in one version: every limit that it holds."""

    clause: Clause
    cells: Cells = field(default_factory=Cells)
    _limits: list[_Limit] = field(default_factory=list)
    _hauls: dict[str, list[str]] = field(default_factory=dict)
    _again: set[Hashable] = field(default_factory=set)
    _forgotten: set[str] = field(default_factory=set)
    _stale: set[int] = field(default_factory=set)
    """Limits all of whose tallies are to be judged anew."""

    @classmethod
    def of(cls, clause: Clause) -> Take:
        """Begin with no lines."""
        return cls(clause, _limits=[_Limit.of(spec) for spec in specs_of(clause)])

    def forget(self, trip: str) -> None:
        """Take a trip's lines out once the others are taken in."""
        self._forgotten.update(self._hauls.pop(trip, ()))

    def take(self, facts: Facts, trip: str) -> None:
        """Take a trip's lines in."""
        self._take_out(facts)
        self._hauls[trip] = [one.haul.id for one in facts.hauls]
        for limit in self._limits:
            found = _by_haul(lines_in(facts, limit.spec))
            if limit.trigger is not None:
                whole = [entry for entries in found.values() for entry in entries]
                for haul, entries in _by_haul(whole_of(facts, limit.spec, whole)).items():
                    limit.trigger.put(haul, entries)
                limit.found.update(found)
                continue
            for haul, entries in found.items():
                self._put(facts, limit, haul, entries)

    def _put(self, facts: Facts, limit: _Limit, haul: str, entries: list[Entry]) -> None:
        pieces = [
            (self._slot(facts, limit.spec, key, entry), entry) for key, entry in placed(facts, limit.spec, entries)
        ]
        limit.tallies.put(facts, haul, pieces)
        if limit.walk is not None:
            for _, entry in pieces:
                limit.walk.put(facts, haul, entry)

    def _slot(self, facts: Facts, spec: Spec, key: Key, entry: Entry) -> Slot:
        if spec.period == "rolling days":
            return key, entry.line.day(self.clause.authority.zone)
        if spec.holder == "everybody" and spec.period != "held":
            moments = [one for one in self._published(facts, spec, key) if one < entry.line.at]
            return key, moments[-1] if moments else None
        return key, None

    def _published(self, facts: Facts, spec: Spec, key: Key) -> list[datetime]:
        every = facts.published(self.clause.authority.id, spec.condition.number)
        return [one.as_of for one in every if in_period(spec, key, one.as_of)]

    def _take_out(self, facts: Facts) -> None:
        """Take out the hauls forgotten."""
        for haul in self._forgotten:
            for limit in self._limits:
                limit.tallies.take_out(facts, haul)
                limit.found.pop(haul, None)
                if limit.trigger is not None:
                    limit.trigger.take_out(haul)
                if limit.walk is not None:
                    limit.walk.take_out(haul)
        self._forgotten.clear()

    def papers(self, kind: str) -> None:
        """Judge anew what hangs on published totals, or on births and gifts."""
        for number, limit in enumerate(self._limits):
            if kind == "gain" and limit.spec.period == "held":
                self._stale.add(number)
            if kind == "shared total" and limit.spec.holder == "everybody" and limit.spec.period != "held":
                self._stale.add(number)

    def again(self, key: Hashable) -> None:
        """Judge a tally anew."""
        self._again.add(key)

    def settle(self, ground: Ground) -> None:
        """Judge the tallies touched."""
        facts = ground.base
        self._take_out(facts)
        for number, limit in enumerate(self._limits):
            if limit.trigger is not None:
                for haul in limit.trigger.settle():
                    self._count_beyond(facts, limit, haul)
            if limit.spec.period == "held":
                self._settle_held(ground, number, limit)
                continue
            if number in self._stale:
                self._part_anew(facts, limit)
            for key in _windows(limit.spec, limit.tallies.touched):
                facts.ask_anew()
                settled(ground, self, (number, *key), facts, _findings(facts, limit, *key))
            limit.tallies.touched.clear()
        self._stale.clear()
        self._again.clear()

    def _count_beyond(self, facts: Facts, limit: _Limit, haul: str) -> None:
        trigger = limit.spec.condition.after
        if trigger is None or limit.trigger is None:
            return
        limit.tallies.take_out(facts, haul)
        entries = beyond(limit.spec, trigger, limit.found.get(haul, []), limit.trigger.before)
        if entries:
            self._put(facts, limit, haul, entries)

    def _part_anew(self, facts: Facts, limit: _Limit) -> None:
        """Part a shared quota's lines anew at the totals published."""
        tallies = limit.tallies
        hauls: dict[str, list[tuple[Key, Entry]]] = {}
        for (key, _), stack in tallies.stacks.items():
            for haul, entries in stack.hauls.items():
                hauls.setdefault(haul, []).extend((key, entry) for entry in entries)
        for haul, pieces in hauls.items():
            tallies.take_out(facts, haul)
            tallies.put(facts, haul, [(self._slot(facts, limit.spec, key, entry), entry) for key, entry in pieces])
        # Known totals stand in every finding, whether or not its lines moved.
        tallies.touched.update(tallies.stacks)

    def _settle_held(self, ground: Ground, number: int, limit: _Limit) -> None:
        facts = ground.base
        woken = any(key[0] == number for key in self._again if isinstance(key, tuple))
        if not (limit.tallies.touched or number in self._stale or woken):
            return
        limit.tallies.touched.clear()
        gains = gains_under(facts, limit.spec)
        facts.ask_anew()
        if limit.walk is not None and not gains:
            key = Key("", "", None, "")
            worst = limit.walk.worst(facts)
            lines = limit.walk.lines
            finding = (
                held_finding(limit.spec, holder_words(facts, limit.spec, key), worst[2], worst[3], lines)
                if worst
                else None
            )
            found = [finding] if finding is not None else []
        else:
            buckets = {key: Bucket(key, own) for key, own in _own(limit.tallies)}
            every = spread(facts, limit.spec, buckets, keys_of_gains(limit.spec, gains))
            judged = [held_in(facts, limit.spec, one, gains_in(facts, limit.spec, one.key, gains)) for one in every]
            found = [one for one in judged if one is not None]
        settled(ground, self, (number, "held"), facts, found)

    def touching(self, trip: str) -> Iterator[Finding]:
        """Give the findings on the tallies in which a trip's lines stand."""
        keys: dict[Hashable, None] = {}
        for number, limit in enumerate(self._limits):
            slots = {slot for haul in self._hauls.get(trip, ()) for slot in limit.tallies.of_haul.get(haul, ())}
            if slots and limit.spec.period == "held":
                keys[number, "held"] = None
            elif slots:
                keys.update(((number, *key), None) for key in _receivers(limit, slots))
        return self.cells.of(keys)


def _by_haul(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.line.haul.haul.id, []).append(entry)
    return found


def _own(tallies: Tallies) -> Iterator[tuple[Key, list[Entry]]]:
    for (key, _), stack in tallies.stacks.items():
        yield key, sorted((entry for own in stack.hauls.values() for entry in own), key=capture)


def _windows(spec: Spec, slots: Iterable[Slot]) -> list[tuple[Key, Stretch]]:
    """Give the cells in which slots have a part: of rolling days every window that holds the day."""
    found: dict[tuple[Key, Stretch], None] = {}
    for key, stretch in slots:
        if spec.period == "rolling days" and isinstance(stretch, date):
            found.update(((key, stretch + timedelta(days=on)), None) for on in range(spec.bound.days))
        else:
            found[key, None] = None
    return list(found)


def _receivers(limit: _Limit, slots: Iterable[Slot]) -> Iterator[tuple[Key, Stretch]]:
    """Give the cells in which the lines of some slots stand, their own and those that they may belong to."""
    yield from _windows(limit.spec, limit.tallies.reached_by(slots))


def _findings(facts: Facts, limit: _Limit, key: Key, stretch: Stretch) -> list[Finding]:
    """Judge one tally: one window of rolling days, or every stretch of a period."""
    spec, tallies = limit.spec, limit.tallies
    if key not in tallies.keys.get(key.period, {}):
        return []
    holder = holder_words(facts, spec, key)
    if spec.period == "rolling days" and isinstance(stretch, date):
        return _rolling(facts, limit, key, stretch)
    period = period_words(spec, key)
    if spec.holder == "everybody":
        return _shared(facts, limit, key, period)
    earlier, here, _ = tallies.sums(facts, key, None)
    if not here.lines and not (earlier.lines and runs_on(spec, key)):
        return []
    lines = _lines(facts, limit, key, [], None)
    return [finding_of(Standing(spec, holder, period, earlier.count, earlier, here, lines))]


def _lines(facts: Facts, limit: _Limit, key: Key, before: list[Stretch], stretch: Stretch) -> Lines:
    """Look up a standing's lines when asked: all those of the stretches before, and the stretch's own two parts."""

    def look() -> tuple[list[Entry], list[Entry]]:
        earlier = [entry for other in before for entry in limit.tallies.entries(facts, key, other)]
        here: list[Entry] = []
        for entry in limit.tallies.entries(facts, key, stretch):
            era = era_of(limit.spec.clause, entry.line.at)
            if era < 2:
                (earlier, here)[era].append(entry)
        return earlier, here

    return look


def _rolling(facts: Facts, limit: _Limit, key: Key, day: date) -> list[Finding]:
    spec, tallies = limit.spec, limit.tallies
    own, here, _ = tallies.sums(facts, key, day)
    if not here.lines:
        return []
    before: list[Stretch] = [day - timedelta(days=ago) for ago in range(spec.bound.days - 1, 0, -1)]
    earlier = Sums()
    for other in before:
        for sums in tallies.sums(facts, key, other):
            earlier += sums
    earlier += own
    lines = _lines(facts, limit, key, before, day)
    words = window_words(spec, day)
    return [finding_of(Standing(spec, holder_words(facts, spec, key), words, earlier.count, earlier, here, lines))]


def _shared(facts: Facts, limit: _Limit, key: Key, period: str) -> list[Finding]:
    spec, tallies = limit.spec, limit.tallies
    published = {one.as_of: one.total for one in facts.published(spec.clause.authority.id, spec.condition.number)}
    found = []
    for stretch in tallies.stretches(key):
        earlier, here, _ = tallies.sums(facts, key, stretch)
        if not here.lines:
            continue
        moment = stretch if isinstance(stretch, datetime) else None
        known = published[moment] if moment else UNKNOWN
        words, lines = since_words(spec, period, moment), _lines(facts, limit, key, [], stretch)
        holder = holder_words(facts, spec, key)
        found.append(finding_of(Standing(spec, holder, words, known + earlier.count, earlier, here, lines)))
    return found
