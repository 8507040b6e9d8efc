"""The season-end report put together: sections in the order the authority asks, annex, page furniture."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from reports.document import Attachment, Block, ContentsList, Document, Heading, PageBreak, Paragraph, SignatureBox
from reports.season.annex import annex
from reports.season.catch import catch, names_in_doubt, other_material, sizes
from reports.season.conditions import conditions
from reports.season.effort import effort
from reports.season.front import front
from reports.season.limits import limits
from reports.season.material import Material
from reports.season.places import places
from reports.season.records import candour, certification, encounters, people, water
from reports.season.whereabouts import whereabouts

Section = Callable[[Material], list[Block]]

SECTIONS: dict[str, Section] = {
    "limits": limits,
    "conditions": conditions,
    "catch": catch,
    "places": places,
    "effort": effort,
    "sizes": sizes,
    "encounters": encounters,
    "whereabouts": whereabouts,
    "other material": other_material,
    "names in doubt": names_in_doubt,
    "water": water,
    "people": people,
    "estimates, gaps and corrections": candour,
}
"""The sections by the names an authority may order them under."""


def season_report(material: Material, attachments: tuple[Attachment, ...] = ()) -> Document:
    """Lay out the report; the same material gives the same document."""
    authority = material.authority
    wanted = list(dict.fromkeys([*authority.report_sections, *SECTIONS]))
    blocks = [*front(material), PageBreak(), ContentsList(depth=1)]
    for name in wanted:
        section = SECTIONS.get(name)
        blocks.extend(section(material) if section else _asked(name))
    blocks.extend(certification(material))
    blocks.extend(annex(material))
    demo = "DEMO DATA \N{MIDDLE DOT} " if material.edition.demo else ""
    revision = f", revision {material.edition.revision}" if material.edition.revision else ""
    return Document(
        title=f"Season report of collecting under {authority.number}{revision}",
        language="en-GB",
        subject=f"{authority.title}, {authority.first_day} to {authority.last_day}",
        author=authority.holder,
        created=material.facts.as_of,
        running_head=f"{demo}{authority.kind.capitalize()} {authority.number} \N{MIDDLE DOT} {authority.holder}",
        footer_lines=tuple(_marks(material)),
        blocks=tuple(_numbered(blocks)),
        attachments=attachments,
    )


def _marks(material: Material) -> Iterator[str]:
    """Give what the foot of every page bears: the snapshot's hash and, once filed, that of the audit's last entry."""
    yield f"Snapshot SHA-256 {material.edition.fingerprint}"
    audit = material.edition.audit
    if audit is not None:
        yield f"Audit entry {audit.entry} SHA-256 {audit.hash}"


def _asked(question: str) -> list[Block]:
    """Give a question of the authority's own, with a place to answer it."""
    return [
        Heading(1, question),
        Paragraph("Asked by the authority; to be answered by the holder."),
        SignatureBox(("Answer",)),
    ]


def _numbered(blocks: list[Block]) -> list[Block]:
    """Give the blocks with their sections numbered; annexes carry letters of their own."""
    numbered: list[Block] = []
    number = 0
    for block in blocks:
        if isinstance(block, Heading) and block.level == 1 and not block.text.startswith("Annex"):
            number += 1
            numbered.append(replace(block, text=f"{number}  {block.text}"))
        else:
            numbered.append(block)
    return numbered
