"""What was authorised and what was taken, side by side, in the authority's own order, with plots."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from api.domain.calendar import local_day, parse_day
from api.domain.counts import Amount, Count
from api.domain.reckoning.fullest import fullest_of_each, used, weight
from api.domain.reckoning.tallies import specs_of
from api.domain.rules.finding import Finding, Tally
from reports.document import Block, Cell, Column, Figure, Heading, Mark, Paragraph, Row, Table
from reports.plots import Level, step_plot
from reports.season.material import Material
from reports.season.totals import number, ranged

LIMIT_KINDS = ("take limit",)
MARKS: dict[str, Mark] = {"met": "met", "broken": "broken", "open": "open", "not used": "unknown"}
WORDS = {"met": "Met", "broken": "Not met", "open": "Open", "not used": "Not used"}
_PLOTS = 4


def limits(material: Material) -> list[Block]:
    """Give the section that sets limits beside take."""
    rows: list[Row] = []
    for answer in material.answers:
        if answer.kind in LIMIT_KINDS:
            rows.extend(_rows(material, answer.number, answer.text, answer.findings))
    table = Table(
        "Authorised and taken, one row for each limit and its fullest period",
        (
            Column("No.", 0.6, kind="heading"),
            Column("As issued, and the period that is fullest", 5.2),
            Column("Authorised", 1.2, kind="number"),
            Column("Taken", 1.3, kind="number"),
            Column("Used", 1.2, kind="number"),
            Column("Left", 1.1, kind="number"),
            Column("Answer", 1.4),
            Column("Trace", 0.7),
        ),
        tuple(rows),
        empty="The authority sets no limits on take.",
    )
    note = (
        "Where names, places or counts are in doubt, taken and left are given from their lowest to their highest. Further "
        "periods stand in annex C."
    )
    return [Heading(1, "Authorised and taken"), Paragraph(note, small=True), table, *_plots(material)]


def _rows(material: Material, number_: str, text: str, findings: tuple[Finding, ...]) -> list[Row]:
    """Give one row for each limit of a condition: its fullest or gravest tally."""
    by_label = fullest_of_each(findings)
    if not by_label:
        return list(_unused(material, number_, text))
    shown_text = text
    rows = []
    for label, finding in by_label.items():
        rows.append(_row(material, number_, shown_text, label, finding))
        shown_text = ""
    return rows


def _unused(material: Material, number_: str, text: str) -> Iterator[Row]:
    """Give the limits of a condition under which nothing was taken, each with what it authorises."""
    words = text
    for spec in specs_of(material.facts.clauses[material.authority.id][number_][-1]):
        amount = number(spec.amount) if spec.whole else f"{number(spec.amount)} {spec.unit}"
        allowed = amount if spec.operator == "at most" else f"under {amount}"
        what = "\n".join(part for part in (words, _capital(spec.label)) if part)
        numbers = (Cell(allowed), Cell("0"), Cell("0 %"), Cell(allowed))
        yield Row((Cell(number_), Cell(what), *numbers, Cell(WORDS["not used"], mark=MARKS["not used"]), Cell()))
        words = ""


def _row(material: Material, number_: str, text: str, label: str, finding: Finding) -> Row:
    tally = finding.tally
    if tally is None:
        raise ValueError("a row of limits needs a tally")
    key = f"limits/{number_}/{label}"
    mark = material.trace(f"Condition {number_}{f', {label}' if label else ''}: {finding.about}", finding.records)
    where = finding.about if not label or label.startswith("per ") else f"{label}: {finding.about}"
    words = f"{text}\n{_capital(where)}" if text else _capital(where)
    operator = "" if tally.operator == "at most" else "under "
    return Row(
        (
            Cell(number_),
            Cell(f"{words}{_aside(finding)}"),
            Cell(f"{operator}{with_unit(tally.limit, tally)}"),
            Cell(_taken(tally), figure=f"{key}/taken"),
            Cell(_used(tally), figure=f"{key}/used"),
            Cell(_left(tally), figure=f"{key}/left"),
            Cell(WORDS[finding.outcome], mark=MARKS[finding.outcome]),
            Cell(mark, link=f"trace-{mark}"),
        )
    )


def _aside(finding: Finding) -> str:
    """Say why a limit that stands above may yet be kept."""
    tally = finding.tally
    lowered = finding.outcome == "met" and tally is not None and not tally.here.high and tally.before.low > tally.limit
    return "\nAll taken before the limit was lowered, none since." if lowered else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def with_unit(amount: Amount, tally: Tally) -> str:
    """Print an amount with its unit; individuals bear none."""
    return number(amount) if tally.unit == "individuals" else f"{number(amount)} {tally.unit}"


def _taken(tally: Tally) -> str:
    text = ranged(tally.after) if tally.unit == "individuals" else f"{ranged(tally.after)} {tally.unit}"
    return f"{text} ({number(tally.estimated)} est.)" if tally.estimated else text


def _left(tally: Tally) -> str:
    if tally.unit == "individuals":
        return ranged(tally.left)
    short = "under " if tally.operator == "fewer than" else ""
    return f"{short}{ranged(tally.left)} {tally.unit}"


def _used(tally: Tally) -> str:
    low, high = used(tally)
    if low is None or high is None:
        return "\N{EN DASH}"
    return f"{low} %" if low == high else f"{low} to {high} %"


def _plots(material: Material) -> list[Block]:
    """Draw the running take of the limits that ran fullest over a year or the term."""
    first, last = parse_day(material.authority.first_day), parse_day(material.authority.last_day)
    long = [
        finding
        for answer in material.answers
        if answer.kind in LIMIT_KINDS
        for finding in answer.findings
        if finding.tally
        and finding.tally.unit == "individuals"
        and ("year" in finding.about or "term" in finding.about)
    ]
    latest = {(finding.number, finding.label): finding for finding in long}
    fullest = sorted(latest.values(), key=weight, reverse=True)[:_PLOTS]
    blocks: list[Block] = []
    for finding in sorted(fullest, key=lambda one: _place(material, one)):
        levels = _levels(material, finding, first, last)
        if levels and finding.tally:
            name = f"Condition {finding.number}{f', {finding.label}' if finding.label else ''}"
            alt = (
                f"Step plot of the running take under {name.lower()}: {finding.tally.after.best} at the end of "
                f"the season against a limit of {finding.tally.limit}."
            )
            drawing = step_plot(
                levels, _limit_steps(material, finding, first), first=first, last=last, y_title="Animals taken", alt=alt
            )
            blocks.append(Figure(drawing, f"{name}: running take against the limit."))
    return blocks


def _place(material: Material, finding: Finding) -> int:
    """Give where a finding's condition stands in the authority's own order: 2.2 before 2.10."""
    return [answer.number for answer in material.answers].index(finding.number)


def _limit_steps(material: Material, finding: Finding, first: date) -> list[tuple[date, float]]:
    """Give the limit from each day on: one step for every version in which this limit stood."""
    steps: list[tuple[date, float]] = []
    for clause in material.facts.clauses[material.authority.id][finding.number]:
        for spec in specs_of(clause):
            if spec.label == finding.label:
                day = local_day(clause.begins, material.zone) if clause.begins else first
                if not steps or steps[-1][1] != float(spec.amount):
                    steps.append((day, float(spec.amount)))
    return steps


def _levels(material: Material, finding: Finding, first: date, last: date) -> list[Level]:
    """Give the running sums day by day of the lines behind a finding, drawn up to its own total."""
    tally = finding.tally
    if tally is None:
        return []
    by_day: dict[date, Count] = {}
    for record in finding.records:
        entry = material.facts.lines_by_id[record]
        day = entry.day(material.zone)
        if first <= day <= last:
            by_day[day] = by_day.get(day, Count(0, 0, 0)) + entry.line.count
    levels, running = [], Count(0, 0, 0)
    for day in sorted(by_day):
        running += by_day[day]
        low, best, high = (
            min(float(sum_), float(cap))
            for sum_, cap in zip(
                (running.low, running.best, running.high),
                (tally.after.low, tally.after.best, tally.after.high),
                strict=True,
            )
        )
        levels.append(Level(day, low, max(low, best), max(low, best, high)))
    return levels
