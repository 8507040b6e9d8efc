"""Lots, decisions and wants over HTTP."""

import pytest

from api.entities.people import Organisation
from api.operations.accounts import add_account
from api.store.unit_of_work import Actor
from tests import phones
from tests.routes.test_sync import sent
from tests.served import PASSWORD


def lots(client, **asked):
    return client.get("/api/acquisitions", params=asked).json()


def decide(client, lot, move, **body):
    return client.post(f"/api/acquisitions/{lot['id']}/{move}", json={"expected_version": lot["version"], **body})


def closed_trip(client, *counts):
    trip = phones.trip("ann", status="closed", depart="2027-09-01T07:00", back="2027-09-01T12:00")
    haul = phones.haul(trip, start="2027-09-01T08:00", end="2027-09-01T08:10")
    lines = [phones.line(haul, count=count) for count in counts]
    client("collector").post("/api/sync/push", json=sent(trip, haul, *lines))


def test_everybody_signed_in_sees_what_is_at_the_gate_with_its_findings(client):
    told = lots(client("inspector"))
    (lot,) = told["lots"]
    assert told["total"] == 1
    assert (lot["line"], lot["trip"], lot["state"], lot["version"]) == ("L1", "T1", "waiting", 1)
    assert lot["field_count"] == lot["on_hand"] == {"low": 9, "best": 9, "high": 9}
    assert (lot["door_count"], lot["decided_at"], lot["accession"]) == (None, None, "")
    (limit,) = [one for one in lot["findings"] if one["number"] == "1"]
    assert (limit["authority"], limit["outcome"]) == ("permit", "met")
    assert "kept 9" in limit["sentence"]


def test_a_lot_is_accepted_and_the_second_curator_is_told(client):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    told = decide(curator, lot, "accept", door_count=9)
    assert told.status_code == 200
    accepted = told.json()
    assert (accepted["state"], accepted["accession"], accepted["version"]) == ("accepted", "2028-0001", 2)
    assert (accepted["decided_by_name"], accepted["door_count"]) == ("Some curator", 9)
    late = decide(curator, lot, "decline", reason="no room", onward="transferred")
    assert late.status_code == 409
    assert late.headers["content-type"] == "application/problem+json"
    assert late.json()["detail"] == (
        "Some curator has decided on this lot meanwhile: it is accepted as 2028-0001 since 2028-07-14 02:00 UTC; "
        "look at it again (version 2)."
    )
    again = decide(curator, accepted, "decline", reason="no room", onward="transferred")
    assert (again.status_code, "that is final" in again.json()["detail"]) == (409, True)


def test_a_decline_says_why_and_where_to_and_gives_nothing_back(client, clock):
    curator = client("curator")
    (before,) = curator.get("/api/authorities/permit/balance").json()
    (lot,) = lots(curator)["lots"]
    held = decide(curator, lot, "hold", reason="name to be confirmed").json()
    assert (held["state"], held["reason"]) == ("on hold", "name to be confirmed")
    for body, words in (
        ({"onward": "transferred"}, "say why"),
        ({"reason": "no room"}, "has to go somewhere"),
        ({"reason": "no room", "onward": "released"}, "A return to the wild is the agency's to allow"),
    ):
        refused = decide(curator, held, "decline", **body)
        assert refused.status_code == 422
        assert words in refused.json()["detail"]
    declined = decide(curator, held, "decline", reason="no room", onward="transferred").json()
    assert (declined["state"], declined["onward"], declined["accession"]) == ("declined", "transferred", "")
    clock.forward(minutes=2)
    assert curator.get("/api/authorities/permit/balance").json() == [before]


def test_more_at_the_door_needs_a_reason_and_counts_against_the_limit(client, clock):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    refused = decide(curator, lot, "accept", door_count=12)
    assert refused.status_code == 422
    assert refused.json()["detail"] == "At the door 12 were counted where the record has 9; say why."
    told = decide(curator, lot, "accept", door_count=12, reason="three under the net").json()
    assert (told["field_count"]["best"], told["on_hand"]["best"], told["door_count"]) == (9, 12, 12)
    (limit,) = [one for one in told["findings"] if one["number"] == "1"]
    assert limit["outcome"] == "broken"
    (balance,) = curator.get("/api/authorities/permit/balance").json()
    assert balance["tallies"][0]["tally"]["after"]["best"] == 12


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"expected_version": 0},
        {"expected_version": 1, "door_count": -1},
        {"expected_version": 1, "door_count": 10**12},
        {"expected_version": 1, "door_count": "many"},
        {"expected_version": 1, "door_count": "NaN"},
        {"expected_version": 1, "release": True},
        {"expected_version": 1, "reason": "x" * 4001},
    ],
    ids=str,
)
def test_what_cannot_be_read_is_refused(client, body):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    response = curator.post(f"/api/acquisitions/{lot['id']}/accept", json=body)
    assert response.status_code == 422
    assert response.json()["faults"]
    assert lots(curator)["lots"] == [lot]


