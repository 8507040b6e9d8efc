"""The gate: the states of a lot at the door, who may move it on, and what each move needs.

Nothing here gives anything back to a limit. Fewer at the door than the record says are missing, and the take
stays; more than it says were caught as well, so the catch line is corrected upward: they are not born.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, TypeAlias, get_args

from api.domain.counts import NOTHING, Amount, Count, total
from api.domain.reckoning.wording import amount_words, count_words
from api.domain.trips import CrewMember, Movement
from api.domain.vocabulary import Gained

State: TypeAlias = Literal["waiting", "on hold", "accepted", "declined"]
"""Where a lot stands. *accepted* and *declined* are final; what may still change its mind is put on hold."""

Move: TypeAlias = Literal["hold", "accept", "decline"]

Onward: TypeAlias = Literal["held apart", "transferred", "veterinarian's matter"]
"""Where a declined lot goes. Back to the wild is none of them: that is for the agency to allow, not for the gate."""

STATES: tuple[str, ...] = get_args(State)
ONWARD: tuple[str, ...] = get_args(Onward)
UNDECIDED: tuple[State, ...] = ("waiting", "on hold")

MOVES: dict[tuple[State, Move], State] = {
    ("waiting", "hold"): "on hold",
    ("waiting", "accept"): "accepted",
    ("waiting", "decline"): "declined",
    ("on hold", "accept"): "accepted",
    ("on hold", "decline"): "declined",
}
"""Every move there is, and where it leads."""

DECIDES = "curator"
_DONE: dict[Move, str] = {"hold": "put on hold", "accept": "accepted", "decline": "declined"}
_GAINS: frozenset[str] = frozenset(get_args(Gained))


class AcquisitionError(ValueError):
    """Something cannot be done at the gate; the text says what, and how to mend it."""


class NotACuratorError(AcquisitionError):
    """Somebody who is no curator would decide at the gate; carries the person's id."""

    def __init__(self, person: str) -> None:
        self.person = person
        super().__init__(f"'{person}' may not decide at the gate; that is for a curator")


class OwnCatchError(AcquisitionError):
    """Somebody would decide on what they collected, led or handled; carries the person's id."""

    def __init__(self, person: str) -> None:
        self.person = person
        super().__init__(
            f"'{person}' collected this lot, led its trip or handled it; another curator decides on it, "
            "or an administrator sets that the organisation lets curators decide on their own catch"
        )


class MoveRefusedError(AcquisitionError):
    """A lot cannot be moved on like this; carries its state and the move."""

    def __init__(self, state: State, move: Move) -> None:
        self.state, self.move = state, move
        able = sorted(_DONE[one] for held, one in MOVES if held == state)
        mend = f"it can be {' or '.join(able)}" if able else "that is final; amend the record where it is wrong"
        super().__init__(f"a lot that is {state} cannot be {_DONE[move]}; {mend}")


class UnexplainedError(AcquisitionError):
    """A move was made without the reason that it needs; carries the move."""

    def __init__(self, move: Move, what: str = "") -> None:
        self.move = move
        super().__init__(f"{what or f'a lot is not {_DONE[move]} without a reason'}; say why")


class VarianceError(UnexplainedError):
    """The door counted otherwise than the record, and nobody said why; carries both numbers."""

    def __init__(self, move: Move, expected: Count, door: Amount, unit: str) -> None:
        self.expected, self.door, self.unit = expected, door, unit
        said = f"at the door {amount_words(door, unit)} were counted where the record has {count_words(expected, unit)}"
        super().__init__(move, said)


class OnwardRefusedError(AcquisitionError):
    """A declined lot cannot go there; carries what was given."""

    def __init__(self, onward: str) -> None:
        self.onward = onward
        said = f"a declined lot cannot go to '{onward[:60]}'" if onward else "a declined lot has to go somewhere"
        super().__init__(f"{said}; give one of: {', '.join(ONWARD)}. A return to the wild is the agency's to allow")


class DoorCountError(AcquisitionError):
    """A count at the door cannot stand; carries it."""

    def __init__(self, door: Amount, what: str) -> None:
        self.door = door
        super().__init__(what)


class NothingArrivedError(AcquisitionError):
    """A lot of which nothing is there cannot be accepted."""

    def __init__(self) -> None:
        super().__init__("nothing of this lot is there to accept; decline it with the reason")


@dataclass(frozen=True, slots=True, kw_only=True)
class Decider:
    """Who would decide: a person with their roles, and whether the organisation allows them their own catch."""

    person: str
    roles: frozenset[str]
    own_catch_allowed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheDoor:
    """A lot as the record has it: its state, what was caught, and what left or joined it since.

    ``count`` is the catch line's, in ``unit``; ``collectors`` are the ids of those who caught or handled it.
    """

    state: State
    count: Count
    unit: str = "individuals"
    collectors: frozenset[str] = frozenset()
    gone: Count = NOTHING
    gained: Count = NOTHING

    @property
    def expected(self) -> Count:
        """What should be there: caught, less what left it, more what joined it."""
        return _less(self.count, self.gone) + self.gained


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A move with what goes with it.

    ``door`` is what was counted at the door, None where nobody recounted; ``died`` what was dead on arrival, beside it.
    """

    move: Move
    reason: str = ""
    onward: str = ""
    door: Amount | None = None
    died: Amount = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What comes of a choice: the new state, the catch line's count if it rises, and how many are missing."""

    state: State
    raised: Count | None = None
    missing: Count | None = None


