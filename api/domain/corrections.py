"""What corrections changed since a report was filed: which filings are affected, and by how much each taxon."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from api.domain.counts import Amount
from api.domain.facts import Facts, LineFact
from api.domain.trips import Correction, Filing


def affected_filings(facts: Facts) -> tuple[Filing, ...]:
    """Give the filings made before a record under their authority was amended; the filed copy stays as it is."""
    return tuple(
        filing
        for filing in facts.season.filings
        if any(
            one.at > filing.filed and _under(facts, one.record, filing.authority) for one in facts.season.corrections
        )
    )


def _under(facts: Facts, record: str, authority: str) -> bool:
    """Tell whether a record (line, haul or trip) belongs to an authority."""
    entry = facts.lines_by_id.get(record)
    if entry is not None:
        return entry.authority == authority
    hauls = facts.hauls_under.get(authority, ())
    return any(record in (fact.haul.id, fact.trip.id) for fact in hauls)


def changes_since(facts: Facts, authority: str, filed: datetime) -> dict[str, Amount]:
    """Give by how much the catch of each taxon differs from what the record said when a report was filed.

    Corrections of a line's taxon and count made since are undone one by one, latest first; taxa that did
    not change are left out.
    """
    changes: dict[str, Amount] = {}
    later = sorted((one for one in facts.season.corrections if one.at > filed), key=lambda one: one.at, reverse=True)
    for entry in facts.lines:
        own = [one for one in later if one.record == entry.line.id]
        if entry.authority == authority and own:
            taxon, count = _undone(entry, own)
            changes[entry.line.taxon] = changes.get(entry.line.taxon, 0) + entry.line.count.best
            changes[taxon] = changes.get(taxon, 0) - count
    return {taxon: change for taxon, change in changes.items() if change}


def _undone(entry: LineFact, corrections: list[Correction]) -> tuple[str, Amount]:
    """Give a line's taxon and count as they stood before its corrections; a count of "" was no line yet."""
    taxon: str = entry.line.taxon
    count: Amount = entry.line.count.best
    for one in corrections:
        if one.field == "taxon":
            taxon = one.old
        elif one.field == "count":
            count = _number(one.old)
    return taxon, count


def _number(text: str) -> Amount:
    """Read the best reading of an old count as it was written ("12", "about 200", "")."""
    digits = "".join(char for char in text if char.isdigit() or char in "./ ").split()
    if not digits:
        return 0
    value = Fraction(digits[0])
    return int(value) if value.denominator == 1 else value
