"""What is held at once: taken and gained, less what left, judged each time that something comes in."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

from api.domain.trips import Haul, Line, Trip
from tests.oracle.plain_tallies import GAINS, Entry, entries_of, measured, names_of, outcome_in_worlds, under_name
from tests.oracle.plain_world import Catch, Key, Rule, World, worst


def judge_held(world: World, rule: Rule, limit: Fraction, operator: str, unit: str) -> list[Key]:
    """What is held after each coming in, lot by lot: caught or gained until then, less what had left."""
    entries = entries_of(world, rule, unit)
    for move in world.season.movements:
        if (
            move.what in GAINS
            and move.at <= world.as_of
            and move.authority in (rule.authority.id, *rule.condition.in_common_with)
        ):
            line = Line(id=move.id, taxon=move.taxon, count=move.count, fate="kept")
            catch = Catch(line, Haul(id=move.id, start=move.at), Trip(id="", zone="UTC", leader=""), move.at, "", "")
            fits = world.covers(rule, line)
            if fits != "no":
                entries.append(Entry(catch, fits == "yes", *measured(world, catch, unit, None)))
    found = []
    for name, named in names_of(world, rule, entries).items():
        own = under_name(rule, str(name), "", named)
        outcomes = []
        for moment in sorted({entry.catch.at for entry in own}):
            if rule.holds(moment):
                earlier = [_left(world, entry, moment) for entry in own if entry.catch.at < moment]
                now = [_left(world, entry, moment) for entry in own if entry.catch.at == moment]
                outcomes.append(outcome_in_worlds(earlier, now, limit, operator))
        if outcomes:
            found.append(rule.key(worst(outcomes), ("held", limit, operator)))
    return found


def _left(world: World, entry: Entry, moment: dt.datetime) -> tuple:
    """What may still be there of one lot."""
    gone = [
        move.count
        for move in world.season.movements
        if move.line == entry.catch.line.id and move.what not in GAINS and move.at <= moment
    ]
    out_low, out_high = sum(count.low for count in gone), sum(count.high for count in gone)
    line = entry.catch.line
    if (entry.low, entry.high) != (line.count.low, line.count.high):  # told in another unit than what left
        all_gone = out_low >= line.count.high
        return (entry.low if entry.sure and not gone else 0, 0 if all_gone else entry.high)
    low = max(0, entry.low - out_high)
    return (low if entry.sure else 0, max(0, entry.high - out_low))
