"""Delivering and asking what is new, over HTTP."""

from datetime import UTC, datetime

import pytest
from sqlmodel import select

from api.entities.sync import Receipt
from api.entities.trips import TripRecord
from tests import phones


def sent(*operations, clock=None, entered_from="screen"):
    """Give a batch in the newest protocol."""
    told = [{**one.to_json(), "device_clock": clock, "entered_from": entered_from} for one in operations]
    return {"protocol": 2, "operations": [{key: one[key] for key in one if key != "made_at"} for one in told]}


def sent_as_before(*operations, made_at=None):
    """Give a batch in the protocol before."""
    return {"protocol": 1, "operations": [{**one.to_json(), "made_at": made_at} for one in operations]}


def ada(client):
    """Give the id of somebody in the season."""
    return next(one["id"] for one in client.get("/api/people").json() if one["id"] == "ann")


def test_a_day_is_delivered_and_comes_back(client):
    phone = client("collector")
    trip = phones.trip(ada(phone))
    haul = phones.haul(trip)
    line = phones.line(haul, count="about 200 (180-240)", fate="released")
    cursor = phone.get("/api/sync/pull").json()["cursor"]
    answers = phone.post("/api/sync/push", json=sent(trip, haul, line)).json()["answers"]
    assert [one["answer"] for one in answers] == ["stored"] * 3
    pulled = phone.get("/api/sync/pull", params={"after": cursor}).json()
    assert [(one["kind"], one["id"]) for one in pulled["changes"]] == [
        ("trip", trip.record["id"]),
        ("haul", haul.record["id"]),
        ("line", line.record["id"]),
    ]
    assert pulled["changes"][1]["parent"] == trip.record["id"]
    assert pulled["changes"][2]["parent"] == haul.record["id"]
    assert pulled["changes"][2]["record"]["count"] == {"low": 180, "best": 200, "high": 240}
    assert phone.get("/api/sync/pull", params={"after": pulled["cursor"]}).json()["changes"] == []


def test_what_was_pulled_can_be_pushed_back_unchanged(client):
    phone = client("collector")
    trip = phones.trip(ada(phone))
    haul = phones.haul(trip)
    line = phones.line(haul, measurements=[{"measure": "total length", "values": ["63.5"]}])
    cursor = phone.get("/api/sync/pull").json()["cursor"]
    phone.post("/api/sync/push", json=sent(trip, haul, line))
    pulled = phone.get("/api/sync/pull", params={"after": cursor}).json()["changes"]
    again = [
        {"id": f"again-{place}", "kind": one["kind"], "record": one["record"], "parent": one["parent"], "based_on": 1}
        for place, one in enumerate(pulled)
    ]
    answers = phone.post("/api/sync/push", json={"operations": again}).json()["answers"]
    assert [(one["answer"], one["version"]) for one in answers] == [("stored", 1)] * 3
    assert phone.get("/api/sync/pull", params={"after": cursor}).json()["changes"] == pulled


def test_everything_is_pulled_in_pages_and_each_record_once(client):
    phone = client("inspector")
    seen, cursor, more = [], 0, True
    while more:
        page = phone.get("/api/sync/pull", params={"after": cursor, "limit": 2}).json()
        assert len(page["changes"]) <= 2
        seen += [(one["kind"], one["id"]) for one in page["changes"]]
        cursor, more = page["cursor"], page["more"]
    assert len(seen) == len(set(seen))
    assert {("trip", "T1"), ("haul", "H1"), ("line", "L1")} <= set(seen)


# --- versions of the protocol

FAST = {"at": "2027-08-01T10:09:00+10:00", "ahead_s": 11_220, "known_at": "2027-07-31T20:00:00Z"}
"""JOB.md D 21: a phone's clock 3 h 07 min fast."""


def receipts(store):
    with store.reading() as session:
        return {one.operation_id: one for one in session.exec(select(Receipt))}


def told(phone, batch):
    response = phone.post("/api/sync/push", json=batch)
    assert response.status_code == 200, response.text
    return [one["answer"] for one in response.json()["answers"]]


def test_what_was_known_of_the_clock_and_of_paper_is_kept_with_the_receipt(client, store):
    phone = client("collector")
    trip, typed, bare = phones.trip("ann"), phones.trip("ann"), phones.trip("ann")
    assert told(phone, sent(trip, clock=FAST)) == ["stored"]
    first_visit = {"at": "2027-08-01T07:02:00+10:00", "ahead_s": None, "known_at": None}
    assert told(phone, sent(typed, clock=first_visit, entered_from="paper")) == ["stored"]
    assert told(phone, sent(bare, entered_from=None)) == ["stored"]
    kept = receipts(store)
    at = datetime(2027, 8, 1, 0, 9, tzinfo=UTC)
    one = kept[trip.id]
    assert (one.device_at, one.device_ahead_s, one.entered_from) == (at, 11_220, "screen")
    assert one.ahead_known_at == datetime(2027, 7, 31, 20, tzinfo=UTC)
    one = kept[typed.id]
    assert (one.device_at, one.device_ahead_s, one.ahead_known_at) == (
        datetime(2027, 7, 31, 21, 2, tzinfo=UTC),
        None,
        None,
    )
    assert one.entered_from == "paper"
    one = kept[bare.id]
    assert (one.device_at, one.device_ahead_s, one.ahead_known_at, one.entered_from) == (None, None, None, None)
    # FIELD.md 6: noticed and shown, not silently corrected.
    with store.reading() as session:
        assert session.get_one(TripRecord, trip.record["id"]).made_at == at


