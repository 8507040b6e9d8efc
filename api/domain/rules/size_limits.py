"""Size limits: what was measured against the limit in the unit printed, exactly, never after rounding."""

from __future__ import annotations

from dataclasses import dataclass, field

from api.domain.calendar import spoken_day
from api.domain.conditions import SizeLimit, SizeRule
from api.domain.counts import UNKNOWN, Amount, Count
from api.domain.facts import Facts, LineFact
from api.domain.measures import compare_length, parse_quantity
from api.domain.permits import Clause
from api.domain.reckoning.fitting import fit_line
from api.domain.reckoning.wording import plural
from api.domain.rules.finding import Finding, finding_for
from api.domain.taxa import Fit
from api.domain.trips import Line
from api.domain.vocabulary import BASIS_FATES, Outcome


@dataclass(slots=True)
class Sizes:
    """What is known of a group's sizes: animals outside for certain, possibly outside, and not measured."""

    lines: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)
    outside_low: int = 0
    outside_high: int = 0
    measured: int = 0
    unmeasured_low: Amount = 0
    unmeasured_high: Amount = 0
    smallest: int | None = None
    largest: int | None = None


def judge(facts: Facts, clause: Clause) -> list[Finding]:
    """Judge one version of a size limit over each haul, trip or day with such animals."""
    condition = clause.condition
    if not isinstance(condition, SizeLimit):
        return []
    groups: dict[str, Sizes] = {}
    fates = BASIS_FATES[condition.counts]
    for name, lines in facts.lines_of((clause.authority.id,)):
        named = facts.book.taxa.fit(name, condition.taxa)
        if not named.possible:
            continue
        for entry in lines:
            if entry.line.fate not in fates or not clause.holds_at(entry.at) or not entry.line.count.high:
                continue
            fit = named & fit_line(facts, clause, condition.only, entry)
            if fit.possible:
                _add(groups.setdefault(group_of(clause, condition, entry), Sizes()), condition, entry, fit)
    return [_finding(clause, condition, about, sizes) for about, sizes in sorted(groups.items())]


def group_of(clause: Clause, condition: SizeLimit, entry: LineFact) -> str:
    """Name the haul, trip or day with which a line is judged."""
    if condition.per == "haul":
        return f"haul {entry.haul.haul.id}"
    if condition.per == "trip":
        return f"trip {entry.haul.trip.id}"
    return f"day {spoken_day(entry.day(clause.authority.zone))}"


def _add(sizes: Sizes, condition: SizeLimit, entry: LineFact, fit: Fit) -> None:
    """Add one line's measured animals; what was not measured is counted, not judged."""
    line = entry.line
    sizes.lines.append(line.id)
    outside = measured = 0
    if len(condition.rules) == 1:
        rule = condition.rules[0]
        values = _values(entry, rule)
        measured = len(values)
        outside = sum(not satisfies(value, rule) for value in values)
        for value in values:
            sizes.smallest = value if sizes.smallest is None else min(value, sizes.smallest)
            sizes.largest = value if sizes.largest is None else max(value, sizes.largest)
    else:
        measured, outside = _by_alternatives(condition, entry)
    if outside:
        sizes.outside.append(line.id)
    sizes.measured += measured
    sizes.outside_low += outside if fit.certain else 0
    sizes.outside_high += outside
    rest = _rest(line, measured)
    sizes.unmeasured_low += rest.low if fit.certain else 0
    sizes.unmeasured_high += rest.high


def _rest(line: Line, measured: int) -> Count:
    """Give how many animals were not measured; of a line in litres or grams nobody knows their number."""
    if line.unit != "individuals":
        return UNKNOWN
    low, best, high = (max(0, bound - measured) for bound in (line.count.low, line.count.best, line.count.high))
    return Count(low, best, high)


def _by_alternatives(condition: SizeLimit, entry: LineFact) -> tuple[int, int]:
    """Give how many animals were measured and how many fail every alternative.

    The n-th value of each run is the n-th animal, so an animal fails only where each rule was measured
    and none is satisfied; one that satisfies any rule passes.
    """
    runs = [_values(entry, rule) for rule in condition.rules]
    measured = outside = 0
    for animal in range(max((len(run) for run in runs), default=0)):
        known = [
            satisfies(run[animal], rule) for run, rule in zip(runs, condition.rules, strict=True) if animal < len(run)
        ]
        if any(known):
            measured += 1
        elif len(known) == len(runs):
            measured += 1
            outside += 1
    return measured, outside


