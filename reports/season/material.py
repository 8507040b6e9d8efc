"""What the report is made from: one authority's records and answers, nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from api.domain.facts import Facts, HaulFact, LineFact
from api.domain.judge import Answer, Judgement
from api.domain.permits import Authority
from api.domain.trips import Trip


@dataclass(frozen=True, slots=True)
class Certification:
    """Who certifies a filed report, and the day of filing in the authority's zone (ISO 8601)."""

    name: str
    title: str
    day: str


@dataclass(frozen=True, slots=True)
class Anchor:
    """An entry of the audit chain, by its number and its hash (SHA-256, hex)."""

    entry: int
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition:
    """Which edition of the report this is, and the fingerprint of the snapshot it is made from.

    ``left_out`` are the faults of files that were used in part, ``notes`` what reads oddly; ``from_paper`` the trips of
    which phones said that something was entered from paper; ``demo`` marks an invented season. ``certified`` and
    ``audit``, the last audit entry when the records were frozen, are None for a draft.
    """

    fingerprint: str
    revision: int = 0
    replaces: str = ""
    changes: tuple[str, ...] = ()
    tool: str = ""
    left_out: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    from_paper: tuple[str, ...] = ()
    demo: bool = False
    certified: Certification | None = None
    audit: Anchor | None = None


@dataclass(slots=True)
class Material:
    """The season of one authority. ``authority`` is the one that is reported on."""

    authority: Authority
    facts: Facts
    judgement: Judgement
    edition: Edition
    lines: list[LineFact] = field(default_factory=list)
    hauls: list[HaulFact] = field(default_factory=list)
    trips: list[Trip] = field(default_factory=list)
    row_of: dict[str, int] = field(default_factory=dict)
    haul_row_of: dict[str, int] = field(default_factory=dict)
    traces: dict[str, tuple[str, tuple[str, ...]]] = field(default_factory=dict)

    @classmethod
    def of(cls, authority: Authority, facts: Facts, judgement: Judgement, edition: Edition) -> Material:
        """Gather what stands under the authority, in order of capture."""
        material = cls(authority, facts, judgement, edition)
        material.lines = [entry for entry in facts.lines if entry.authority == authority.id]
        material.hauls = list(facts.hauls_under.get(authority.id, ()))
        material.trips = facts.trips_under(authority.id)
        material.row_of = {entry.line.id: row for row, entry in enumerate(material.lines, start=1)}
        material.haul_row_of = {fact.haul.id: row for row, fact in enumerate(material.hauls, start=1)}
        return material

    @property
    def zone(self) -> str:
        """The authority's own zone."""
        return self.authority.zone

    @property
    def animals(self) -> list[LineFact]:
        """The lines that count individuals."""
        return [entry for entry in self.lines if entry.line.unit == "individuals"]

    @property
    def materials(self) -> list[LineFact]:
        """The lines that measure material in litres or grams."""
        return [entry for entry in self.lines if entry.line.unit != "individuals"]

    @property
    def answers(self) -> list[Answer]:
        """The answers on the authority's conditions, in its own order."""
        return [answer for answer in self.judgement.answers if answer.authority == self.authority.id]

    def person(self, name: str) -> str:
        """Give a person's name by id."""
        return self.facts.season.people.get(name, name)

    def site(self, name: str) -> str:
        """Give a site's name by id."""
        return self.facts.season.sites.get(name, name)

    def common(self, taxon: str) -> str:
        """Give a taxon's common name, "" where none is listed."""
        return self.facts.book.taxa.taxa[taxon].common

    def trace(self, title: str, records: Iterable[str]) -> str:
        """Note which catch rows stand behind a figure; gives the mark printed beside it."""
        mark = f"F{len(self.traces) + 1}"
        self.traces[mark] = (title, tuple(records))
        return mark


Grouping = Callable[[LineFact], str]


def grouped(entries: Iterable[LineFact], key: Grouping) -> dict[str, list[LineFact]]:
    """Sort lines into groups, in order of the groups' names."""
    groups: dict[str, list[LineFact]] = {}
    for entry in entries:
        groups.setdefault(key(entry), []).append(entry)
    return dict(sorted(groups.items()))


def ranges(rows: Iterable[int]) -> str:
    """Give row numbers as people read them: "3, 5-8, 12"."""
    parts: list[list[int]] = []
    for row in sorted(set(rows)):
        if parts and row == parts[-1][1] + 1:
            parts[-1][1] = row
        else:
            parts.append([row, row])
    return ", ".join(str(first) if first == last else f"{first}\N{EN DASH}{last}" for first, last in parts)
