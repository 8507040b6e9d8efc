"""Running totals behind limits: which lines count, how much, in whose tally and in which period.

Each version of a limit reads the whole period by its own words: what was taken before the version began
counts as *before*, and only what was taken while it held is judged by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import lru_cache

from api.domain.calendar import parse_month_day, permit_year_start
from api.domain.conditions import Bound, Only, SizeClass, TakeLimit, Trigger
from api.domain.counts import NOTHING, UNKNOWN, Amount, Count
from api.domain.facts import Facts, LineFact
from api.domain.measures import parse_quantity
from api.domain.permits import Authority, Clause
from api.domain.reckoning.fitting import fit_line, fit_name, members_of, share_in_class
from api.domain.taxa import Fit, Identification
from api.domain.vocabulary import BASIS_FATES, Operator, Period

UNIT_OF = {"count": "individuals", "mass": "g", "volume": "L"}


@dataclass(frozen=True, slots=True)
class Spec:
    """One limit to be tallied: an amount over a period for one holder, of certain animals.

    ``taxa`` is None where the condition's own animals count; a tuple narrows to those (``each``, parts).
    ``names`` is set for "each unlisted": one tally per name as recorded.
    """

    clause: Clause
    label: str
    amount: Amount
    unit: str
    operator: Operator
    period: Period
    bound: Bound
    holder: str
    taxa: tuple[str, ...] | None = None
    narrower: Only = Only()
    by_name: bool = False
    part: bool = False

    @property
    def whole(self) -> bool:
        """Whether the limit counts whole animals, not litres or grams."""
        return self.unit == "individuals"

    @property
    def condition(self) -> TakeLimit:
        """The take limit that the spec comes from."""
        condition = self.clause.condition
        if not isinstance(condition, TakeLimit):
            raise TypeError(f"a tally needs a take limit, got {condition.number}")
        return condition


@dataclass(slots=True)
class Entry:
    """A line's share in a tally."""

    line: LineFact
    count: Count


def amount_of(authority: Authority, text: str, container: str, times: str) -> tuple[Amount, str]:
    """Read an amount as issued: a number and its base unit (individuals, g, L).

    Raises ValueError for a container that the authority does not list.
    """
    factor = Fraction(times) if times else Fraction(1)
    if container:
        for known in authority.containers:
            if known.name == container:
                return Fraction(text) * Fraction(known.litres) * factor, "L"
        raise ValueError(f"the container '{container}' is not listed under 'containers' of '{authority.id}'")
    quantity = parse_quantity(text)
    exact = quantity.exact * factor
    whole: Amount = int(exact) if exact.denominator == 1 else exact
    return whole, UNIT_OF[quantity.dimension]


def specs_of(clause: Clause) -> Iterator[Spec]:
    """Give every limit that a take-limit clause holds: its bounds, its parts, its crew cap."""
    condition = clause.condition
    if not isinstance(condition, TakeLimit):
        return
    for bound in condition.limits:
        amount, unit = amount_of(clause.authority, bound.amount, bound.container, bound.times)
        amount *= bound.years
        base = _spec(clause, bound, amount, unit, condition.holder)
        if not condition.each:
            yield base
        elif condition.unlisted:
            yield replace(base, by_name=True)
        else:
            for taxon in members_of(clause, condition.taxa, condition.group):
                yield replace(base, label=_joined(base.label, taxon), taxa=(taxon,))
    yield from _parts(clause, condition)


def _parts(clause: Clause, condition: TakeLimit) -> Iterator[Spec]:
    first = condition.limits[0]
    for part in condition.parts:
        amount, unit = amount_of(clause.authority, part.amount, "", "")
        narrower = Only(stages=part.stages, sexes=part.sexes, size=part.size)
        base = _spec(clause, first, amount, unit, condition.holder)
        yield replace(
            base,
            label=_joined(base.label, part.label),
            operator=part.operator,
            taxa=part.taxa or None,
            narrower=narrower,
            part=True,
        )
    if condition.crew_cap:
        amount, unit = amount_of(clause.authority, condition.crew_cap, "", "")
        yield replace(_spec(clause, first, amount, unit, "crew"), label="whole crew")


def _spec(clause: Clause, bound: Bound, amount: Amount, unit: str, holder: str) -> Spec:
    condition = clause.condition
    several = isinstance(condition, TakeLimit) and len(condition.limits) > 1
    label = f"per {bound.period}" if several else ""
    return Spec(clause, label, amount, unit, bound.operator, bound.period, bound, holder)


def _joined(*labels: str) -> str:
    return ", ".join(label for label in labels if label)


def count_in(entry: LineFact, unit: str) -> Count:
    """Give a line's count in the unit of a limit; unknown where the record does not tell it."""
    line = entry.line
    if line.unit == unit:
        return line.count
    if unit == "g" and line.unit == "individuals" and line.weight is not None:
        return line.weight
    return UNKNOWN if line.count.high else NOTHING


def shrunk(count: Count, fit: Fit) -> Count:
    """Give the count as far as it fits: all, only possibly, or not at all."""
    if fit.certain:
        return count
    return count.possible(nominal=fit.likely) if fit.possible else NOTHING


