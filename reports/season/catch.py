"""The catch by taxon, by place and by month; sizes; names in doubt; other material."""

from __future__ import annotations

from fractions import Fraction

from api.domain.facts import LineFact
from api.domain.measures import format_exact
from reports.document import Block, BulletList, Cell, Column, Figure, Heading, Paragraph, Row, Run, Table
from reports.plots import Series, bar_plot, histogram
from reports.season.material import Material, grouped, ranges
from reports.season.totals import FATES, Sum, number, printed, sum_cell, sum_of, sums_by_fate

_COLUMNS = (
    Column("Handled", 1.15, kind="number"),
    Column("Kept", 1.1, kind="number"),
    Column("Released", 1.15, kind="number"),
    Column("Died", 1, kind="number"),
    Column("Lost", 0.8, kind="number"),
)
_BARS = 8
_SIZES = 3
_FEWEST = 10
"""Fewer lengths than this make no shape worth a picture."""


def catch(material: Material) -> list[Block]:
    """Give the section on the catch."""
    blocks: list[Block] = [Heading(1, "Catch"), _by_taxon(material)]
    plot = _plot(material)
    if plot is not None:
        blocks.append(plot)
    words = (
        "By place and month: annex A. 'est.' marks what was not counted one by one; names are as identified, doubt is "
        "told under 'Names in doubt'."
    )
    blocks.append(Paragraph(words, small=True))
    return [*blocks, *_uncounted(material)]


def _uncounted(material: Material) -> list[Block]:
    """Name animals that were measured by volume or weight and never counted: in no number above."""
    taxa = material.facts.book.taxa.taxa
    own = [entry for entry in material.materials if taxa[entry.line.taxon].rank != "material"]
    items = tuple(
        f"{taxon}: {fate} {number(sum_of(part).count.best)} {unit} (rows {ranges(material.row_of[e.line.id] for e in part)})"
        for taxon, lines in grouped(own, lambda entry: entry.line.taxon).items()
        for fate, same in grouped(lines, lambda entry: entry.line.fate).items()
        for unit, part in grouped(same, lambda entry: entry.line.unit).items()
    )
    if not items:
        return []
    words = "Animals measured by volume or weight and not counted stand in no number of this report:"
    return [Paragraph(words), BulletList(items)]


def name_cell(material: Material, taxon: str) -> Cell:
    """Give the cell of a scientific name with the common name, and the name as issued where it differs."""
    runs = [Run(taxon, italic=material.facts.book.taxa.taxa[taxon].rank in ("species", "subspecies", "genus"))]
    common = material.common(taxon)
    issued = material.facts.book.issued_names.get(taxon, "")
    if common:
        runs.append(Run(f" {common}"))
    if issued and issued != taxon:
        runs.append(Run(f" (as issued: {issued})"))
    return Cell(tuple(runs))


def _cells(key: str, entries: list[LineFact]) -> list[Cell]:
    sums = sums_by_fate(entries)
    cells = [sum_cell(sums.handled, f"{key}/handled")]
    cells.extend(sum_cell(getattr(sums, fate), f"{key}/{fate}") for fate in FATES)
    return cells


def _traced(material: Material, title: str, entries: list[LineFact]) -> Cell:
    mark = material.trace(title, (entry.line.id for entry in entries))
    return Cell(mark, link=f"trace-{mark}")


def _by_taxon(material: Material) -> Table:
    rows = [
        Row((name_cell(material, taxon), *_cells(f"catch/{taxon}", own), _traced(material, f"Catch of {taxon}", own)))
        for taxon, own in grouped(material.animals, lambda entry: entry.line.taxon).items()
    ]
    if rows:
        everything = material.animals
        cells = _cells("catch/all", everything)
        rows.append(Row((Cell("All taxa"), *cells, _traced(material, "Catch of all taxa", everything)), style="total"))
    return Table(
        "Captured, kept, released, died and lost, by taxon",
        (Column("Taxon", 3.4, kind="heading"), *_COLUMNS, Column("Trace", 0.7)),
        tuple(rows),
        empty="Nothing was caught.",
    )


