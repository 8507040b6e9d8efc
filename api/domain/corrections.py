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
    return tuple(
        one
        for one in facts.season.corrections
        if one.at > filed and (_under(facts, one.record, authority) or _moved_from(facts, one, authority))
    )


def _under(facts: Facts, record: str, authority: str) -> bool:
    """Tell whether a record (line, haul or trip) belongs to an authority."""
    entry = facts.lines_by_id.get(record)
    if entry is not None:
        return entry.authority == authority
    hauls = facts.hauls_under.get(authority, ())
    return any(record in (fact.haul.id, fact.trip.id) for fact in hauls)


def _moved_from(facts: Facts, one: Correction, authority: str) -> bool:
    """Tell whether a correction took its record from under an authority."""
    if one.field != "authority":
        return False
    entry = facts.lines_by_id.get(one.record)
    return (one.old or (_inherited(entry) if entry else "")) == authority


def _inherited(entry: LineFact) -> str:
    """Give the authority under which a line stands that names none of its own."""
    return entry.haul.haul.authority or entry.haul.trip.authority


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
        taxon, count, stood_under = _undone(entry, own)
        if entry.authority == authority:
            changes[entry.line.taxon] = changes.get(entry.line.taxon, 0) + entry.line.count.best
        if stood_under == authority:
            changes[taxon] = changes.get(taxon, 0) - count
    return {taxon: change for taxon, change in changes.items() if change}


def _undone(entry: LineFact, corrections: list[Correction]) -> tuple[str, Amount, str]:
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
    return taxon, count, authority or _inherited(entry)


def _number(text: str) -> Amount:
    """Read the best reading of an old count, as people write it ("12", "about 200", "") or as a record holds it.

    The best is the first number of both: a record's count begins with it ('{"best":12,"high":14,"low":10}').
    """
    found = _NUMBER.search(text)
    value = Fraction(found[0]) if found else Fraction(0)
    return int(value) if value.denominator == 1 else value
