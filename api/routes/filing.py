"""Season reports: what would be filed, filing, replacing, and every revision as it was filed."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from api.operations import filing
from api.operations.report_drafts import Unresolved, draft
from api.operations.reports_filed import ReportTold, filed_pdf, filed_reports
from api.routes.deps import Administrator, Reader, SettingsHere, StoreHere, actor_of
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["filing"])


class UnresolvedRead(BaseModel):
    """What stands against a report; ``condition`` is "" for a line under no authority and a trip not closed."""

    condition: str
    outcome: Literal["broken", "open"]
    sentence: str
    settle: str

    @classmethod
    def of(cls, one: Unresolved) -> UnresolvedRead:
        """Make it of what is unresolved."""
        return cls.model_validate(one.to_json())


class DraftRead(BaseModel):
    """What would be filed now: its revision, what it would replace ("" for none) and what changed since that.

    ``conditions`` are those that ask for a report; where there are several, a filing names one.
    """

    authority: str
    as_of: datetime
    revision: int
    replaces: str
    conditions: list[str]
    unresolved: list[UnresolvedRead]
    changes: list[str]


class ReportRead(BaseModel):
    """A filed report. ``affected``: records that it tells of were amended or added since; ``since`` says which."""

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
    unresolved: list[UnresolvedRead]
    affected: bool
    since: list[str]

    @classmethod
    def of(cls, report: ReportTold) -> ReportRead:
        """Make it of what is told of a report."""
        return cls.model_validate(
            {
                **{name: getattr(report, name) for name in cls.model_fields},
                "unresolved": [UnresolvedRead.of(one) for one in report.unresolved],
                "since": list(report.since),
            }
        )


class ReportsRead(BaseModel):
    """A page of an authority's filed reports, the newest revision first; ``total`` is the number of all."""

    total: int
    reports: list[ReportRead]


class CertifiedSent(Sent):
    """Who certifies the report."""

    name: str = Field(max_length=200)
    title: str = Field(max_length=200)


class FilingSent(CertifiedSent):
    """A report to be filed; ``condition`` may be left out where only one asks for a report."""

    condition: str = Field(default="", max_length=64)


@router.get("/authorities/{authority}/reports/draft")
def read_filing_draft(authority: str, store: StoreHere, _asking: Reader) -> DraftRead:
    """Tell what would be filed for an authority now, with everything that is not resolved."""
    told = draft(store, authority)
    return DraftRead(
        authority=told.authority,
        as_of=told.as_of,
        revision=told.revision,
        replaces=told.replaces,
        conditions=list(told.conditions),
        unresolved=[UnresolvedRead.of(one) for one in told.unresolved],
        changes=list(told.changes),
    )


@router.get("/authorities/{authority}/reports")
def list_reports(
    authority: str,
    store: StoreHere,
    _asking: Reader,
    start: Annotated[int, Query(ge=0, le=2**31)] = 0,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> ReportsRead:
    """Give the reports filed for an authority, each with what has changed in its records since."""
    total, reports = filed_reports(store, authority, start=start, limit=limit)
    return ReportsRead(total=total, reports=[ReportRead.of(one) for one in reports])


@router.post("/authorities/{authority}/reports", status_code=201)
def file_report(
    authority: str, body: FilingSent, store: StoreHere, settings: SettingsHere, asking: Administrator
) -> ReportRead:
    """File the season report as the record stands now; a report that is filed already is replaced by a revision."""
    told = filing.file_report(
        store,
        settings.files,
        actor_of(asking),
        authority,
        name=body.name,
        title=body.title,
        condition=body.condition,
    )
    return ReportRead.of(told)


@router.post("/reports/{report}/revisions", status_code=201)
def amend_report(
    report: str, body: CertifiedSent, store: StoreHere, settings: SettingsHere, asking: Administrator
) -> ReportRead:
    """File a revision that replaces this report; the file of this one stays as it is."""
    told = filing.amend_report(store, settings.files, actor_of(asking), report, name=body.name, title=body.title)
    return ReportRead.of(told)


@router.get(
    "/reports/{report}/report.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}, "description": "The report, byte for byte as it was filed"}},
)
def download_report(report: str, store: StoreHere, settings: SettingsHere, _asking: Reader) -> Response:
    """Give a filed report's PDF."""
    name, content = filed_pdf(store, settings.files, report)
    safe = "".join(char for char in name if (char.isascii() and char.isalnum()) or char in "-_.")
    headers = {"Content-Disposition": f'attachment; filename="{safe}"', "Cache-Control": "private, no-cache"}
    return Response(content, media_type="application/pdf", headers=headers)
