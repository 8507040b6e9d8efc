"""A second judge, deliberately slow and plain, written from the words and not from the engine.

It answers with keys (authority, number, version, outcome, what it speaks of); ``agreement.py`` turns the
engine's findings into the same keys. Where the two differ, one of them has misread the words.
"""

from __future__ import annotations

import datetime as dt

from api.domain.facts import Book
from api.domain.trips import Season
from tests.oracle import plain_animals, plain_hauls, plain_papers, plain_stops, plain_take, plain_trips
from tests.oracle.plain_world import Key, Rule, World, midnight, rules_of

AT_WORK = ("open", "closed")


def _hauls(judge):
    return lambda world, rule: plain_hauls.each_haul(world, rule, judge)


def _trips(statuses: tuple[str, ...], judge):
    return lambda world, rule: plain_trips.each_trip(world, rule, statuses, judge)


KINDS = {
    "take limit": plain_take.judge_take,
    "share limit": plain_animals.judge_share,
    "size limit": plain_animals.judge_size,
    "stage and sex": plain_animals.judge_stage,
    "prohibited taxon": plain_animals.judge_prohibited,
    "gear": _hauls(plain_hauls.gear_of),
    "area": _hauls(plain_hauls.area_of),
    "season": _hauls(plain_hauls.season_of),
    "time of day": _hauls(plain_hauls.hours_of),
    "people": _trips(AT_WORK, plain_trips.people_on),
    "notice": _trips(("planned", "open", "closed", "cancelled"), plain_trips.notice_of),
    "encounter and stop": plain_stops.judge_stop,
    "disposition": plain_papers.judge_disposition,
    "cleaning": plain_hauls.judge_cleaning,
    "report": plain_papers.judge_report,
    "papers": _trips(AT_WORK, plain_trips.papers_on),
    "holding": plain_papers.judge_holding,
    "attested": plain_trips.judge_attested,
}


def plain_judge(book: Book, season: Season, as_of: dt.datetime) -> dict[tuple[str, str], list[Key]]:
    """Give the keys of every authority and condition number, and of the term."""
    world = World(book, season, as_of)
    answers: dict[tuple[str, str], list[Key]] = {}
    for authority in book.authorities:
        answers[authority.id, "term"] = _term(world, authority, as_of)
        for rule in rules_of(authority):
            answers.setdefault((authority.id, rule.number), []).extend(KINDS[rule.condition.kind](world, rule))
    return answers


def _term(world: World, authority, as_of: dt.datetime) -> list[Key]:
    """Every haul from its start to its end within the first and the last day."""
    first = midnight(dt.date.fromisoformat(authority.first_day), authority)
    end = midnight(dt.date.fromisoformat(authority.last_day) + dt.timedelta(1), authority)
    found = []
    for haul, _ in world.hauls_under(authority.id):
        still_out = haul.kind == "set" and haul.end is None and not haul.lost
        last = as_of if still_out else haul.end or haul.start
        if haul.start < first or last >= end:
            found.append((authority.id, "term", 1, "broken", f"haul {haul.id}"))
    return found


__all__ = ["KINDS", "Rule", "plain_judge"]
