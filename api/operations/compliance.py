"""The season as it stands in the store, judged: findings, and the balance of every limit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime

from api.domain.facts import Book
from api.domain.judge import Answer
from api.domain.live.season import LiveSeason, Question
from api.domain.reckoning.hauls import worst
from api.domain.rules.finding import Finding
from api.domain.vocabulary import Outcome
from api.entities.audit import AuditHead
from api.entities.people import Organisation
from api.operations.checking import Checked, Loaded, check
from api.operations.living import season_now
from api.operations.paper import trips_from_paper
from api.operations.trips import code_of
from api.store.books import current_book
from api.store.seasons import season_from
from api.store.unit_of_work import Store


class UnknownAuthorityError(ValueError):
    """There is no authority of that id; carries it and those there are."""

    def __init__(self, authority: str, known: Sequence[str]) -> None:
        self.authority = authority
        super().__init__(f"there is no authority '{authority[:80]}'; those here are {', '.join(known) or 'none yet'}")


@dataclass(frozen=True, slots=True)
class Judged:
    """The season judged as of a moment; ``changes`` is the number of the last change that is in it."""

    changes: int
    checked: Checked


def judged(store: Store) -> Judged:
    """Judge the season whole, as a report needs it; the answer is kept until something changes or the minute is over."""
    with store.reading() as session:
        changes = session.get_one(AuditHead, 1).changes
        now = store.clock()
        held: Judged | None = store.shared.get("judged")
        if held is None or held.changes != changes or _minute(held.checked.facts.as_of) != _minute(now):
            loaded = Loaded(current_book(session, store.shared), season_from(session), ())
            checked = replace(check(loaded, now), from_paper=trips_from_paper(session))
            held = store.shared["judged"] = Judged(changes, checked)
    return held


def _minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def changes_now(store: Store) -> int:
    """Give the number of the last change of the season."""
    with store.reading() as session:
        return session.get_one(AuditHead, 1).changes


def is_demo(store: Store) -> bool:
    """Tell whether the store holds the sample season for show."""
    with store.reading() as session:
        organisation = session.get(Organisation, 1)
        return organisation is not None and organisation.demo


@dataclass(frozen=True, slots=True)
class Standing:
    """One condition as it stands now: its gravest outcome, how many findings there are of each, and what they are."""

    authority: str
    number: str
    text: str
    kind: str
    outcome: Outcome
    findings: Callable[[], Sequence[Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which findings are asked for; "" asks for all."""

    authority: str = ""
    trip: str = ""
    condition: str = ""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class Now:
    """The season as it stands now. ``mark`` tells one answer from another: the same mark means the same answer."""

    mark: str
    as_of: datetime
    book: Book
    standings: tuple[Standing, ...]
    of_trip: Callable[[str], list[Finding]]

    def outcome_under(self, authority: str) -> Outcome:
        """Give the gravest outcome under an authority."""
        return worst([one.outcome for one in self.under(authority)])

    def under(self, authority: str) -> list[Standing]:
        """Give the conditions of one authority in its own order; raises UnknownAuthorityError."""
        check_authority(self.book, authority)
        return [one for one in self.standings if one.authority == authority]

    def findings(self, asked: Asked) -> list[Finding]:
        """Give the findings asked for, in the authorities' own order."""
        if asked.trip:
            found = self.of_trip(asked.trip)
        else:
            found = [
                finding
                for one in self.standings
                if asked.authority in ("", one.authority) and asked.condition in ("", one.number)
                for finding in one.findings()
            ]
        return [
            finding
            for finding in found
            if asked.authority in ("", finding.authority)
            and asked.condition in ("", finding.number)
            and asked.outcome in ("", finding.outcome)
        ]

    def limits_on(self, trip: str, line: str = "") -> set[tuple[str, str]]:
        """Give the limits (authority and number) in whose tallies a trip stands, or one of its lines; by their codes."""
        limits = [one for one in self.of_trip(trip) if one.tally is not None]
        return {(one.authority, one.number) for one in limits if not line or line in one.records}

    def balances(self, authority: str) -> list[Balance]:
        """Give the standing of every limit of an authority; raises UnknownAuthorityError."""
        return [
            Balance(one, tallied)
            for one in self.under(authority)
            if one.kind in TALLIED
            if (tallied := tuple(finding for finding in one.findings() if finding.tally is not None))
        ]


TALLIED = frozenset({"take limit", "share limit"})
"""Kinds of conditions whose findings bear a tally."""


@dataclass(frozen=True, slots=True)
class Balance:
    """The standing of one condition that limits an amount: every tally of it."""

    standing: Standing
    findings: tuple[Finding, ...]


def looked_up(finding: Finding) -> Finding:
    """Give a finding with its records looked up, so that it may be kept while the season goes on."""
    return replace(finding, records=tuple(finding.records), over=tuple(finding.over))


def trip_code(store: Store, named: str) -> str:
    """Give a trip's code, by which findings are found, by its id or code; what is neither is given back as it is."""
    if not named:
        return ""
    with store.reading() as session:
        return code_of(session, named)


def check_authority(book: Book, authority: str) -> None:
    """Raise UnknownAuthorityError for an authority that is not there."""
    known = [one.id for one in book.authorities]
    if authority not in known:
        raise UnknownAuthorityError(authority, known)


@contextmanager
def now(store: Store) -> Iterator[Now]:
    """Hold the season as it stands now; only what changed since the last look is judged.

    While kept animals stand under no authority yet, though they may stand under several, the season is judged
    whole: the one proposed for them hangs on everything else.
    """
    with season_now(store) as (season, mark):
        yield _judged_whole(store, mark) if season.undecided else _as_it_grew(season, mark)


def _as_it_grew(season: LiveSeason, mark: str) -> Now:
    def of_trip(trip: str) -> list[Finding]:
        return [finding for _, finding in season.touching(trip)]

    standings = tuple(_standing(one) for one in season.questions)
    return Now(mark, season.base.as_of, season.base.book, standings, of_trip)


def _standing(question: Question) -> Standing:
    authority = question.authority.id
    return Standing(authority, question.number, question.text, question.kind, question.outcome, question.ordered)


def _judged_whole(store: Store, mark: str) -> Now:
    held = judged(store)
    facts, judgement = held.checked.facts, held.checked.judgement

    def of_trip(trip: str) -> list[Finding]:
        stands = facts.trips.get(trip)
        if stands is None:
            return []
        own = {trip, *(haul.id for haul in stands.hauls), *(line.id for haul in stands.hauls for line in haul.lines)}
        return [finding for finding in judgement.findings if not own.isdisjoint(finding.records)]

    standings = tuple(_answered(one) for one in judgement.answers)
    return Now(f"{mark}-{_minute(facts.as_of):%Y%m%d%H%M}", facts.as_of, facts.book, standings, of_trip)


def _answered(answer: Answer) -> Standing:
    return Standing(answer.authority, answer.number, answer.text, answer.kind, answer.outcome, lambda: answer.findings)