def _plot(material: Material) -> Figure | None:
    groups = grouped((e for e in material.animals if e.line.fate in ("kept", "dead")), lambda entry: entry.line.taxon)
    ranked = sorted(groups.items(), key=lambda item: -float(sum_of(item[1]).count.best))[:_BARS]
    if not ranked:
        return None
    names = [short_name(taxon) for taxon, _ in ranked]
    kept = tuple(float(sums_by_fate(own).kept.count.best) for _, own in ranked)
    dead = tuple(float(sums_by_fate(own).dead.count.best) for _, own in ranked)
    words = "; ".join(f"{name} {k:g} kept, {d:g} died" for name, k, d in zip(names, kept, dead, strict=True))
    drawing = bar_plot(
        names,
        (Series("kept", kept), Series("died in the field", dead)),
        y_title="Animals",
        x_title="Taxon",
        alt=f"Bars of animals kept and died in the field: {words}.",
        italic=True,
    )
    return Figure(drawing, f"Kept and died, the {len(ranked)} taxa with most.")


def short_name(taxon: str) -> str:
    """Give a binomial with its genus cut to a letter."""
    genus, _, rest = taxon.partition(" ")
    return f"{genus[0]}. {rest}" if rest else taxon


def catch_by_place(material: Material) -> Table:
    """Give the catch by taxon, then place, then month, with a subtotal for each taxon."""
    rows: list[Row] = []
    for taxon, own in grouped(material.animals, lambda entry: entry.line.taxon).items():
        rows.append(Row((Cell((Run(taxon, italic=True),)),), style="group"))
        for site, there in grouped(
            own, lambda entry: material.site(entry.haul.haul.site) or "no site recorded"
        ).items():
            for month, then in grouped(there, lambda entry: f"{entry.day(material.zone):%Y-%m}").items():
                cells = _cells(f"place/{taxon}/{site}/{month}", then)
                rows.append(Row((Cell(site), Cell(month), *cells)))
        rows.append(Row((Cell("Subtotal"), Cell(), *_cells(f"place/{taxon}", own)), style="subtotal"))
    return Table(
        "Catch by taxon, place and month (local to the authority's zone). Subtotals equal the table by taxon.",
        (Column("Site", 2.6, kind="heading"), Column("Month", 1), *_COLUMNS),
        tuple(rows),
        empty="Nothing was caught.",
    )


def sizes(material: Material) -> list[Block]:
    """Give the section on sizes: n, smallest, mean, largest by taxon and named measure, with plots."""
    runs: dict[tuple[str, str], list[int]] = {}
    handled: dict[str, list[LineFact]] = grouped(material.animals, lambda entry: entry.line.taxon)
    for entry in material.animals:
        for run in entry.line.measurements:
            name = f"{run.measure}{f' ({run.variant})' if run.variant else ''}"
            runs.setdefault((entry.line.taxon, name), []).extend(run.values)
    rows = [_size_row(taxon, measure, values, handled[taxon]) for (taxon, measure), values in sorted(runs.items())]
    table = Table(
        "Animals measured, by taxon and named measure. Lengths in mm, weights in g, as measured, to a tenth.",
        (
            Column("Taxon", 2.6, kind="heading"),
            Column("Measure", 2.2),
            Column("Measured", 1, kind="number"),
            Column("Of", 1.2, kind="number"),
            Column("Smallest", 1, kind="number"),
            Column("Mean", 1, kind="number"),
            Column("Largest", 1, kind="number"),
        ),
        tuple(rows),
        empty="No animal was measured.",
    )
    return [Heading(1, "Sizes"), table, *_histograms(runs)]


def _size_row(taxon: str, measure: str, values: list[int], entries: list[LineFact]) -> Row:
    key = f"sizes/{taxon}/{measure}"
    mean = Fraction(sum(values), 10 * len(values))
    return Row(
        (
            Cell(taxon, italic=True),
            Cell(measure),
            Cell(str(len(values)), figure=f"{key}/n"),
            Cell(printed(sum_of(entries)), figure=f"{key}/of"),
            Cell(_tenths(min(values)), figure=f"{key}/smallest"),
            Cell(format_exact(mean, 1), figure=f"{key}/mean"),
            Cell(_tenths(max(values)), figure=f"{key}/largest"),
        )
    )


