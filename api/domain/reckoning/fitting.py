"""Whether a line or a haul fits a description: for certain, most likely, or possibly.

What is not recorded *may* fit; what is recorded with doubt fits as far as the doubt allows.
"""

from __future__ import annotations

from dataclasses import replace

from api.domain.conditions import Only, SizeClass
from api.domain.facts import Facts, HaulFact, LineFact
from api.domain.measures import compare_length, parse_quantity
from api.domain.permits import Clause
from api.domain.taxa import MAYBE, NO, YES, Fit, Identification
from api.domain.trips import Line

_LIKELY_ONLY = Fit(certain=False, likely=True, possible=True)


def members_of(clause: Clause, taxa: tuple[str, ...], group: str) -> tuple[str, ...]:
    """Give the taxa that a condition names, by themselves or through a group of that version."""
    return clause.version.groups[group].taxa if group else taxa


def listed_elsewhere(clause: Clause) -> tuple[str, ...]:
    """Give every taxon that the clause's version names in another take limit or prohibition."""
    named: list[str] = []
    for number, condition in clause.version.conditions.items():
        taxa: tuple[str, ...] = getattr(condition, "taxa", ())
        group: str = getattr(condition, "group", "")
        if number != clause.condition.number and _names_animals(condition):
            named.extend(members_of(clause, taxa, group))
    return tuple(dict.fromkeys(named))


def _names_animals(condition: object) -> bool:
    return getattr(condition, "kind", "") in ("take limit", "prohibited taxon")


def fit_name(facts: Facts, clause: Clause, name: Identification) -> Fit:
    """Tell how a name fits the animals of a take limit or prohibition (taxa, group or unlisted)."""
    condition = clause.condition
    taxa = facts.book.taxa
    if not getattr(condition, "unlisted", False):
        members = members_of(clause, condition.taxa, condition.group)  # type: ignore[attr-defined]
        return taxa.fit(name, members)
    if taxa.taxa[name.taxon].rank == "material":
        return NO
    return opposite(taxa.fit(name, listed_elsewhere(clause)))


def opposite(fit: Fit) -> Fit:
    """Turn "fits the listed ones" into "fits none of them"."""
    return Fit(not fit.possible, not fit.likely and not fit.certain, not fit.certain)


def fit_taxa(facts: Facts, name: Identification, taxa: tuple[str, ...]) -> Fit:
    """Tell how a name fits a list of taxa; an empty list narrows nothing."""
    return facts.book.taxa.fit(name, taxa) if taxa else YES


def fit_word(recorded: str, wanted: tuple[str, ...]) -> Fit:
    """Tell how a recorded word fits a list; an unrecorded word may fit."""
    if not wanted:
        return YES
    if not recorded:
        return MAYBE
    return YES if recorded in wanted else NO


def fit_haul(facts: Facts, clause: Clause, only: Only, fact: HaulFact) -> Fit:
    """Tell how a haul fits what narrows a condition (all but taxa, stage, sex, size, person)."""
    gear = fact.haul.gear.gear if fact.haul.gear is not None else ""
    fit = fit_word(gear, only.gear)
    fit &= fit_word(fact.haul.waterbody, only.waters)
    fit &= fit_word(fact.haul.site, only.sites)
    if only.dates:
        day = fact.day(clause.authority.zone)
        fit &= YES if any(dates.holds(day) for dates in only.dates) else NO
    if only.areas:
        fit &= fit_areas(facts, fact, only.areas)
    return fit


def fit_areas(facts: Facts, fact: HaulFact, areas: tuple[str, ...]) -> Fit:
    """Tell how a haul lies in several areas joined into one."""
    if not fact.haul.fixes:
        return MAYBE
    answer = facts.place_together(fact, areas)
    if answer.whole == "inside":
        return YES
    if answer.whole == "outside":
        return NO
    return _LIKELY_ONLY if answer.least_m >= 0 else MAYBE


def fit_line(facts: Facts, clause: Clause, only: Only, entry: LineFact) -> Fit:
    """Tell how a catch line fits everything that narrows a condition."""
    line = entry.line
    fit = fit_taxa(facts, entry.name, only.taxa)
    fit &= fit_word(line.stage, only.stages)
    fit &= fit_word(line.sex, only.sexes)
    if only.persons:
        fit &= YES if entry.person in only.persons else NO
    if only.size is not None:
        fit &= fit_size(entry, only.size)
    if only.dates and line.at is not None:
        day = entry.day(clause.authority.zone)
        fit &= YES if any(dates.holds(day) for dates in only.dates) else NO
        only = Only(gear=only.gear, areas=only.areas, waters=only.waters, sites=only.sites)
    return fit & fit_haul(facts, clause, only, entry.haul) if fit.possible else fit


def fit_some(facts: Facts, clause: Clause, only: Only, entry: LineFact) -> Fit:
    """Tell whether at least one animal of a line fits what narrows a condition."""
    if only.size is None:
        return fit_line(facts, clause, only, entry)
    low, high = share_in_class(entry.line, only.size)
    size = NO if high == 0 else YES if low else MAYBE
    return size & fit_line(facts, clause, replace(only, size=None), entry)


def fit_size(entry: LineFact, size: SizeClass) -> Fit:
    """Tell how a line's animals fit a size class: certain only where each one was measured and fits.

    A line measured in part, or with animals on both sides, may fit; tallies then use its measured part
    through ``share_in_class``.
    """
    low, high = share_in_class(entry.line, size)
    if high == 0:
        return NO
    return YES if low == entry.line.count.high else MAYBE


def share_in_class(line: Line, size: SizeClass) -> tuple[int, float]:
    """Give how many of a line's animals are in a size class, at least and at most."""
    measured = [
        value
        for run in line.measurements
        if run.measure == size.measure and (not size.variant or run.variant == size.variant)
        for value in run.values
    ]
    inside = sum(_in_class(value, size) for value in measured)
    outside = len(measured) - inside
    most = float(line.count.high)
    return min(inside, int(line.count.low)), max(0, most - outside)


def _in_class(tenths: int, size: SizeClass) -> bool:
    if size.smallest:
        side = compare_length(tenths, parse_quantity(size.smallest))
        if side < 0 or (side == 0 and not size.smallest_included):
            return False
    if size.largest:
        side = compare_length(tenths, parse_quantity(size.largest))
        if side > 0 or (side == 0 and not size.largest_included):
            return False
    return True
