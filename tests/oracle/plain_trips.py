"""People, notices, papers and what a person states: one answer for each trip."""

from __future__ import annotations

import datetime as dt

from tests.oracle.plain_world import Key, Rule, World, both, either, hours, softened, verdict, worst


def started(trip) -> dt.datetime | None:
    if trip.depart is not None:
        return trip.depart
    return min((haul.start for haul in trip.hauls), default=None)


def touched(world: World, rule: Rule, trip) -> str:
    """Whether a trip fits the narrowing: if any haul of it under the authority does."""
    only = rule.condition.only
    if only == type(only)():
        return "yes"
    own = [haul for haul in trip.hauls if rule.authority.id in world.under(haul, trip)]
    if not own:
        return _touched_without_hauls(world, rule, trip)
    return either(*(world.narrows_haul(rule, haul, trip) for haul in own))


def _touched_without_hauls(world: World, rule: Rule, trip) -> str:
    """The day and the leader are known of any trip; the rest nobody can tell without a haul."""
    only = rule.condition.only
    answers = []
    if only.dates:
        day = world.day(started(trip), rule.authority)
        answers.append(verdict([any(world.in_dates(day, span) is not None for span in only.dates)]))
    if only.persons:
        answers.append(verdict([trip.leader in only.persons]))
    if only.taxa or only.stages or only.sexes or only.size or only.gear or only.areas or only.waters or only.sites:
        answers.append("maybe")
    return both(*answers)


def each_trip(world: World, rule: Rule, statuses: tuple[str, ...], judge) -> list[Key]:
    found = []
    for trip in world.trips_under(rule.authority.id):
        if trip.status not in statuses or not rule.holds(started(trip) or world.as_of):
            continue
        fits = touched(world, rule, trip)
        if fits == "no":
            continue
        outcome = judge(world, rule, trip)
        if outcome is not None:
            found.append(rule.key(softened(outcome, fits), f"trip {trip.id}"))
    return found


# --- people --------------------------------------------------------------------------------------------------


def people_on(world: World, rule: Rule, trip) -> str:
    condition = rule.condition
    day = world.day(started(trip) or world.as_of, rule.authority)
    if not trip.crew:
        return "open"
    listed = {
        person.id: person
        for person in rule.people
        if (not person.first_day or person.first_day <= day.isoformat())
        and (not person.last_day or day.isoformat() <= person.last_day)
    }
    able = [name for name, person in listed.items() if person.role != "observer"]
    answers = ["met"]
    crew = [member.person for member in trip.crew if member.role != "observer"]
    own = rule.authority.id
    hauls = [haul for haul in trip.hauls if own in world.under(haul, trip)]
    credited = {one for haul in hauls for one in (haul.person, *(line.person for line in haul.lines)) if one}
    workers = [*crew, *sorted(credited - set(crew))]
    if condition.only_listed:
        answers += [_unlisted(world, rule, trip) for person in workers if person not in able]
    if condition.present:
        here = [member.person for member in trip.crew]
        good = any(person in listed and listed[person].role in condition.present for person in here)
        answers.append("met" if good else "broken")
    roles = [listed[member.person].role for member in trip.crew if member.person in listed]
    if any(role in condition.not_roles for role in (*roles, *(member.role for member in trip.crew))):
        answers.append("broken")
    count = len(crew)
    if (condition.crew_min and count < condition.crew_min) or (condition.crew_max and count > condition.crew_max):
        answers.append("broken")
    assistants = [member for member in trip.crew if member.role == "assistant"]
    if condition.assistants_max is not None and len(assistants) > condition.assistants_max:
        answers.append("broken")
    if condition.qualification:
        answers.append(_qualified(rule, trip, crew, day))
    return worst(answers)


def _unlisted(world: World, rule: Rule, trip) -> str:
    """With the holder's eye on the work an unlisted person may help: what was seen is noted haul by haul."""
    if not rule.condition.unlisted_in_sight:
        return "broken"
    seen = [haul.in_sight for haul in trip.hauls if rule.authority.id in world.under(haul, trip)]
    if False in seen:
        return "broken"
    return "open" if None in seen or not seen else "met"


