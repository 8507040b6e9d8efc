"""Every condition with its answer, departures explained, what is open and what would settle it."""

from __future__ import annotations

from api.domain.calendar import spoken_time
from api.domain.judge import Answer
from api.domain.rules.finding import Finding, Tally
from reports.document import Block, Cell, Column, Heading, Note, Paragraph, Row, Run, Table
from reports.season.limits import MARKS, WORDS
from reports.season.material import Material

_MOST_SAID = 12


def conditions(material: Material) -> list[Block]:
    """Give the section that answers every condition; none is passed over."""
    rows = [_row(answer) for answer in material.answers]
    table = Table(
        "Every condition in the authority's own order, in the words as issued, with its answer",
        (
            Column("No.", 0.7, kind="heading"),
            Column("As issued", 4.2),
            Column("Answer", 1.1),
            Column("In short", 3.6),
        ),
        tuple(rows),
    )
    return [Heading(1, "Conditions, one by one"), table, *_departures(material), *_open(material)]


def _row(answer: Answer) -> Row:
    return Row(
        (
            Cell(answer.number),
            Cell(answer.text),
            Cell(_word(answer), mark=MARKS[answer.outcome]),
            Cell(in_short(answer)),
        )
    )


def _word(answer: Answer) -> str:
    """Give the word for an answer; a duty whose day has not come is not due rather than not used."""
    duty = answer.kind in ("report", "holding", "disposition")
    waiting = duty and answer.findings[0].about != ""
    return "Not due" if answer.outcome == "not used" and waiting else WORDS[answer.outcome]


def in_short(answer: Answer) -> str:
    """Give one sentence for a condition: how many findings, and the gravest one's own words."""
    gravest = [finding for finding in answer.findings if finding.outcome == answer.outcome]
    first = gravest[-1] if answer.outcome == "met" else gravest[0]
    if len(answer.findings) == 1:
        return first.sentence
    counts = [
        f"{sum(finding.outcome == outcome for finding in answer.findings)} {words}"
        for outcome, words in (("broken", "not met"), ("open", "open"), ("met", "met"), ("not used", "not used"))
        if any(finding.outcome == outcome for finding in answer.findings)
    ]
    lead = f"{', '.join(counts)}."
    if answer.outcome in ("broken", "open"):
        return f"{lead} {first.sentence}"
    deciding = _deciding(answer)
    return f"{lead} {deciding.sentence}" if deciding is not None else lead


def _deciding(answer: Answer) -> Finding | None:
    """Give the finding of a kept limit that came nearest to it, None where nothing was tallied."""
    tallied = [finding for finding in answer.findings if finding.tally is not None and finding.tally.limit]
    return max(tallied, key=lambda one: _used(one.tally), default=None)


def _used(tally: Tally | None) -> float:
    return float(tally.after.high) / float(tally.limit) if tally is not None else 0.0


def _departures(material: Material) -> list[Block]:
    blocks: list[Block] = [Heading(2, "Departures from conditions")]
    broken = [f for answer in material.answers for f in answer.findings if f.outcome == "broken"]
    if not broken:
        return [*blocks, Paragraph("No departure from any condition is on record.")]
    for finding in broken:
        blocks.append(Note("broken", (Run(f"{finding.number}  ", bold=True), Run(finding.sentence))))
        blocks.extend(_explanations(material, finding))
    return blocks


def _explanations(material: Material, finding: Finding) -> list[Block]:
    """Give what was reported or noted about the records of a departure."""
    named = _with_parents(material, set(finding.over) or set(finding.records))
    said = [
        f"{incident.to} told {spoken_time(incident.told, material.zone) if incident.told else 'at a time not recorded'}"
        f"{f': {incident.text}' if incident.text else ''}"
        for incident in material.facts.season.incidents
        if incident.authority == material.authority.id and named & set(incident.about)
    ]
    said.extend(f"Note on {record}: {note}" for record, note in _notes(material, finding) if note)
    text = " ".join(sentence if sentence.endswith(".") else f"{sentence}." for sentence in said[:_MOST_SAID])
    return [Paragraph(text or "No explanation is on record.", small=True)]


def _with_parents(material: Material, records: set[str]) -> set[str]:
    """Give records with the hauls and trips they stand in, under which a report may have been made."""
    named = set(records)
    for record in records:
        entry = material.facts.lines_by_id.get(record)
        if entry is not None:
            named |= {entry.haul.haul.id, entry.haul.trip.id}
    named |= {fact.trip.id for fact in material.hauls if fact.haul.id in records}
    return named


def _notes(material: Material, finding: Finding) -> list[tuple[str, str]]:
    """Give the notes written on the lines, hauls and trips that a departure names."""
    named = finding.over or finding.records
    lines = [material.facts.lines_by_id[record].line for record in named if record in material.facts.lines_by_id]
    found = [(line.id, line.note) for line in lines]
    found.extend((fact.haul.id, fact.haul.note) for fact in material.hauls if fact.haul.id in finding.over)
    found.extend((trip.id, trip.note) for trip in material.trips if trip.id in finding.over)
    return found


def _open(material: Material) -> list[Block]:
    blocks: list[Block] = [Heading(2, "What cannot be told, and what would settle it")]
    unsettled = [f for answer in material.answers for f in answer.findings if f.outcome == "open"]
    if not unsettled:
        return [*blocks, Paragraph("Nothing is open.")]
    rows = tuple(Row((Cell(finding.number), Cell(finding.sentence), Cell(finding.settle))) for finding in unsettled)
    table = Table(
        "Open findings.",
        (Column("No.", 0.7, kind="heading"), Column("What the record says", 4.5), Column("What would settle it", 3.4)),
        rows,
    )
    return [*blocks, table]
