"""The annex: every catch line by row, every finding, and where each figure comes from."""

from __future__ import annotations

from collections.abc import Sequence

from api.domain.calendar import spoken_time
from api.domain.facts import LineFact
from reports.document import Block, Cell, Column, Heading, PageBreak, Paragraph, Row, Table
from reports.season.catch import catch_by_place
from reports.season.limits import MARKS, WORDS
from reports.season.material import Material, ranges
from reports.season.totals import ranged

_ANCHORED = (
    " Below it stands the last entry of the record's audit chain at that moment, with its hash, which covers every "
    "entry before it: whoever holds this report can ask later whether the chain still holds that entry."
)


def annex(material: Material) -> list[Block]:
    """Give the annex."""
    return [
        PageBreak(),
        Heading(1, "Annex A. Catch by taxon, place and month"),
        catch_by_place(material),
        PageBreak(landscape=True),
        Heading(1, "Annex B. Catch lines"),
        _lines(material),
        Heading(1, "Annex C. Findings"),
        _findings(material),
        Heading(1, "Annex D. Trips and movements"),
        _trips(material),
        _movements(material),
        Heading(1, "Annex E. Where each figure comes from"),
        Paragraph(
            "Figures marked F in the tables above are sums over these rows of annex B; what has left is summed over the "
            "movements of these rows in annex D."
        ),
        _traces(material),
        Heading(1, "Annex F. Attached files"),
        Paragraph(
            "The file carries the snapshot it was made from (snapshot.json, canonical JSON after RFC 8785) and its "
            "tables as CSV. The SHA-256 of the snapshot stands at the foot of every page."
            + (_ANCHORED if material.edition.audit else "")
        ),
    ]


def _lines(material: Material) -> Table:
    return Table(
        "Every catch line under this authority, in order of capture; lowest to highest where not exact",
        (
            Column("Row", 0.6, kind="number"),
            Column("Line", 1.3, kind="heading"),
            Column("Haul", 1.2),
            Column("Caught", 1.7),
            Column("Taxon", 2.6),
            Column("Doubt", 0.6),
            Column("Fate", 0.9),
            Column("Count", 1.1, kind="number"),
            Column("Unit", 0.4),
            Column("How", 0.9),
            Column("Stage, sex", 1.3),
            Column("By", 1.9),
        ),
        tuple(_line(material, entry) for entry in material.lines),
        empty="No catch line.",
    )


def _line(material: Material, entry: LineFact) -> Row:
    line = entry.line
    row = material.row_of[line.id]
    return Row(
        (
            Cell(str(row)),
            Cell(line.id),
            Cell(entry.haul.haul.id),
            Cell(spoken_time(entry.at, material.zone)),
            Cell(" or ".join(line.one_of) or line.taxon, italic=True),
            Cell(line.doubt),
            Cell(line.fate),
            Cell(ranged(line.count)),
            Cell("" if line.unit == "individuals" else line.unit),
            Cell(line.method),
            Cell(", ".join(word for word in (line.stage, line.sex) if word)),
            Cell(material.person(entry.person)),
        ),
        anchor=f"row-{row}",
    )


def _trips(material: Material) -> Table:
    """List every trip under the authority, called-off ones too, with who was there."""
    rows = []
    for trip in material.trips:
        crew = ", ".join(f"{material.person(member.person)} ({member.role})" for member in trip.crew)
        times = [spoken_time(at, material.zone) if at else "not recorded" for at in (trip.depart, trip.back)]
        hauls = str(sum(fact.trip.id == trip.id for fact in material.hauls))
        cells = (trip.id, trip.status, material.person(trip.leader), *times, hauls, crew, trip.note)
        rows.append(Row(tuple(Cell(text) for text in cells)))
    return Table(
        "Trips under this authority",
        (
            Column("Trip", 0.9, kind="heading"),
            Column("State", 0.8),
            Column("Leader", 1.3),
            Column("Left", 1.4),
            Column("Back", 1.4),
            Column("Hauls", 0.6, kind="number"),
            Column("Crew", 3.2),
            Column("Note", 3.4),
        ),
        tuple(rows),
        empty="No trip.",
    )


def _movements(material: Material) -> Table:
    """List every movement of what was kept: when, what, how many, to whom, by whose consent."""
    rows = []
    for one in sorted(material.facts.season.movements, key=lambda move: (move.at, move.id)):
        if one.at > material.facts.as_of or (one.line and one.line not in material.row_of):
            continue
        if not one.line and one.authority != material.authority.id:
            continue
        entry = material.facts.lines_by_id.get(one.line)
        unit = "" if entry is None or entry.line.unit == "individuals" else f" {entry.line.unit}"
        row = material.row_of.get(one.line)
        cells = (
            Cell(spoken_time(one.at, material.zone)),
            Cell(one.what),
            Cell(entry.line.taxon if entry is not None else one.taxon, italic=True),
            Cell(f"{ranged(one.count)}{unit}"),
            Cell(str(row) if row else "\N{EN DASH}", link=f"row-{row}" if row else None),
            Cell("; ".join(part for part in (one.to, one.consent) if part)),
            Cell(one.reason),
        )
        rows.append(Row(cells))
    return Table(
        "Movements of what was kept",
        (
            Column("When", 1.6),
            Column("What", 1.2),
            Column("Taxon", 2.4, kind="heading"),
            Column("Count", 0.9, kind="number"),
            Column("Row", 0.6, kind="number"),
            Column("To, consent", 3),
            Column("Reason", 3),
        ),
        tuple(rows),
        empty="Nothing has moved.",
    )


def _findings(material: Material) -> Table:
    """List every finding but the plain met ones on single records, which are counted in the section above."""
    rows = []
    for answer in material.answers:
        for finding in answer.findings:
            if finding.outcome == "met" and finding.tally is None and not finding.near:
                continue
            near = " Near the limit." if finding.near else ""
            rows.append(
                Row(
                    (
                        Cell(finding.number),
                        Cell(str(finding.version)),
                        Cell(WORDS[finding.outcome], mark=MARKS[finding.outcome]),
                        Cell(f"{finding.sentence}{near}"),
                        Cell(_records(material, finding.records)),
                    )
                )
            )
    return Table(
        "Findings with numbers, departures and open ones; all others stand in findings.csv",
        (
            Column("No.", 0.7, kind="heading"),
            Column("Version", 0.6, kind="number"),
            Column("Answer", 1),
            Column("Finding", 6),
            Column("Rests on rows", 2.6),
        ),
        tuple(rows),
        empty="No finding.",
    )


def _records(material: Material, records: Sequence[str]) -> str:
    """Name the catch rows a finding rests on; other records by their ids."""
    rows = [material.row_of[record] for record in records if record in material.row_of]
    others = [record for record in records if record not in material.row_of]
    return "; ".join(part for part in (ranges(rows), ", ".join(others)) if part)


def _traces(material: Material) -> Table:
    rows = tuple(
        Row(
            (Cell(mark), Cell(title), Cell(_records(material, records) or "none")),
            anchor=f"trace-{mark}",
        )
        for mark, (title, records) in material.traces.items()
    )
    return Table(
        "Figures and the rows they are summed from.",
        (Column("Figure", 0.7, kind="heading"), Column("What", 4), Column("Rows of annex B", 6)),
        rows,
        empty="No figure.",
    )
