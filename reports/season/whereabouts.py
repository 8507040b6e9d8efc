"""What has become of everything kept: held, died, left, line by line and summed by species."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import get_args

from api.domain.counts import NOTHING, Count
from api.domain.facts import LineFact
from api.domain.reckoning.holdings import GAINS
from api.domain.vocabulary import Gone
from reports.document import Block, Cell, Column, Heading, Paragraph, Row, Table
from reports.season.material import Material, grouped
from reports.season.totals import Sum, number, printed, ranged, sum_of

WAYS: tuple[str, ...] = get_args(Gone.__value__) if hasattr(Gone, "__value__") else get_args(Gone)


@dataclass(slots=True)
class Account:
    """One account: kept, gained, gone by way, and held as what remains. Kept + gained = gone + held."""

    kept: Count = NOTHING
    gained: Count = NOTHING
    gone: dict[str, Count] = field(default_factory=dict)

    @property
    def all_gone(self) -> Count:
        """Everything that has left, by any way."""
        gone = NOTHING
        for count in self.gone.values():
            gone += count
        return gone

    @property
    def held(self) -> Count:
        """What remains; never below nothing, and as doubtful as what it is made from."""
        come, gone = self.kept + self.gained, self.all_gone
        low, high = max(0, come.low - gone.high), max(0, come.high - gone.low)
        return Count(low, min(max(low, come.best - gone.best), high), high)


def account_of(material: Material, entries: list[LineFact]) -> Account:
    """Draw up the account of kept lines."""
    account = Account()
    for entry in entries:
        if entry.line.fate != "kept":
            continue
        account.kept += entry.line.count
        for movement in material.facts.movements_of.get(entry.line.id, ()):
            if movement.at > material.facts.as_of:
                continue
            if movement.what in GAINS:
                account.gained += movement.count
            else:
                account.gone[movement.what] = account.gone.get(movement.what, NOTHING) + movement.count
    return account


def held_sum(material: Material) -> Sum:
    """Give how many animals of the season are held."""
    return Sum(account_of(material, material.animals).held)


def whereabouts(material: Material) -> list[Block]:
    """Give the section on what has become of every animal kept."""
    kept = [entry for entry in material.animals if entry.line.fate == "kept"]
    ways = [way for way in WAYS if any(way in account_of(material, [entry]).gone for entry in kept)]
    columns = (
        Column("Taxon", 3.2, kind="heading"),
        Column("Kept", 1, kind="number"),
        Column("Born, given, found", 1.2, kind="number"),
        *(Column(way.capitalize(), 1, kind="number") for way in ways),
        Column("Held now", 1, kind="number"),
        Column("Trace", 0.8),
    )
    groups = grouped(kept, lambda entry: entry.line.taxon)
    rows = [_row(material, taxon, entries, ways) for taxon, entries in groups.items()]
    if rows:
        rows.append(_row(material, "", kept, ways))
    table = Table(
        "Everything kept and what has become of it. Kept + born, given, found = gone by any way + held now.",
        columns,
        tuple(rows),
        empty="Nothing was kept.",
    )
    return [
        Heading(1, "What has become of every animal kept"),
        Paragraph("A death, a transfer or a declined acquisition gives nothing back to a limit."),
        table,
        *_gains_without_line(material),
    ]


def _row(material: Material, taxon: str, entries: list[LineFact], ways: list[str]) -> Row:
    account = account_of(material, entries)
    key = f"whereabouts/{taxon or 'all'}"
    mark = material.trace(f"Kept and gone: {taxon or 'all taxa'}", (entry.line.id for entry in entries))
    cells = [
        Cell(taxon or "All taxa", italic=bool(taxon)),
        Cell(printed(sum_of(entries)), figure=f"{key}/kept"),
        Cell(ranged(account.gained), figure=f"{key}/gained"),
        *(Cell(ranged(account.gone.get(way, NOTHING)), figure=f"{key}/{way}") for way in ways),
        Cell(ranged(account.held), figure=f"{key}/held"),
        Cell(mark, link=f"trace-{mark}"),
    ]
    return Row(tuple(cells), style="normal" if taxon else "total")


def _gains_without_line(material: Material) -> list[Block]:
    """Name births and gifts that belong to no catch line: not take, listed apart."""
    own = [
        movement
        for movement in material.facts.movements_of.get("", ())
        if movement.authority == material.authority.id
        and movement.what in GAINS
        and movement.at <= material.facts.as_of
    ]
    if not own:
        return []
    items = "; ".join(
        f"{number(movement.count.best)} {movement.taxon} {movement.what}{f' ({movement.reason})' if movement.reason else ''}"
        for movement in own
    )
    return [Paragraph(f"Not take, and in no sum above: {items}.")]