def _qualified(rule: Rule, trip, workers: list[str], day: dt.date) -> str:
    people = {person.id: person for person in rule.people}

    def holds(person: str) -> str:
        days = [
            one.last_day
            for one in (people[person].qualifications if person in people else ())
            if one.name == rule.condition.qualification
        ]
        if not days:
            return "open"
        return "met" if max(days) >= day.isoformat() else "broken"

    if rule.condition.qualified == "leader":
        return holds(trip.leader)
    if rule.condition.qualified == "everyone":
        return worst([holds(person) for person in workers] or ["met"])
    answers = [holds(member.person) for member in trip.crew]
    return next(word for word in ("met", "open", "broken") if word in answers)


# --- notices -------------------------------------------------------------------------------------------------


def notice_of(world: World, rule: Rule, trip) -> str | None:
    condition = rule.condition
    leaves = started(trip)
    own = [
        one
        for one in world.season.notices
        if one.authority == rule.authority.id and one.trip == trip.id and one.sent <= world.as_of
    ]
    called_off = [(one.to, one.sent) for one in own if one.cancels]
    given = [one for one in own if not one.cancels]
    standing = [one for one in given if not any(to == one.to and sent >= one.sent for to, sent in called_off)]
    if trip.status == "cancelled":
        if not condition.cancellation_told or not given:
            return None
        told = {one.to for one in own if one.cancels}
        wanted = {one.to for one in given} & set(condition.to)
        return "met" if wanted <= told else "broken"
    answers = []
    for to in condition.to:
        tried = [_good(rule, one, leaves) for one in standing if one.to == to]
        answers.append(
            next((word for word in ("met", "open", "broken") if word in tried), _missing(world, rule, leaves))
        )
    return worst(answers)


def _missing(world: World, rule: Rule, leaves) -> str:
    if leaves is None:
        return "open"
    return "broken" if world.as_of > leaves - hours(rule.condition.hours_before) else "open"


def _good(rule: Rule, notice, leaves) -> str:
    condition = rule.condition
    answers = []
    if leaves is None:
        answers.append("open")
    else:
        ahead = leaves - notice.sent
        answers.append("met" if ahead >= hours(condition.hours_before) else "broken")
        if condition.hours_before_max and ahead > hours(condition.hours_before_max):
            answers.append("broken")
    if condition.channels and notice.channel not in condition.channels:
        answers.append("broken" if notice.channel else "open")
    if not set(condition.content) <= set(notice.content):
        answers.append("broken")
    if condition.proof_kept and not notice.proof:
        answers.append("open")
    return worst(answers)


# --- papers --------------------------------------------------------------------------------------------------


def papers_on(world: World, rule: Rule, trip) -> str:
    condition = rule.condition
    day = world.day(started(trip) or world.as_of, rule.authority).isoformat()
    answers = ["met"]
    if condition.carried:
        if trip.papers is None:
            answers.append("open")
        elif not set(condition.carried) <= set(trip.papers):
            answers.append("broken")
    for name in condition.standing:
        paper = [one for one in rule.authority.other_papers if one.name == name]
        if not paper:
            answers.append("open")
        elif (paper[0].first_day and day < paper[0].first_day) or (paper[0].last_day and day > paper[0].last_day):
            answers.append("broken")
        elif not paper[0].first_day or not paper[0].last_day:
            answers.append("open")
    return worst(answers)


# --- attested ------------------------------------------------------------------------------------------------


def judge_attested(world: World, rule: Rule) -> list[Key]:
    if rule.condition.per == "trip":
        return each_trip(world, rule, ("open", "closed"), stated)
    if not rule.holds(world.as_of):
        return []
    trips = [trip for trip in world.trips_under(rule.authority.id) if trip.status in ("open", "closed")]
    fits = {trip.id: touched(world, rule, trip) for trip in trips}
    trips = [trip for trip in trips if fits[trip.id] != "no"]
    if not trips:
        return []
    outcome = _stated([word for trip in trips for word in _words(rule, trip)])
    if outcome == "broken" and not any("not kept" in _words(rule, trip) for trip in trips if fits[trip.id] == "yes"):
        outcome = "open"
    return [rule.key(outcome, "whole term")]


def _words(rule: Rule, trip) -> list[str]:
    return [
        one.kept for one in trip.attestations if one.authority == rule.authority.id and one.condition == rule.number
    ]


def _stated(said: list[str]) -> str:
    if "not kept" in said:
        return "broken"
    if "kept" in said:
        return "met"
    return "not used" if said else "open"


def stated(world: World, rule: Rule, trip) -> str:
    return _stated(_words(rule, trip))
