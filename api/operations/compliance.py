"""The season as it stands in the store, judged: findings, and the balance of every limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.domain.facts import Facts
from api.domain.judge import Answer
from api.domain.reckoning.hauls import worst
from api.domain.rules.finding import Finding
from api.domain.vocabulary import Outcome
from api.entities.audit import AuditHead
from api.entities.people import Organisation
from api.operations.checking import Checked, Loaded, check
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

    @property
    def mark(self) -> str:
        """Tell one answer from another: the same mark means the same answer."""
        return f"{self.changes}-{self.checked.facts.as_of:%Y%m%d%H%M}"


def judged(store: Store) -> Judged:
    """Judge the season as it stands now; the answer is kept until something changes or the minute is over."""
    as_of = store.clock().replace(second=0, microsecond=0)
    with store.reading() as session:
        changes = session.get_one(AuditHead, 1).changes
        held: Judged | None = store.shared.get("judged")
        if held is None or (held.changes, held.checked.facts.as_of) != (changes, as_of):
            loaded = Loaded(current_book(session, store.shared), season_from(session), ())
            held = store.shared["judged"] = Judged(changes, check(loaded, as_of))
    return held


def changes_now(store: Store) -> int:
    """Give the number of the last change of the season."""
    with store.reading() as session:
        return session.get_one(AuditHead, 1).changes


def is_demo(store: Store) -> bool:
    """Tell whether the store holds the sample season for show."""
    with store.reading() as session:
        organisation = session.get(Organisation, 1)
        return organisation is not None and organisation.demo


def outcome_under(held: Judged, authority: str) -> Outcome:
    """Give the gravest outcome under an authority."""
    return worst([answer.outcome for answer in answers_under(held, authority)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which findings are asked for; "" asks for all."""

    authority: str = ""
    trip: str = ""
    condition: str = ""
    outcome: str = ""


def findings(held: Judged, asked: Asked) -> list[Finding]:
    """Give the findings asked for, in the authorities' own order."""
    wanted = _records_of_trip(held.checked.facts, asked.trip)
    return [
        finding
        for finding in held.checked.judgement.findings
        if asked.authority in ("", finding.authority)
        and asked.condition in ("", finding.number)
        and asked.outcome in ("", finding.outcome)
        and (wanted is None or not wanted.isdisjoint(finding.records))
    ]


def _records_of_trip(facts: Facts, trip: str) -> set[str] | None:
    """Give the codes of a trip, its hauls and its lines; None where no trip is asked for."""
    if not trip:
        return None
    stands = facts.trips.get(trip)
    if stands is None:
        return set()
    return {trip, *(haul.id for haul in stands.hauls), *(line.id for haul in stands.hauls for line in haul.lines)}


def answers_under(held: Judged, authority: str) -> list[Answer]:
    """Give the answers of one authority in its own order; raises UnknownAuthorityError."""
    known = [one.id for one in held.checked.facts.book.authorities]
    if authority not in known:
        raise UnknownAuthorityError(authority, known)
    return [answer for answer in held.checked.judgement.answers if answer.authority == authority]


@dataclass(frozen=True, slots=True)
class Balance:
    """The standing of one condition that limits an amount: every tally of it."""

    answer: Answer
    findings: tuple[Finding, ...]


def balances(held: Judged, authority: str) -> list[Balance]:
    """Give the standing of every limit of an authority; raises UnknownAuthorityError."""
    return [
        Balance(answer, tallied)
        for answer in answers_under(held, authority)
        if (tallied := tuple(one for one in answer.findings if one.tally is not None))
    ]