def _tenths(value: int) -> str:
    return f"{value // 10}.{value % 10}"


def _histograms(runs: dict[tuple[str, str], list[int]]) -> list[Block]:
    most = sorted(runs.items(), key=lambda item: -len(item[1]))[:_SIZES]
    blocks: list[Block] = []
    for (taxon, measure), values in most:
        if len(values) >= _FEWEST and min(values) != max(values):
            unit = "g" if measure.startswith("weight") else "mm"
            alt = f"Histogram of {measure} of {len(values)} {taxon}, from {_tenths(min(values))} to {_tenths(max(values))} {unit}."
            drawing = histogram(
                [value / 10 for value in values], x_title=f"{measure} ({unit})", y_title="Animals", alt=alt
            )
            blocks.append(Figure(drawing, (Run(taxon, italic=True), Run(f": {measure}, n = {len(values)}."))))
    return blocks


def names_in_doubt(material: Material) -> list[Block]:
    """Give the section on names in doubt, names changed, and non-native taxa seen."""
    doubtful = [entry for entry in material.animals if _in_doubt(material, entry)]
    rows = tuple(
        Row(
            (
                Cell(str(material.row_of[entry.line.id]), link=f"row-{material.row_of[entry.line.id]}"),
                Cell(_written(entry), italic=True),
                Cell(f"{entry.line.fate} {printed(Sum(entry.line.count))}"),
                Cell(entry.line.photo or "none"),
                Cell(entry.line.note),
            )
        )
        for entry in doubtful
    )
    table = Table(
        "Names in doubt or above species. Each counts for certain one rank up and possibly in every taxon below.",
        (Column("Row", 0.6), Column("Name given", 3), Column("Count", 1.4), Column("Photo", 1.6), Column("Note", 3)),
        rows,
        empty="No name is in doubt.",
    )
    foreign = sorted(
        {e.line.taxon for e in material.animals if material.facts.book.taxa.taxa[e.line.taxon].origin == "non-native"}
    )
    seen = f"Non-native taxa seen: {', '.join(foreign)}." if foreign else "No taxon listed as non-native was seen."
    return [Heading(1, "Names in doubt"), table, Paragraph(seen)]


def _in_doubt(material: Material, entry: LineFact) -> bool:
    line = entry.line
    rank = material.facts.book.taxa.taxa[line.taxon].rank
    return bool(line.doubt or line.one_of) or rank not in ("species", "subspecies", "material")


def _written(entry: LineFact) -> str:
    line = entry.line
    if line.one_of:
        return " or ".join(line.one_of)
    genus, _, rest = line.taxon.partition(" ")
    if line.doubt == "?":
        return f"{line.taxon} (?)"
    return f"{genus} {line.doubt} {rest}".strip() if line.doubt else line.taxon


def other_material(material: Material) -> list[Block]:
    """Give the section on shell, sand and rubble in litres or grams, with the container named."""
    rows = [
        Row(
            (
                Cell(str(material.row_of[entry.line.id]), link=f"row-{material.row_of[entry.line.id]}"),
                Cell(entry.line.taxon),
                Cell(entry.line.measured_as or "\N{EN DASH}"),
                Cell(f"{number(entry.line.count.best)} {entry.line.unit}"),
                Cell(entry.line.fate),
            )
        )
        for entry in material.materials
    ]
    for taxon, own in grouped((e for e in material.materials if e.line.fate == "kept"), lambda e: e.line.taxon).items():
        for unit, part in grouped(own, lambda entry: entry.line.unit).items():
            text = f"{number(sum_of(part).count.best)} {unit}"
            total = Cell(text, figure=f"material/{taxon}/{unit}")
            rows.append(Row((Cell(), Cell(f"{taxon}, kept"), Cell(), total, Cell()), style="total"))
    table = Table(
        "Material taken, by named container and in its base unit.",
        (
            Column("Row", 0.6),
            Column("Material", 2.6),
            Column("As measured", 2.6),
            Column("Amount", 1.4, kind="number"),
            Column("Fate", 1),
        ),
        tuple(rows),
        empty="No shell, sand or other material was taken.",
    )
    return [Heading(1, "Other material"), table]
