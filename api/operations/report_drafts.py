"""What would be filed now: what stands against it, and what changed since the report that it would replace."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, func, select

from api.domain.conditions import ReportRule
from api.domain.corrections import changes_since, corrections_since
from api.domain.facts import Facts
from api.domain.judge import Judgement
from api.domain.reckoning.wording import amount_number, count_words
from api.entities.catches import CatchLine
from api.entities.filings import FiledReport
from api.entities.hauls import HaulRecord
from api.entities.sync import Change
from api.entities.trips import TripRecord
from api.exchange.correction_words import field_words
from api.operations import compliance
from api.store.unit_of_work import Store

MINUS = "\N{MINUS SIGN}"
_MOST_NAMED = 20


@dataclass(frozen=True, slots=True)
class Unresolved:
    """What stands against a report: a condition broken or open, a line under no authority, a trip not closed.

    ``condition`` is "" for what belongs to none; ``settle`` says of what is open how it can be settled.
    """

    condition: str
    outcome: str
    sentence: str
    settle: str

    def to_json(self) -> dict[str, str]:
        """Give it as it is kept with a filed report."""
        return {
            "condition": self.condition,
            "outcome": self.outcome,
            "sentence": self.sentence,
            "settle": self.settle,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What would be filed now. ``conditions`` are those that ask for a report; a filing names one of several.

    ``replaces`` is the id of the report that it would replace ("" for none), ``changes`` what differs from that.
    """

    authority: str
    as_of: datetime
    revision: int
    replaces: str
    conditions: tuple[str, ...]
    unresolved: tuple[Unresolved, ...]
    changes: tuple[str, ...]


def draft(store: Store, authority: str) -> Draft:
    """Tell what would be filed for an authority now; raises compliance.UnknownAuthorityError."""
    held = compliance.judged(store)
    compliance.check_authority(held.checked.facts.book, authority)
    facts = held.checked.facts
    with store.reading() as session:
        last = last_report(session, authority)
        late = late_codes(session, last)
    return Draft(
        authority=authority,
        as_of=facts.as_of,
        revision=last.revision + 1 if last else 0,
        replaces=last.id if last else "",
        conditions=report_conditions(facts, authority),
        unresolved=tuple(unresolved(facts, held.checked.judgement, authority)),
        changes=tuple(changes_in_words(facts, last, late)) if last else (),
    )


def report_conditions(facts: Facts, authority: str) -> tuple[str, ...]:
    """Give the numbers of the conditions in force that ask for a report."""
    return tuple(
        number
        for number, clauses in facts.clauses[authority].items()
        if any(isinstance(one.condition, ReportRule) and one.holds_at(facts.as_of) for one in clauses)
    )


def unresolved(facts: Facts, judgement: Judgement, authority: str) -> Iterator[Unresolved]:
    """Tell what stands against a report, in the authority's own order, then lines without one and trips not closed."""
    for finding in judgement.findings:
        if finding.authority == authority and finding.outcome in ("broken", "open"):
            yield Unresolved(finding.number, finding.outcome, finding.sentence, finding.settle)
    for code in judgement.unassigned:
        line = facts.lines_by_id[code].line
        said = f"Catch line {code} ({line.taxon}, {line.fate}, {count_words(line.count, line.unit)}) stands under no authority."
        yield Unresolved("", "open", said, "Say under which authority it was caught.")
    for trip in facts.trips_under(authority):
        if trip.status == "open":
            yield Unresolved("", "open", f"Trip {trip.id} is not closed.", "Close it when everything of it is here.")


def changes_in_words(facts: Facts, last: FiledReport, late: Sequence[str]) -> Iterator[str]:
    """Say what changed in an authority's records since its report was filed; nothing where nothing did."""
    since = changes_since(facts, last.authority, last.filed_at)
    for taxon, change in sorted(since.items()):
        size = change if change > 0 else -change
        yield f"catch of {taxon} {'+' if change > 0 else MINUS}{amount_number(size)}"
    amended = corrections_since(facts, last.authority, last.filed_at)
    if amended:
        yield f"amended: {_named(f'{one.record} ({field_words(one.field)})' for one in amended)}"
    added = [code for code in late if _belongs(facts, code, last.authority)]
    if added:
        yield f"added: {_named(added)}"


def _belongs(facts: Facts, code: str, authority: str) -> bool:
    """Tell whether a line, haul or trip (its code) is reported on under an authority."""
    entry = facts.lines_by_id.get(code)
    if entry is not None:
        return entry.authority == authority
    hauls = (fact.haul.id for fact in facts.hauls_under.get(authority, ()))
    return code in hauls or code in (trip.id for trip in facts.trips_under(authority))


def _named(codes: Iterable[str]) -> str:
    """Name records, the first of them where there are many."""
    every = list(dict.fromkeys(codes))
    more = f" and {len(every) - _MOST_NAMED} more" if len(every) > _MOST_NAMED else ""
    return ", ".join(every[:_MOST_NAMED]) + more


def last_report(session: Session, authority: str) -> FiledReport | None:
    """Give the revision of an authority's report that stands; None where none was filed."""
    query = select(FiledReport).where(FiledReport.authority == authority)
    return session.exec(query.order_by(col(FiledReport.revision).desc()).limit(1)).first()


def late_codes(session: Session, report: FiledReport | None) -> tuple[str, ...]:
    """Give the codes of trips, hauls and lines that came after a report was filed; of a whole trip its own alone."""
    if report is None:
        return ()
    own = (col(Change.kind) == "filing", col(Change.record) == report.filing)
    filed = session.exec(select(func.min(Change.seq)).where(*own)).one()
    new = (col(Change.version) == 1, col(Change.seq) > filed)
    trips = session.exec(select(Change.record).where(Change.kind == "trip", *new)).all()
    codes: list[str] = []
    for kind, table in (("trip", TripRecord), ("haul", HaulRecord), ("line", CatchLine)):
        query = select(table.code).join(Change, col(Change.record) == col(table.id)).where(Change.kind == kind, *new)
        if kind != "trip":
            query = query.where(col(Change.trip_id).not_in(trips))
        codes.extend(session.exec(query.order_by(col(Change.seq))).all())
    return tuple(codes)