def _values(entry: LineFact, rule: SizeRule) -> list[int]:
    return [
        value
        for run in entry.line.measurements
        if run.measure == rule.measure and (not rule.variant or run.variant == rule.variant)
        for value in run.values
    ]


def satisfies(tenths: int, rule: SizeRule) -> bool:
    """Tell whether one measured animal (tenths of mm, or of g for a weight) is of the size allowed."""
    big_enough = small_enough = True
    if rule.smallest:
        side = _compare(tenths, rule, rule.smallest)
        big_enough = side > 0 or (side == 0 and rule.smallest_operator == "at least")
    if rule.largest:
        side = _compare(tenths, rule, rule.largest)
        small_enough = side < 0 or (side == 0 and rule.largest_operator == "at most")
    between = big_enough and small_enough
    return between if rule.inside else not between


def _compare(tenths: int, rule: SizeRule, limit: str) -> int:
    quantity = parse_quantity(limit)
    if rule.measure == "weight":
        return (tenths > quantity.exact * 10) - (tenths < quantity.exact * 10)
    return compare_length(tenths, quantity)


def sizes_outcome(condition: SizeLimit, sizes: Sizes) -> Outcome:
    """Judge a group's sizes: certain breaches, possible ones, and what nobody measured."""
    if sizes.outside_low > condition.tolerated:
        return "broken"
    if sizes.outside_high > condition.tolerated:
        return "open"
    if sizes.unmeasured_high and (not sizes.measured or condition.measure_all):
        return "met" if sizes.outside_high + sizes.unmeasured_high <= condition.tolerated else "open"
    return "met"


def _finding(clause: Clause, condition: SizeLimit, about: str, sizes: Sizes) -> Finding:
    outcome = sizes_outcome(condition, sizes)
    words = (
        f"{', '.join(condition.taxa)}: {sizes.measured} measured, {sizes.outside_high} outside {rule_words(condition)}"
    )
    if condition.tolerated:
        words += f", {condition.tolerated} tolerated"
    if sizes.unmeasured_high:
        words += f"; {_most(sizes)} not measured"
    measured: tuple[tuple[str, str], ...] = ()
    if sizes.smallest is not None and sizes.largest is not None:
        measured = (
            ("smallest", _shown(condition, sizes.smallest)),
            ("largest", _shown(condition, sizes.largest)),
        )
    return finding_for(
        clause,
        outcome,
        about,
        f"{words} ({about}).",
        settle=_settle(condition, sizes) if outcome == "open" else "",
        records=tuple(sizes.lines),
        over=tuple(sizes.outside),
        near=outcome == "met" and 0 < sizes.outside_high == condition.tolerated,
        measured=measured,
    )


def _most(sizes: Sizes) -> str:
    return "an unknown number" if sizes.unmeasured_high == float("inf") else str(sizes.unmeasured_high)


def _shown(condition: SizeLimit, tenths: int) -> str:
    unit = "g" if condition.rules[0].measure == "weight" else "mm"
    return f"{tenths // 10}.{tenths % 10} {unit}"


def rule_words(condition: SizeLimit) -> str:
    """Give the size allowed, in the words and units as issued."""
    return " or ".join(_one_rule(rule) for rule in condition.rules)


def _one_rule(rule: SizeRule) -> str:
    ends = []
    if rule.smallest:
        ends.append(f"{rule.smallest_operator} {rule.smallest}")
    if rule.largest:
        ends.append(f"{rule.largest_operator} {rule.largest}")
    name = f"{rule.measure} ({rule.variant})" if rule.variant else rule.measure
    return f"{name} {'' if rule.inside else 'not '}{' and '.join(ends)}"


def _settle(condition: SizeLimit, sizes: Sizes) -> str:
    if sizes.outside_high > condition.tolerated:
        return "Needs a sure name for the animals outside the size."
    names = " or ".join(
        f"{rule.measure} ({rule.variant})" if rule.variant else rule.measure for rule in condition.rules
    )
    return f"Needs {names} of {plural(1, 'animal') if sizes.unmeasured_high == 1 else 'the animals'} not measured."
