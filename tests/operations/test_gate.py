"""The gate: lots from closed trips, one decision each, numbers without gaps, and nothing given back (JOB.md A 30, D 28-32)."""

import json
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from sqlmodel import col, select

from api.domain.acquisitions import (
    AcquisitionError,
    MoveRefusedError,
    NotACuratorError,
    OnwardRefusedError,
    OwnCatchError,
    VarianceError,
)
from api.domain.counts import Count, exactly
from api.entities.acquisitions import Acquisition, Lot
from api.entities.audit import AuditEntry, AuditHead
from api.entities.catches import CatchLine
from api.entities.people import Organisation, Person
from api.entities.sync import Change
from api.operations import compliance, gate
from api.operations.accounts import add_account, set_roles
from api.operations.gate import (
    DecidedMeanwhileError,
    NotAtTheGateError,
    UnknownVersionError,
    accept,
    decline,
    hold,
)
from api.operations.importing import import_files
from api.operations.lots import bring_lots
from api.operations.lots_told import AskedLots, UnknownAcquisitionError, list_lots, look_at
from api.operations.syncing import Operation, push
from api.store.audit import first_broken
from api.store.ids import new_id
from api.store.seasons import season_from
from api.store.unit_of_work import SYSTEM, Actor
from tests import phones
from tests.builders import authority_file, trips_file, write_season

PASSWORD = "wet sand under nine nails"
PHONE = Actor("ann", "phone-1")


@pytest.fixture
def curators(cheap_hashes, store, tmp_path):
    """Give a store with the builders' permit and trip (nine galaxias of ten), and two curators."""
    return made(store, tmp_path)


def made(store, folder, trips=None, rules=None):
    authority, file = write_season(folder, authority=rules, trips=trips)
    import_files(store, folder / "files", [authority], [file], Actor())
    for login in ("ines", "maren"):
        add_account(store, Actor(), login=login, name=login.title(), password=PASSWORD, roles=["curator"])
    return store


def acting(store, name="Ines"):
    with store.reading() as session:
        return Actor(session.exec(select(Person.id).where(Person.name == name)).one())


def lots(store, **asked):
    return list_lots(store, AskedLots(**asked))[1]


def lot_of(store, line="L1"):
    (found,) = [one for one in lots(store, limit=200) if one.line == line]
    return found


def taken(store):
    """Give what the permit's one limit has counted, and what is left."""
    with compliance.now(store) as now:
        (balance,) = now.balances("permit")
    (finding,) = balance.findings
    return finding.tally.after, finding.tally.left, finding.outcome


def head(store):
    with store.reading() as session:
        assert first_broken(session)[1] is None
        one = session.get_one(AuditHead, 1)
        return one.seq, one.changes


def noted(store, subject):
    """Give the audit entries on a lot: action, actor, content."""
    with store.reading() as session:
        found = session.exec(select(AuditEntry).where(AuditEntry.subject == subject).order_by(AuditEntry.seq))
        return [(one.action, one.actor, json.loads(one.content)) for one in found]


def season_in(store):
    with store.reading() as session:
        return season_from(session)


def caught(store, *counts, code="T28-001", fate="kept", status="closed", **more):
    """Deliver a trip of Ann's with a line for each count; gives the lines' operations."""
    trip = phones.trip("ann", depart="2028-03-02T07:00", back="2028-03-02T12:00", status=status, **more)
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    lines = [phones.line(haul, count=count, fate=fate) for count in counts]
    told = push(store, [trip, haul, *lines], PHONE)
    assert [one.answer for one in told] == ["stored"] * len(told)
    assert told[0].code == code
    return lines


# --- how lots come to the gate


