"""What goes over the wire: counts, findings, records."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, model_validator

from api.domain.counts import Count
from api.domain.rules.finding import Finding
from api.exchange.season_out import amount_value


def _in_time(at: datetime) -> datetime:
    if not _FIRST_YEAR <= at.year <= _LAST_YEAR:
        raise ValueError(f"a year from {_FIRST_YEAR} to {_LAST_YEAR} is wanted")
    return at


PhoneTime = Annotated[AwareDatetime, AfterValidator(_in_time)]
"""A time with its offset from UTC, in a year that can be."""

_FIRST_YEAR, _LAST_YEAR = 1900, 2199


class Sent(BaseModel):
    """A body that a client sends: unknown keys are told, not passed over."""

    model_config = ConfigDict(extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _no_nul(cls, value: Any) -> Any:
        """Refuse what no database keeps; what stands within records is told where it stands."""
        if isinstance(value, dict):
            for name, text in value.items():
                if isinstance(text, str) and ("\x00" in text or (not text.isascii() and _half_a_character(text))):
                    raise ValueError(f"'{name}' holds a sign that cannot be kept (NUL, or half a character)")
        return value


def _half_a_character(text: str) -> bool:
    return any("\ud800" <= sign <= "\udfff" for sign in text)


class CountRead(BaseModel):
    """An amount as low, best and high; whole numbers as such, fractions as text, "unknown" for no bound."""

    low: int | str
    best: int | str
    high: int | str

    @classmethod
    def of(cls, count: Count) -> CountRead:
        """Make it of a count."""
        return cls(low=amount_value(count.low), best=amount_value(count.best), high=amount_value(count.high))


class TallyRead(BaseModel):
    """The numbers behind a finding on an amount."""

    limit: int | str
    operator: Literal["at most", "fewer than"]
    unit: str
    before: CountRead
    here: CountRead
    after: CountRead
    left: CountRead


class FindingRead(BaseModel):
    """The answer to one condition for one record or period."""

    authority: str
    number: str
    kind: str
    version: int
    outcome: Literal["met", "broken", "open", "not used"]
    about: str
    label: str
    sentence: str
    settle: str
    near: bool
    records: list[str]
    over: list[str]
    tally: TallyRead | None

    @classmethod
    def of(cls, finding: Finding) -> FindingRead:
        """Make it of a finding."""
        tally = None
        if finding.tally is not None:
            one = finding.tally
            tally = TallyRead(
                limit=amount_value(one.limit),
                operator=one.operator,
                unit=one.unit,
                before=CountRead.of(one.before),
                here=CountRead.of(one.here),
                after=CountRead.of(one.after),
                left=CountRead.of(one.left),
            )
        return cls(
            authority=finding.authority,
            number=finding.number,
            kind=finding.kind,
            version=finding.version,
            outcome=finding.outcome,
            about=finding.about,
            label=finding.label,
            sentence=finding.sentence,
            settle=finding.settle,
            near=finding.near,
            records=list(finding.records),
            over=list(finding.over),
            tally=tally,
        )


class OperationSent(Sent):
    """One thing a phone did, under an id that the phone gave it."""

    id: str = Field(min_length=1, max_length=64)
    kind: str = Field(max_length=40)
    record: dict[str, Any]
    parent: str = Field(default="", max_length=64)
    based_on: int | None = Field(default=None, ge=1, le=2**31 - 1)
    why: str = Field(default="", max_length=2000)
    made_at: PhoneTime | None = None


class PushSent(Sent):
    """A batch of operations, with the phone's own time when it was sent."""

    protocol: int = 1
    operations: list[OperationSent]
    device_time: PhoneTime | None = None


class FaultRead(BaseModel):
    """What is wrong with an operation, and how to mend it."""

    where: str
    what: str
    mend: str


class ToldRead(BaseModel):
    """The answer to one operation."""

    id: str
    answer: Literal["stored", "already had", "refused", "conflict"]
    version: int | None
    code: str
    problems: list[FaultRead]
    conflict: str


class PushRead(BaseModel):
    """The answers to a batch, in its order, and the server's time."""

    answers: list[ToldRead]
    server_time: datetime


class ChangedRead(BaseModel):
    """A record as it stands now."""

    seq: int
    kind: str
    id: str
    version: int
    trip: str
    at: datetime
    code: str
    parent: str
    record: dict[str, Any] | None


class PullRead(BaseModel):
    """Changes after a cursor, the cursor to go on from, and whether more are waiting."""

    changes: list[ChangedRead]
    cursor: int
    more: bool
