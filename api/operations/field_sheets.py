"""The printed sheet of a trip: the season as it stands, the phone's order of rows, what every limit leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from api.domain.conditions import Prohibited, SizeLimit, StageRule, TakeLimit
from api.domain.facts import Facts
from api.domain.limits_ahead import limits_ahead
from api.domain.permits import Authority, Version, version_at, versions_of
from api.domain.remaining import Given, Situation, keep_at_most
from api.domain.row_order import named_in, row_order
from api.domain.taxa import Identification
from api.domain.trips import Haul, Trip
from api.operations.allotting import given_to, season_laid_out
from api.operations.compliance import is_demo
from api.operations.trips import trip_named
from api.store.unit_of_work import Store
from reports.field_sheet import SheetMaterial, TaxonRow, field_sheet
from reports.pdf import write_pdf

HAULS, ROWS = 4, 12
"""How many hauls a sheet has room for and how many taxa each has a row for: so many that a haul is a page."""
MOST_HAULS, MOST_ROWS = 12, 80

_PLACES = ("site", "waterbody", "area", "container")
_EACH = ("person", *_PLACES)
_IN_WORDS = (SizeLimit, StageRule, Prohibited)


def sheet_material(store: Store, trip: str, *, hauls: int = HAULS, rows: int = ROWS) -> SheetMaterial:
    """Gather what a trip's sheet says, as of this minute; raises UnknownTripError.

    ``trip`` is an id or a code. What is left is reckoned for the moment of printing, or for the departure where that is
    still to come: a limit on a day is that day's.
    """
    now = store.clock().replace(second=0, microsecond=0)
    with store.reading() as session:
        row = trip_named(session, trip)
        facts, given = season_laid_out(session, store), given_to(session, row.id)
        code = row.code
    planned = facts.trips[code]
    sheet = SheetMaterial(
        trip=planned,
        authority=None,
        at=now,
        people=facts.season.people,
        rows=(),
        limits=(),
        notices=tuple(one for one in facts.season.notices if one.trip == code),
        hauls=hauls,
        demo=is_demo(store),
    )
    at = max(now, planned.depart or now)
    if not planned.authority:
        return replace(sheet, rows=tuple(_bare(facts, taxon) for taxon in _order(facts, None)[:rows]))
    authority = facts.book.authority(planned.authority)
    version = version_at(versions_of(authority), at)
    sheet = replace(
        sheet,
        authority=authority,
        words=tuple(one for one in version.conditions.values() if isinstance(one, _IN_WORDS)),
        in_force=authority.begins <= at < authority.ends,
    )
    order = _order(facts, version)[:rows]
    if not sheet.in_force:
        return replace(sheet, rows=tuple(_bare(facts, taxon) for taxon in order))
    return replace(
        sheet,
        rows=tuple(_row(facts, authority, version, taxon, planned, at, given) for taxon in order),
        limits=limits_ahead(facts, authority.id, planned, at, given),
    )


def _order(facts: Facts, version: Version | None) -> tuple[str, ...]:
    caught = ((one.line.taxon, one.at) for one in facts.lines)
    named = () if version is None else named_in(version.conditions.values(), version.groups)
    return row_order(facts.book.taxa, caught, named)


def _bare(facts: Facts, taxon: str) -> TaxonRow:
    return TaxonRow(taxon=taxon, common=facts.book.taxa.taxa[taxon].common)


def sheet_pdf(material: SheetMaterial) -> bytes:
    """Write a sheet; the same material gives the same bytes."""
    return write_pdf(field_sheet(material))


def _row(
    facts: Facts,
    authority: Authority,
    version: Version,
    taxon: str,
    trip: Trip,
    at: datetime,
    given: Sequence[Given],
) -> TaxonRow:
    bare = _bare(facts, taxon)
    if facts.book.taxa.taxa[taxon].rank == "material":
        return replace(bare, listed=True)
    situation = Situation(at=at, trip=trip, haul=Haul(id="", start=at))
    allowance = keep_at_most(facts, authority.id, Identification(taxon), situation, given)
    holders = {
        room.number: condition.holder
        for room in allowance.rooms
        if isinstance(condition := version.conditions[room.number], TakeLimit)
    }
    binding = allowance.binding
    each = binding is not None and binding.label != "whole crew" and holders.get(binding.number) in _EACH
    by_place = tuple(
        number
        for number, holder in holders.items()
        if holder in _PLACES and not (binding is not None and number == binding.number)
    )
    return replace(bare, allowance=allowance, each=each, by_place=by_place)
