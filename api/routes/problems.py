"""One table from errors to RFC 9457 problems: what is wrong and how to mend it, for people and programs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException

from api.domain.acquisitions import AcquisitionError, MoveRefusedError, NotACuratorError, OwnCatchError
from api.domain.allotments import BadAmountError, NothingLeftError, UnknownPoolError
from api.exchange.faults import FaultyFileError
from api.exchange.pictures import PictureRefusedError
from api.exchange.protocols import ProtocolNotSpokenError
from api.operations.accounts import (
    AccountError,
    AccountExistsError,
    LastAdministratorError,
    LoginTakenError,
    NotAllowedError,
    TooManyTriesError,
    UnclearAccountError,
    UnknownAccountError,
)
from api.operations.allotting import ReasonMissingError, TripOverError, UnknownAllotmentError
from api.operations.compliance import UnknownAuthorityError
from api.operations.conflicts import NotTogetherError, SettlingReasonMissingError, UnknownConflictError
from api.operations.documents import DocumentRefusedError, UnknownDocumentError
from api.operations.enrolments import CodeRefusedError, UnknownDeviceError
from api.operations.filing_errors import FilingError, RecordInMotionError, SupersededError, UnknownReportError
from api.operations.gate import DecidedMeanwhileError, NotAtTheGateError
from api.operations.lots_told import UnknownAcquisitionError
from api.operations.organisations import OrganisationError, OrganisationMissingError
from api.operations.photos import (
    AnnouncedOtherwiseError,
    NoRoomError,
    OffsetError,
    PhotoError,
    PhotoTooLargeError,
    TooManyUnfinishedError,
    UnknownPhotoError,
    UnknownRecordError,
)
from api.operations.sessions import SignInRefusedError, UnknownSessionError, WrongPasswordError
from api.operations.trips import UnknownTripError
from api.operations.wanting import UnknownWantError
from api.store.files import DamagedFileError

MEDIA_TYPE = "application/problem+json"


class Fault(BaseModel):
    """One thing that is wrong: where, what, and what would be right."""

    where: str
    what: str
    mend: str = ""


class Problem(BaseModel):
    """A problem as RFC 9457 describes it, with the single faults where there are several."""

    model_config = ConfigDict(json_schema_extra={"description": "RFC 9457 problem details"})

    type: str = "about:blank"
    title: str
    status: int
    detail: str = ""
    faults: list[Fault] = []


class OffsetProblem(Problem):
    """A part of a photo cannot be taken at its place; ``offset`` (an extension member) says where to go on."""

    offset: int


class ProblemError(Exception):
    """A problem that a route itself tells of."""

    def __init__(self, status: int, detail: str) -> None:
        self.status, self.detail = status, detail
        super().__init__(detail)


def answer(
    status: int,
    detail: str = "",
    faults: list[Fault] | None = None,
    headers: Mapping[str, str] | None = None,
    members: Mapping[str, Any] | None = None,
) -> JSONResponse:
    """Give a problem as a response; ``members`` are what it tells programs beyond what every problem does."""
    problem = Problem(title=HTTPStatus(status).phrase, status=status, detail=detail, faults=faults or [])
    return JSONResponse({**problem.model_dump(), **(members or {})}, status, headers, MEDIA_TYPE)


@dataclass(frozen=True, slots=True)
class _Row:
    error: type[Exception]
    status: int
    headers: Callable[[Any], dict[str, str]] = lambda _error: {}
    members: Callable[[Any], dict[str, Any]] = lambda _error: {}


_ASK = {"WWW-Authenticate": "Bearer"}

_TABLE = (
    _Row(SignInRefusedError, 401, lambda _error: _ASK),
    _Row(CodeRefusedError, 401, lambda _error: _ASK),
    _Row(WrongPasswordError, 403),
    _Row(NotAllowedError, 403),
    _Row(UnknownAccountError, 404),
    _Row(UnknownSessionError, 404),
    _Row(UnknownDeviceError, 404),
    _Row(UnknownAuthorityError, 404),
    _Row(AccountExistsError, 409),
    _Row(LoginTakenError, 409),
    _Row(LastAdministratorError, 409),
    _Row(UnclearAccountError, 409),
    _Row(ProtocolNotSpokenError, 409),
    _Row(TooManyTriesError, 429, lambda error: {"Retry-After": str(error.seconds)}),
    _Row(AccountError, 422),
    _Row(OrganisationMissingError, 404),
    _Row(OrganisationError, 422),
    _Row(NotACuratorError, 403),
    _Row(OwnCatchError, 403),
    _Row(UnknownAcquisitionError, 404),
    _Row(UnknownWantError, 404),
    _Row(UnknownReportError, 404),
    _Row(DecidedMeanwhileError, 409),
    _Row(MoveRefusedError, 409),
    _Row(NotAtTheGateError, 409),
    _Row(SupersededError, 409),
    _Row(RecordInMotionError, 409),
    _Row(AcquisitionError, 422),
    _Row(FilingError, 422),
    _Row(DamagedFileError, 500),
    _Row(UnknownConflictError, 404),
    _Row(UnknownDocumentError, 404),
    _Row(DocumentRefusedError, 422),
    _Row(DamagedFileError, 500),
    _Row(SettlingReasonMissingError, 422),
    _Row(NotTogetherError, 409),
    _Row(UnknownTripError, 404),
    _Row(UnknownAllotmentError, 404),
    _Row(UnknownPoolError, 404),
    _Row(NothingLeftError, 409),
    _Row(TripOverError, 409),
    _Row(BadAmountError, 422),
    _Row(ReasonMissingError, 422),
    _Row(UnknownPhotoError, 404),
    _Row(UnknownRecordError, 404),
    _Row(AnnouncedOtherwiseError, 409),
    _Row(TooManyUnfinishedError, 409),
    _Row(OffsetError, 409, members=lambda error: {"offset": error.offset}),
    _Row(PhotoTooLargeError, 413),
    _Row(PhotoError, 422),
    _Row(PictureRefusedError, 422),
    _Row(NoRoomError, 507),
)
"""Errors and their status. The nearest class of an error decides, so the family's own row stands for the rest."""


def install(app: FastAPI) -> None:
    """Make every error of the table, and every other one, a problem."""
    for row in _TABLE:
        app.add_exception_handler(row.error, _teller(row))
    app.add_exception_handler(ProblemError, _own)
    app.add_exception_handler(FaultyFileError, _faulty)
    app.add_exception_handler(RequestValidationError, _unread)
    app.add_exception_handler(HTTPException, _http)


def _teller(row: _Row) -> Callable[[Request, Exception], JSONResponse]:
    def tell(_request: Request, error: Exception) -> JSONResponse:
        detail = f"{str(error)[:1].upper()}{str(error)[1:]}."
        return answer(row.status, detail, headers=row.headers(error), members=row.members(error))

    return tell


def _own(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, ProblemError)
    return answer(error.status, error.detail, headers=_ASK if error.status == 401 else None)


def _faulty(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, FaultyFileError)
    faults = [Fault(where=f"{one.file}: {one.where}", what=one.what, mend=one.mend) for one in error.faults]
    return answer(422, "What was sent has faults; nothing of it was taken.", faults)


def _unread(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    faults = [
        Fault(where=".".join(str(step) for step in one["loc"])[:200], what=f"{one['msg']}."[:300])
        for one in error.errors()[:50]
    ]
    return answer(422, "The request cannot be read.", faults)


def _http(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    detail = "" if error.detail == HTTPStatus(error.status_code).phrase else str(error.detail)
    return answer(error.status_code, detail, headers=error.headers)
