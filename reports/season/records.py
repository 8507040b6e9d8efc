"""What else the record holds: encounters, deaths, water, people, notices, estimates, gaps, corrections."""

from __future__ import annotations

from datetime import datetime

from api.domain.calendar import parse_day, spoken_day, spoken_time
from api.domain.conditions import PapersRule, Prohibited
from api.domain.corrections import affected_filings, changes_since, corrections_under
from api.domain.counts import Amount
from api.domain.facts import LineFact
from api.domain.reckoning.fitting import fit_name
from api.domain.reckoning.tallies import is_estimated
from api.domain.reckoning.wording import plural
from api.domain.trips import Correction, Reading
from api.exchange.correction_words import Naming, field_words, value_words
from reports.document import Block, BulletList, Cell, Column, Heading, Note, Paragraph, Row, SignatureBox, Table
from reports.season.catch import name_cell
from reports.season.material import Certification, Material
from reports.season.totals import Sum, number, printed, ranged


def encounters(material: Material) -> list[Block]:
    """Give the section on listed taxa met and on deaths in the field."""
    listed = [entry for entry in material.animals if _listed(material, entry)]
    dead = [entry for entry in material.animals if entry.line.fate == "dead"]
    return [
        Heading(1, "Encounters and deaths"),
        Table(
            "Animals that are, or may be, of a taxon that must not be kept or handled.",
            (*_LINE_COLUMNS, Column("Told", 3)),
            tuple(Row((*_line_cells(material, entry), Cell(_told(material, entry)))) for entry in listed),
            empty="None was met.",
        ),
        Table(
            "Deaths in the field, with their cause as recorded.",
            (*_LINE_COLUMNS, Column("Cause", 3)),
            tuple(Row((*_line_cells(material, entry), Cell(entry.line.cause or "not recorded"))) for entry in dead),
            empty="No animal died in the field.",
        ),
    ]


_LINE_COLUMNS = (
    Column("Row", 0.6),
    Column("Taxon", 3, kind="heading"),
    Column("Day", 1.3),
    Column("Fate", 1),
    Column("Count", 1.1, kind="number"),
)


def _line_cells(material: Material, entry: LineFact) -> list[Cell]:
    row = material.row_of[entry.line.id]
    return [
        Cell(str(row), link=f"row-{row}"),
        name_cell(material, entry.line.taxon),
        Cell(spoken_day(entry.day(material.zone))),
        Cell(entry.line.fate),
        Cell(printed(Sum(entry.line.count))),
    ]


def _listed(material: Material, entry: LineFact) -> bool:
    for clauses in material.facts.clauses[material.authority.id].values():
        for clause in clauses:
            condition = clause.condition
            speaks = isinstance(condition, Prohibited) and not condition.unlisted and clause.holds_at(entry.at)
            if speaks and fit_name(material.facts, clause, entry.name).possible:
                return True
    return False


def _told(material: Material, entry: LineFact) -> str:
    about = {entry.line.id, entry.haul.haul.id, entry.haul.trip.id}
    told = [
        f"{incident.to}, {spoken_time(incident.told, material.zone)}"
        for incident in material.facts.season.incidents
        if incident.authority == material.authority.id and incident.told is not None and about & set(incident.about)
    ]
    return "; ".join(told) or "no report on record"


def water(material: Material) -> list[Block]:
    """Give the section on water readings, with the units on the meter."""
    rows: list[Row] = []
    trips = dict.fromkeys(fact.trip.id for fact in material.hauls)
    for trip_id in trips:
        trip = material.facts.trips[trip_id]
        rows.extend(_reading(material, trip_id, reading) for reading in trip.readings)
        for haul in trip.hauls:
            rows.extend(_reading(material, haul.id, reading, haul.start) for reading in haul.readings)
    without = [trip_id for trip_id in trips if not _has_readings(material, trip_id)]
    blocks: list[Block] = [
        Heading(1, "Water conditions"),
        Table(
            "Water readings as read, with the units on the instrument.",
            (
                Column("Trip or haul", 1.6, kind="heading"),
                Column("Time", 1.8),
                Column("Reading", 2),
                Column("Value", 1, kind="number"),
                Column("Unit", 1),
                Column("Instrument", 1.6),
            ),
            tuple(rows),
            empty="No water readings were recorded.",
        ),
    ]
    if without:
        blocks.append(Paragraph(f"Trips without any reading: {', '.join(without)}."))
    return blocks


