"""What must hold together within one authority: numbers, groups, containers, areas, days, amendments.

Everything is told, with its place. Looked at as it stands in the file, so that one faulty condition does
not hide what is wrong elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from api.domain.calendar import end_of_day, instant, parse_day, parse_month_day, start_of_day, zone_named
from api.domain.conditions import AreaRule, Condition, PapersRule, PeopleRule, Prohibited, TakeLimit
from api.domain.measures import HANDBOOK_CONTAINERS
from api.exchange.checked_shapes import joined
from api.exchange.faults import Fault
from api.exchange.plain_words import choice, fault_of, nearest


@dataclass(frozen=True, slots=True)
class Placed:
    """A condition that could be read: in which version (0: as issued), and where it stands in the file."""

    version: int
    where: str
    condition: Condition


@dataclass(slots=True)
class Draft:
    """An authority as it stands in its file, and those of its conditions that could be read."""

    file: str
    own: Mapping[str, Any]
    placed: list[Placed] = field(default_factory=list)

    def amendments(self) -> list[Mapping[str, Any]]:
        """Give the amendments as written; a broken one as an empty object, so that places stay right."""
        raw = self.own.get("amendments")
        entries = raw if isinstance(raw, list | tuple) else []
        return [entry if isinstance(entry, Mapping) else {} for entry in entries]

    def versions(self) -> list[Mapping[str, Any]]:
        """Give the authority as issued and then its amendments, as written."""
        return [self.own, *self.amendments()]

    def entries(self, key: str, version: int | None = None) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """Give the objects of one list ("people", "groups", ...) of all versions or one, with their places."""
        for at, raw in enumerate(self.versions()):
            before = f"amendments[{at - 1}]: " if at else ""
            listed = raw.get(key)
            if version not in (None, at) or not isinstance(listed, list | tuple):
                continue
            for place, entry in enumerate(listed):
                if isinstance(entry, Mapping):
                    yield f"{before}{key}[{place}]", entry

    def groups(self) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """Give every group as written, with its place."""
        return self.entries("groups")


def texts(raw: object) -> Iterator[tuple[int, str]]:
    """Give the texts of a list as written, each with its place; a number as the text that a record makes of it."""
    for place, entry in enumerate(raw if isinstance(raw, list | tuple) else ()):
        if isinstance(entry, str | int | float | Decimal) and not isinstance(entry, bool):
            yield place, str(entry)


def authority_faults(draft: Draft, areas: Collection[str] | None) -> list[Fault]:
    """Tell everything within an authority that does not hold together."""
    faults: list[Fault] = []
    faults += _frame_faults(draft)
    faults += _double_faults(draft)
    faults += _amendment_faults(draft)
    faults += _day_faults(draft)
    for placed in draft.placed:
        faults += _reference_faults(draft, placed, areas)
    return faults


def _tried(draft: Draft, where: str, read: Callable[[], object]) -> list[Fault]:
    """Tell what a reader of one field refuses."""
    try:
        read()
    except ValueError as problem:
        return [fault_of(draft.file, where, problem)]
    return []


def _frame_faults(draft: Draft) -> list[Fault]:
    """Look at id, zone, permit year and term."""
    own = draft.own
    faults = [
        Fault(draft.file, key, f"The authority's '{key}' is empty.", "Fill it in.")
        for key in ("id", "number", "holder")
        if own.get(key) == ""
    ]
    for key, read in (
        ("zone", zone_named),
        ("year_starts", parse_month_day),
        ("first_day", parse_day),
        ("last_day", parse_day),
    ):
        text = own.get(key)
        if isinstance(text, str):
            faults += _tried(draft, key, lambda read=read, text=text: read(text))  # type: ignore[misc]
    days = _read_days(own)
    if days and days[0] > days[1]:
        what = f"The authority ends ({own['last_day']}) before it begins ({own['first_day']})."
        faults.append(Fault(draft.file, "last_day", what, "Correct one of the days."))
    return faults


def _read_days(raw: Mapping[str, Any]) -> tuple[Any, Any] | None:
    """Give the first and last day of an entry where both can be read."""
    first, last = raw.get("first_day"), raw.get("last_day")
    if not (isinstance(first, str) and isinstance(last, str) and first and last):
        return None
    try:
        return parse_day(first), parse_day(last)
    except ValueError:
        return None


def _double_faults(draft: Draft) -> list[Fault]:
    """Look for numbers, ids and names that stand twice in one list."""
    faults: list[Fault] = []
    for version in range(len(draft.versions())):
        for key, mark, what in (
            ("conditions", "number", "condition number"),
            ("people", "id", "person id"),
            ("groups", "id", "group id"),
            ("containers", "name", "container name"),
            ("other_papers", "name", "paper's name"),
        ):
            faults += _twice(draft, draft.entries(key, version), mark, what)
    faults += _twice(draft, draft.entries("amendments", 0), "number", "amendment number")
    return faults


def _twice(draft: Draft, entries: Iterable[tuple[str, Mapping[str, Any]]], mark: str, what: str) -> list[Fault]:
    seen: set[str] = set()
    faults: list[Fault] = []
    for where, entry in entries:
        word = str(entry.get(mark))
        if mark in entry and word in seen:
            faults.append(Fault(draft.file, where, f"The {what} '{word}' is used twice.", "Give each its own."))
        seen.add(word)
    return faults


def _amendment_faults(draft: Draft) -> list[Fault]:
    """Look at when amendments take effect and at what they withdraw."""
    faults: list[Fault] = []
    numbers = {str(entry.get("number")) for _, entry in draft.entries("conditions", 0)}
    last: datetime | None = None
    for place, raw in enumerate(draft.amendments()):
        where = f"amendments[{place}]"
        moment, wrong = _moment(draft, raw, where)
        faults += wrong
        if moment is not None and last is not None and moment < last:
            what = "This amendment takes effect before the one listed above it."
            faults.append(Fault(draft.file, f"{where}: from_moment", what, "Sort the amendments by their moments."))
        last = moment or last
        numbers |= {str(entry.get("number")) for _, entry in draft.entries("conditions", place + 1)}
        for at, number in texts(raw.get("withdrawn")):
            if number not in numbers:
                what = f"The amendment withdraws condition '{number}', which is not there."
                faults.append(Fault(draft.file, f"{where}: withdrawn[{at}]", what, choice(number, sorted(numbers))))
            numbers.discard(number)
    return faults


def _moment(draft: Draft, raw: Mapping[str, Any], where: str) -> tuple[datetime | None, list[Fault]]:
    """Read when an amendment takes effect, and see that it lies within the authority's term."""
    text, zone = raw.get("from_moment"), draft.own.get("zone")
    days = _read_days(draft.own)
    if not isinstance(text, str) or not isinstance(zone, str):
        return None, []
    try:
        zone_named(zone)
    except ValueError:
        zone = "UTC"  # the zone is told where it stands; the text is looked at all the same
    try:
        moment = instant(text, zone)
    except (ValueError, OverflowError) as problem:
        return None, [fault_of(draft.file, f"{where}: from_moment", ValueError(str(problem)))]
    if days and not start_of_day(days[0], zone) <= moment < end_of_day(days[1], zone):
        what = f"The amendment takes effect on {text}, outside the authority's term."
        mend = f"The term runs from {draft.own['first_day']} to {draft.own['last_day']}; correct one of them."
        return moment, [Fault(draft.file, f"{where}: from_moment", what, mend)]
    return moment, []


