"""The field sheet: what a crew writes on when the phone stays dry or is dead. The paper twin of the phone's screens.

Made for waterproof paper and a pencil: black rules on white, boxes to be written in, the phone's own order of rows.
Every figure on it is as of the moment it was printed, which the sheet says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

import segno

from api.domain.calendar import parse_day, spoken_day, zone_named
from api.domain.conditions import Condition
from api.domain.limits_ahead import Ahead
from api.domain.permits import Authority
from api.domain.reckoning.wording import amount_number, amount_words, limit_words
from api.domain.remaining import Allowance
from api.domain.trips import Notice, Trip
from reports.document import (
    Block,
    BulletList,
    Document,
    Form,
    FormCell,
    FormRow,
    Heading,
    Note,
    PageBreak,
    Paragraph,
    Title,
)
from reports.drawing import BLACK, Drawing, Polygon, box

_MIDDLE_DOT = "\N{MIDDLE DOT}"
_SPARE_ROWS = 3
_ROW = 33.0  # 11.6 mm: room for a wet pencil
_QUIET_ZONE = 4  # modules of white around the code (ISO/IEC 18004)

SAFETY = (
    "Water, mud and cold kill; no record is worth a life. Flotation on, never alone, and a turn-back time before the "
    "tide. Out of the water at the first thunder. An open cut, a new tattoo or piercing stays out of warm brackish water "
    "or under a waterproof cover; gloves for shell and crabs; soap at once. Skin that reddens after contact: see a doctor "
    "the same day and say \N{LEFT DOUBLE QUOTATION MARK}salt water\N{RIGHT DOUBLE QUOTATION MARK}. Protected and "
    "egg-bearing animals go back first, then write. Local law, your safety officer, your doctor and the permit's own "
    "words come before this sheet."
)
CAVEAT = (
    "What is left is reckoned from the entries of the record and from limits as typed from the authority; it does not "
    "decide what is lawful. What was taken since the sheet was printed is not in it."
)
HOW = (
    "Tally in fives, or write a number. Tick \N{LEFT DOUBLE QUOTATION MARK}about\N{RIGHT DOUBLE QUOTATION MARK} where "
    "nobody counted one by one. An empty box means not counted; write 0 for none. Dead includes what dies before it is "
    "let go. Photograph every page before it leaves the creek: the code in the corner says whose it is."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxonRow:
    """A row of the sheet.

    ``allowance`` is None where no number can be told; ``listed`` says that the list of limits has it (material, which
    is measured and not counted). ``each`` tells that the number is that of one person, site, water or container;
    ``by_place`` names further limits of that kind: the sheet does not know the place, so what those begun have left
    stands in the list of limits.
    """

    taxon: str
    common: str = ""
    allowance: Allowance | None = None
    listed: bool = False
    each: bool = False
    by_place: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaterial:
    """What a field sheet is made from; ``at`` is the moment of printing, ``people`` gives names by id.

    ``hauls`` is the number of hauls that there is room for, ``words`` the conditions on sizes, stages and what is to be
    let go. ``authority`` is None where the trip names none; ``in_force`` tells whether it stands at the time of the work.
    """

    trip: Trip
    authority: Authority | None
    at: datetime
    people: dict[str, str]
    rows: tuple[TaxonRow, ...]
    limits: tuple[Ahead, ...]
    words: tuple[Condition, ...] = ()
    notices: tuple[Notice, ...] = ()
    hauls: int = 4
    in_force: bool = True
    demo: bool = False


def field_sheet(material: SheetMaterial) -> Document:
    """Lay out the sheet; the same material gives the same document."""
    trip, authority = material.trip, material.authority
    demo = f"DEMO DATA {_MIDDLE_DOT} " if material.demo else ""
    under = f" {_MIDDLE_DOT} {authority.kind} {authority.number}" if authority else ""
    blocks: list[Block] = [*_front(material)]
    for place in range(material.hauls):
        blocks += [PageBreak(), *_haul(material, len(trip.hauls) + 1 + place)]
    return Document(
        title=f"Field sheet of trip {trip.id}",
        language="en-GB",
        subject=f"Trip {trip.id}, to be written on paper",
        author=authority.holder if authority else "",
        created=material.at,
        running_head=f"{demo}Trip {trip.id}{under}",
        footer_lines=(f"Trip {trip.id} {_MIDDLE_DOT} what is left: {_as_of(material)}",),
        blocks=tuple(blocks),
        corner=code_of(trip.id),
        side_margin=34.0,
    )


def code_of(text: str) -> Drawing:
    """Draw a text as a QR code (ISO/IEC 18004, error correction M), one point a module."""
    matrix = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    side = len(matrix) + 2 * _QUIET_ZONE
    rings = tuple(
        box(start, side - y - 1, start + length, side - y)
        for y, row in enumerate(matrix, start=_QUIET_ZONE)
        for start, length in _dark(row)
    )
    return Drawing(side, side, (Polygon(rings, stroke=None, fill=BLACK),), f"QR code of the trip's code, {text}")


def _dark(row: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Give the dark stretches of a row of modules: where each starts and how long it is."""
    x = _QUIET_ZONE
    for dark, group in groupby(row):
        length = len(list(group))
        if dark:
            yield x, length
        x += length


