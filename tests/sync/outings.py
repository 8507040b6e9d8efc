"""What three collectors do in a day: trips, hauls, lines, slips and their mending, papers, amendments, disputes.

Whatever a collector enters goes into the phone's outbox and into the simulation's logbook, and nowhere else.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.sync.logbook import MARKS, ZONE, Logbook
from tests.sync.simulated_phone import Phone, Record, Waiting

SPECIES = ("Galaxias maculatus", "Galaxias brevipinnis")
MISSPELT = ("Galaxias maculatis", "Galaxia brevipinnis", "Galaxias sp")
BREAKS_THE_PERMIT = 5000
"""The permit allows ten galaxias a year."""


@dataclass(slots=True)
class Entered:
    """A record as its own collector has it: the content last entered, and the version that will have."""

    kind: str
    content: Record
    parent: str = ""
    version: int = 1


@dataclass(slots=True)
class Outing:
    """What the crews tell one another by word of mouth: the trips under way, and the logbook."""

    logbook: Logbook = field(default_factory=Logbook)
    trips: list[str] = field(default_factory=list)
    closed: set[str] = field(default_factory=set)
    trip_of: dict[str, str] = field(default_factory=dict)
    shown: dict[str, tuple[str, Record, str]] = field(default_factory=dict)
    """Records that several amend, as their makers showed them: kind, content and parent."""


@dataclass(slots=True)
class Collector:
    """One collector with a phone, and what they entered."""

    phone: Phone
    outing: Outing
    dice: random.Random
    own: dict[str, Entered] = field(default_factory=dict)
    mends: dict[str, Record | None] = field(default_factory=dict)
    """What a slip should have been, by the operation that was wrong; None for one that nobody will mend."""
    led: str = ""
    companion: str = ""
    _entries: int = 0

    def begin_trip(self) -> None:
        """Open a trip that this collector leads."""
        content = {
            "zone": ZONE,
            "leader": self.phone.person,
            "authority": "permit",
            "status": "open",
            "depart": "2027-08-01T07:00",
            "crew": [{"person": self.phone.person, "role": "holder"}],
        }
        self.led = self._enter("trip", content)
        self.outing.trips.append(self.led)
        self.outing.trip_of[self.led] = self.led

    def act(self) -> None:
        """Enter one thing, as the dice say."""
        deeds: list[tuple[int, Callable[[], object]]] = [(8, self._haul)]
        if self._lines_and_hauls("haul"):
            deeds += [(14, self._line), (4, self._slip)]
        if self._lines_and_hauls("haul", "line"):
            deeds += [(5, self._amend), (2, self._slip_in_amending)]
        if self._lines_and_hauls("line"):
            deeds += [(2, self._movement), (1, self._incident)]
        if self.outing.logbook.shared:
            deeds.append((6, self._amend_shared))
        if not self.companion:
            deeds.append((2, self._companion))
        else:
            deeds.append((4, self._rename))
        deeds.append((1, self._notice))
        if self.led and self.led not in self.outing.closed:
            deeds.append((2, self._close))
        weights, actions = zip(*deeds, strict=True)
        self.dice.choices(actions, weights)[0]()

    def mend(self, how_likely: float = 1.0) -> bool:
        """Look at what was refused, and mend what can be; gives whether anything was."""
        mended = False
        for waiting in self.phone.refused():
            if self.dice.random() < how_likely:
                mended |= self._mend(waiting)
        return mended

    def _mend(self, waiting: Waiting) -> bool:
        operation = waiting.operation
        right = self.mends.get(operation["id"])
        reason_wanted = any(one["where"] == "why" for one in waiting.reasons)
        if right is None and not reason_wanted:
            return False
        why = f"because of {operation['record'][MARKS[operation['kind']]]}" if reason_wanted else operation["why"]
        mended = self.phone.mend(waiting, right or operation["record"], why)
        self.outing.logbook.mend(waiting, mended)
        return True

    def _enter(self, kind: str, content: Record, parent: str = "", wrong: dict[str, Any] | None = None) -> str:
        """Enter a new record; ``wrong`` is the slip in it."""
        record = {"id": self.phone.new_id(), **content, MARKS[kind]: self._mark()}
        slip = {**record, **(wrong or {})}
        waiting = self.phone.record(kind, slip, parent)
        self.outing.logbook.enter(waiting, self.phone, good=wrong is None)
        if wrong is not None:
            self.mends[waiting.operation["id"]] = record
        self.own[record["id"]] = Entered(kind, record, parent)
        self.outing.trip_of[record["id"]] = self.outing.trip_of.get(parent, "")
        return str(record["id"])

    def _mark(self) -> str:
        self._entries += 1
        return f"{self.phone.name} entry {self._entries}"

    def _lines_and_hauls(self, *kinds: str) -> list[str]:
        """Give the own records of some kinds, but those which several phones amend."""
        return [key for key, one in self.own.items() if one.kind in kinds and key not in self.outing.logbook.shared]

    def _haul(self, person: str = "") -> None:
        trip = self.dice.choice(self.outing.trips)
        minute = self.dice.randrange(0, 50)
        ending = self.dice.choice(("", "Z"))
        content: Record = {
            "start": f"2027-08-01T08:{minute:02}{ending}",
            "end": f"2027-08-01T08:{minute + 9}{ending}" if minute > 0 else f"2027-08-01T08:09{ending}",
            "gear": {"gear": "seine", "length_mm": "12 m"},
            "fixes": [{"lat": -42.3 - self.dice.randrange(100) / 1000, "lon": 153.6, "radius_m": 8}],
        }
        if person:
            content["person"] = person
        self._share_first(self._enter("haul", content, trip), 0.15)

    def _line(self) -> None:
        haul = self.dice.choice(self._lines_and_hauls("haul"))
        self._share_first(self._enter("line", self._catch(), haul), 0.6)

    def _share_first(self, record: str, how_likely: float) -> None:
        """Let a record be one that all phones may amend; there are two of them at most."""
        shared = self.outing.logbook.shared
        if len(shared) < 2 and self.dice.random() < how_likely:
            shared.add(record)
            entered = self.own[record]
            self.outing.shown[record] = (entered.kind, entered.content, entered.parent)

    def _catch(self) -> Record:
        count = BREAKS_THE_PERMIT if self.dice.random() < 0.1 else self.dice.randrange(1, 40)
        if count == BREAKS_THE_PERMIT:
            self.outing.logbook.met["breaks the permit"] += 1
        fate = self.dice.choice(("kept", "released", "dead"))
        return {"taxon": self.dice.choice(SPECIES), "fate": fate, "count": count}

    def _slip(self) -> None:
        haul = self.dice.choice(self._lines_and_hauls("haul"))
        wrong = self.dice.choice(({"taxon": self.dice.choice(MISSPELT)}, {"count": -1}, {"fate": "eaten"}))
        record = self._enter("line", self._catch(), haul, wrong)
        # Nobody speaks of a record again that was wrong and will perhaps stay so.
        del self.own[record]
        if self.dice.random() < 0.4:
            operation = self.phone.outbox[-1].operation["id"]
            self.mends[operation] = None
            self.outing.logbook.met["never mended"] += 1

    def _amend(self) -> None:
        self._amend_own(self.dice.choice(self._lines_and_hauls("haul", "line")), None)

    def _slip_in_amending(self) -> None:
        self._amend_own(self.dice.choice(self._lines_and_hauls("haul", "line")), {"person": "nobody"})

    def _amend_own(self, key: str, wrong: dict[str, Any] | None) -> None:
        """Amend a record that nobody else amends: the phone knows which version that will have, answered or not."""
        stands = self.own[key]
        changes: Record = {MARKS[stands.kind]: self._mark()}
        if stands.kind == "line" and self.dice.random() < 0.7:
            changes["count"] = self.dice.randrange(1, 40)
        right = {**stands.content, **changes}
        waiting = self.phone.record(
            stands.kind, {**right, **(wrong or {})}, stands.parent, stands.version, self._why(key)
        )
        self.outing.logbook.enter(waiting, self.phone, good=wrong is None)
        if wrong is not None:
            self.mends[waiting.operation["id"]] = right
        stands.content, stands.version = right, stands.version + 1

    def _why(self, record: str) -> str:
        """Give a reason where the phone knows that the trip is closed."""
        trip = self.phone.mirror.get(("trip", self.outing.trip_of.get(record, "")))
        closed = trip is not None and trip["record"]["status"] == "closed"
        return f"because of {self.phone.name} entry {self._entries}" if closed else ""

    def _amend_shared(self) -> None:
        """Amend a record as it was pulled, or as its maker showed it, whoever else is amending it."""
        record = self.dice.choice(sorted(self.outing.logbook.shared))
        kind, content, parent = self.outing.shown[record]
        pulled = self.phone.mirror.get((kind, record))
        changes: Record = {MARKS[kind]: self._mark()}
        if kind == "line":
            changes["count"] = self.dice.randrange(1, 40)
        base, version = (pulled["record"], pulled["version"]) if pulled else (content, 1)
        waiting = self.phone.record(kind, {**base, **changes}, parent, version, self._why(record))
        self.outing.logbook.enter(waiting, self.phone)

    def _close(self) -> None:
        trip = self.own[self.led]
        right = {**trip.content, "status": "closed", "back": "2027-08-01T12:00", "note": self._mark()}
        waiting = self.phone.record("trip", right, "", trip.version)
        self.outing.logbook.enter(waiting, self.phone)
        trip.content, trip.version = right, trip.version + 1
        self.outing.closed.add(self.led)

    def _companion(self) -> None:
        """Name somebody new; now and then after a haul that was theirs."""
        self.companion = self._enter("person", {})
        if self.dice.random() < 0.5:
            person = self.phone.outbox.pop()
            self._haul(self.companion)
            self.phone.outbox.append(person)

    def _rename(self) -> None:
        self._amend_own(self.companion, None)

    def _notice(self) -> None:
        trip = self.dice.choice(self.outing.trips)
        self._enter("notice", {"authority": "permit", "trip": trip, "to": "desk", "sent": "2027-07-31T06:00Z"})

    def _incident(self) -> None:
        about = self.dice.sample(self._lines_and_hauls("haul", "line"), 1)
        if self.dice.random() < 0.3:
            about.append(self.dice.choice(self.outing.trips))
        self._enter("incident", {"authority": "permit", "about": about, "to": "desk"})

    def _movement(self) -> None:
        line = self.dice.choice(self._lines_and_hauls("line"))
        content = {"line": line, "at": "2027-08-01T05:00Z", "what": "died", "count": 1}
        self._enter("movement", content)
