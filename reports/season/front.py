"""The first page: the permit, the statement of the season, and the answer in half a page."""

from __future__ import annotations

from api.domain.calendar import local_day, parse_day, spoken_day, spoken_time
from api.domain.permits import versions_of
from api.domain.reckoning.wording import plural
from reports.document import Block, Fact, Heading, KeyValues, Mark, Note, Paragraph, Title
from reports.season.material import Material
from reports.season.totals import printed, sums_by_fate
from reports.season.whereabouts import held_sum

CAVEAT = (
    "This report compares the entries of the record with limits as typed from the authority by its holder. "
    "It does not decide what is lawful."
)


def front(material: Material) -> list[Block]:
    """Give the first page's blocks."""
    authority, edition = material.authority, material.edition
    kind = f"Revision {edition.revision}" if edition.revision else "Original"
    period = f"{spoken_day(parse_day(authority.first_day))} to {spoken_day(parse_day(authority.last_day))}"
    blocks: list[Block] = [
        Title(
            "Season report of collecting",
            (f"{authority.kind.capitalize()} {authority.number}", authority.title, f"{period} \N{MIDDLE DOT} {kind}"),
        ),
        *_warnings(material),
        KeyValues(tuple(_permit_facts(material, period, kind))),
        Heading(1, "Statement of the season"),
        *_statement(material),
    ]
    if edition.changes:
        blocks.append(
            Note("note", f"Replaces {edition.replaces}. Changed: {'; '.join(edition.changes)}", word="Revision")
        )
    blocks.append(Paragraph(CAVEAT, small=True))
    return blocks


def _warnings(material: Material) -> list[Block]:
    """Say at once what no reader may miss: invented data, and rows that could not be read."""
    blocks: list[Block] = []
    if material.edition.demo:
        blocks.append(
            Note("caution", "Invented people, place, permit and catch. Not a report to be filed.", word="Demo data")
        )
    number = len(material.edition.left_out)
    if number:
        text = (
            f"Files had {plural(number, 'fault')} and were used in part: what could not be read is in no figure and no "
            "answer below. Each fault is listed under 'Estimates, gaps and corrections'."
        )
        blocks.append(Note("caution", text, word="Partial"))
    return blocks


def _permit_facts(material: Material, period: str, kind: str) -> list[Fact]:
    authority = material.authority
    facts = [
        Fact("Number", authority.number),
        Fact("Issued by", authority.issuer),
        Fact("Holder", authority.holder),
        Fact("Address", authority.address),
        Fact("Contact", authority.contact),
        Fact("Purpose", authority.purpose),
        Fact("Period reported", period),
    ]
    facts.extend(
        Fact(version.title.capitalize(), f"in force from {spoken_time(version.begins, material.zone)}")
        for version in versions_of(authority)
        if version.begins is not None
    )
    made = spoken_time(material.facts.as_of, material.zone)
    facts.append(Fact("Edition", f"{kind}; record as it stood on {made} ({authority.zone})"))
    return [fact for fact in facts if fact.value]


def _statement(material: Material) -> list[Block]:
    trips = [trip for trip in material.trips if trip.status in ("open", "closed")]
    if not trips:
        return [
            Note("note", "No collecting took place under this authority in the period reported.", word="Nil return")
        ]
    blocks: list[Block] = []
    handled = sums_by_fate(material.animals)
    if not material.lines:
        text = (
            f"{plural(len(trips), 'trip')} with {plural(len(material.hauls), 'haul or set', 'hauls and sets')} took place; "
            "nothing was caught and nothing was taken. The effort is shown below."
        )
        blocks.append(Note("note", text, word="Nil catch"))
    days = sorted({fact.day(material.zone) for fact in material.hauls})
    empty = sum(not fact.haul.lines for fact in material.hauls)
    nothing = "of which with no readable line" if material.edition.left_out else "of which with nothing caught"
    rows = [
        Fact("Trips", str(len(trips)), figure="season/trips"),
        Fact("Hauls and sets", str(len(material.hauls)), figure="season/hauls"),
        Fact(nothing, str(empty), figure="season/nil-hauls"),
        Fact("Animals captured or handled", printed(handled.handled), figure="season/handled"),
        Fact("Kept alive", printed(handled.kept), figure="season/kept"),
        Fact("Released alive", printed(handled.released), figure="season/released"),
        Fact("Died in the field", printed(handled.dead), figure="season/dead"),
        Fact("Lost, uncounted on landing", printed(handled.lost), figure="season/lost"),
        Fact("Held alive now", printed(held_sum(material)), figure="season/held"),
        Fact("Catch lines", str(len(material.lines)), figure="season/lines"),
    ]
    if days:
        rows.insert(1, Fact("First and last day", f"{spoken_day(days[0])} and {spoken_day(days[-1])}"))
    blocks.append(KeyValues(tuple(rows), caption="The season in numbers"))
    blocks.extend(_verdicts(material))
    return blocks


def _verdicts(material: Material) -> list[Block]:
    """Say in a line each what is wrong, what is open and what is unfinished."""
    outcomes = {answer.number: answer.outcome for answer in material.answers}
    counts = {word: sum(found == word for found in outcomes.values()) for word in ("met", "broken", "open", "not used")}
    text = (
        f"Of {len(outcomes)} conditions {counts['met']} met, {counts['broken']} not met, {counts['open']} open, "
        f"{counts['not used']} not used."
    )
    blocks: list[Block] = [Paragraph(text)]
    lists: tuple[tuple[str, Mark, str], ...] = (
        ("broken", "broken", 'Departures, each listed under "Conditions, one by one"'),
        ("open", "open", 'Cannot be told from the record; what would settle it stands under "Conditions, one by one"'),
    )
    for outcome, mark, words in lists:
        numbers = [number for number, found in outcomes.items() if found == outcome]
        if numbers:
            blocks.append(Note(mark, f"{words}: {', '.join(numbers)}."))
    unfinished = [trip for trip in material.trips if trip.status == "open"]
    if unfinished:
        named = ", ".join(
            f"{trip.id} ({spoken_day(local_day(trip.depart or material.facts.as_of, material.zone))})"
            for trip in unfinished
        )
        blocks.append(Note("caution", f"Unfinished trips are included as far as recorded: {named}.", word="Unfinished"))
    if material.judgement.unassigned:
        number = len(material.judgement.unassigned)
        blocks.append(
            Note(
                "open",
                f"{plural(number, 'catch line')} of the season stand under no authority and are not in this report.",
            )
        )
    return blocks