def _as_of(material: SheetMaterial) -> str:
    local = material.at.astimezone(zone_named(material.trip.zone))
    return f"as of {local:%H:%M}, {local.day} {local:%B %Y}"


def _name(material: SheetMaterial, person: str) -> str:
    return material.people.get(person, person)


# --- the front


def _front(material: SheetMaterial) -> list[Block]:
    blocks: list[Block] = [Title(f"Field sheet {material.trip.id}")]
    if material.demo:
        blocks.append(Note("caution", "Invented people, place, permit and catch.", word="Demo data"))
    blocks += [
        Form("Trip", (1.0, 1.0, 1.0, 1.0), tuple(_trip_rows(material))),
        Note("caution", SAFETY, word="Safety"),
        Note("note", HOW, word="Writing"),
        *_left(material),
    ]
    if material.words:
        blocks.append(Heading(2, "Sizes, stages and what is to be let go"))
        blocks.append(BulletList(tuple(f"{one.number}  {one.text}" for one in material.words)))
    return blocks


def _trip_rows(material: SheetMaterial) -> Iterator[FormRow]:
    trip, authority = material.trip, material.authority
    zone = zone_named(trip.zone)
    depart = trip.depart.astimezone(zone) if trip.depart else None
    day, leaves = (spoken_day(depart.date()), f"{depart:%H:%M}") if depart else ("", "")
    yield FormRow(
        (
            FormCell(trip.id, label="Trip"),
            FormCell(day, label="Day"),
            FormCell(leaves, label="Leaves at (planned)"),
            FormCell(_name(material, trip.leader), label="Leader"),
        ),
        30,
    )
    crew = ", ".join(f"{_name(material, one.person)} ({one.role})" for one in trip.crew)
    yield FormRow((FormCell(crew, label="Crew", span=4),), 30)
    if authority:
        valid = f"{spoken_day(parse_day(authority.first_day))} to {spoken_day(parse_day(authority.last_day))}"
        named = f"{authority.kind} {authority.number}, {authority.issuer}"
        yield FormRow((FormCell(named, label="Authority", span=2), FormCell(valid, label="Valid", span=2)), 30)
    else:
        yield FormRow((FormCell("none named for this trip", label="Authority", span=4),), 30)
    told = "; ".join(f"{one.to}, {_moment(one.sent, trip.zone)}" for one in material.notices if not one.cancels)
    yield FormRow((FormCell(told or "none recorded", label="Notice given", span=4),), 30)
    if trip.note:
        yield FormRow((FormCell(trip.note, label="Note", span=4),), 30)
    yield FormRow(
        tuple(FormCell(label=one) for one in ("Left at", "Back at", "Gear cleaned: how, minutes", "Written by")), 34
    )


def _moment(at: datetime, zone: str) -> str:
    local = at.astimezone(zone_named(zone))
    return f"{spoken_day(local.date())} {local:%H:%M}"


def _left(material: SheetMaterial) -> list[Block]:
    """Give what every limit leaves."""
    heading = Heading(1, f"What is left, {_as_of(material)}")
    if material.authority is None:
        return [heading, Paragraph("The trip names no authority, so no limit can be reckoned for it.")]
    if not material.in_force:
        text = (
            "The authority does not stand at the time of this trip's work: no number is reckoned, and none may be relied "
            "on."
        )
        return [heading, Note("caution", text, word="Out of term")]
    if not material.limits:
        return [heading, Paragraph("The authority sets no limit on take.")]
    head = FormRow(
        tuple(FormCell(one, head=True, size="small") for one in ("No.", "Of what", "Limit", "Left", "Given to trip"))
    )
    rows = tuple(_limit_rows(material.limits))
    form = Form("What is left under each limit", (0.8, 6.2, 1.8, 1.2, 1.4), rows, head)
    note = (
        "Given to trip: what this trip has left of what it was given of a limit; keep to the smaller number. "
        "\N{LEFT DOUBLE QUOTATION MARK}Each\N{RIGHT DOUBLE QUOTATION MARK} in a row is the number of one person, site or "
        "water. What may have been taken counts as taken."
    )
    return [heading, form, Paragraph(f"{note} {CAVEAT}", small=True)]


