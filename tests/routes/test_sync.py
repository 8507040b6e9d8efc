"""Delivering and asking what is new, over HTTP."""

from tests import phones


def sent(*operations):
    return {"protocol": 1, "operations": [operation.to_json() for operation in operations]}


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


def test_a_newer_phone_is_told_and_nothing_is_taken(client):
    response = client("collector").post("/api/sync/push", json={"protocol": 99, "operations": []})
    assert response.status_code == 409
    assert "Nothing was taken" in response.json()["detail"]


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