def test_kept_lines_of_closed_trips_come_to_the_gate_once(cheap_hashes, store, tmp_path):
    lines = [
        {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 4},
        {"id": "L2", "taxon": "Galaxias maculatus", "fate": "released", "count": 30},
        {"id": "L3", "taxon": "Galaxias brevipinnis", "fate": "dead", "count": 1},
        {"id": "L4", "taxon": "shell, clean", "fate": "kept", "count": "45.3 L"},
        {"id": "L5", "taxon": "Galaxias brevipinnis", "fate": "kept", "count": 0},
    ]
    made(store, tmp_path, trips_file(lines))
    assert bring_lots(store) == 2
    before = head(store)
    assert bring_lots(store) == 0
    assert head(store) == before
    first, second = lots(store)
    assert (first.line, first.haul, first.trip, first.taxon) == ("L1", "H1", "T1", "Galaxias maculatus")
    assert (first.state, first.version, first.accession, first.authority) == ("waiting", 1, "", "permit")
    assert (first.field_count, first.on_hand, first.door_count) == (exactly(4), exactly(4), None)
    assert first.collectors == ("ann",)
    assert (second.line, second.unit, second.field_count) == ("L4", "L", exactly(Fraction(453, 10)))
    # The machine made them, and nobody else.
    ((action, actor, content),) = noted(store, f"acquisition {first.id}")
    assert (action, actor, content["line"], content["count"]["best"]) == ("lot at the gate", SYSTEM, "L1", 4)


def test_an_open_trip_is_not_at_the_door_until_it_is_closed(curators):
    trip = phones.trip("ann", depart="2028-03-02T07:00")
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    push(curators, [trip, haul, phones.line(haul, count=1)], PHONE)
    assert [one.line for one in lots(curators)] == ["L1"]
    push(curators, [phones.amended(trip, 1, status="closed", back="2028-03-02T12:00")], PHONE)
    assert [one.line for one in lots(curators)] == ["L1", "T28-001-1-a"]
    with curators.reading() as session:
        change = session.exec(
            select(Change).where(Change.kind == "acquisition").order_by(col(Change.seq).desc())
        ).first()
        assert (change.record, change.version, change.trip_id) == (lots(curators)[1].id, 1, trip.record["id"])


def test_lots_are_brought_once_by_many_that_look_at_once(curators):
    caught(curators, 1, 1, 1, 1)
    begin = threading.Barrier(6)

    def look():
        begin.wait(timeout=30)
        return [one.id for one in lots(curators)]

    with ThreadPoolExecutor(6) as pool:
        seen = [one.result() for one in [pool.submit(look) for _ in range(6)]]
    assert len({tuple(one) for one in seen}) == 1
    assert len(seen[0]) == 5
    with curators.reading() as session:
        assert len(session.exec(select(Lot)).all()) == len(session.exec(select(Acquisition)).all()) == 5


def test_lots_are_listed_with_the_findings_that_rest_on_their_line(curators):
    caught(curators, 2)
    first, second = lots(curators)
    (limit,) = [one for one in first.findings if one.number == "1"]
    assert (limit.outcome, "L1" in limit.records, limit.over) == ("broken", True, ("T28-001-1-a",))
    assert [one.number for one in second.findings if one.over == (second.line,)] == ["1"]


GEAR = {
    "kind": "gear",
    "number": "2",
    "text": "Seines of 10 m at most.",
    "gear": [{"gear": "seine", "length_max": "10 m"}],
}
STATED = {"kind": "attested", "number": "3", "text": "No more than is needed."}


