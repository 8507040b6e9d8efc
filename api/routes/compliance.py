"""The authorities, what the season's record says against them, and the draft of its report."""

from __future__ import annotations

import zlib
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel

from api.domain.reckoning.fullest import standing_for
from api.operations import allotting, compliance
from api.operations.compliance import Asked
from api.operations.conflicts import pending
from api.operations.reporting import frozen, report_pdf
from api.routes.deps import Reader, StoreHere
from api.routes.shapes import FindingRead

router = APIRouter(prefix="/api", tags=["compliance"])


class AuthorityRead(BaseModel):
    """A permit or licence, and how it stands."""

    id: str
    kind: str
    number: str
    title: str
    issuer: str
    holder: str
    zone: str
    first_day: str
    last_day: str
    outcome: Literal["met", "broken", "open", "not used"]


class AllottedRead(BaseModel):
    """What is given to one trip of one tally and not yet given back; of the tallies' ``left`` it is not taken off."""

    trip: str
    label: str
    name: str
    first_day: str
    unit: str
    amount: float


class PendingRead(BaseModel):
    """A record in the limit's tallies of which a phone has another version; a person is to decide (a conflict)."""

    conflict: str
    kind: str
    record: str
    trip: str


class BalanceRead(BaseModel):
    """The standing of one condition that limits an amount: its tallies, what crews hold of it, what is undecided.

    ``fullest`` holds the places in ``tallies`` of those that the report shows, one for each limit of the condition; the
    first of them stands for the whole.
    """

    number: str
    text: str
    kind: str
    outcome: Literal["met", "broken", "open", "not used"]
    tallies: list[FindingRead]
    fullest: list[int]
    allotted: list[AllottedRead]
    pending: list[PendingRead]


class FindingsRead(BaseModel):
    """A page of findings; ``total`` is the number of all that were asked for."""

    total: int
    findings: list[FindingRead]


def _unchanged(request: Request, response: Response, mark: str) -> bool:
    """Set the answer's mark (ETag) and tell whether the caller has this answer already."""
    response.headers["ETag"] = f'"{mark}"'
    response.headers["Cache-Control"] = "private, no-cache"
    return request.headers.get("if-none-match") == f'"{mark}"'


@router.get("/authorities")
def list_authorities(store: StoreHere, _asking: Reader) -> list[AuthorityRead]:
    """Give every authority in the organisation's own order, with the gravest outcome under it."""
    with compliance.now(store) as now:
        book, outcomes = now.book, {one.id: now.outcome_under(one.id) for one in now.book.authorities}
    return [
        AuthorityRead(
            id=one.id,
            kind=one.kind,
            number=one.number,
            title=one.title,
            issuer=one.issuer,
            holder=one.holder,
            zone=one.zone,
            first_day=one.first_day,
            last_day=one.last_day,
            outcome=outcomes[one.id],
        )
        for one in book.authorities
    ]


@router.get("/authorities/{authority}/balance", responses={304: {"description": "Unchanged since the given ETag"}})
def read_balance(
    authority: str, request: Request, response: Response, store: StoreHere, _asking: Reader
) -> list[BalanceRead] | None:
    """Give what was taken and what is left under each limit, as low, best and high."""
    undecided = pending(store)
    seen = zlib.crc32("".join(one.conflict for one in undecided).encode())
    with compliance.now(store) as now:
        compliance.check_authority(now.book, authority)
        if _unchanged(request, response, f"{now.mark}-{seen:08x}"):
            response.status_code = 304
            return None
        waiting = [(one, now.limits_on(one.trip, one.record if one.kind == "line" else "")) for one in undecided]
        found = [
            (one.standing, [FindingRead.of(each) for each in one.findings], standing_for(one.findings))
            for one in now.balances(authority)
        ]
    held_by_crews: dict[str, list[AllottedRead]] = {}
    for told in allotting.allotments(store, state="open"):
        if told.authority == authority:
            read = AllottedRead(
                trip=told.code,
                label=told.label,
                name=told.name,
                first_day=told.first_day,
                unit=told.unit,
                amount=told.amount,
            )
            held_by_crews.setdefault(told.number, []).append(read)
    return [
        BalanceRead(
            number=standing.number,
            text=standing.text,
            kind=standing.kind,
            outcome=standing.outcome,
            tallies=tallies,
            fullest=fullest,
            allotted=held_by_crews.get(standing.number, []),
            pending=[
                PendingRead(conflict=one.conflict, kind=one.kind, record=one.record, trip=one.trip)
                for one, limits in waiting
                if (authority, standing.number) in limits
            ],
        )
        for standing, tallies, fullest in found
    ]


@router.get("/findings", responses={304: {"description": "Unchanged since the given ETag"}})
def list_findings(
    request: Request,
    response: Response,
    store: StoreHere,
    _asking: Reader,
    authority: Annotated[str, Query(max_length=64)] = "",
    trip: Annotated[str, Query(max_length=64)] = "",
    condition: Annotated[str, Query(max_length=64)] = "",
    outcome: Literal["", "met", "broken", "open", "not used"] = "",
    start: Annotated[int, Query(ge=0, le=2**31)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> FindingsRead | None:
    """Give the answers to conditions, narrowed by authority, trip (its id or code), condition and outcome."""
    code = compliance.trip_code(store, trip)
    with compliance.now(store) as now:
        if _unchanged(request, response, now.mark):
            response.status_code = 304
            return None
        found = now.findings(Asked(authority=authority, trip=code, condition=condition, outcome=outcome))
        page = [FindingRead.of(one) for one in found[start : start + limit]]
    return FindingsRead(total=len(found), findings=page)


@router.get(
    "/authorities/{authority}/report.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}, "description": "The draft of the season report"}},
)
def draft_report(authority: str, store: StoreHere, _asking: Reader) -> Response:
    """Draft the season report of an authority from the records as they stand now."""
    held = compliance.judged(store)
    compliance.check_authority(held.checked.facts.book, authority)
    pdf = report_pdf(frozen(held.checked, authority, demo=compliance.is_demo(store)))
    name = f"season-report-{''.join(char for char in authority if char.isalnum() or char in '-_')}.pdf"
    return Response(
        pdf, media_type="application/pdf", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
