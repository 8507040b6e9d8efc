"""The reports that were filed, as they were filed, and whether the record has changed since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlmodel import Session, col, func, select

from api.entities.authorities import Document
from api.entities.filings import FiledReport
from api.entities.people import Person
from api.operations import compliance
from api.operations.filing_errors import UnknownReportError
from api.operations.report_drafts import Unresolved, changes_in_words, late_codes
from api.store import files
from api.store.unit_of_work import Store

PDF = "application/pdf"


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
            told_of(row, names[row.filed_by], tuple(changes_in_words(facts, row, late_codes(session, row))))
            for row in rows
        ]


def filed_pdf(store: Store, folder: Path, report: str) -> tuple[str, bytes]:
    """Give a filed report's file, byte for byte as it was filed, and its name.

    Raises UnknownReportError; files.DamagedFileError where the kept file is not what was filed.
    """
    with store.reading() as session:
        row = report_named(session, report)
        name = session.get_one(Document, row.pdf_sha256).name
    return name, files.kept(folder, row.pdf_sha256)


def report_named(session: Session, named: str) -> FiledReport:
    """Give a filed report by its id; raises UnknownReportError."""
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    row = session.get(FiledReport, named) if named.isprintable() else None
    if row is None:
        raise UnknownReportError(named)
    return row


def told_of(row: FiledReport, filed_by: str, since: tuple[str, ...] = ()) -> ReportTold:
    """Give a filed report as it is told, with the name of who filed it."""
    fields = row.model_dump(exclude={"replaces", "unresolved"})
    against = tuple(Unresolved(**one) for one in row.unresolved)
    return ReportTold(**fields, replaces=row.replaces or "", unresolved=against, filed_by_name=filed_by, since=since)