def test_findings_on_the_haul_and_on_the_trip_are_told_apart_from_those_on_the_lot(cheap_hashes, store, tmp_path):
    limit = authority_file()["conditions"]
    rules = authority_file(conditions=[*limit, GEAR, STATED])
    lines = trips_file()["trips"][0]["hauls"][0]["lines"]
    trips = trips_file()
    fine = {
        "id": "H2",
        "start": "2027-08-01T09:00",
        "end": "2027-08-01T09:10",
        "gear": {"gear": "seine", "length_mm": "8 m"},
    }
    trips["trips"][0]["hauls"].append({**fine, "lines": [{**lines[0], "id": "L2", "count": 1}]})
    made(store, tmp_path, trips, rules)  # the builders' haul L1 is of, H1, was made with a seine of 12 m
    told = {
        one.line: [[(each.number, each.outcome) for each in part] for part in (one.findings, one.of_haul, one.of_trip)]
        for one in lots(store)
    }
    own, of_trip = ("1", "met"), ("3", "open")
    assert {line: [[one for one in part if one[0] in "123"] for part in parts] for line, parts in told.items()} == {
        "L1": [[own], [("2", "broken")], [of_trip]],
        "L2": [[own], [("2", "met")], [of_trip]],
    }
    # What is asked for as grave has something broken or open of its own or of its haul.
    assert [one.line for one in lots(store, grave=True)] == ["L1"]
    assert list_lots(store, AskedLots(grave=True)).states["waiting"] == 1


def test_trips_stand_in_the_order_asked_for_and_are_counted(curators):
    caught(curators, 1, 2)
    oldest, newest = list_lots(curators, AskedLots()), list_lots(curators, AskedLots(order="newest"))
    assert [one.field_count.best for one in oldest.lots] == [9, 1, 2]
    assert [one.field_count.best for one in newest.lots] == [1, 2, 9]
    assert list(oldest.trips.items()) == [("T1", 1), ("T28-001", 2)]
    assert list(newest.trips.items()) == [("T28-001", 2), ("T1", 1)]
    accept(curators, acting(curators), oldest.lots[1].id, version=1)
    told = list_lots(curators, AskedLots(state="waiting", order="newest", limit=1))
    assert ([one.field_count.best for one in told.lots], told.total) == ([2], 2)
    assert told.states == {"waiting": 2, "on hold": 0, "accepted": 1, "declined": 0}
    assert told.trips == {"T28-001": 1, "T1": 1}


def test_lots_are_paged_and_narrowed(curators):
    caught(curators, 1, 2, 3)
    everything = lots(curators)
    assert [one.field_count.best for one in everything] == [9, 1, 2, 3]
    accept(curators, acting(curators), everything[2].id, version=1)
    assert list_lots(curators, AskedLots(start=1, limit=2))[:2] == (4, lots(curators)[1:3])
    assert [one.field_count.best for one in lots(curators, state="accepted")] == [2]
    assert [one.field_count.best for one in lots(curators, state="waiting")] == [9, 1, 3]
    assert [one.field_count.best for one in lots(curators, state="waiting", trip="T28-001")] == [1, 3]
    assert list_lots(curators, AskedLots(trip="no\0where"))[:2] == (0, [])
    with pytest.raises(AcquisitionError, match="the states are waiting, on hold, accepted, declined"):
        lots(curators, state="pending")


# --- decisions


def test_an_accepted_lot_has_a_number_an_entry_and_a_change(curators, clock):
    ines, lot = acting(curators), lot_of(curators)
    told = accept(curators, ines, lot.id, version=1, door_count=9)
    assert (told.state, told.version, told.accession, told.door_count) == ("accepted", 2, "2028-0001", 9)
    assert (told.decided_by, told.decided_by_name, told.decided_at) == (ines.person, "Ines", clock())
    assert told == lot_of(curators)
    _, (action, actor, content) = noted(curators, f"acquisition {lot.id}")
    assert (action, actor) == ("lot accepted", ines.person)
    assert (content["accession"], content["line"], content["door count"], content["missing"]) == (
        "2028-0001",
        "L1",
        9,
        None,
    )
    with curators.reading() as session:
        last = session.exec(select(Change).order_by(col(Change.seq).desc())).first()
        assert (last.kind, last.record, last.version, last.trip_id) == ("acquisition", lot.id, 2, "T1")
    head(curators)


