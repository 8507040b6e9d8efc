"""The order of a trip's taxon rows, the same on the phone's screen and on the printed sheet.

1. Every taxon that a catch line of the season names, the one with the most lines first; of equally many the one whose
   newest line was caught last; of those the one whose name comes first, letter by letter (by code point, so that
   every machine sorts alike).
2. Then what the conditions in force name, in their own order, each name once; one is left out if it, or anything below
   it, has a row already: a family needs no row of its own where its species have some.

A line names its ``taxon``, whatever doubt it bears and whatever fate; alternatives (``one_of``) and amounts play no
part. Conditions name taxa where they are limits on take, sizes, stages and sexes, or prohibitions: ``taxa``, or those
of their ``group``, then the taxa of their parts. "Unlisted" names none, and what narrows a condition (``only``) is not
looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime

from api.domain.conditions import Condition, Prohibited, SizeLimit, StageRule, TakeLimit
from api.domain.permits import NamedGroup
from api.domain.taxa import Taxa


def row_order(taxa: Taxa, caught: Iterable[tuple[str, datetime]], named: Iterable[str]) -> tuple[str, ...]:
    """Give the taxa in the order of their rows, each once.

    ``caught`` holds for every catch line its accepted taxon and the moment of capture (UTC), ``named`` what the
    conditions name (see ``named_in``), as accepted names.
    """
    number: dict[str, int] = {}
    newest: dict[str, datetime] = {}
    for taxon, at in caught:
        number[taxon] = number.get(taxon, 0) + 1
        newest[taxon] = max(at, newest.get(taxon, at))
    rows = sorted(number, key=lambda taxon: (-number[taxon], -newest[taxon].timestamp(), taxon))
    for taxon in named:
        if not any(taxa.is_within(row, taxon) for row in rows):
            rows.append(taxon)
    return tuple(rows)


def named_in(conditions: Iterable[Condition], groups: Mapping[str, NamedGroup]) -> Iterator[str]:
    """Give the taxa that conditions name, in their order; a name may come several times."""
    for condition in conditions:
        match condition:
            case TakeLimit() | Prohibited():
                yield from groups[condition.group].taxa if condition.group else condition.taxa
            case SizeLimit() | StageRule():
                yield from condition.taxa
        if isinstance(condition, TakeLimit):
            for part in condition.parts:
                yield from part.taxa
