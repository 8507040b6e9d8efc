"""Reports, what becomes of animals, and what is held after the end."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from api.domain.trips import Line
from tests.oracle.plain_animals import own_catches
from tests.oracle.plain_trips import started, touched
from tests.oracle.plain_world import Key, Rule, World, both, in_year, midnight, spoken, year_start

GAINS = ("born", "given", "found")


def judge_report(world: World, rule: Rule) -> list[Key]:
    if not rule.holds(world.as_of):
        return []
    found = []
    for about, covers, due, over in _dues(world, rule):
        end = midnight(due + dt.timedelta(1), rule.authority)
        filings = [
            one
            for one in world.season.filings
            if one.authority == rule.authority.id
            and one.condition == rule.number
            and one.filed <= world.as_of
            and (one.covers == covers or (one.covers == "" and (over is None or one.filed >= over)))
        ]
        found.append(rule.key(_filed(world, rule, filings, end), f"Report{about} due {spoken(due)}"))
    return found


def _filed(world: World, rule: Rule, filings: list, end: dt.datetime) -> str:
    if not filings:
        return "not used" if world.as_of < end else "broken"
    in_time = [one for one in filings if one.filed < end]
    if not in_time:
        return "broken"
    if rule.condition.acceptance:
        last = max(filings, key=lambda one: (one.filed, one.id))  # a report put right and handed in again counts
        return {True: "met", None: "open", False: "broken"}[last.accepted]
    return "met"


def _dues(world: World, rule: Rule) -> list[tuple[str, str, dt.date, dt.datetime | None]]:
    """What is reported on, how a filing names it, when it is due, and when the year or the trip was over."""
    condition, authority = rule.condition, rule.authority
    first, last = dt.date.fromisoformat(authority.first_day), dt.date.fromisoformat(authority.last_day)
    later = dt.timedelta(condition.days)
    if condition.due == "days after end":
        return [("", "", last + later, None)]
    if condition.due == "printed date":
        return [("", "", dt.date.fromisoformat(condition.date), None)]
    if condition.due == "date in year":
        return [("", "", in_year(condition.date, last.year + condition.following_year), None)]
    found = []
    if condition.due == "days after year":
        start = year_start(first, authority.year_starts)
        while start <= last:
            following = in_year(authority.year_starts, start.year + 1)
            end = min(last, following - dt.timedelta(1))
            found.append(
                (f" for permit year to {end}", end.isoformat(), end + later, midnight(end + dt.timedelta(1), authority))
            )
            start = following
        return found
    for trip in world.trips_under(authority.id):
        if not condition.nil_report and not any(authority.id in world.under(haul, trip) for haul in trip.hauls):
            continue
        if trip.status in ("open", "closed") and touched(world, rule, trip) != "no":
            last_moment = trip.back or max((haul.end or haul.start for haul in trip.hauls), default=started(trip))
            if last_moment is not None:
                found.append(
                    (
                        f" for {trip.id}",
                        trip.id,
                        world.day(last_moment, authority) + later,
                        midnight(world.day(last_moment, authority), authority),
                    )
                )
    return found


# --- disposition ---------------------------------------------------------------------------------------------


def judge_disposition(world: World, rule: Rule) -> list[Key]:
    condition = rule.condition
    found = []
    own = {catch.line.id: fits for catch, fits in own_catches(world, rule)}
    vouchers = [0, 0]
    for move in world.season.movements:
        fits = own.get(move.line, "no")
        if move.what in GAINS or fits == "no" or move.at > world.as_of:
            continue
        if move.what == "voucher" and condition.vouchers and move.at < midnight(_by(condition), rule.authority):
            vouchers[0] += move.count.low if fits == "yes" else 0
            vouchers[1] += move.count.high
        if not rule.holds(move.at) or not (condition.allowed or condition.barred or condition.consent_for):
            continue
        outcome = "met"
        if (condition.allowed and move.what not in condition.allowed) or move.what in condition.barred:
            outcome = "broken" if fits == "yes" and move.count.low > 0 else "open"
        elif move.what in condition.consent_for and not move.consent:
            outcome = "open"
        found.append(rule.key(outcome, f"movement {move.id}"))
    return found + _vouchers(world, rule, vouchers)


def _by(condition) -> dt.date:
    return dt.date.fromisoformat(condition.vouchers_by) + dt.timedelta(1)


def _vouchers(world: World, rule: Rule, number: list) -> list[Key]:
    condition = rule.condition
    if not condition.vouchers:
        return []
    due = midnight(_by(condition), rule.authority)
    if not rule.holds(due - dt.timedelta(microseconds=1)):
        return []  # another version speaks on the day
    if number[0] >= condition.vouchers:
        outcome = "met"
    elif world.as_of < due:
        outcome = "not used"
    else:
        outcome = "open" if number[1] >= condition.vouchers else "broken"
    return [rule.key(outcome, "vouchers")]


# --- holding -------------------------------------------------------------------------------------------------


def judge_holding(world: World, rule: Rule) -> list[Key]:
    if not rule.holds(world.as_of):
        return []
    last = dt.date.fromisoformat(rule.authority.last_day)
    end = midnight(last + dt.timedelta(1), rule.authority)
    if world.as_of < end:
        return [rule.key("not used", "holding")]
    low, high = _held(world, rule)
    until = midnight(last + dt.timedelta(1 + rule.condition.days_after_end), rule.authority)
    if high == 0 or world.as_of < until:
        return [rule.key("met", "holding")]
    for other in world.book.authorities:
        if other.id == rule.condition.under and _stands(other, world.as_of):
            return [rule.key("met", "holding")]
    return [rule.key("broken" if low > 0 else "open", "holding")]


def _stands(authority, moment: dt.datetime) -> bool:
    first = midnight(dt.date.fromisoformat(authority.first_day), authority)
    last = midnight(dt.date.fromisoformat(authority.last_day) + dt.timedelta(1), authority)
    return first <= moment < last


def _gain_fits(world: World, rule: Rule, move) -> str:
    """A birth or a gift has a name; when, where and at what stage it was caught, nobody recorded."""
    only = rule.condition.only
    rest = "maybe" if replace(only, taxa=()) != type(only)() else "yes"
    if not only.taxa:
        return rest
    return both(rest, world.named(Line(id=move.id, taxon=move.taxon, count=move.count), only.taxa))


def _held(world: World, rule: Rule) -> tuple:
    """What of the authority's kept animals is still there now, lot by lot, and what was gained."""
    low = high = 0
    for catch, fits in own_catches(world, rule):
        if catch.line.fate != "kept" or catch.line.unit != "individuals" or catch.at > world.as_of:
            continue
        gone = [move.count for move in world.season.movements
                if move.line == catch.line.id and move.what not in GAINS and move.at <= world.as_of]  # fmt: skip
        least = max(0, catch.line.count.low - sum(count.high for count in gone))
        low += least if fits == "yes" else 0
        high += max(0, catch.line.count.high - sum(count.low for count in gone))
    for move in world.season.movements:
        if move.what in GAINS and move.authority == rule.authority.id and move.at <= world.as_of:
            fits = _gain_fits(world, rule, move)
            low += move.count.low if fits == "yes" else 0
            high += move.count.high if fits != "no" else 0
    return low, high