def test_numbers_run_without_gaps_by_the_year_at_the_organisation(curators, clock):
    caught(curators, 1, 1, 1, 1)
    with curators.writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="Australia/Hobart"))
    ines, waiting = acting(curators), lots(curators)
    clock.at = datetime(2028, 12, 31, 12, 30, tzinfo=UTC)  # half past eleven at night there
    assert accept(curators, ines, waiting[0].id, version=1).accession == "2028-0001"
    # A refused acceptance, a hold and a decline use no number.
    with pytest.raises(VarianceError):
        accept(curators, ines, waiting[1].id, version=1, door_count=3)
    hold(curators, ines, waiting[1].id, version=1)
    decline(curators, ines, waiting[2].id, version=1, reason="no room", onward="transferred")
    assert accept(curators, ines, waiting[3].id, version=1).accession == "2028-0002"
    clock.at = datetime(2028, 12, 31, 13, 30, tzinfo=UTC)  # the new year there, not yet in UTC
    assert accept(curators, ines, waiting[4].id, version=1).accession == "2029-0001"
    assert accept(curators, ines, waiting[1].id, version=2).accession == "2029-0002"


def test_the_ten_thousandth_number_is_followed_by_the_next(curators):
    caught(curators, 1, 1)
    ines, waiting = acting(curators), lots(curators)
    for place, lot in zip((9999, 10000), waiting, strict=False):
        with curators.writing(Actor()) as work:
            row = work.session.get_one(Acquisition, lot.id)
            row.state, row.accession, row.decided_by = "accepted", f"2028-{place:04}", ines.person
    assert accept(curators, ines, waiting[2].id, version=1).accession == "2028-10001"


def at_once(*deeds):
    """Do things in threads that begin together; gives what each gave, or the error it raised."""
    begin = threading.Barrier(len(deeds))

    def run(deed):
        begin.wait(timeout=30)
        try:
            return deed()
        except AcquisitionError as error:
            return error

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def test_two_curators_approve_one_lot_at_once_and_one_is_told(curators, clock):
    rounds = 20
    caught(curators, *[1] * (rounds - 1))
    ines, maren = acting(curators, "Ines"), acting(curators, "Maren")
    waiting = lots(curators, limit=200)
    assert len(waiting) == rounds
    firsts = []
    for number, lot in enumerate(waiting, start=1):
        both = at_once(
            lambda lot=lot: accept(curators, ines, lot.id, version=1),
            lambda lot=lot: accept(curators, maren, lot.id, version=1),
        )
        (done,) = [one for one in both if not isinstance(one, Exception)]
        (told,) = [one for one in both if isinstance(one, Exception)]
        assert (done.accession, done.version) == (f"2028-{number:04}", 2)
        assert isinstance(told, DecidedMeanwhileError)
        assert (told.state, told.version, told.by, told.at) == ("accepted", 2, done.decided_by_name, clock())
        assert f"{done.decided_by_name} has decided on this lot meanwhile" in str(told)
        assert done.accession in str(told)
        firsts.append(done.decided_by_name)
        assert [one[0] for one in noted(curators, f"acquisition {lot.id}")] == ["lot at the gate", "lot accepted"]
    assert len(firsts) == rounds
    accessions = [one.accession for one in lots(curators, limit=200)]
    assert accessions == [f"2028-{number:04}" for number in range(1, rounds + 1)]


def test_many_lots_approved_at_once_have_numbers_in_a_row(curators):
    caught(curators, *[1] * 11)
    ines, waiting = acting(curators), lots(curators, limit=200)
    done = at_once(*[lambda lot=lot: accept(curators, ines, lot.id, version=1) for lot in waiting])
    assert sorted(one.accession for one in done) == [f"2028-{number:04}" for number in range(1, 13)]