def _limit_rows(limits: Sequence[Ahead]) -> Iterator[FormRow]:
    """Give a row for each tally; of names that each have a tally, those begun stand in one row together."""
    for (number, label, many), group in groupby(limits, key=lambda one: (one.number, one.label, one.by_name)):
        tallies = list(group)
        if not many:
            yield from (_limit_row(one) for one in tallies)
            continue
        yield _limit_row(tallies[0])
        if len(tallies) > 1:
            begun = ", ".join(f"{one.whose} {_left_words(one)}" for one in tallies[1:])
            cells = (
                FormCell(number, head=True, size="small"),
                FormCell(f"{label + ': ' if label else ''}less is left of {begun}", span=4, size="small"),
            )
            yield FormRow(cells, 15)


def _limit_row(one: Ahead) -> FormRow:
    what = one.what if one.label in ("", one.what) or one.label.startswith("per ") else f"{one.what}: {one.label}"
    about = [what, one.container, one.whose, one.period]
    if one.beyond:
        about.append(f"once {one.beyond} are taken")
    given = "" if one.given is None or one.rest is None else amount_words(one.rest, one.unit)
    if given and one.rest != one.given:
        given = f"{given} of {amount_number(one.given or 0)}"
    cells = (
        FormCell(one.number, head=True, size="small"),
        FormCell(f" {_MIDDLE_DOT} ".join(part for part in about if part), size="small"),
        FormCell(limit_words(one.limit, one.operator, one.unit), size="small"),
        FormCell(_left_words(one), size="small"),
        FormCell(given, size="small"),
    )
    return FormRow(cells, 15)


def _left_words(one: Ahead) -> str:
    words = amount_words(one.left.low, one.unit)
    short = one.operator == "fewer than" and one.unit != "individuals" and one.left.low
    return f"under {words}" if short else words


# --- a haul


def _haul(material: SheetMaterial, number: int) -> list[Block]:
    """Give the page of one haul: when, where and how, a row for each taxon, and the sums."""
    code = material.trip.id
    when = (
        FormRow(
            (
                FormCell(label="Start (hh:mm)"),
                FormCell(label="End (hh:mm)"),
                FormCell(label="Gear, and its length or number"),
                FormCell(label="Site"),
                FormCell(label="Nothing caught", tick="tick"),
            ),
            32,
        ),
        FormRow(
            (
                FormCell(label="Temp., \N{DEGREE SIGN}C"),
                FormCell(label="Salinity"),
                FormCell(label="Position: latitude, longitude, \N{PLUS-MINUS SIGN} m"),
                FormCell(label="Water (creek, bay)"),
                FormCell(label="Who collected"),
            ),
            32,
        ),
    )
    head = FormRow(
        tuple(FormCell(one, head=True) for one in ("Taxon", "Left", "Kept", "Released", "Dead", "Lengths, mm"))
    )
    rows = [_taxon_row(one) for one in material.rows]
    rows += [_blank_row() for _ in range(_SPARE_ROWS)]
    sums = FormRow(
        tuple(
            FormCell(label=one) for one in ("All encountered", "= kept", "+ released", "+ dead", "+ lost, uncounted")
        ),
        32,
    )
    return [
        Heading(1, f"{code} {_MIDDLE_DOT} haul {number}"),
        Form(f"Trip {code}, haul {number}", (1.0, 1.0, 2.4, 1.6, 1.3), when),
        Form(f"Trip {code}, haul {number}, catch", (5.0, 1.8, 3.0, 3.0, 2.1, 3.1), tuple(rows), head),
        Form(
            f"Trip {code}, haul {number}, sums",
            (1.0, 1.0, 1.0, 1.0, 1.0),
            (sums, FormRow((FormCell(label="Note", span=5),), 34)),
        ),
    ]


def _taxon_row(row: TaxonRow) -> FormRow:
    left, why = _room(row)
    cells = (
        FormCell(row.taxon, under=row.common, head=True),
        FormCell(left, under=why, size="large"),
        *_boxes(),
    )
    return FormRow(cells, _ROW)


def _room(row: TaxonRow) -> tuple[str, str]:
    """Give the number that may still be kept, and what decides it."""
    allowance = row.allowance
    if allowance is None:
        return "", "see list" if row.listed else ""
    if allowance.more is None or allowance.binding is None:
        return "", f"see {', '.join(row.by_place)}" if row.by_place else "no limit"
    binding = allowance.binding
    word = "let go" if binding.by == "prohibition" else "" if allowance.more else "stop"
    # Once nothing is left it does not matter whose it was.
    whose = "" if word else "given" if binding.by == "allotment" else "each" if row.each else ""
    parts = (word, binding.number, whose, *(f"+{number}" for number in row.by_place))
    return amount_number(allowance.more), " ".join(part for part in parts if part)


def _blank_row() -> FormRow:
    return FormRow((FormCell(head=True), FormCell(), *_boxes()), _ROW)


def _boxes() -> tuple[FormCell, ...]:
    return (FormCell(tick="about"), FormCell(tick="about"), FormCell(tick="about"), FormCell())
