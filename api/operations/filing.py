"""The season report drafted, filed by a named person, and replaced by a revision; what was filed stays as it was.

Freezing a season and setting its PDF takes seconds, so it is done outside of any transaction. A short one then
writes everything, if no change came in between; else it is all done anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sqlmodel import Session, col, func, select

from api.domain.calendar import local_day, spoken_time
from api.domain.conditions import ReportRule
from api.domain.corrections import changes_since, corrections_since
from api.domain.facts import Facts
from api.domain.judge import Judgement
from api.domain.reckoning.wording import amount_number, count_words
from api.domain.trips import Filing
from api.entities.audit import AuditHead
from api.entities.authorities import Document
from api.entities.catches import CatchLine
from api.entities.columns import NAME_LENGTH
from api.entities.filings import FiledReport
from api.entities.hauls import HaulRecord
from api.entities.papers import FilingRecord
from api.entities.people import Organisation, Person
from api.entities.sync import Change
from api.entities.trips import TripRecord
from api.exchange.correction_words import field_words
from api.exchange.printable import one_line
from api.exchange.snapshot import Snapshot
from api.operations import compliance
from api.operations.accounts import NotAllowedError, must_administer
from api.operations.checking import Checked, Loaded, check
from api.operations.paper import trips_from_paper
from api.operations.reporting import frozen, report_pdf
from api.store import files, records
from api.store.books import current_book
from api.store.documents import keep_document
from api.store.ids import new_id
from api.store.seasons import Stamp, season_from
from api.store.unit_of_work import SYSTEM, Actor, Store, Work
from reports.season.material import Anchor, Certification

MOST_TRIES = 5
"""So often a report is frozen anew because the record changed while its pages were set."""

PDF = "application/pdf"
_MOST_NAMED = 20
MINUS = "\N{MINUS SIGN}"


class FilingError(ValueError):
    """A report cannot be filed; the text says why, and how to mend it."""


class CertificationError(FilingError):
    """Who certifies was not said; carries which part is missing."""

    def __init__(self, missing: str) -> None:
        self.missing = missing
        super().__init__(f"a report is certified by a named person: give their {missing}")


class ReportConditionError(FilingError):
    """A filing has to name the condition that asks for it; carries what was given and those there are."""

    def __init__(self, given: str, known: Sequence[str]) -> None:
        self.given, self.known = given, tuple(known)
        said = f"condition '{given[:60]}' asks for no report" if given else "several conditions ask for a report"
        listed = ", ".join(known) if known else "none; leave it out"
        super().__init__(f"{said}; those that do are {listed}")


class UnknownReportError(FilingError):
    """There is no such filed report; carries the id."""

    def __init__(self, report: str) -> None:
        self.report = report
        super().__init__(f"there is no filed report '{report[:80]}'; take an id from the list of reports")


class SupersededError(FilingError):
    """A report that was to be replaced has been replaced; carries the revision that stands, who filed it and when."""

    def __init__(self, revision: int, by: str, at: datetime) -> None:
        self.revision, self.by, self.at = revision, by, at
        super().__init__(
            f"{by} has replaced this report: revision {revision} was filed {at:%Y-%m-%d %H:%M} UTC; "
            "look at that one, and replace it if it is wrong too"
        )


class RecordInMotionError(FilingError):
    """The record changed each time a report was frozen; carries how often it was tried."""

    def __init__(self, tries: int) -> None:
        self.tries = tries
        super().__init__(
            f"the record changed each of the {tries} times that the report was made from it, and nothing was filed; "
            "file it again when the phones have delivered"
        )


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


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportTold:
    """A filed report. ``since`` says what has changed in its records since, in words; () where nothing has."""

    id: str
    authority: str
    condition: str
    revision: int
    replaces: str
    filing: str
    snapshot_sha256: str
    pdf_sha256: str
    certified_name: str
    certified_title: str
    filed_by: str
    filed_by_name: str
    filed_at: datetime
    changes: str
    unresolved: tuple[Unresolved, ...]
    since: tuple[str, ...] = ()

    @property
    def affected(self) -> bool:
        """Whether a record that it tells of was amended or added after it was filed."""
        return bool(self.since)


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


# --- drafts


def draft(store: Store, authority: str) -> Draft:
    """Tell what would be filed for an authority now; raises compliance.UnknownAuthorityError."""
    held = compliance.judged(store)
    compliance.check_authority(held.checked.facts.book, authority)
    facts = held.checked.facts
    with store.reading() as session:
        last = _last_report(session, authority)
        late = _late(session, last)
    return Draft(
        authority=authority,
        as_of=facts.as_of,
        revision=last.revision + 1 if last else 0,
        replaces=last.id if last else "",
        conditions=report_conditions(facts, authority),
        unresolved=tuple(unresolved(facts, held.checked.judgement, authority)),
        changes=tuple(_changes(facts, last, late)) if last else (),
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


def _changes(facts: Facts, last: FiledReport, late: Sequence[str]) -> Iterator[str]:
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


# --- filing


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
        replaced = _report(session, report)
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
    last = _last_report(session, authority)
    organisation = session.get(Organisation, 1)
    demo = organisation is not None and organisation.demo
    return _Season(head.changes, audit, checked, last, _late(session, last), demo)


def _last_report(session: Session, authority: str) -> FiledReport | None:
    query = select(FiledReport).where(FiledReport.authority == authority)
    return session.exec(query.order_by(col(FiledReport.revision).desc()).limit(1)).first()


def _late(session: Session, report: FiledReport | None) -> tuple[str, ...]:
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
        changes=tuple(_changes(facts, last, season.late)) or ("nothing in trips, hauls and catch lines",),
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
    return _told(row, work.session.get_one(Person, row.filed_by).name)


# --- what was filed


def filed_reports(store: Store, authority: str, *, start: int = 0, limit: int = 50) -> tuple[int, list[ReportTold]]:
    """Give the number of an authority's filed reports, and a page of them, the newest revision first.

    Raises compliance.UnknownAuthorityError.
    """
    held = compliance.judged(store)
    compliance.check_authority(held.checked.facts.book, authority)
    facts, query = held.checked.facts, select(FiledReport).where(FiledReport.authority == authority)
    with store.reading() as session:
        number = session.exec(select(func.count()).select_from(query.subquery())).one()
        rows = session.exec(query.order_by(col(FiledReport.revision).desc()).offset(start).limit(limit)).all()
        names = {one: session.get_one(Person, one).name for one in {row.filed_by for row in rows}}
        return number, [
            _told(row, names[row.filed_by], tuple(_changes(facts, row, _late(session, row)))) for row in rows
        ]


def filed_pdf(store: Store, folder: Path, report: str) -> tuple[str, bytes]:
    """Give a filed report's file, byte for byte as it was filed, and its name.

    Raises UnknownReportError; files.DamagedFileError where the kept file is not what was filed.
    """
    with store.reading() as session:
        row = _report(session, report)
        name = session.get_one(Document, row.pdf_sha256).name
    return name, files.kept(folder, row.pdf_sha256)


def _report(session: Session, named: str) -> FiledReport:
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    row = session.get(FiledReport, named) if named.isprintable() else None
    if row is None:
        raise UnknownReportError(named)
    return row


def _told(row: FiledReport, filed_by: str, since: tuple[str, ...] = ()) -> ReportTold:
    fields = row.model_dump(exclude={"replaces", "unresolved"})
    against = tuple(Unresolved(**one) for one in row.unresolved)
    return ReportTold(**fields, replaces=row.replaces or "", unresolved=against, filed_by_name=filed_by, since=since)
