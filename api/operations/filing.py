"""The season report filed by a named person, and replaced by a revision; what was filed stays as it was.

Freezing a season and setting its PDF takes seconds, so it is done outside of any transaction. A short one then
writes everything, if no change came in between; else it is all done anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sqlmodel import Session

from api.domain.calendar import local_day, spoken_time
from api.domain.facts import Facts
from api.domain.trips import Filing
from api.entities.audit import AuditHead
from api.entities.columns import NAME_LENGTH
from api.entities.filings import FiledReport
from api.entities.papers import FilingRecord
from api.entities.people import Organisation, Person
from api.exchange.printable import one_line
from api.exchange.snapshot import Snapshot
from api.operations import compliance
from api.operations.accounts import NotAllowedError, must_administer
from api.operations.checking import Checked, Loaded, check
from api.operations.filing_errors import (
    CertificationError,
    RecordInMotionError,
    ReportConditionError,
    SupersededError,
)
from api.operations.paper import trips_from_paper
from api.operations.report_drafts import changes_in_words, last_report, late_codes, report_conditions, unresolved
from api.operations.reporting import frozen, report_pdf
from api.operations.reports_filed import PDF, ReportTold, report_named, told_of
from api.store import records
from api.store.books import current_book
from api.store.documents import keep_document
from api.store.ids import new_id
from api.store.seasons import Stamp, season_from
from api.store.unit_of_work import SYSTEM, Actor, Store, Work
from reports.season.material import Anchor, Certification

MOST_TRIES = 5
"""So often a report is frozen anew because the record changed while its pages were set."""


@dataclass(frozen=True, slots=True)
class Certified:
    """Who certifies a report, by name and title."""

    name: str
    title: str

    @classmethod
    def of(cls, name: str, title: str) -> Certified:
        """Make it of what was typed; raises CertificationError for a blank one."""
        clean = {"name": one_line(name).strip()[:NAME_LENGTH], "title": one_line(title).strip()[:NAME_LENGTH]}
        for part, text in clean.items():
            if not text:
                raise CertificationError(part)
        return cls(**clean)


@dataclass(frozen=True, slots=True)
class _Season:
    """The season as it stands at one change, with the report that a new one would replace."""

    changes: int
    audit: Anchor
    checked: Checked
    last: FiledReport | None
    late: tuple[str, ...]
    demo: bool

    def zone(self, authority: str) -> str:
        """Give an authority's own zone."""
        return self.checked.facts.book.authority(authority).zone


def file_report(
    store: Store, folder: Path, actor: Actor, authority: str, *, name: str, title: str, condition: str = ""
) -> ReportTold:
    """File the season report of an authority as the record stands now, certified by a named person.

    ``folder`` is where documents are kept. Where one is filed already, this is a revision that replaces it.
    Raises accounts.NotAllowedError, compliance.UnknownAuthorityError, CertificationError, ReportConditionError
    and RecordInMotionError.
    """
    return _file(store, folder, actor, authority, Certified.of(name, title), condition=condition)


def amend_report(store: Store, folder: Path, actor: Actor, report: str, *, name: str, title: str) -> ReportTold:
    """File a revision that replaces a filed report and says what changed since; the replaced one stays as it was.

    Raises UnknownReportError, SupersededError where another revision has replaced it, and as ``file_report``.
    """
    certified = Certified.of(name, title)
    with store.reading() as session:
        replaced = report_named(session, report)
    return _file(
        store, folder, actor, replaced.authority, certified, condition=replaced.condition, replaced=replaced.id
    )


def _file(
    store: Store,
    folder: Path,
    actor: Actor,
    authority: str,
    certified: Certified,
    *,
    condition: str,
    replaced: str = "",
) -> ReportTold:
    for _ in range(MOST_TRIES):
        with store.reading() as session:
            _must_file(session, actor)
            season = _season(store, session, authority)
            _check_standing(session, season.last, replaced)
        # A revision answers what the one before it answered, whatever an amendment made of that condition.
        asked = condition if replaced else _condition(season.checked.facts, authority, condition)
        signed = _signed(season, authority, certified)
        snapshot = _frozen(season, authority, signed)
        pdf = report_pdf(snapshot)
        with store.writing(actor) as work:
            _must_file(work.session, actor)
            # The pages bear the day of filing, so they are set anew where midnight came in between.
            same_day = signed.day == local_day(work.at, season.zone(authority)).isoformat()
            if same_day and work.head.changes == season.changes:
                return _write(work, folder, season, snapshot, pdf, certified, asked)
    raise RecordInMotionError(MOST_TRIES)