def _day_faults(draft: Draft) -> list[Fault]:
    """Look at the days of people, papers and qualifications."""
    faults: list[Fault] = []
    for key in ("people", "other_papers"):
        for where, entry in draft.entries(key):
            days = _read_days(entry)
            if days and days[0] > days[1]:
                what = f"The last day ({entry['last_day']}) comes before the first ({entry['first_day']})."
                faults.append(Fault(draft.file, joined(where, "last_day"), what, "Correct one of the days."))
    return faults


def _reference_faults(draft: Draft, placed: Placed, areas: Collection[str] | None) -> list[Fault]:
    """Look at everything that a condition names and that must be listed elsewhere."""
    condition = placed.condition
    faults: list[Fault] = []

    def look(path: str, name: str, known: Collection[str], what: str, mend: str) -> None:
        if name not in known:
            place = joined(placed.where, path)
            faults.append(Fault(draft.file, place, f"{what} '{name}' is not known.", choice(name, known) or mend))

    for at, area in enumerate(condition.only.areas if areas is not None else ()):
        look(f"only.areas[{at}]", area, areas or (), "The area", "Add it to the file of areas.")
    if isinstance(condition, AreaRule) and areas is not None:
        for at, area in enumerate(condition.areas):
            look(f"areas[{at}]", area, areas or (), "The area", "Add it to the file of areas.")
    if isinstance(condition, TakeLimit | Prohibited) and condition.group:
        groups = _ids_until(draft, "groups", "id", placed.version)
        look("group", condition.group, groups, "The group", "Add it to the authority's 'groups'.")
    if isinstance(condition, PapersRule):
        papers = _ids_until(draft, "other_papers", "name", placed.version)
        for at, paper in enumerate(condition.standing):
            look(f"standing[{at}]", paper, papers, "The paper", "Add it to the authority's 'other_papers'.")
    if isinstance(condition, TakeLimit):
        containers = [*_ids_until(draft, "containers", "name", 0), *HANDBOOK_CONTAINERS]
        for at, bound in enumerate(condition.limits):
            if bound.container:
                mend = "Add it to the authority's 'containers' with its litres."
                look(f"limits[{at}].container", bound.container, containers, "The container", mend)
        if condition.holder == "area" and not condition.only.areas:
            what = "The limit holds for each area, but no areas are named."
            faults.append(Fault(draft.file, placed.where, what, "Name them in 'only', as 'areas'."))
    people = _ids_until(draft, "people", "id", len(draft.amendments()))
    for at, person in enumerate(condition.only.persons if people else ()):
        look(f"only.persons[{at}]", person, people, "The person", "Add them to the authority's 'people'.")
    return faults + _likely_slips(draft, placed)


def _likely_slips(draft: Draft, placed: Placed) -> list[Fault]:
    """Look for a qualification that nobody holds (which may be so) but that is almost one somebody holds."""
    condition = placed.condition
    if not isinstance(condition, PeopleRule) or not condition.qualification:
        return []
    held = [
        str(one.get("name"))
        for _, person in draft.entries("people")
        if isinstance(person.get("qualifications"), list | tuple)
        for one in person["qualifications"]
        if isinstance(one, Mapping)
    ]
    near = "" if condition.qualification in held else nearest(condition.qualification, held)
    if not near:
        return []
    what = f"Nobody listed holds the qualification '{condition.qualification}'."
    return [Fault(draft.file, joined(placed.where, "qualification"), what, f"Did you mean '{near}'?")]


def _ids_until(draft: Draft, key: str, mark: str, version: int) -> list[str]:
    """Give the ids listed in the version that a condition belongs to, or in one before it."""
    return [str(entry.get(mark)) for at in range(version + 1) for _, entry in draft.entries(key, at)]