def test_one_accepts_while_the_other_declines_and_one_decision_stands(curators):
    caught(curators, *[1] * 5)
    ines, maren = acting(curators, "Ines"), acting(curators, "Maren")
    for lot in lots(curators):
        both = at_once(
            lambda lot=lot: accept(curators, ines, lot.id, version=1),
            lambda lot=lot: decline(curators, maren, lot.id, version=1, reason="no room", onward="held apart"),
        )
        (done,) = [one for one in both if not isinstance(one, Exception)]
        (told,) = [one for one in both if isinstance(one, DecidedMeanwhileError)]
        assert (told.state, told.by) == (done.state, done.decided_by_name)
        assert lot_of(curators, lot.line) == look_at(curators, done.id)


def test_a_lot_on_hold_is_decided_later_with_the_version_of_the_hold(curators, clock):
    ines, lot = acting(curators), lot_of(curators)
    held = hold(curators, ines, lot.id, version=1, reason="name to be confirmed")
    assert (held.state, held.version, held.reason, held.accession) == ("on hold", 2, "name to be confirmed", "")
    clock.forward(days=1)
    with pytest.raises(DecidedMeanwhileError, match="Ines has decided on this lot meanwhile: it is on hold since 2028"):
        accept(curators, acting(curators, "Maren"), lot.id, version=1)
    told = accept(curators, acting(curators, "Maren"), lot.id, version=2)
    assert (told.state, told.version, told.decided_by_name, told.reason) == ("accepted", 3, "Maren", "")


def test_a_version_that_never_was_is_told_so(curators):
    lot = lot_of(curators)
    with pytest.raises(UnknownVersionError, match="has no version 7 yet, its newest is 1"):
        accept(curators, acting(curators), lot.id, version=7)
    assert lot_of(curators).state == "waiting"


def test_a_decision_is_final(curators):
    ines, lot = acting(curators), lot_of(curators)
    accept(curators, ines, lot.id, version=1)
    with pytest.raises(MoveRefusedError, match="that is final"):
        decline(curators, ines, lot.id, version=2, reason="changed my mind", onward="transferred")
    assert lot_of(curators).state == "accepted"


def test_only_a_curator_decides_and_not_on_their_own_catch(curators):
    lot = lot_of(curators)
    for role in ("collector", "administrator", "inspector"):
        add_account(curators, Actor(), login=f"the-{role}", name=role.title(), password=PASSWORD, roles=[role])
        with pytest.raises(NotACuratorError):
            accept(curators, acting(curators, role.title()), lot.id, version=1)
    with pytest.raises(NotACuratorError):
        accept(curators, Actor(), lot.id, version=1)
    # Ann led the trip; being a curator as well does not help her.
    add_account(curators, Actor(), login="ann", person="ann", password=PASSWORD, roles=["curator", "collector"])
    for deed in (accept, hold):
        with pytest.raises(OwnCatchError, match="'ann' collected this lot"):
            deed(curators, Actor("ann"), lot.id, version=1)
    with pytest.raises(OwnCatchError):
        decline(curators, Actor("ann"), lot.id, version=1, reason="no room", onward="transferred")
    assert lot_of(curators) == lot
    with curators.writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="Australia/Hobart", own_catch_approved=True))
    assert accept(curators, Actor("ann"), lot.id, version=1).decided_by == "ann"


def test_a_role_taken_away_meanwhile_is_no_role(curators):
    ines, lot = acting(curators), lot_of(curators)
    set_roles(curators, Actor(), "ines", ["collector"])
    with pytest.raises(NotACuratorError):
        accept(curators, ines, lot.id, version=1)


def test_who_is_credited_or_handled_it_collected_it_and_an_observer_did_not(curators):
    people = {name: phones.person(name) for name in ("Ben", "Cat", "Dov")}
    ids = {name: one.record["id"] for name, one in people.items()}
    crew = [{"person": "ann", "role": "holder"}, {"person": ids["Ben"], "role": "assistant"}]
    crew.append({"person": ids["Cat"], "role": "observer"})
    trip = phones.trip("ann", depart="2028-03-02T07:00", status="closed", crew=crew)
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10", person=ids["Dov"])
    push(curators, [*people.values(), trip, haul, phones.line(haul), phones.line(haul, person=ids["Cat"])], PHONE)
    of_haul, of_line = lots(curators, trip="T28-001")
    assert set(of_haul.collectors) == {"ann", ids["Ben"], ids["Dov"]}
    assert set(of_line.collectors) == {"ann", ids["Ben"], ids["Cat"]}