def test_a_phone_that_was_not_updated_still_delivers(client, store):
    phone = client("collector")
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    assert told(phone, sent_as_before(trip, made_at="2027-08-01T07:02:00+10:00")) == ["stored"]
    # The first phones named no version.
    unnamed = {"operations": sent_as_before(haul)["operations"]}
    assert told(phone, unnamed) == ["stored"]
    one = receipts(store)[trip.id]
    assert one.device_at == datetime(2027, 7, 31, 21, 2, tzinfo=UTC)
    assert (one.device_ahead_s, one.ahead_known_at, one.entered_from) == (None, None, None)


def test_an_operation_is_the_same_in_whichever_protocol_it_comes_again(client, store):
    phone = client("collector")
    first, second = phones.trip("ann"), phones.trip("ann")
    before = sent_as_before(first, made_at=FAST["at"])
    assert told(phone, before) == ["stored"]
    assert told(phone, before) == ["already had"]
    assert told(phone, sent(first, clock=FAST)) == ["already had"]
    assert told(phone, sent(second, clock=FAST)) == ["stored"]
    assert told(phone, sent_as_before(second, made_at=FAST["at"])) == ["already had"]
    kept = receipts(store)
    assert [kept[one.id].device_ahead_s for one in (first, second)] == [None, 11_220]
    with store.reading() as session:
        assert len(session.exec(select(TripRecord).where(TripRecord.leader == "ann")).all()) == 3


@pytest.mark.parametrize("make", [sent, sent_as_before])
def test_other_content_under_the_same_id_is_refused_in_either_protocol(client, make):
    phone, trip = client("collector"), phones.trip("ann")
    assert told(phone, sent(trip, clock=FAST)) == ["stored"]
    assert told(phone, make(phones.trip("ann", id=trip.record["id"]))) == ["stored"]
    late = (
        {"made_at": "2027-08-01T07:03:00Z"}
        if make is sent_as_before
        else {"clock": {**FAST, "at": "2027-08-01T07:03Z"}}
    )
    assert told(phone, make(trip, **late)) == ["refused"]


@pytest.mark.parametrize("protocol", [-1, 0, 3, 99])
def test_a_protocol_that_is_not_spoken_is_told_and_nothing_is_taken(client, store, protocol):
    # Whatever its operations hold: a phone of another version knows other keys.
    trip = phones.trip("ann")
    operations = [{**trip.to_json(), "mood": "good"}, 7]
    batch = {"protocol": protocol, "operations": operations, "weather": "fair"}
    response = client("collector").post("/api/sync/push", json=batch)
    assert response.status_code == 409
    detail = response.json()["detail"]
    assert f"Protocol {protocol} is not spoken here, but 1 and 2; nothing was taken" in detail
    assert ("update the app" if protocol < 1 else "have the server updated") in detail
    assert receipts(store) == {}


@pytest.mark.parametrize("protocol", [True, "2", 2.5, None])
def test_a_protocol_that_is_no_whole_number_is_told(client, protocol):
    response = client("collector").post("/api/sync/push", json={"protocol": protocol, "operations": []})
    assert response.status_code == 422
    assert response.json()["faults"][0]["where"] == "body.protocol"


@pytest.mark.parametrize(
    ("protocol", "change", "where"),
    [
        (2, {"made_at": None}, "body.operations.0.made_at"),
        (2, {"entered_from": "slate"}, "body.operations.0.entered_from"),
        (2, {"device_clock": {"at": "2027-08-01T07:02Z"}}, "body.operations.0.device_clock.ahead_s"),
        (2, {"device_clock": {**FAST, "known_at": None}}, "body.operations.0.device_clock"),
        (2, {"device_clock": {**FAST, "ahead_s": None}}, "body.operations.0.device_clock"),
        (2, {"device_clock": {**FAST, "ahead_s": 2**31}}, "body.operations.0.device_clock.ahead_s"),
        (2, {"device_clock": {**FAST, "at": "2027-08-01T07:02"}}, "body.operations.0.device_clock.at"),
        (1, {"entered_from": "paper"}, "body"),
        (1, {"device_clock": FAST}, "body"),
        (1, {"made_at": "this morning"}, "body.operations.0.device_clock.at"),
        (1, {"mood": "good"}, "body.operations.0.mood"),
    ],
)
def test_what_does_not_belong_to_the_protocol_named_is_told(client, store, protocol, change, where):
    make = {1: sent_as_before, 2: sent}[protocol]
    batch = make(phones.trip("ann"))
    batch["operations"][0] |= change
    response = client("collector").post("/api/sync/push", json=batch)
    assert response.status_code == 422
    assert response.json()["faults"][0]["where"] == where
    assert receipts(store) == {}


def test_whoever_asks_is_told_which_protocols_are_accepted(client):
    assert client().get("/healthz").json()["protocols"] == [1, 2]


def test_unknown_keys_of_a_batch_are_told(client):
    response = client("collector").post("/api/sync/push", json={"operations": [], "speed": 3})
    assert response.status_code == 422
    assert response.json()["faults"][0]["where"] == "body.speed"


def test_a_phones_clock_is_noticed(client, store):
    # FIELD.md 6: a wrong clock is noticed and shown, not silently corrected. JOB.md D 21: 3 h 07 min fast.
    code = client("administrator").post("/api/enrolments", json={"account": "the-collector"}).json()["code"]
    phone = client()
    token = phone.post("/api/devices", json={"code": code, "name": "Blue phone"}).json()["token"]
    fast = store.clock().replace(hour=5, minute=7).isoformat()
    body = {"operations": [], "device_time": fast}
    assert phone.post("/api/sync/push", json=body, headers={"Authorization": f"Bearer {token}"}).status_code == 200
    (device,) = client("inspector").get("/api/devices").json()
    assert (device["name"], device["clock_fast_s"]) == ("Blue phone", 3 * 3600 + 7 * 60)