def _has_readings(material: Material, trip_id: str) -> bool:
    trip = material.facts.trips[trip_id]
    return bool(trip.readings) or any(haul.readings for haul in trip.hauls)


def _reading(material: Material, record: str, reading: Reading, haul_start: datetime | None = None) -> Row:
    """Give a reading's row; one without a time of its own was taken with its haul."""
    taken = reading.at or haul_start
    at = spoken_time(taken, material.zone) if taken else "not recorded"
    return Row(
        (
            Cell(record),
            Cell(at),
            Cell(reading.quantity),
            Cell(reading.value),
            Cell(reading.unit),
            Cell(reading.instrument),
        )
    )


def people(material: Material) -> list[Block]:
    """Give the section on who collected on which days, and the notices given."""
    days: dict[tuple[str, str], list[str]] = {}
    for trip in material.trips:
        if trip.status not in ("open", "closed"):
            continue
        day = min((fact.day(material.zone) for fact in material.hauls if fact.trip.id == trip.id), default=None)
        for member in trip.crew:
            days.setdefault((member.person, member.role), []).append(spoken_day(day) if day else trip.id)
    rows = tuple(
        Row((Cell(material.person(person)), Cell(role), Cell(str(len(on))), Cell(", ".join(on))))
        for (person, role), on in sorted(days.items())
    )
    return [
        Heading(1, "People and notices"),
        Table(
            "Persons on the trips, by what they did there.",
            (
                Column("Person", 2, kind="heading"),
                Column("As", 1),
                Column("Trips", 0.7, kind="number"),
                Column("Days", 5),
            ),
            rows,
            empty="No crew was recorded.",
        ),
        _notices(material),
    ]


def _notices(material: Material) -> Table:
    own = [one for one in material.facts.season.notices if one.authority == material.authority.id]
    rows = tuple(
        Row(
            (
                Cell(one.trip),
                Cell(one.to),
                Cell(spoken_time(one.sent, material.zone)),
                Cell(f"{one.channel}{' (called off)' if one.cancels else ''}"),
                Cell(one.proof or "none kept"),
            )
        )
        for one in sorted(own, key=lambda one: (one.sent, one.id))
    )
    return Table(
        "Notices given before trips.",
        (
            Column("Trip", 1, kind="heading"),
            Column("To", 2.4),
            Column("Sent", 1.8),
            Column("By", 1.2),
            Column("Proof", 1.8),
        ),
        rows,
        empty="No notice is on record.",
    )


def candour(material: Material) -> list[Block]:
    """Give the section that lists estimates, gaps, paper records and corrections, not smoothed over."""
    estimated = [entry for entry in material.animals if is_estimated(entry)]
    gaps = _gaps(material)
    rows = tuple(
        Row((*_line_cells(material, entry)[:4], Cell(ranged(entry.line.count)), Cell(_how(entry))))
        for entry in estimated
    )
    blocks: list[Block] = [
        Heading(1, "Estimates, gaps and corrections"),
        Table(
            "Counts that nobody made one by one, from lowest to highest.",
            (*_LINE_COLUMNS, Column("How", 2.4)),
            rows,
            empty="Every animal was counted.",
        ),
        Heading(2, "Gaps"),
        BulletList(tuple(gaps)) if gaps else Paragraph("Nothing that the record asks for is missing."),
        Heading(2, "Corrections"),
        _corrections(material),
        *_since_filed(material),
    ]
    return blocks


def _how(entry: LineFact) -> str:
    line = entry.line
    if line.raw_counted is not None:
        return f"{line.method}: {line.raw_counted} counted in {line.raw_share}"
    return line.method


