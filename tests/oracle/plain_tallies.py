"""What a tally is made of: lines that surely or possibly belong, their amounts, and the names they go under.

A tally is judged by trying worlds: every line low or high, in or out, and looking in which the limit breaks.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from fractions import Fraction

from tests.oracle.plain_world import MOST, Catch, Rule, World, both

GAINS = ("born", "given", "found")
NAMES = {
    "person": lambda catch: catch.person,
    "site": lambda catch: catch.haul.site,
    "waterbody": lambda catch: catch.haul.waterbody,
    "container": lambda catch: catch.line.container,
}


@dataclass(frozen=True)
class Entry:
    """One line in one tally: whether it belongs, and how much it is if it does."""

    catch: Catch
    sure: bool
    low: object
    high: object

    @property
    def span(self) -> tuple:
        return (self.low if self.sure else 0, self.high)


def measured(world: World, catch: Catch, unit: str, size) -> tuple:
    """How much of a unit a line is: what was recorded otherwise may be anything."""
    line = catch.line
    if unit == "n" and line.unit == "individuals":
        inside, outside = world.sized(line, size)
        if size is not None:
            return min(inside, line.count.low), max(0, line.count.high - outside)
        return line.count.low, line.count.high
    amount = line.count if unit == line.unit else line.weight if unit == "g" else None
    low, high = (0, MOST) if amount is None else (amount.low, amount.high)
    return (0 if size is not None else low), high


def entries_of(world: World, rule: Rule, unit: str) -> list[Entry]:
    condition = rule.condition
    fates = {"kept": ("kept",), "kept and dead": ("kept", "dead"), "handled": ("kept", "released", "dead", "lost")}
    found = []
    for catch in world.catches:
        if catch.authority not in (rule.authority.id, *condition.in_common_with):
            continue
        if catch.line.fate not in fates[condition.counts] or catch.line.count.high == 0:
            continue
        fits = both(
            world.covers(rule, catch.line),
            world.fits_catch(condition.only, catch, rule.authority),
        )
        if fits != "no" and world.has_size(catch.line, condition.only.size) != "no":
            low, high = measured(world, catch, unit, condition.only.size)
            found.append(Entry(catch, fits == "yes", low, high))
    return found


def names_of(world: World, rule: Rule, entries: list[Entry]) -> dict[object, list[Entry]]:
    """With ``each``: the tally of every named taxon, or of every recorded name."""
    condition = rule.condition
    if not condition.each:
        return {"": entries}
    found: dict[object, list[Entry]] = {}
    if not condition.unlisted:
        for taxon in rule.groups[condition.group] if condition.group else condition.taxa:
            for entry in entries:
                fits = world.named(entry.catch.line, (taxon,))
                if fits != "no":
                    found.setdefault(taxon, []).append(replace(entry, sure=entry.sure and fits == "yes"))
        return found
    for name in dict.fromkeys(entry.catch.line.taxon for entry in entries):
        for entry in entries:
            line = entry.catch.line
            plain = not line.doubt and not line.one_of
            own = plain and world.book.taxa.taxa[line.taxon].rank in ("species", "subspecies")
            if line.taxon == name:
                found.setdefault(name, []).append(replace(entry, sure=entry.sure and own))
            elif not own and world.named(line, (name,)) != "no":
                found.setdefault(name, []).append(replace(entry, sure=False))
    return found


def under_name(rule: Rule, name: str, holder: object, entries: list[Entry]) -> list[Entry]:
    """A recorded name's tally with one holder: none if nothing so named is theirs."""
    if not (rule.condition.unlisted and name):
        return entries
    at_home = [entry for entry in entries if entry.catch.line.taxon == name]
    if rule.condition.holder in NAMES and holder:
        at_home = [entry for entry in at_home if NAMES[rule.condition.holder](entry.catch) == holder]
    return entries if at_home else []


def _breaks(before: object, here: object, limit: Fraction, operator: str) -> bool:
    over = before + here > limit if operator == "at most" else before + here >= limit
    return here > 0 and over


def outcome_in_worlds(before: list[tuple], here: list[tuple], limit: Fraction, operator: str) -> str:
    """Broken if in every world, met if in none: a world picks the low or the high of every line."""
    spans = before + here
    loose = [n for n, (low, high) in enumerate(spans) if low != high]
    choices = [tuple(0 for _ in loose), tuple(1 for _ in loose)]
    if len(loose) <= 6:  # with more there are too many to list: the world of all lows and that of all highs decide
        choices = list(itertools.product((0, 1), repeat=len(loose)))
    broken = []
    for choice in choices:
        picked = [span[0] for span in spans]
        for n, which in zip(loose, choice, strict=True):
            picked[n] = spans[n][which]
        broken.append(_breaks(sum(picked[: len(before)]), sum(picked[len(before) :]), limit, operator))
    if all(broken):
        return "broken"
    return "open" if any(broken) else "met"
