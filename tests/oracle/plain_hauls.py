"""Gear, areas, seasons, hours and cleaning: one answer for each haul."""

from __future__ import annotations

import datetime as dt
import itertools
from zoneinfo import ZoneInfo

from api.domain.daylight import daylight
from tests.oracle import plain_places
from tests.oracle.plain_world import (
    Key,
    Rule,
    World,
    amount_of,
    hours,
    midnight,
    number_of,
    softened,
    worst,
)


def each_haul(world: World, rule: Rule, judge) -> list[Key]:
    """Ask about every haul under the authority caught while the version held; a doubtful narrowing softens."""
    found = []
    for haul, trip in world.hauls_under(rule.authority.id):
        if not rule.holds(haul.end or haul.start):
            continue
        fits = world.narrows_haul(rule, haul, trip)
        if fits == "no":
            continue
        outcome = judge(world, rule, haul)
        if outcome is not None:
            found.append(rule.key(softened(outcome, fits), f"haul {haul.id}"))
    return found


# --- gear ----------------------------------------------------------------------------------------------------


def gear_of(world: World, rule: Rule, haul) -> str:
    if haul.gear is None:
        return "open"
    entries = [_entry(world, rule, haul, allowed) for allowed in rule.condition.gear if allowed.gear == haul.gear.gear]
    if not entries:
        return "broken"
    return next(word for word in ("met", "open", "broken") if word in entries)


def _entry(world: World, rule: Rule, haul, allowed) -> str:
    answers = ["met"]
    gear = haul.gear
    for bound, value, most in (
        (allowed.length_max, gear.length_mm, True),
        (allowed.mesh_min, gear.mesh_mm, False),
        (allowed.mesh_max, gear.mesh_mm, True),
        (allowed.opening_max, gear.opening_mm, True),
    ):
        if bound:
            limit = amount_of(bound)[0]
            good = value is not None and (value <= limit if most else value >= limit)
            answers.append("open" if value is None else "met" if good else "broken")
    if allowed.marked:
        answers.append({None: "open", True: "met", False: "broken"}[gear.marked])
    if allowed.together and _standing(world, rule, haul) > allowed.together:
        answers.append("broken")
    if haul.kind == "set":
        answers += _soak(world, haul, allowed)
    return worst(answers)


def _standing(world: World, rule: Rule, haul) -> int:
    """How many of the kind stood when this one was used, this one too; a net that is pulled does not stand."""
    number = haul.gear.number
    for other, _ in world.hauls_under(rule.authority.id):
        if other.id == haul.id or other.kind == "haul" or other.lost:
            continue
        if other.gear is None or other.gear.gear != haul.gear.gear:
            continue
        if other.start <= haul.start and (other.end is None or other.end > haul.start):
            number += other.gear.number
    return number


def _soak(world: World, haul, allowed) -> list[str]:
    """A set still out runs on until now; one that was lost ran on until nobody knows when."""
    lost = haul.lost and haul.end is None
    until = haul.end or (haul.start if lost else world.as_of)
    looks = [haul.start, *sorted(look for look in haul.checks if lost or look < until)]
    looks += [] if lost else [until]
    longest = max((later - earlier for earlier, later in itertools.pairwise(looks)), default=dt.timedelta())
    answers = []
    for bound, length in ((allowed.soak_hours, until - haul.start), (allowed.check_hours, longest)):
        if bound:
            over = length > hours(bound)
            answers.append("broken" if over else "met" if haul.end is not None else "open")
    return answers


# --- areas ---------------------------------------------------------------------------------------------------


def area_of(world: World, rule: Rule, haul) -> str | None:
    condition = rule.condition
    days = days_of(world, rule, haul)
    if condition.dates and not any(world.in_dates(day, span) for day in days for span in condition.dates):
        return None
    if not haul.fixes:
        return "open"
    if condition.where == "inside":
        if plain_places.leaves(haul.fixes, tuple(sorted(condition.areas))):
            return "broken"
        return "met" if plain_places.lies(haul.fixes, tuple(sorted(condition.areas))) == "in" else "open"
    answers = []
    for area in condition.areas:
        if condition.where == "outside":
            lies = plain_places.lies(haul.fixes, (area,))
            enters = plain_places.enters(haul.fixes, area)
            answers.append("broken" if enters else "met" if lies == "out" else "open")
            continue
        gap, limit = plain_places.gap(haul.fixes, area), float(amount_of(condition.distance)[0]) / 1000
        if gap is None:
            answers.append("open")
        else:
            answers.append("broken" if gap[1] < limit else "met" if gap[0] >= limit else "open")
    return worst(answers)


# --- seasons -------------------------------------------------------------------------------------------------


def season_of(world: World, rule: Rule, haul) -> str:
    """Every day that the haul touches must be open; a set still out runs on until now."""
    return worst([_day_open(world, rule.condition, day) for day in days_of(world, rule, haul)])


def days_of(world: World, rule: Rule, haul) -> list[dt.date]:
    end = haul.end or (world.as_of if haul.kind == "set" and not haul.lost else haul.start)
    day, last = world.day(haul.start, rule.authority), world.day(max(end, haul.start), rule.authority)
    days = []
    while day <= last:
        days.append(day)
        day += dt.timedelta(1)
    return days