def _gaps(material: Material) -> list[str]:
    """Name what was not recorded."""
    checks = (
        ("haul", "without a position", [f.haul.id for f in material.hauls if not f.haul.fixes]),
        (
            "haul",
            "with a position of unknown radius",
            [f.haul.id for f in material.hauls if f.haul.fixes and any(x.radius_m is None for x in f.haul.fixes)],
        ),
        ("haul", "without an end", [f.haul.id for f in material.hauls if f.haul.end is None and not f.haul.lost]),
        ("set", "of lost gear", [f.haul.id for f in material.hauls if f.haul.lost]),
        ("haul", "without its gear", [f.haul.id for f in material.hauls if f.haul.gear is None]),
        (
            "trip",
            "entered from paper, in whole or in part",
            [t.id for t in material.trips if t.paper_record or t.id in material.edition.from_paper],
        ),
        ("trip", "with a phone clock that was wrong, corrected", [t.id for t in material.trips if t.clock_fast_s]),
        (
            "trip",
            "whose papers were not noted",
            [t.id for t in material.trips if t.papers is None and t.status == "closed"]
            if _asks_papers(material)
            else [],
        ),
    )
    gaps = [f"{plural(len(ids), noun)} {what}: {', '.join(ids)}." for noun, what, ids in checks if ids]
    gaps.extend(f"Left out: {fault}" for fault in material.edition.left_out)
    gaps.extend(f"To look at: {note}" for note in material.edition.notes)
    return gaps


def _asks_papers(material: Material) -> bool:
    every = material.facts.clauses[material.authority.id].values()
    return any(isinstance(clause.condition, PapersRule) for clauses in every for clause in clauses)


def _corrections(material: Material) -> Table:
    own = corrections_under(material.facts, material.authority.id)
    every = sorted(own, key=lambda one: (one.at, one.record))
    rows = tuple(_corrected(material, one) for one in every)
    return Table(
        "Records amended; the record holds the new value, the old one stays readable.",
        (
            Column("Record", 1.2, kind="heading"),
            Column("What", 1.2),
            Column("Old", 1.4),
            Column("New", 1.4),
            Column("By, when", 2),
            Column("Why", 2.4),
        ),
        rows,
        empty="No record was amended.",
    )


def _corrected(material: Material, one: Correction) -> Row:
    naming = _naming(material, one.record)
    return Row(
        (
            Cell(one.record),
            Cell(field_words(one.field)),
            Cell(value_words(one.field, one.old, naming)),
            Cell(value_words(one.field, one.new, naming)),
            Cell(f"{material.person(one.by)}, {spoken_time(one.at, material.zone)}"),
            Cell(one.why),
        )
    )


def _naming(material: Material, record: str) -> Naming:
    """Say how a correction of a record is told. Where its unit was amended, too, its counts are told without one."""
    season, entry = material.facts.season, material.facts.lines_by_id.get(record)
    changed = any(one.record == record and one.field == "unit" for one in season.corrections)
    authorities = {one.id: f"{one.kind} {one.number}" for one in material.facts.book.authorities}
    unit = "individuals" if entry is None or changed else entry.line.unit
    return Naming(material.zone, season.people, season.sites, authorities, unit)


def _since_filed(material: Material) -> list[Block]:
    """Say by how much each taxon's catch differs from what earlier filings told."""
    facts = material.facts
    blocks: list[Block] = []
    for filing in affected_filings(facts):
        if filing.authority != material.authority.id:
            continue
        changes = changes_since(facts, filing.authority, filing.filed)
        told = "; ".join(f"{taxon} {_signed(change)}" for taxon, change in sorted(changes.items()))
        when = spoken_time(filing.filed, material.zone)
        words = f"The report filed {when} is affected by corrections made since. Catch by taxon, new less old: {told or 'unchanged'}."
        blocks.append(Note("note", words, word="Amended"))
    return blocks


def _signed(change: Amount) -> str:
    return f"+{number(change)}" if change > 0 else f"\N{MINUS SIGN}{number(-change)}"


def certification(material: Material) -> list[Block]:
    """Give the certification in the authority's own sentence, and the place to sign.

    Of a filed report the box says who certified it and on which day it was filed; a draft's is empty. The line of
    the signature is left free in both: what is written there by hand is not the record's to say.
    """
    sentence = material.authority.certification or (
        "I certify that this report is complete and true to the best of my knowledge."
    )
    return [
        Heading(1, "Certification"),
        Paragraph(sentence),
        _signature_box(material.edition.certified),
    ]


def _signature_box(certified: Certification | None) -> SignatureBox:
    if certified is None:
        return SignatureBox(("Name", "Title", "Signature", "Date"))
    filed = spoken_day(parse_day(certified.day))
    given = (("Name", certified.name), ("Title", certified.title), ("Date filed", filed))
    return SignatureBox(("Name", "Title", "Signature", "Date filed"), given)
