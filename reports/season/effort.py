"""Effort by gear, with catch per unit of effort and its interval, and nil hauls shown."""

from __future__ import annotations

from fractions import Fraction

from api.domain.effort import ratio_of_sums
from api.domain.facts import HaulFact
from api.domain.measures import format_exact
from reports.document import Block, Cell, Column, Heading, Paragraph, Row, Table
from reports.season.material import Material


def effort(material: Material) -> list[Block]:
    """Give the section on effort."""
    groups: dict[tuple[str, str], list[HaulFact]] = {}
    for fact in material.hauls:
        gear = fact.haul.gear.gear if fact.haul.gear else "gear not recorded"
        groups.setdefault((gear, fact.haul.kind), []).append(fact)
    rows = tuple(_row(gear, kind, facts) for (gear, kind), facts in sorted(groups.items()))
    table = Table(
        "Effort by gear. Hours run from start to end of each haul or set whose end was recorded.",
        (
            Column("Gear", 2, kind="heading"),
            Column("Worked as", 1),
            Column("Number", 0.9, kind="number"),
            Column("Nothing caught", 1.1, kind="number"),
            Column("Units of gear", 1, kind="number"),
            Column("Hours", 1, kind="number"),
            Column("Animals per haul or set", 2.4, kind="number"),
        ),
        rows,
        empty="No haul was made.",
    )
    note = (
        "Animals per haul or set: sum of animals handled over the number of hauls or sets (ratio of sums), with the "
        "95 % interval between hauls (Student t); no interval from one haul. Hauls with nothing caught stay in. "
        "It is catch per effort, not density."
    )
    return [Heading(1, "Effort"), table, Paragraph(note, small=True)]


def _row(gear: str, kind: str, facts: list[HaulFact]) -> Row:
    key = f"effort/{gear}/{kind}"
    units = sum(fact.haul.gear.number if fact.haul.gear else 1 for fact in facts)
    seconds = sum(int((fact.haul.end - fact.haul.start).total_seconds()) for fact in facts if fact.haul.end)
    nothing = sum(not fact.haul.lines for fact in facts)
    return Row(
        (
            Cell(gear),
            Cell(kind),
            Cell(str(len(facts)), figure=f"{key}/number"),
            Cell(str(nothing), figure=f"{key}/nothing"),
            Cell(str(units), figure=f"{key}/units"),
            Cell(format_exact(Fraction(seconds, 3600), 1), figure=f"{key}/hours"),
            Cell(_rate(facts), figure=f"{key}/rate"),
        )
    )


def _rate(facts: list[HaulFact]) -> str:
    """Give animals per haul with its interval where there is one."""
    catches = [float(sum(line.count.best for line in fact.haul.lines if line.unit == "individuals")) for fact in facts]
    rate = ratio_of_sums(catches, [1.0] * len(facts), "haul")
    text = f"{rate.rate:.1f}"
    if rate.low is None or rate.high is None:
        return f"{text} (no interval)"
    return f"{text} ({max(0.0, rate.low):.1f} to {rate.high:.1f})"