def _day_open(world: World, condition, day: dt.date) -> str:
    answers = ["met"]
    if condition.open and not any(world.in_dates(day, span) for span in condition.open):
        answers.append("broken")
    if any(world.in_dates(day, span) for span in condition.closed):
        answers.append("broken")
    if f"{day:%A}" in condition.closed_weekdays and day.isoformat() not in condition.except_dates:
        answers.append("broken")
    if condition.ends_before is not None:
        if not condition.ends_before:
            answers.append("open")
        elif day >= dt.date.fromisoformat(condition.ends_before):
            answers.append("broken")
    return worst(answers)


# --- hours ---------------------------------------------------------------------------------------------------

MARGIN = dt.timedelta(minutes=2)


def hours_of(world: World, rule: Rule, haul) -> str | None:
    day = world.day(haul.start, rule.authority)
    entries = [entry for entry in rule.condition.hours if not entry.months or day.month in entry.months]
    doubtful = haul.gear is None and any(entry.gear for entry in entries)
    entries = [entry for entry in entries if not entry.gear or haul.gear is None or haul.gear.gear in entry.gear]
    if not entries:
        return None
    if haul.kind == "set":
        moments = [haul.start, *haul.checks, *([haul.end] if haul.end else [])]
        spans = [(moment, moment) for moment in moments]
    else:
        spans = [(haul.start, haul.end or haul.start)]
    answers = []
    for span in spans:
        tried = [_in_entry(world, rule, haul, entry, span) for entry in entries]
        answers.append(next(word for word in ("met", "open", "broken") if word in tried))
    outcome = worst(answers)
    if outcome == "met" and haul.end is None and haul.kind == "haul":
        return "open"  # a set with no lift is still out, or lost: nothing was done outside the hours yet
    return "open" if doubtful and outcome == "broken" else outcome


def _in_entry(world: World, rule: Rule, haul, entry, span) -> str:
    """Try the windows that begin on the days around; a window that ends before it begins runs over midnight."""
    answers = []
    day = world.day(span[0], rule.authority)
    for shift in (-2, -1, 0, 1):
        one = day + dt.timedelta(shift)
        start, sun_start = _end_of_window(rule, haul, entry.start, one)
        end, sun_end = _end_of_window(rule, haul, entry.end, one)
        if start is None or end is None:
            answers.append("open")
            continue
        if end <= start:
            end, sun_end = _end_of_window(rule, haul, entry.end, one + dt.timedelta(1))
            if end is None:
                answers.append("open")
                continue
        low, high = (MARGIN if sun_start else dt.timedelta()), (MARGIN if sun_end else dt.timedelta())
        if start + low <= span[0] and span[1] <= end - high:
            answers.append("met")
        elif start - low <= span[0] and span[1] <= end + high:
            answers.append("open")
        else:
            answers.append("broken")
    return next(word for word in ("met", "open", "broken") if word in answers)


def _end_of_window(rule: Rule, haul, text: str, day: dt.date):
    authority = rule.authority
    if text[0] == "s":
        word = "sunrise" if text.startswith("sunrise") else "sunset"
        minutes = int(text.removeprefix(word) or 0)
        if haul.fixes:
            lat, lon = haul.fixes[0].lat, haul.fixes[0].lon
        elif authority.reference_lat is not None:
            lat, lon = authority.reference_lat, authority.reference_lon
        else:
            return None, True
        # The sun's times belong to the date of the place; its clock is that of the authority here.
        moment = getattr(daylight(lat, lon, day, authority.zone), word)
        return (None, True) if moment is None else (moment + dt.timedelta(minutes=minutes), True)
    hour, minute = (int(one) for one in text.split(":"))
    if hour == 24:
        return midnight(day + dt.timedelta(1), authority), False
    wall = dt.datetime.combine(day, dt.time(hour, minute), ZoneInfo(authority.zone))
    return wall.astimezone(dt.UTC), False


# --- cleaning ------------------------------------------------------------------------------------------------


def judge_cleaning(world: World, rule: Rule) -> list[Key]:
    found = []
    ordered = sorted(world.hauls, key=lambda pair: (pair[0].start, pair[0].id))
    for place, (haul, trip) in enumerate(ordered):
        if place == 0 or rule.authority.id not in world.under(haul, trip):
            continue
        if not rule.holds(haul.end or haul.start):
            continue
        last, _ = ordered[place - 1]
        if last.waterbody and last.waterbody == haul.waterbody:
            continue
        fits = world.narrows_haul(rule, haul, trip)
        if fits == "no":
            continue
        cleanings = [
            one for other in world.trips for one in other.cleanings if _free_from(last, haul) <= one.at <= haul.start
        ]
        answers = [_cleaned(rule.condition, one) for one in cleanings]
        outcome = next((word for word in ("met", "open", "broken") if word in answers), "open")
        if outcome == "broken" and not (last.waterbody and haul.waterbody):
            outcome = "open"
        found.append(rule.key(softened(outcome, fits), f"{last.id} to {haul.id}"))
    return found


def _free_from(last, haul) -> dt.datetime:
    """From when gear of the haul before can be cleaned: its landing, or its setting while it still stands."""
    end = last.end or last.start
    return end if end <= haul.start else last.start


def _cleaned(condition, cleaning) -> str:
    if not cleaning.done:
        return "broken"
    for way in condition.methods:
        if way.method == cleaning.method:
            if not way.minutes:
                return "met"
            if cleaning.minutes is None:
                return "open"
            return "met" if cleaning.minutes >= number_of(way.minutes) else "broken"
    return "broken"