def collectors_of(leader: str, crew: Iterable[CrewMember], credited: str) -> frozenset[str]:
    """Give who may not decide on a lot: whoever is credited with it, the leader, the crew but its observers."""
    handling = (one.person for one in crew if one.role != "observer")
    return frozenset({leader, credited, *handling}) - {""}


def moved(movements: Iterable[Movement]) -> tuple[Count, Count]:
    """Give how many of a lot left it and how many joined it, by its movements."""
    every = list(movements)
    return (
        total(one.count for one in every if one.what not in _GAINS),
        total(one.count for one in every if one.what in _GAINS),
    )


def check_decider(decider: Decider, collectors: frozenset[str]) -> None:
    """Raise NotACuratorError or OwnCatchError for who may not decide on a lot of these collectors."""
    if DECIDES not in decider.roles:
        raise NotACuratorError(decider.person)
    if decider.person in collectors and not decider.own_catch_allowed:
        raise OwnCatchError(decider.person)


def decided(lot: AtTheDoor, choice: Choice) -> Decided:
    """Decide on a lot.

    Raises MoveRefusedError, DoorCountError, VarianceError, NothingArrivedError, UnexplainedError and
    OnwardRefusedError. Who decides is looked at by ``check_decider``.
    """
    state = MOVES.get((lot.state, choice.move))
    if state is None:
        raise MoveRefusedError(lot.state, choice.move)
    if choice.died:
        lot = _less_the_dead(lot, choice)
    door, expected = choice.door, lot.expected
    if door is not None:
        _check_door(lot, choice.move, door)
        if not expected.low <= door <= expected.high and not choice.reason.strip():
            raise VarianceError(choice.move, expected, door, lot.unit)
    nothing = expected.high == 0 if door is None else door == 0
    if choice.move == "accept" and nothing:
        raise NothingArrivedError
    if choice.move == "decline":
        if not choice.reason.strip():
            raise UnexplainedError(choice.move)
        # Where nothing arrived, nothing goes on.
        if choice.onward not in (("", *ONWARD) if nothing else ONWARD):
            raise OnwardRefusedError(choice.onward)
    return Decided(state=state, raised=_raised(lot, door), missing=_missing(expected, door))


def _less_the_dead(lot: AtTheDoor, choice: Choice) -> AtTheDoor:
    """Give the lot without what died on the way: those have left it, and the take stays."""
    died = choice.died
    _check_door(lot, choice.move, died)
    if died > lot.expected.high:
        what = f"{amount_words(died, lot.unit)} cannot have died where {count_words(lot.expected, lot.unit)} set out"
        raise DoorCountError(died, f"{what}; amend the catch line first, with the reason")
    return replace(lot, gone=lot.gone + Count(died, died, died))


def _check_door(lot: AtTheDoor, move: Move, door: Amount) -> None:
    if move == "hold":
        raise DoorCountError(door, "a lot on hold is counted when it is accepted or declined; leave the count out")
    if not 0 <= door < math.inf:
        raise DoorCountError(door, f"{door} cannot be counted at the door; give what is there, 0 for nothing")
    if lot.unit == "individuals" and Fraction(door).denominator != 1:
        raise DoorCountError(door, f"{amount_words(door, lot.unit)} is no number of animals; give a whole number")


def _raised(lot: AtTheDoor, door: Amount | None) -> Count | None:
    """Give the catch line's count where the door proves that more was caught; None where it does not.

    What came through the door and what had left the lot before were all caught. A number within an estimate
    so raises its low: an estimate of 180 to 240 of which 212 arrived is 212 to 240.
    """
    if door is None:
        return None
    count, proved = lot.count, _less(Count(door, door, door) + lot.gone, lot.gained)
    if door > lot.expected.high:
        raised = Count(max(count.low, proved.low), max(count.best, proved.best), max(count.high, proved.high))
    else:
        raised = Count(max(count.low, proved.low), max(count.best, proved.low), count.high)
    return raised if raised != count else None


def _missing(expected: Count, door: Amount | None) -> Count | None:
    """Give how many did not arrive, None where all may have."""
    if door is None or door >= expected.low:
        return None
    return _less(expected, Count(door, door, door))


def _less(count: Count, away: Count) -> Count:
    """Take one count from another, each as uncertain as it is; never below nothing."""
    low = max(0, count.low - away.high)
    high = max(low, count.high - away.low) if count.high < math.inf else math.inf
    best = min(high, max(low, count.best - away.best))
    return Count(low, best, high)


def accession_number(year: int, number: int) -> str:
    """Write the number under which a lot is accepted: the year, and its place in that year."""
    return f"{year:04}-{number:04}"


def accession_place(accession: str) -> int:
    """Give the place in its year of a number that ``accession_number`` wrote."""
    return int(accession.partition("-")[2])