@pytest.mark.parametrize("named", ["nowhere", "no\0where", ""])
def test_an_unknown_lot_is_told(curators, named):
    with pytest.raises(UnknownAcquisitionError, match="take an id from the list"):
        accept(curators, acting(curators), named, version=1)


def test_texts_are_kept_on_one_line_and_can_be_written_down(curators):
    ines, lot = acting(curators), lot_of(curators)
    told = hold(curators, ines, lot.id, version=1, reason=" fin\nrot? \0 \ud800 ")
    assert told.reason == "fin rot? ? ?"
    assert head(curators)


# --- what the door counts


def test_a_found_animal_is_a_correction_of_the_line_and_the_limit_counts_it(curators, clock):
    # JOB.md D 28: 30 loaded, 33 counted: +3 with evidence; over the limit it is an incident, not hidden as births.
    assert taken(curators) == (exactly(9), exactly(1), "met")
    ines, lot = acting(curators), lot_of(curators)
    with pytest.raises(VarianceError, match="12 were counted where the record has 9"):
        accept(curators, ines, lot.id, version=1, door_count=12)
    assert season_in(curators).corrections == ()
    clock.forward(minutes=1)
    told = accept(curators, ines, lot.id, version=1, door_count=12, reason="three under the net, photograph")
    clock.forward(minutes=1)
    assert (told.field_count, told.door_count, told.on_hand, told.amended) == (exactly(9), 12, exactly(12), False)
    assert taken(curators) == (exactly(12), exactly(0), "broken")
    (correction,) = season_in(curators).corrections
    assert (correction.record, correction.field, correction.by) == ("L1", "count", ines.person)
    assert ('"best":9' in correction.old, '"best":12' in correction.new) == (True, True)
    assert correction.why == "counted at the door: 12; three under the net, photograph"
    # The line is amended as any line of a closed trip is: with its version, its change and its entry.
    with curators.reading() as session:
        (change,) = session.exec(select(Change).where(Change.kind == "line", Change.version == 2))
        assert change.record == "L1"
    (entry,) = noted(curators, "line L1")
    assert (entry[0], entry[1], entry[2]["why"]) == ("line amended", ines.person, correction.why)
    # Not born: nothing was gained.
    assert season_in(curators).movements == ()


def test_a_phone_that_amends_the_line_after_the_door_is_told_of_the_clash(curators):
    (line,) = caught(curators, 1)
    lot = lot_of(curators, "T28-001-1-a")
    accept(curators, acting(curators), lot.id, version=1, door_count=2, reason="one more")
    (told,) = push(curators, [phones.amended(line, 1, why="recounted", count=3)], PHONE)
    assert (told.answer, told.version) == ("conflict", 2)


def test_a_missing_animal_is_a_movement_and_the_take_stays(curators, clock):
    # JOB.md D 29: 30 loaded, 24 counted: 6 missing, presumed eaten; take stays 30.
    before = taken(curators)
    told = accept(
        curators, acting(curators), lot_of(curators).id, version=1, door_count=7, reason="fat crab in the bucket"
    )
    clock.forward(minutes=1)
    assert (told.field_count, told.door_count, told.on_hand) == (exactly(9), 7, exactly(7))
    assert taken(curators) == before
    season = season_in(curators)
    (movement,) = season.movements
    assert (movement.what, movement.count, movement.line) == ("missing", exactly(2), "L1")
    assert movement.reason == "counted at the door: 7; fat crab in the bucket"
    assert season.corrections == ()
    assert season.trips[0].hauls[0].lines[0].count == exactly(9)
    (entry,) = noted(curators, f"movement {movement.id}")
    assert entry[0] == "movement stored"


