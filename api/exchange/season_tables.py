"""The season as plain tables: one row a trip, haul, catch line, reading, movement, finding.

Machine form: columns named, times in UTC with Z, numbers exact, nothing guarded against spreadsheets.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from api.domain.counts import Amount
from api.domain.facts import Facts
from api.domain.judge import Judgement
from api.exchange.csv_out import csv_text
from api.exchange.season_out import amount_value, time_text

Cell = str | int | float


def season_tables(facts: Facts, judgement: Judgement) -> dict[str, bytes]:
    """Give each table as CSV (RFC 4180, UTF-8) by its file name."""
    return {
        "trips.csv": csv_text(_TRIPS, _trips(facts)),
        "hauls.csv": csv_text(_HAULS, _hauls(facts)),
        "catch-lines.csv": csv_text(_LINES, _lines(facts)),
        "measurements.csv": csv_text(_MEASURES, _measures(facts)),
        "readings.csv": csv_text(_READINGS, _readings(facts)),
        "movements.csv": csv_text(_MOVEMENTS, _movements(facts)),
        "findings.csv": csv_text(_FINDINGS, _findings(judgement)),
    }


def _time(at: datetime | None) -> str:
    return time_text(at) if at is not None else ""


def _amount(amount: Amount) -> Cell:
    return amount_value(amount)


_TRIPS = ("trip", "zone", "leader", "authority", "status", "depart", "back", "crew", "papers", "note")
_HAULS = (
    *("haul", "trip", "kind", "start", "end", "site", "waterbody", "authority", "gear", "number"),
    *("latitude", "longitude", "radius_m", "confidence", "datum", "note"),
)
_LINES = (
    *("line", "haul", "trip", "caught", "authority", "taxon", "name_as_written", "doubt", "one_of", "fate"),
    *("low", "best", "high", "unit", "method", "stage", "sex", "person", "container", "measured_as", "note"),
)
_MEASURES = ("line", "taxon", "measure", "variant", "tenths")
_READINGS = ("trip", "haul", "time", "quantity", "value", "unit", "instrument", "note")
_MOVEMENTS = ("movement", "time", "what", "line", "taxon", "low", "best", "high", "to", "consent", "reason")
_FINDINGS = ("authority", "condition", "version", "outcome", "about", "label", "sentence", "settle", "records")


def _trips(facts: Facts) -> Iterable[list[Cell]]:
    for trip in sorted(facts.trips.values(), key=lambda one: one.id):
        crew = " | ".join(f"{member.person}:{member.role}" for member in trip.crew)
        papers = " | ".join(trip.papers) if trip.papers is not None else "not recorded"
        row = [trip.id, trip.zone, trip.leader, trip.authority, trip.status, _time(trip.depart), _time(trip.back)]
        yield [*row, crew, papers, trip.note]


def _hauls(facts: Facts) -> Iterable[list[Cell]]:
    for fact in facts.hauls:
        haul = fact.haul
        row: list[Cell] = [haul.id, fact.trip.id, haul.kind, _time(haul.start), _time(haul.end), haul.site]
        gear = haul.gear
        row += [
            haul.waterbody,
            haul.authority or fact.trip.authority,
            gear.gear if gear else "",
            gear.number if gear else "",
        ]
        if haul.fixes:
            fix = haul.fixes[0]
            radius: Cell = fix.radius_m if fix.radius_m is not None else ""
            row += [fix.lat, fix.lon, radius, fix.confidence, "WGS 84"]
        else:
            row += ["", "", "", "", ""]
        yield [*row, haul.note]


def _lines(facts: Facts) -> Iterable[list[Cell]]:
    for entry in facts.lines:
        line = entry.line
        row: list[Cell] = [
            line.id,
            entry.haul.haul.id,
            entry.haul.trip.id,
            _time(entry.at),
            entry.authority,
            line.taxon,
        ]
        row += [line.name_as_written, line.doubt, " | ".join(line.one_of), line.fate]
        row += [_amount(line.count.low), _amount(line.count.best), _amount(line.count.high), line.unit, line.method]
        yield [*row, line.stage, line.sex, entry.person, line.container, line.measured_as, line.note]


def _measures(facts: Facts) -> Iterable[list[Cell]]:
    for entry in facts.lines:
        for run in entry.line.measurements:
            for value in run.values:
                yield [entry.line.id, entry.line.taxon, run.measure, run.variant, value]


def _readings(facts: Facts) -> Iterable[list[Cell]]:
    for trip in sorted(facts.trips.values(), key=lambda one: one.id):
        places = [("", trip.readings), *((haul.id, haul.readings) for haul in trip.hauls)]
        for haul_id, readings in places:
            for one in readings:
                yield [trip.id, haul_id, _time(one.at), one.quantity, one.value, one.unit, one.instrument, one.note]


def _movements(facts: Facts) -> Iterable[list[Cell]]:
    for one in sorted(facts.season.movements, key=lambda move: (move.at, move.id)):
        count = (_amount(one.count.low), _amount(one.count.best), _amount(one.count.high))
        yield [one.id, _time(one.at), one.what, one.line, one.taxon, *count, one.to, one.consent, one.reason]


def _findings(judgement: Judgement) -> Iterable[list[Cell]]:
    for one in judgement.findings:
        records = " | ".join(one.records)
        yield [
            one.authority,
            one.number,
            one.version,
            one.outcome,
            one.about,
            one.label,
            one.sentence,
            one.settle,
            records,
        ]
