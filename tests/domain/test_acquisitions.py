"""The gate's rules: every state, move and role; what each move needs; the arithmetic at the door (JOB.md C3, D 28, 29, 32)."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.domain.acquisitions import (
    MOVES,
    ONWARD,
    STATES,
    AcquisitionError,
    AtTheDoor,
    Choice,
    Decider,
    DoorCountError,
    Move,
    MoveRefusedError,
    NotACuratorError,
    NothingArrivedError,
    OnwardRefusedError,
    OwnCatchError,
    UnexplainedError,
    VarianceError,
    accession_number,
    accession_place,
    check_decider,
    collectors_of,
    decided,
    moved,
)
from api.domain.counts import NOTHING, UNKNOWN, Count, exactly
from api.domain.trips import CrewMember, Movement
from api.domain.vocabulary import ACCOUNT_ROLES

THIRTY = exactly(30)
GOOD = {
    "hold": Choice(move="hold"),
    "accept": Choice(move="accept"),
    "decline": Choice(move="decline", reason="fin rot", onward="held apart"),
}

# What comes of each move in each state, for a curator who did not collect the lot; "" is refused.
TABLE = {
    ("waiting", "hold"): "on hold",
    ("waiting", "accept"): "accepted",
    ("waiting", "decline"): "declined",
    ("on hold", "hold"): "",
    ("on hold", "accept"): "accepted",
    ("on hold", "decline"): "declined",
    ("accepted", "hold"): "",
    ("accepted", "accept"): "",
    ("accepted", "decline"): "",
    ("declined", "hold"): "",
    ("declined", "accept"): "",
    ("declined", "decline"): "",
}

# Whether somebody may decide at all: by role, by having collected the lot, by the organisation's leave.
MAY = {
    (role, collected, allowed): role == "curator" and (allowed or not collected)
    for role in ("nobody", *ACCOUNT_ROLES)
    for collected in (False, True)
    for allowed in (False, True)
}


def test_the_table_holds_every_state_and_move() -> None:
    assert set(TABLE) == {(state, move) for state in STATES for move in GOOD}
    assert {key: state for key, state in TABLE.items() if state} == MOVES


@pytest.mark.parametrize(("state", "move"), sorted(TABLE))
@pytest.mark.parametrize("role", ["nobody", *ACCOUNT_ROLES])
@pytest.mark.parametrize("collected", [False, True], ids=["another's catch", "own catch"])
@pytest.mark.parametrize("allowed", [False, True], ids=["not allowed", "allowed"])
def test_every_state_move_and_role(state: str, move: str, role: str, collected: bool, allowed: bool) -> None:
    roles = frozenset() if role == "nobody" else frozenset({role})
    decider = Decider(person="ines", roles=roles, own_catch_allowed=allowed)
    lot = AtTheDoor(state=state, count=THIRTY, collectors=frozenset({"ines" if collected else "ann"}))

    def decide() -> str:
        check_decider(decider, lot.collectors)
        return decided(lot, GOOD[move]).state

    if not MAY[role, collected, allowed]:
        error = OwnCatchError if role == "curator" else NotACuratorError
        with pytest.raises(error, match="'ines'"):
            decide()
    elif not TABLE[state, move]:
        with pytest.raises(MoveRefusedError, match=f"a lot that is {state} cannot be") as refused:
            decide()
        assert (refused.value.state, refused.value.move) == (state, move)
    else:
        assert decide() == TABLE[state, move]


def test_a_curator_who_also_collects_is_held_by_the_lot_and_not_by_the_role() -> None:
    decider = Decider(person="ines", roles=frozenset({"curator", "collector"}))
    check_decider(decider, frozenset({"ann"}))
    with pytest.raises(OwnCatchError, match="another curator decides on it"):
        check_decider(decider, frozenset({"ann", "ines"}))


def test_leader_credited_collector_and_handling_crew_collected_and_observers_did_not() -> None:
    crew = [
        CrewMember(person="ann", role="holder"),
        CrewMember(person="ben", role="assistant"),
        CrewMember(person="cat", role="observer"),
        CrewMember(person="dov", role="student"),
    ]
    assert collectors_of("leo", crew, "") == {"leo", "ann", "ben", "dov"}
    # Who is credited collected it, whatever the crew list calls them.
    assert collectors_of("leo", crew, "cat") == {"leo", "ann", "ben", "cat", "dov"}
    assert collectors_of("leo", [], "eve") == {"leo", "eve"}


# --- what each move needs


@pytest.mark.parametrize("reason", ["", "   "])
def test_declining_needs_a_reason(reason: str) -> None:
    with pytest.raises(UnexplainedError, match="say why") as refused:
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="decline", reason=reason, onward="transferred"))
    assert refused.value.move == "decline"


@pytest.mark.parametrize("onward", ["", "released", "back to the creek", "return to the wild", "Held apart", "sold"])
def test_declining_needs_an_onward_route_and_none_is_a_release(onward: str) -> None:
    # JOB.md D 32: no "release" button; hold, transfer, or euthanasia under the veterinarian.
    with pytest.raises(OnwardRefusedError, match="the agency's to allow") as refused:
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="decline", reason="no room", onward=onward))
    assert refused.value.onward == onward
    assert not any(word in route for route in ONWARD for word in ("releas", "wild", "creek", "return"))


@pytest.mark.parametrize("onward", ONWARD)
def test_every_onward_route_is_taken(onward: str) -> None:
    choice = Choice(move="decline", reason="no room", onward=onward)
    assert decided(AtTheDoor(state="on hold", count=THIRTY), choice).state == "declined"


def test_accepting_what_the_record_says_needs_nothing_more() -> None:
    lot = AtTheDoor(state="waiting", count=THIRTY)
    for choice in (Choice(move="accept"), Choice(move="accept", door=30)):
        outcome = decided(lot, choice)
        assert (outcome.state, outcome.raised, outcome.missing) == ("accepted", None, None)


@pytest.mark.parametrize("move", ["accept", "decline"])
@pytest.mark.parametrize("door", [24, 29, 31, 33])
def test_a_door_count_that_differs_needs_a_reason(move: str, door: int) -> None:
    lot = AtTheDoor(state="waiting", count=THIRTY)
    with pytest.raises(VarianceError, match=f"{door} were counted where the record has 30") as refused:
        decided(lot, Choice(move=move, onward="held apart", door=door))
    assert (refused.value.expected, refused.value.door) == (THIRTY, door)
    assert decided(lot, Choice(move=move, onward="held apart", door=door, reason="recounted")).state


# --- the arithmetic at the door


def test_fewer_at_the_door_are_missing_and_the_take_stays() -> None:
    # JOB.md D 29: 30 loaded, 24 counted: 6 missing, take stays 30.
    outcome = decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="accept", door=24, reason="a fat crab"))
    assert (outcome.raised, outcome.missing) == (None, exactly(6))


def test_more_at_the_door_were_caught_as_well() -> None:
    # JOB.md D 28: 30 loaded, 33 counted: the field count was wrong, correction to the haul (+3).
    outcome = decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="accept", door=33, reason="recounted"))
    assert (outcome.raised, outcome.missing) == (exactly(33), None)


def test_more_at_the_door_raises_the_take_of_a_declined_lot_too() -> None:
    choice = Choice(move="decline", door=33, reason="no room", onward="transferred")
    assert decided(AtTheDoor(state="waiting", count=THIRTY), choice).raised == exactly(33)


def test_what_died_on_the_way_is_not_missing_again() -> None:
    # JOB.md A 27: arrived = loaded - dead - missing (+ found more).
    lot = AtTheDoor(state="waiting", count=THIRTY, gone=exactly(3))
    assert lot.expected == exactly(27)
    same = decided(lot, Choice(move="accept", door=27))
    assert (same.raised, same.missing) == (None, None)
    fewer = decided(lot, Choice(move="accept", door=25, reason="two gone"))
    assert (fewer.raised, fewer.missing) == (None, exactly(2))
    # 3 dead and 29 alive were 32 caught.
    more = decided(lot, Choice(move="accept", door=29, reason="recounted"))
    assert (more.raised, more.missing) == (exactly(32), None)


def test_a_count_within_an_estimate_proves_that_so_many_were_caught() -> None:
    lot = AtTheDoor(state="waiting", count=Count(180, 200, 240))
    within = decided(lot, Choice(move="accept", door=212))
    assert (within.raised, within.missing) == (Count(212, 212, 240), None)
    low = decided(lot, Choice(move="accept", door=190))
    assert low.raised == Count(190, 200, 240)
    above = decided(lot, Choice(move="accept", door=250, reason="counted one by one"))
    assert above.raised == exactly(250)
    below = decided(lot, Choice(move="accept", door=150, reason="counted one by one"))
    assert (below.raised, below.missing) == (None, Count(30, 50, 90))


def test_a_lot_of_unknown_number_is_at_least_what_was_counted() -> None:
    outcome = decided(AtTheDoor(state="waiting", count=UNKNOWN), Choice(move="accept", door=12))
    assert (outcome.raised, outcome.missing) == (Count(12, 12, math.inf), None)


def test_material_is_measured_at_the_door_in_litres() -> None:
    lot = AtTheDoor(state="waiting", count=exactly(Fraction(91, 2)), unit="L")
    more = decided(lot, Choice(move="accept", door=Fraction(231, 5), reason="levelled again"))
    assert more.raised == exactly(Fraction(231, 5))


counts = st.lists(st.integers(0, 400), min_size=3, max_size=3).map(sorted).map(lambda three: Count(*three))


@given(counts, st.integers(0, 500))
def test_no_count_at_the_door_ever_makes_the_take_smaller(count: Count, door: int) -> None:
    # CHECKS.md, no refund: nothing at the door gives anything back.
    choice = Choice(move="decline", door=door, reason="counted", onward="held apart")
    outcome = decided(AtTheDoor(state="waiting", count=count), choice)
    after = outcome.raised or count
    assert after.low >= count.low
    assert after.best >= count.best
    assert after.high >= count.high
    assert after.low >= min(door, after.high)
    # Nothing is both found and missing, and what is missing was in the record.
    assert outcome.raised is None or outcome.missing is None
    assert outcome.missing is None or outcome.missing.high == count.high - door


@given(st.integers(0, 400), st.integers(0, 400), st.integers(1, 500))
def test_caught_is_at_the_door_and_gone_and_missing(caught: int, gone: int, door: int) -> None:
    # JOB.md C3: the record balances after every decision.
    gone = min(caught, gone)
    lot = AtTheDoor(state="waiting", count=exactly(caught), gone=exactly(gone))
    outcome = decided(lot, Choice(move="accept", door=door, reason="counted"))
    take, missing = outcome.raised or lot.count, outcome.missing or NOTHING
    assert take.best == door + gone + missing.best
    assert take.exact


def test_what_died_on_the_way_is_neither_missing_nor_a_variance_and_the_take_stays() -> None:
    # JOB.md C3: caught is at the door and gone and missing; the dead are gone.
    lot = AtTheDoor(state="waiting", count=THIRTY)
    told = decided(lot, Choice(move="accept", door=27, died=3))
    assert (told.state, told.raised, told.missing) == ("accepted", None, None)
    assert decided(lot, Choice(move="accept", died=3)).missing is None
    lost = decided(lot, Choice(move="accept", door=25, died=3, reason="two leapt"))
    assert (lost.raised, lost.missing) == (None, exactly(2))
    more = decided(lot, Choice(move="accept", door=29, died=3, reason="counted one by one"))
    assert more.raised == exactly(32)
    all_dead = Choice(move="decline", died=30, reason="the pump failed")
    assert decided(lot, all_dead).state == "declined"
    with pytest.raises(NothingArrivedError):
        decided(lot, Choice(move="accept", died=30))
    with pytest.raises(VarianceError):
        decided(lot, Choice(move="accept", door=27, died=2))


@pytest.mark.parametrize(
    ("died", "move", "words"),
    [
        (31, "decline", "31 cannot have died where 30 set out; amend the catch line first"),
        (-1, "accept", "give what is there"),
        (Fraction(1, 2), "accept", "give a whole number"),
        (2, "hold", "when it is accepted or declined"),
    ],
)
def test_a_number_of_dead_that_cannot_be_is_told(died: int, move: Move, words: str) -> None:
    choice = Choice(move=move, died=died, reason="counted", onward="held apart" if move == "decline" else "")
    with pytest.raises(DoorCountError, match=words):
        decided(AtTheDoor(state="waiting", count=THIRTY), choice)


# --- counts that cannot stand


@pytest.mark.parametrize("door", [-1, math.inf, math.nan])
def test_what_is_no_amount_is_no_door_count(door: float) -> None:
    with pytest.raises(DoorCountError, match="give what is there"):
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="accept", door=door, reason="x"))


def test_half_an_animal_is_not_counted() -> None:
    with pytest.raises(DoorCountError, match="give a whole number"):
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="accept", door=Fraction(59, 2), reason="x"))


def test_a_lot_on_hold_is_not_counted_yet() -> None:
    with pytest.raises(DoorCountError, match="when it is accepted or declined"):
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="hold", door=30))


def test_of_a_lot_that_did_not_arrive_nothing_is_accepted_and_nothing_goes_on() -> None:
    dead = AtTheDoor(state="waiting", count=THIRTY, gone=THIRTY)
    with pytest.raises(NothingArrivedError):
        decided(dead, Choice(move="accept"))
    with pytest.raises(NothingArrivedError):
        decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="accept", door=0, reason="all gone"))
    assert decided(dead, Choice(move="decline", reason="died in transit")).state == "declined"
    gone = decided(AtTheDoor(state="waiting", count=THIRTY), Choice(move="decline", door=0, reason="bucket overturned"))
    assert (gone.state, gone.missing) == ("declined", THIRTY)


def test_every_refusal_says_how_to_mend_it_and_is_one_family() -> None:
    lot = AtTheDoor(state="accepted", count=THIRTY)
    with pytest.raises(AcquisitionError, match="that is final; amend the record"):
        decided(lot, GOOD["decline"])
    with pytest.raises(AcquisitionError, match="it can be accepted or declined"):
        decided(AtTheDoor(state="on hold", count=THIRTY), GOOD["hold"])


# --- movements and numbers


def movement(what: str, count: int) -> Movement:
    return Movement(id=what, at=datetime(2027, 8, 1, tzinfo=UTC), what=what, count=exactly(count), line="L1")


def test_what_left_and_what_joined_is_told_apart() -> None:
    gone, gained = moved([movement("died", 2), movement("escaped", 1), movement("found", 4), movement("voucher", 1)])
    assert (gone, gained) == (exactly(4), exactly(4))
    assert moved([]) == (NOTHING, NOTHING)
    assert AtTheDoor(state="waiting", count=THIRTY, gone=gone, gained=gained).expected == THIRTY


@pytest.mark.parametrize(("place", "written"), [(1, "2028-0001"), (12, "2028-0012"), (10_000, "2028-10000")])
def test_accession_numbers_are_written_and_read(place: int, written: str) -> None:
    assert accession_number(2028, place) == written
    assert accession_place(written) == place