def test_what_died_on_the_way_is_expected_no_more(curators):
    died = {"id": new_id(), "line": "L1", "at": "2027-08-01T05:00Z", "what": "died", "count": 2, "reason": "in transit"}
    push(curators, [Operation(id=new_id(), kind="movement", record=died)], PHONE)
    lot = lot_of(curators)
    assert lot.on_hand == exactly(7)
    told = accept(curators, acting(curators), lot.id, version=1, door_count=7)
    assert (told.state, len(season_in(curators).movements), season_in(curators).corrections) == ("accepted", 1, ())


def test_what_is_dead_on_arrival_is_written_with_the_decision_and_the_take_stays(curators, clock):
    before = taken(curators)
    lot = lot_of(curators)
    told = accept(curators, acting(curators), lot.id, version=1, door_count=7, died=2)
    clock.forward(minutes=1)
    assert (told.state, told.field_count, told.on_hand) == ("accepted", exactly(9), exactly(7))
    assert taken(curators) == before
    season = season_in(curators)
    (movement,) = season.movements
    assert (movement.what, movement.count, movement.line) == ("died", exactly(2), "L1")
    assert movement.reason == "died on the way: found dead at the door"
    assert season.corrections == ()
    (died,) = [
        content["died"] for action, _, content in noted(curators, f"acquisition {lot.id}") if action == "lot accepted"
    ]
    assert died == 2


def test_more_dead_than_set_out_are_refused_and_nothing_of_it_is_written(curators):
    with pytest.raises(AcquisitionError, match="10 cannot have died where 9 set out"):
        accept(curators, acting(curators), lot_of(curators).id, version=1, died=10)
    assert season_in(curators).movements == ()
    assert lot_of(curators).state == "waiting"


def test_an_estimate_is_firmer_after_the_door(curators, clock):
    caught(curators, "about 200 (180-240)")
    lot = lot_of(curators, "T28-001-1-a")
    told = accept(curators, acting(curators), lot.id, version=1, door_count=212)
    clock.forward(minutes=1)
    assert told.on_hand == Count(212, 212, 240)
    assert taken(curators)[0] == Count(221, 221, 249)
    (correction,) = season_in(curators).corrections
    assert correction.why == "counted at the door: 212"


def test_litres_are_measured_at_the_door_exactly(cheap_hashes, store, tmp_path):
    made(store, tmp_path, trips_file([{"id": "L4", "taxon": "shell, clean", "fate": "kept", "count": "45.3 L"}]))
    lot = lot_of(store, "L4")
    told = accept(store, acting(store), lot.id, version=1, door_count=Fraction(453, 10))
    assert (told.door_count, told.on_hand, season_in(store).corrections) == (Fraction(453, 10), told.field_count, ())


@pytest.mark.parametrize("fails", ["shelf", "number"])
def test_a_decision_that_fails_leaves_nothing_of_it(curators, monkeypatch, fails):
    ines, lot, before = acting(curators), lot_of(curators), head(curators)

    def broken(*_args, **_more):
        raise RuntimeError("the power went")

    if fails == "shelf":
        monkeypatch.setattr("api.store.shelf.Shelf.correct", broken)
    else:
        monkeypatch.setattr(gate, "_next_accession", broken)
    with pytest.raises(RuntimeError):
        accept(curators, ines, lot.id, version=1, door_count=12, reason="recounted")
    monkeypatch.undo()
    assert (lot_of(curators), head(curators)) == (lot, before)
    assert season_in(curators).trips[0].hauls[0].lines[0].count == exactly(9)
    assert accept(curators, ines, lot.id, version=1).accession == "2028-0001"


# --- no refund


