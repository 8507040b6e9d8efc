"""What goes over the wire: counts, findings, records."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, model_validator

from api.domain.counts import Count
from api.domain.deliveries import EnteredFrom
from api.domain.reckoning.fullest import used
from api.domain.rules.finding import Finding, Tally
from api.exchange import protocols
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
    """The numbers behind a finding on an amount.

    ``used_low`` and ``used_high`` are the least and the most of the limit that is used, in whole per cent as the report
    prints them; null where there is no telling.
    """

    limit: int | str
    operator: Literal["at most", "fewer than"]
    unit: str
    before: CountRead
    here: CountRead
    after: CountRead
    left: CountRead
    used_low: int | None
    used_high: int | None

    @classmethod
    def of(cls, tally: Tally) -> TallyRead:
        """Make it of a tally."""
        low, high = used(tally)
        return cls(
            limit=amount_value(tally.limit),
            operator=tally.operator,
            unit=tally.unit,
            before=CountRead.of(tally.before),
            here=CountRead.of(tally.here),
            after=CountRead.of(tally.after),
            left=CountRead.of(tally.left),
            used_low=low,
            used_high=high,
        )


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
            tally=None if finding.tally is None else TallyRead.of(finding.tally),
        )


class DeviceClockSent(Sent):
    """What the phone's clock showed at an entry, and what was known of that clock then.

    ``ahead_s``: the seconds by which it was ahead of the server's when they were last compared, which was at
    ``known_at`` by the server's clock (see ``server_time`` of a push); null for both: they never were.
    """

    at: PhoneTime
    ahead_s: int | None = Field(ge=-(2**31) + 1, le=2**31 - 1)
    known_at: PhoneTime | None

    @model_validator(mode="after")
    def _compared_at_a_time(self) -> DeviceClockSent:
        if (self.ahead_s is None) != (self.known_at is None):
            raise ValueError("'ahead_s' and 'known_at' belong together; give both, or null for both")
        return self


class OperationSent(Sent):
    """One thing a phone did, under an id that the phone gave it.

    ``device_clock`` and ``entered_from`` are null for whoever has no clock of their own, or was not told.
    """

    id: str = Field(min_length=1, max_length=64)
    kind: str = Field(max_length=40)
    record: dict[str, Any]
    parent: str = Field(default="", max_length=64)
    based_on: int | None = Field(default=None, ge=1, le=2**31 - 1)
    why: str = Field(default="", max_length=2000)
    device_clock: DeviceClockSent | None
    entered_from: EnteredFrom | None


class PushSent(Sent):
    """A batch of operations, with the phone's own time when it was sent.

    Its operations are described as in the newest protocol. In the one before, an operation has ``made_at`` (a time,
    or null) in place of ``device_clock`` and ``entered_from``.
    """

    protocol: int = Field(default=protocols.UNSAID, strict=True)
    operations: list[OperationSent]
    device_time: PhoneTime | None = None

    @model_validator(mode="before")
    @classmethod
    def _in_the_newest(cls, value: Any) -> Any:
        """Read the operations of an older protocol as those of the newest; of one not spoken here, read nothing."""
        protocol = value.get("protocol", protocols.UNSAID) if isinstance(value, dict) else None
        if not isinstance(protocol, int):
            return value
        if protocol not in protocols.ACCEPTED:
            return {"protocol": protocol, "operations": []}
        sent = value.get("operations")
        if not isinstance(sent, list):
            return value
        newest = [protocols.as_newest(protocol, one) if isinstance(one, dict) else one for one in sent]
        return {**value, "operations": newest}


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
