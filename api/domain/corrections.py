"""What corrections changed since a report was filed: which filings are affected, and by how much each taxon."""

from __future__ import annotations

import re
from datetime import datetime
from fractions import Fraction

from api.domain.counts import Amount
from api.domain.facts import Facts, LineFact
from api.domain.trips import Correction, Filing

_NUMBER = re.compile(r"[0-9]+(?:[./][0-9]+)?")


def affected_filings(facts: Facts) -> tuple[Filing, ...]:
    """Give the filings made before a record under their authority was amended; the filed copy stays as it is."""
    return tuple(one for one in facts.season.filings if corrections_since(facts, one.authority, one.filed))


def corrections_since(facts: Facts, authority: str, filed: datetime) -> tuple[Correction, ...]:
    """Give the corrections made since a report was filed of what is under its authority, or was taken from under it."""
    return tuple(one for one in corrections_under(facts, authority) if one.at > filed)


def corrections_under(facts: Facts, authority: str) -> tuple[Correction, ...]:
    """Give the corrections of what is under an authority, or was taken from under it."""
    records = _records_under(facts, authority)
    return tuple(one for one in facts.season.corrections if one.record in records or _moved_from(facts, one, authority))


def _records_under(facts: Facts, authority: str) -> set[str]:
    """Give the trips, hauls and lines that belong to an authority; of a haul under several, each has its own lines."""
    trips = {trip.id for trip in facts.trips_under(authority)}
    hauls = {fact.haul.id for fact in facts.hauls_under.get(authority, ())}
    lines = {entry.line.id for entry in facts.lines if entry.authority == authority}
    return trips | hauls | lines


def _moved_from(facts: Facts, one: Correction, authority: str) -> bool:
    """Tell whether a correction took its record from under an authority."""
    return one.field == "authority" and (one.old or _inherited(facts, one.record)) == authority


def _inherited(facts: Facts, record: str) -> str:
    """Give the authority under which a line or haul stands that names none of its own; "" for any other record."""
    entry = facts.lines_by_id.get(record)
    if entry is not None:
        return entry.haul.haul.authority or entry.haul.trip.authority
    return next((fact.trip.authority for fact in facts.hauls if fact.haul.id == record), "")


def changes_since(facts: Facts, authority: str, filed: datetime) -> dict[str, Amount]:
    """Give by how much the catch of each taxon differs from what the record said when a report was filed.

    Corrections of a line's taxon, count and authority made since are undone one by one, latest first; taxa that
    did not change are left out.
    """
    changes: dict[str, Amount] = {}
    later = sorted((one for one in facts.season.corrections if one.at > filed), key=lambda one: one.at, reverse=True)
    for entry in facts.lines:
        own = [one for one in later if one.record == entry.line.id]
        if not own:
            continue
        taxon, count, stood_under = _undone(facts, entry, own)
        if entry.authority == authority:
            changes[entry.line.taxon] = changes.get(entry.line.taxon, 0) + entry.line.count.best
        if stood_under == authority:
            changes[taxon] = changes.get(taxon, 0) - count
    return {taxon: change for taxon, change in changes.items() if change}


def _undone(facts: Facts, entry: LineFact, corrections: list[Correction]) -> tuple[str, Amount, str]:
    """Give a line's taxon, count and authority as they stood before its corrections; a count of "" was no line yet."""
    taxon: str = entry.line.taxon
    count: Amount = entry.line.count.best
    authority = entry.line.authority
    for one in corrections:
        if one.field == "taxon":
            taxon = one.old
        elif one.field == "count":
            count = _number(one.old)
        elif one.field == "authority":
            authority = one.old
    return taxon, count, authority or _inherited(facts, entry.line.id)


def _number(text: str) -> Amount:
    """Read the best reading of an old count, as people write it ("12", "about 200", "") or as a record holds it.

    The best is the first number of both: a record's count begins with it ('{"best":12,"high":14,"low":10}').
    """
    found = _NUMBER.search(text)
    value = Fraction(found[0]) if found else Fraction(0)
    return int(value) if value.denominator == 1 else value