def entries_of(facts: Facts, spec: Spec) -> list[Entry]:
    """Give the lines that count in a spec, with how much, in order of capture."""
    found = lines_in(facts, spec)
    if spec.condition.after is None:
        return found
    return _after_trigger(spec, spec.condition.after, found, whole_of(facts, spec, found))


def whole_of(facts: Facts, spec: Spec, found: list[Entry]) -> list[Entry]:
    """Give the lines whose total starts a limit that begins beyond an amount: of a part, those of the whole."""
    # A part stands inside the whole, and so does the total that starts the limit.
    return lines_in(facts, replace(spec, taxa=None, narrower=Only(), part=False)) if spec.part else found


def lines_in(facts: Facts, spec: Spec) -> list[Entry]:
    """Give the lines that a spec speaks of, with how much, in order of capture, whatever amount it begins beyond."""
    condition, clause = spec.condition, spec.clause
    fates = BASIS_FATES[condition.counts]
    plain = condition.only == Only() and spec.narrower == Only()
    found: list[Entry] = []
    for name, lines in facts.lines_of((clause.authority.id, *condition.in_common_with)):
        fit = fit_spec(facts, spec, name)
        if not fit.possible:
            continue
        for entry in lines:
            if entry.line.fate not in fates:
                continue
            if plain and fit.certain and entry.line.unit == spec.unit:
                found.append(Entry(entry, entry.line.count))
                continue
            count = count_of(facts, spec, entry, fit)
            if count.high:
                found.append(Entry(entry, count))
    found.sort(key=lambda entry: entry.line.order)
    return found


def fit_spec(facts: Facts, spec: Spec, name: Identification) -> Fit:
    """Tell how a name fits the animals that a spec counts."""
    if spec.taxa is None:
        return fit_name(facts, spec.clause, name)
    return fit_name(facts, spec.clause, name) & facts.book.taxa.fit(name, spec.taxa)


@lru_cache(maxsize=256)
def _without_size(only: Only) -> Only:
    return replace(only, size=None)


def count_of(facts: Facts, spec: Spec, entry: LineFact, fit: Fit) -> Count:
    """Give how much of a line counts in a spec, its name fitting as said, once all that narrows is looked at."""
    for only in (spec.condition.only, spec.narrower):
        if only != Only():
            fit &= fit_line(facts, spec.clause, _without_size(only), entry)
    count = count_in(entry, spec.unit)
    for only in (spec.condition.only, spec.narrower):
        if only.size is not None:
            count = _in_class(entry, count, only.size)
    return shrunk(count, fit)


def _in_class(entry: LineFact, count: Count, size: SizeClass) -> Count:
    low, high = share_in_class(entry.line, size)
    if high == 0:
        return NOTHING
    if low == entry.line.count.low == entry.line.count.high:
        return count
    if entry.line.unit != "individuals" or count is not entry.line.count:
        return count.possible(nominal=low > 0)
    most = int(high) if high != float("inf") else count.high
    return Count(min(low, count.low), min(max(low, 0), count.best), min(most, count.high))


def _after_trigger(spec: Spec, trigger: Trigger, entries: list[Entry], whole: list[Entry]) -> list[Entry]:
    """Keep of each entry what lies beyond the amount at which the limit starts, counted over the whole."""
    running: dict[date | None, Count] = {}
    before: dict[str, Count] = {}
    for entry in whole:
        key = trigger_period(spec, trigger, entry.line)
        before[entry.line.line.id] = running.get(key, NOTHING)
        running[key] = before[entry.line.line.id] + entry.count
    return beyond(spec, trigger, entries, before)


def beyond(spec: Spec, trigger: Trigger, entries: list[Entry], before: Mapping[str, Count]) -> list[Entry]:
    """Give what of each line lies beyond the amount, with what stood before each (by its id)."""
    amount, _ = amount_of(spec.clause.authority, trigger.amount, "", "")
    kept: list[Entry] = []
    for entry in entries:
        count = _beyond(before[entry.line.line.id], entry.count, amount)
        if count.high:
            kept.append(Entry(entry.line, count))
    return kept


def _beyond(before: Count, count: Count, amount: Amount) -> Count:
    """Give what of a count lies beyond an amount when it comes on top of what stood before."""

    def part(stood: Amount, taken: Amount) -> Amount:
        return max(0, min(taken, stood + taken - amount))

    return Count(part(before.low, count.low), part(before.best, count.best), part(before.high, count.high))


def trigger_period(spec: Spec, trigger: Trigger, entry: LineFact) -> date | None:
    """Give the period (its first day) over which the amount is counted at which a limit starts."""
    authority = spec.clause.authority
    day = entry.day(authority.zone)
    if trigger.period == "calendar year":
        return date(day.year, 1, 1)
    if trigger.period == "permit year":
        return permit_year_start(day, parse_month_day(authority.year_starts))
    return None


def is_estimated(entry: LineFact) -> bool:
    """Tell whether nobody counted the line's animals one by one; material measured exactly is no estimate."""
    if entry.line.unit != "individuals":
        return not entry.line.count.exact
    return entry.line.method != "counted" or not entry.line.count.exact
