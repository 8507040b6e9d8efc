"""People: only those named, who must be present, how many, and whose qualification stands."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from api.domain.calendar import local_day, parse_day, spoken_day
from api.domain.conditions import PeopleRule
from api.domain.facts import Facts, HaulFact, trip_start
from api.domain.permits import Clause, NamedPerson
from api.domain.reckoning.hauls import summed_up, trips_for
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Trip
from api.domain.vocabulary import Outcome

Answer = tuple[Outcome, str]


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a people condition over each trip."""
    condition = clause.condition
    if not isinstance(condition, PeopleRule):
        return []
    hauls: dict[str, list[HaulFact]] = {}
    for fact in facts.hauls_under.get(clause.authority.id, ()):
        hauls.setdefault(fact.trip.id, []).append(fact)
    return [
        _finding(facts, clause, condition, trip, hauls.get(trip.id, []), fit) for trip, fit in trips_for(facts, clause)
    ]


def _finding(
    facts: Facts, clause: Clause, condition: PeopleRule, trip: Trip, hauls: list[HaulFact], fit: Fit
) -> Finding:
    day = local_day(trip_start(trip) or facts.still(), clause.authority.zone)
    listed = {person.id: person for person in clause.version.people if person.holds_on(day)}
    answers = list(_answers(facts, condition, trip, hauls, listed))
    if condition.qualification and trip.crew:
        answers.extend(_qualified(facts, clause, condition, trip, day))
    outcome, why = summed_up(answers, fit)
    return finding_for(
        clause,
        outcome,
        f"trip {trip.id}",
        f"Trip {trip.id} on {spoken_day(day)}: {why or 'the crew was as the condition asks'}.",
        settle=f"Needs what is missing: {why}." if outcome == "open" else "",
        records=(trip.id,),
        over=(trip.id,) if outcome == "broken" else (),
    )


def _answers(
    facts: Facts,
    condition: PeopleRule,
    trip: Trip,
    hauls: list[HaulFact],
    listed: dict[str, NamedPerson],
) -> Iterator[Answer]:
    if not trip.crew:
        yield "open", "the crew was not recorded"
        return
    if condition.only_listed:
        yield from _only_listed(facts, condition, trip, hauls, listed)
    if condition.present:
        there = [listed[member.person] for member in trip.crew if member.person in listed]
        if not any(person.role in condition.present for person in there):
            yield "broken", f"nobody listed as {' or '.join(condition.present)} was there"
    yield from _roles(facts, condition, trip, listed)
    yield from _numbers(condition, trip)


def workers_of(trip: Trip, hauls: list[HaulFact]) -> list[str]:
    """Give everybody who handled gear or animals: the crew but observers, and whoever a record credits."""
    people = [member.person for member in trip.crew if member.role != "observer"]
    for fact in hauls:
        people.extend(name for name in (fact.haul.person, *(line.person for line in fact.haul.lines)) if name)
    return list(dict.fromkeys(people))


def _only_listed(
    facts: Facts, condition: PeopleRule, trip: Trip, hauls: list[HaulFact], listed: dict[str, NamedPerson]
) -> Iterator[Answer]:
    unlisted = [
        person for person in workers_of(trip, hauls) if person not in listed or listed[person].role == "observer"
    ]
    if not unlisted:
        return
    names = ", ".join(facts.season.people.get(person, person) for person in unlisted)
    if condition.unlisted_in_sight:
        sights = {fact.haul.in_sight for fact in hauls}
        if sights == {True}:
            return
        if False not in sights:
            yield "open", f"{names} not listed, and whether the holder saw the work was not recorded"
            return
    yield "broken", f"{names} not listed for that day"


def _roles(facts: Facts, condition: PeopleRule, trip: Trip, listed: dict[str, NamedPerson]) -> Iterator[Answer]:
    for member in trip.crew:
        roles = {member.role} | ({listed[member.person].role} if member.person in listed else set())
        barred = roles & set(condition.not_roles)
        if barred:
            name = facts.season.people.get(member.person, member.person)
            yield "broken", f"{name} was there as {', '.join(sorted(barred))}"


def _numbers(condition: PeopleRule, trip: Trip) -> Iterator[Answer]:
    number = sum(member.role != "observer" for member in trip.crew)
    assistants = sum(member.role == "assistant" for member in trip.crew)
    if condition.crew_min and number < condition.crew_min:
        yield "broken", f"crew of {number}, at least {condition.crew_min} needed"
    if condition.crew_max and number > condition.crew_max:
        yield "broken", f"crew of {number}, at most {condition.crew_max} permitted"
    if condition.assistants_max is not None and assistants > condition.assistants_max:
        yield "broken", f"{assistants} assistants, at most {condition.assistants_max} permitted"


def _qualified(facts: Facts, clause: Clause, condition: PeopleRule, trip: Trip, day: date) -> Iterator[Answer]:
    """Judge who holds the qualification on the day.

    It is entered in the authority's list of people; its days are its own, whatever the days of the role.
    """
    asked = {
        "leader": [trip.leader],
        "someone": [member.person for member in trip.crew],
        "everyone": [member.person for member in trip.crew if member.role != "observer"],
    }[condition.qualified]
    states = {person: _holds(clause.version.people, person, condition.qualification, day) for person in asked}
    if condition.qualified == "someone":
        if "met" not in states.values():
            run_out = [person for person, state in states.items() if state == "broken"]
            words = f"nobody there held '{condition.qualification}' on that day"
            yield ("broken" if run_out and len(run_out) == len(states) else "open"), words
        return
    for person, state in states.items():
        if state != "met":
            name = facts.season.people.get(person, person)
            held = "had run out" if state == "broken" else "is not entered"
            yield state, f"'{condition.qualification}' of {name} {held}"


def _holds(people: tuple[NamedPerson, ...], person: str, qualification: str, day: date) -> Outcome:
    days = [
        parse_day(own.last_day)
        for entry in people
        if entry.id == person
        for own in entry.qualifications
        if own.name == qualification
    ]
    if not days:
        return "open"
    return "met" if max(days) >= day else "broken"
