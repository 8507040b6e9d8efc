"""What reads oddly and may be a slip of the pen: words that permit and record do not share, times out of place.

Nothing here is refused or judged; a note asks a person to look.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta

from api.domain.calendar import spoken_time
from api.domain.conditions import GearRule, NoticeRule, Only, SizeLimit, StageRule, TakeLimit
from api.domain.facts import Facts
from api.domain.trips import Line, Trip

_LEEWAY = timedelta(hours=1)


def slips(facts: Facts) -> tuple[str, ...]:
    """Give every note, in order of authority and trip."""
    return (
        *_words(facts),
        *(note for trip in facts.trips.values() for note in _times(trip)),
        *(note for entry in facts.lines for note in _more_measured(entry.line)),
    )


def _words(facts: Facts) -> Iterator[str]:
    """Note a word of a condition that no record uses, where records use words that no condition knows."""
    recorded = _recorded(facts)
    for authority in facts.book.authorities:
        asked: dict[str, dict[str, str]] = {}
        for clauses in facts.clauses[authority.id].values():
            for field, word in _asked(clauses[-1].condition):
                asked.setdefault(field, {}).setdefault(word, clauses[-1].condition.number)
        for field, words in asked.items():
            strange = sorted(recorded.get(field, set()) - set(words))
            for word, number in words.items():
                if strange and word not in recorded[field]:
                    used = ", ".join(f"'{one}'" for one in strange[:6])
                    yield (
                        f"Condition {number} of {authority.number} speaks of the {field} '{word}', which no record "
                        f"uses; records use {used}. If one of these is meant, make the words the same."
                    )


def _recorded(facts: Facts) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}

    def add(field: str, words: Iterable[str]) -> None:
        found.setdefault(field, set()).update(word for word in words if word)

    for entry in facts.lines:
        add("stage", [entry.line.stage])
        add("sex", [entry.line.sex])
        add("measure", [run.measure for run in entry.line.measurements])
    for fact in facts.hauls:
        add("gear", [fact.haul.gear.gear] if fact.haul.gear else [])
        add("water", [fact.haul.waterbody])
        add("site", [fact.haul.site])
    add("recipient", [notice.to for notice in facts.season.notices])
    return found


def _asked(condition: object) -> Iterator[tuple[str, str]]:
    only: Only = getattr(condition, "only", Only())
    narrower = [only, *getattr(condition, "parts", ())]
    for one in narrower:
        yield from (("stage", word) for word in one.stages)
        yield from (("sex", word) for word in one.sexes)
        if one.size is not None:
            yield "measure", one.size.measure
    yield from (("gear", word) for word in only.gear)
    yield from (("water", word) for word in only.waters)
    yield from (("site", word) for word in only.sites)
    match condition:
        case StageRule():
            yield from (("stage", word) for word in condition.stages)
            yield from (("sex", word) for word in condition.sexes)
        case SizeLimit():
            yield from (("measure", rule.measure) for rule in condition.rules)
        case GearRule():
            yield from (("gear", entry.gear) for entry in condition.gear)
        case NoticeRule():
            yield from (("recipient", word) for word in condition.to)
        case TakeLimit():
            return


def _times(trip: Trip) -> Iterator[str]:
    """Note hauls that lie well outside their trip."""
    for haul in trip.hauls:
        early = trip.depart is not None and haul.start < trip.depart - _LEEWAY
        late = trip.back is not None and haul.start > trip.back + _LEEWAY
        if early or late:
            side = "before its trip left" if early else "after its trip was back"
            yield f"Haul {haul.id} began {spoken_time(haul.start, trip.zone)}, {side}; look at date and time."


def _more_measured(line: Line) -> Iterator[str]:
    """Note more lengths or weights under one measure than animals can have been."""
    if line.unit != "individuals":
        return
    for run in line.measurements:
        if len(run.values) > line.count.high:
            yield (
                f"Line {line.id} measures {len(run.values)} animals ({run.measure}) where at most "
                f"{line.count.high} are counted; look at count and lengths."
            )
