"""The organisation over HTTP: read by everybody, set by an administrator, and then it decides at the gate."""

import json

from api.operations.accounts import add_account
from api.store.unit_of_work import Actor
from tests.served import PASSWORD

PLACE = "/api/organisation"
NOW = "2028-07-14T02:00:00Z"
"""The time at which the clock of the tests stands."""
MARROW = {"name": "Marrow Aquarium", "zone": "Australia/Hobart", "own_catch_approved": False}


def test_it_is_named_and_read(client):
    missing = client("collector").get(PLACE)
    assert missing.status_code == 404
    assert "an administrator names it" in missing.json()["detail"]
    made = client("administrator").put(PLACE, json=MARROW)
    told = {**MARROW, "demo": False, "server_time": NOW}
    assert (made.status_code, made.json()) == (200, told)
    assert client("inspector").get(PLACE).json() == told
    refused = client("administrator").put(PLACE, json={**MARROW, "zone": "Nowhere"})
    assert (refused.status_code, refused.headers["content-type"]) == (422, "application/problem+json")
    assert "time zone" in refused.json()["detail"]


def test_an_administrator_lets_curators_decide_on_their_own_catch_and_takes_it_back(client, store, served):
    add_account(store, Actor(), login="ann", person="ann", password=PASSWORD, roles=["curator"])
    ann, office = client(), client("administrator")
    assert ann.post("/api/sessions", json={"login": "ann", "password": PASSWORD}).status_code == 201
    (lot,) = ann.get("/api/acquisitions").json()["lots"]

    def hold(version):
        place = f"/api/acquisitions/{lot['id']}/hold"
        return ann.post(place, json={"expected_version": version, "reason": "the tank is being dried"})

    assert office.put(PLACE, json=MARROW).status_code == 200
    refused = hold(1)
    assert refused.status_code == 403
    assert "an administrator sets that the organisation" in refused.json()["detail"]
    assert office.put(PLACE, json={**MARROW, "own_catch_approved": True}).status_code == 200
    assert hold(1).status_code == 200
    assert office.put(PLACE, json=MARROW).status_code == 200
    assert ann.post(f"/api/acquisitions/{lot['id']}/accept", json={"expected_version": 2}).status_code == 403
    told = office.get("/api/audit", params={"subject": "organisation 1"}).json()
    assert [json.loads(one["content"]) for one in told][:2] == [
        {"own_catch_approved": [True, False]},
        {"own_catch_approved": [False, True]},
    ]
    assert len({one["actor"] for one in told}) == 1