def test_a_decline_a_hold_and_a_transfer_give_nothing_back(curators, clock):
    # CHECKS.md, no refund; JOB.md D 32: declines 4 on arrival, the take stays.
    caught(curators, 1)
    ines, maren = acting(curators, "Ines"), acting(curators, "Maren")
    before = taken(curators)
    assert before == (exactly(10), exactly(0), "met")
    first, second = lots(curators)
    hold(curators, ines, first.id, version=1, reason="eyes cloudy")
    clock.forward(minutes=1)
    assert taken(curators) == before
    for onward in ("released", "back to the creek", ""):
        with pytest.raises(OnwardRefusedError):
            decline(curators, ines, first.id, version=2, reason="eyes cloudy", onward=onward)
    told = decline(curators, maren, first.id, version=2, reason="eyes cloudy", onward="veterinarian's matter")
    assert (told.state, told.onward, told.accession) == ("declined", "veterinarian's matter", "")
    clock.forward(minutes=1)
    assert taken(curators) == before
    accept(curators, ines, second.id, version=1)
    for line, count in (("L1", 9), (second.line, 1)):
        record = line_id(curators, line)
        sent = {"id": new_id(), "line": record, "at": "2028-07-14T01:00Z", "what": "transferred", "count": count}
        sent |= {"to": "Cape Lorne", "consent": "letter 4"}
        assert [
            one.answer for one in push(curators, [Operation(id=new_id(), kind="movement", record=sent)], PHONE)
        ] == ["stored"]
    clock.forward(minutes=1)
    assert taken(curators) == before


def line_id(store, code):
    """Give a catch line's id by its code."""
    with store.reading() as session:
        return session.exec(select(CatchLine.id).where(CatchLine.code == code)).one()


# --- lots follow their lines until they are decided on


def test_a_line_amended_while_its_lot_waits_is_seen_before_anybody_decides(curators):
    ines = acting(curators)
    (line,) = caught(curators, 4)
    seen = lot_of(curators, "T28-001-1-a")
    push(curators, [phones.amended(line, 1, why="recounted in the van", count=5)], PHONE)
    with pytest.raises(DecidedMeanwhileError, match="its catch line was amended, and it is waiting") as told:
        accept(curators, ines, seen.id, version=seen.version)
    assert (told.value.by, told.value.at, told.value.version) == ("", None, 2)
    now = lot_of(curators, "T28-001-1-a")
    assert (now.version, now.field_count, now.state) == (2, exactly(5), "waiting")
    with pytest.raises(DecidedMeanwhileError):
        accept(curators, ines, seen.id, version=1)
    assert accept(curators, ines, seen.id, version=2).state == "accepted"
    assert [one[0] for one in noted(curators, f"acquisition {seen.id}")] == [
        "lot at the gate",
        "lot follows its line",
        "lot accepted",
    ]


def test_a_line_that_says_kept_no_more_leaves_the_gate_until_it_does_again(curators):
    (line,) = caught(curators, 4)
    lot = lot_of(curators, "T28-001-1-a")
    push(curators, [phones.amended(line, 1, why="let go at the bank", fate="released")], PHONE)
    assert [one.line for one in lots(curators)] == ["L1"]
    with pytest.raises(NotAtTheGateError, match="T28-001-1-a"):
        accept(curators, acting(curators), lot.id, version=1)
    push(curators, [phones.amended(line, 2, why="kept after all")], PHONE)
    assert accept(curators, acting(curators), lot_of(curators, "T28-001-1-a").id, version=1).state == "accepted"


def test_a_line_amended_after_the_decision_is_marked_and_the_decision_stands(curators, clock):
    (line,) = caught(curators, 4)
    lot = lot_of(curators, "T28-001-1-a")
    accept(curators, acting(curators), lot.id, version=1)
    clock.forward(days=3)
    push(curators, [phones.amended(line, 1, why="named again", taxon="Galaxias brevipinnis")], PHONE)
    told = lot_of(curators, "T28-001-1-a")
    assert (told.amended, told.state, told.taxon, told.version) == (True, "accepted", "Galaxias maculatus", 2)