def test_half_an_animal_is_refused_and_half_a_litre_is_not(client):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    assert decide(curator, lot, "accept", door_count="8.5", reason="x").status_code == 422
    trip = phones.trip("ann", status="closed")
    haul = phones.haul(trip)
    shell = phones.line(haul, taxon="shell, clean", count="45.5 L")
    client("collector").post("/api/sync/push", json=sent(trip, haul, shell))
    (shells,) = lots(curator, trip="T27-001")["lots"]
    assert (shells["unit"], shells["field_count"]["best"]) == ("L", "91/2")
    told = decide(curator, shells, "accept", door_count=45.5).json()
    assert (told["state"], told["door_count"]) == ("accepted", "91/2")


def test_own_catch_is_refused_unless_the_organisation_allows_it(client, store, served):
    add_account(store, Actor(), login="ann", person="ann", password=PASSWORD, roles=["curator"])
    ann = client()
    assert ann.post("/api/sessions", json={"login": "ann", "password": PASSWORD}).status_code == 201
    (lot,) = lots(ann)["lots"]
    assert lot["collectors"] == ["ann"]
    refused = decide(ann, lot, "accept")
    assert refused.status_code == 403
    assert "another curator decides on it" in refused.json()["detail"]
    with store.writing(Actor()) as work:
        work.session.add(Organisation(name="Marrow Aquarium", zone="Australia/Hobart", own_catch_approved=True))
    assert decide(ann, lot, "accept").status_code == 200


def test_lots_are_narrowed_and_paged(client):
    closed_trip(client, 1, 2, 3)
    reader = client("inspector")
    everything = lots(reader)["lots"]
    assert [one["field_count"]["best"] for one in everything] == [9, 1, 2, 3]
    page = lots(reader, start=1, limit=2)
    assert (page["total"], page["lots"]) == (4, everything[1:3])
    assert page["trips"] == [{"trip": "T1", "lots": 1}, {"trip": "T27-001", "lots": 3}]
    assert {one["state"]: one["lots"] for one in page["states"]}["waiting"] == 4
    newest = lots(reader, order="newest")
    assert [one["field_count"]["best"] for one in newest["lots"]] == [1, 2, 3, 9]
    assert lots(reader, grave=True)["total"] == 4  # 15 galaxias kept where 10 are allowed
    assert reader.get(f"/api/acquisitions/{everything[2]['id']}").json() == everything[2]
    assert reader.get("/api/acquisitions/none").status_code == 404
    decide(client("curator"), everything[1], "accept")
    assert [one["line"] for one in lots(reader, state="accepted")["lots"]] == ["T27-001-1-a"]
    assert [one["line"] for one in lots(reader, state="waiting")["lots"]] == ["L1", "T27-001-1-b", "T27-001-1-c"]
    page = lots(reader, state="waiting", trip="T27-001", limit=1)
    assert (page["total"], [one["line"] for one in page["lots"]]) == (2, ["T27-001-1-b"])
    assert reader.get("/api/acquisitions", params={"state": "pending"}).status_code == 422
    assert reader.get("/api/acquisitions", params={"limit": 1000}).status_code == 422


def test_what_died_on_the_way_comes_with_the_decision(client):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    assert "cannot have died" in decide(curator, lot, "accept", died=12).json()["detail"]
    told = decide(curator, lot, "accept", door_count=7, died=2).json()
    assert (told["state"], told["on_hand"]["best"], told["door_count"]) == ("accepted", 7, 7)


def test_phones_hear_that_something_was_decided(client):
    curator = client("curator")
    (lot,) = lots(curator)["lots"]
    cursor = curator.get("/api/sync/pull").json()["cursor"]
    decide(curator, lot, "accept")
    (change,) = curator.get("/api/sync/pull", params={"after": cursor}).json()["changes"]
    assert (change["kind"], change["id"], change["version"], change["trip"]) == ("acquisition", lot["id"], 2, "T1")


def test_wants_are_added_listed_and_ended(client):
    curator, reader = client("curator"), client("inspector")
    made = curator.post("/api/wants", json={"taxon": "Galaxias maculatus", "number": 12, "tank": "Reed tank"})
    assert made.status_code == 201
    want = made.json()
    assert (want["number"], want["tank"], want["ended_at"]) == (12, "Reed tank", None)
    assert reader.get("/api/wants").json() == {"total": 1, "wants": [want]}
    assert lots(reader)["lots"][0]["wanted"] == 12
    assert curator.delete(f"/api/wants/{want['id']}").status_code == 204
    assert reader.get("/api/wants").json() == {"total": 0, "wants": []}
    ended = reader.get("/api/wants", params={"ended": True, "start": 0, "limit": 1}).json()
    assert (ended["total"], ended["wants"][0]["ended_at"][:10]) == (1, "2028-07-14")


def test_a_want_for_what_is_not_in_the_list_is_told(client):
    response = client("curator").post("/api/wants", json={"taxon": "Galaxias maculatis", "number": 1})
    assert response.status_code == 422
    assert "'Galaxias maculatis' is not in the list of taxa; give a name from there" in response.json()["detail"]
    assert client("curator").post("/api/wants", json={"taxon": "Galaxias", "number": 0}).status_code == 422
    assert client("curator").delete("/api/wants/none").status_code == 404