def _must_file(session: Session, actor: Actor) -> None:
    must_administer(session, actor, "file reports")
    if actor.person == SYSTEM:
        raise NotAllowedError(SYSTEM, "file reports: a report is filed by a person")


def _season(store: Store, session: Session, authority: str) -> _Season:
    """Read and judge the season as it stands in a session; raises compliance.UnknownAuthorityError."""
    head = session.get_one(AuditHead, 1)
    audit = Anchor(head.seq, head.hash)
    book = current_book(session, store.shared)
    known = [one.id for one in book.authorities]
    if authority not in known:
        raise compliance.UnknownAuthorityError(authority, known)
    checked = check(Loaded(book, season_from(session), ()), store.clock())
    checked = replace(checked, from_paper=trips_from_paper(session))
    last = last_report(session, authority)
    organisation = session.get(Organisation, 1)
    demo = organisation is not None and organisation.demo
    return _Season(head.changes, audit, checked, last, late_codes(session, last), demo)


def _check_standing(session: Session, last: FiledReport | None, replaced: str) -> None:
    """Raise SupersededError where the report that is to be replaced is not the last one."""
    if replaced and last is not None and last.id != replaced:
        raise SupersededError(last.revision, session.get_one(Person, last.filed_by).name, last.filed_at)


def _condition(facts: Facts, authority: str, given: str) -> str:
    """Give the number of the condition that a filing answers, "" where none asks for a report."""
    known = report_conditions(facts, authority)
    if given and given not in known:
        raise ReportConditionError(given, known)
    if not given and len(known) > 1:
        raise ReportConditionError("", known)
    return given or "".join(known)


def _signed(season: _Season, authority: str, certified: Certified) -> Certification:
    """Give who certifies with the day on which the season is frozen."""
    day = local_day(season.checked.facts.as_of, season.zone(authority))
    return Certification(certified.name, certified.title, day.isoformat())


def _frozen(season: _Season, authority: str, certified: Certification) -> Snapshot:
    """Freeze the season as the next revision, which says what it replaces and what changed."""
    last, facts = season.last, season.checked.facts
    if last is None:
        return frozen(season.checked, authority, demo=season.demo, certified=certified, audit=season.audit)
    what = f"revision {last.revision}" if last.revision else "the original"
    when = spoken_time(last.filed_at, season.zone(authority))
    return frozen(
        season.checked,
        authority,
        revision=last.revision + 1,
        replaces=f"{what}, filed {when}, snapshot {last.snapshot_sha256}",
        changes=tuple(changes_in_words(facts, last, season.late)) or ("nothing in trips, hauls and catch lines",),
        demo=season.demo,
        certified=certified,
        audit=season.audit,
    )


def _write(
    work: Work, folder: Path, season: _Season, snapshot: Snapshot, pdf: bytes, certified: Certified, condition: str
) -> ReportTold:
    """Write a revision: its document, the filing that answers the condition, and its own row."""
    authority, revision, last = snapshot.authority, int(snapshot.meta["revision"]), season.last
    name = f"season-report-{authority}-revision-{revision}.pdf"
    mark = keep_document(work, folder, pdf, name, PDF)
    filing = Filing(
        id=new_id(), authority=authority, condition=condition, filed=work.at, by=work.actor.person, proof=mark
    )
    stamp = Stamp(work.at, work.actor.device or work.actor.person)
    work.insert(FilingRecord, {**stamp.row, **records.filing_row(filing)})
    against = [one.to_json() for one in unresolved(snapshot.facts, snapshot.judgement, authority)]
    row = FiledReport(
        id=new_id(),
        authority=authority,
        condition=condition,
        revision=revision,
        replaces=last.id if last else None,
        filing=filing.id,
        snapshot_sha256=snapshot.fingerprint,
        pdf_sha256=mark,
        unresolved=against,
        certified_name=certified.name,
        certified_title=certified.title,
        filed_by=work.actor.person,
        filed_at=work.at,
        changes="; ".join(str(one) for one in snapshot.meta["changes"]),
    )
    work.insert(FiledReport, row.model_dump())
    told = {"authority": authority, "condition": condition, "revision": revision, "replaces": row.replaces or ""}
    told |= {"snapshot": row.snapshot_sha256, "pdf": mark, "unresolved": len(against), "changes": row.changes}
    told |= {"certified by": certified.name, "title": certified.title}
    work.note("report filed", f"report {row.id}", told)
    work.changed("filing", filing.id, 1)
    return told_of(row, work.session.get_one(Person, row.filed_by).name)
