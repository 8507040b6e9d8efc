"""The answer to one condition, with its proof: what was measured, against what, and from which records."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import overload

from api.domain.counts import Amount, Count
from api.domain.permits import Clause
from api.domain.vocabulary import Operator, Outcome


class Proof(Sequence[str]):
    """The records a finding rests on, looked up when somebody asks: of a whole season's tally they are many."""

    __slots__ = ("_find", "_found")

    def __init__(self, find: Callable[[], Iterable[str]]) -> None:
        self._find: Callable[[], Iterable[str]] | None = find
        self._found: tuple[str, ...] = ()

    @property
    def found(self) -> tuple[str, ...]:
        """The ids, in order."""
        if self._find is not None:
            self._found = tuple(self._find())
            self._find = None
        return self._found

    def __len__(self) -> int:
        return len(self.found)

    @overload
    def __getitem__(self, place: int) -> str: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[str, ...]: ...
    def __getitem__(self, place: int | slice) -> str | tuple[str, ...]:
        return self.found[place]

    def __iter__(self) -> Iterator[str]:
        return iter(self.found)

    def __eq__(self, other: object) -> bool:
        return self.found == (other.found if isinstance(other, Proof) else other)

    def __hash__(self) -> int:
        return hash(self.found)

    def __repr__(self) -> str:
        return repr(self.found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """The numbers behind a finding on an amount; ``unit`` is individuals, g, L or %.

    ``left`` is what may still be taken: its low when the most was taken. ``estimated`` is the part of
    ``after.best`` that nobody counted one by one.
    """

    limit: Amount
    operator: Operator
    unit: str
    before: Count
    here: Count
    after: Count
    left: Count
    estimated: Amount = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One answer.

    ``about`` names the record or period it speaks of ("day 2027-06-11", "haul H-0412"); ``records`` are
    the ids it rests on, ``over`` those of them that went over. ``settle`` says of an open finding what
    would settle it. ``measured`` holds further numbers as (name, value with unit).
    """

    authority: str
    number: str
    kind: str
    version: int
    outcome: Outcome
    about: str
    sentence: str
    settle: str = ""
    records: Sequence[str] = ()
    over: Sequence[str] = ()
    near: bool = False
    tally: Tally | None = None
    label: str = ""
    measured: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if (self.outcome == "open") != bool(self.settle):
            raise ValueError("an open finding, and only an open one, says what would settle it")


def finding_for(clause: Clause, outcome: Outcome, about: str, sentence: str, **rest: object) -> Finding:
    """Build a finding under a clause; the rest are ``Finding``'s own fields."""
    return Finding(
        authority=clause.authority.id,
        number=clause.condition.number,
        kind=clause.condition.kind,  # type: ignore[attr-defined]
        version=clause.version.number,
        outcome=outcome,
        about=about,
        sentence=sentence,
        **rest,  # type: ignore[arg-type]
    )
