"""Deaths at which work stops: summed haul by haul, over every world of count and name."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

from tests.oracle.plain_animals import grouped, own_catches, told_in_time
from tests.oracle.plain_world import Key, Rule, World, both, number_of, verdict, year_start


def judge_stop(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    kept = []
    for catch, narrowed in own_catches(world, rule):
        fits = both(narrowed, world.named(catch.line, condition.taxa)) if condition.taxa else narrowed
        landed = catch.haul.end or catch.haul.start
        if fits != "no" and (rule.ends is None or landed < rule.ends) and catch.line.unit == "individuals":
            kept.append((catch, fits))
    found = []
    groups = grouped(world, rule, kept)
    if condition.per == "site" and "" in groups:  # what died at no recorded site may have died at any worked one
        for haul, _ in world.hauls_under(rule.authority.id):
            if rule.ends is None or _landed(haul) < rule.ends:
                groups.setdefault(haul.site, groups[""])
    for group, rows in groups.items():
        if any(rule.holds(_landed(catch.haul)) for catch, _ in rows):
            found += _stopped(world, rule, group, rows)
    return found


def _reached(condition, rows: list, upto: list[str]) -> str:
    """Whether the mark was reached by the landing of these hauls, over all worlds of count and name."""
    worlds = {(0, 0)}  # dead and handled
    for catch, fits in rows:
        if catch.haul.id in upto:
            low = 0 if fits == "maybe" else int(catch.line.count.low)
            counts = range(low, int(catch.line.count.high) + 1)
            died = catch.line.fate == "dead"
            worlds = {(dead + n * died, handled + n) for dead, handled in worlds for n in counts}
    cases = []
    for dead, handled in worlds:
        above = condition.reached == "above"
        hit = bool(condition.deaths) and (dead > condition.deaths if above else dead >= condition.deaths)
        if condition.percent and handled >= condition.smallest_sample and handled > 0:
            share, mark = Fraction(dead) * 100 / Fraction(handled), number_of(condition.percent)
            hit = hit or (share > mark if above else share >= mark)
        cases.append(hit)
    return verdict(cases)


def _stopped(world: World, rule: Rule, group: object, rows: list) -> list[Key]:
    condition = rule.condition
    hauls = []
    for haul, _ in world.hauls_under(rule.authority.id):
        if any(catch.haul.id == haul.id for catch, _ in rows):
            hauls.append(haul)
    seen, first = [], {}
    for haul in hauls:
        seen.append(haul.id)
        now = _reached(condition, rows, seen)
        if now != "no":
            first.setdefault("maybe", haul)
        if now == "yes":
            first.setdefault("yes", haul)
    records = frozenset(catch.line.id for catch, _ in rows)
    found = []
    if condition.stop:
        outcome = "met"
        for haul, trip in world.hauls_under(rule.authority.id):
            same = _same(world, rule, group, haul, trip)
            if same == "no" or not rule.holds(haul.end or haul.start):
                continue
            for word, reaching in first.items():
                if haul is not reaching and haul.start >= _landed(reaching):
                    sure = word == "yes" and same == "yes"
                    outcome = "broken" if sure or outcome == "broken" else "open"
        found.append(rule.key(outcome, ("stop", records)))
    if condition.report_within_hours and first:
        found += _stop_report(world, rule, first, records)
    return found or [rule.key("met", ("stop", records))]


def _landed(haul) -> dt.datetime:
    return haul.end or haul.start


def _stop_report(world: World, rule: Rule, first: dict, records: frozenset) -> list[Key]:
    """In time for the first haul that may have reached the mark: met; late for the one that did: broken."""
    if not rule.holds(_landed(first.get("yes", first["maybe"]))):
        return []
    told = []
    for one in world.season.incidents:
        known = one.told is not None and one.told <= world.as_of
        if known and one.authority == rule.authority.id and one.to == rule.condition.report_to:
            told.append(one)
    answers = {}
    for word, haul in first.items():
        due = _landed(haul) + dt.timedelta(hours=rule.condition.report_within_hours)
        about = {haul.id, *(line.id for line in haul.lines)}
        about |= {trip.id for other, trip in world.hauls if other is haul}
        moments = [one.told for one in told if about & set(one.about)]
        answers[word] = told_in_time(world, moments, due, "yes")
    late = "broken" if answers.get("yes") == "broken" else "open"
    outcome = "met" if answers["maybe"] == "met" else late
    return [rule.key(outcome, ("report", records))]


def _same(world: World, rule: Rule, group: object, haul, trip) -> str:
    """Whether a haul is of the same trip, day, site, year; at no recorded site it may be."""
    if rule.condition.per == "site" and not haul.site:
        return "maybe"
    day = world.day(haul.end or haul.start, rule.authority)
    here = {
        "trip": trip.id,
        "site": haul.site,
        "day": day,
        "permit year": year_start(day, rule.authority.year_starts),
        "term": "term",
    }[rule.condition.per]
    return verdict([group == here])
