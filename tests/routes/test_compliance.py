"""Authorities, findings, balances and the draft of the report, over HTTP."""

from api.operations.verifying import verify
from tests import phones
from tests.routes.test_sync import sent


def test_the_balance_follows_what_is_delivered(client):
    phone = client("collector")
    (before,) = phone.get("/api/authorities/permit/balance").json()
    assert before["tallies"][0]["tally"]["after"] == {"low": 9, "best": 9, "high": 9}
    assert before["tallies"][0]["tally"]["left"] == {"low": 1, "best": 1, "high": 1}
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    phone.post("/api/sync/push", json=sent(trip, haul, phones.line(haul, count=2)))
    (after,) = phone.get("/api/authorities/permit/balance").json()
    assert after["outcome"] == "broken"
    assert after["tallies"][0]["tally"]["after"]["best"] == 11
    broken = phone.get("/api/findings", params={"outcome": "broken"}).json()
    assert [one["number"] for one in broken["findings"]] == ["1"]
    assert broken["findings"][0]["over"] == ["T27-001-1-a"]


def test_the_balance_tells_what_crews_hold(client):
    office = client("administrator")
    office.post("/api/sync/push", json=sent(phones.trip("ann", status="planned")))
    (room,) = office.get("/api/trips/T27-001/rooms").json()
    assert (room["limit"], room["left"], room["held"]) == (10, 1, 0)
    body = {"authority": "permit", "number": "1", "amount": 1}
    assert office.post("/api/trips/T27-001/allotments", json=body).status_code == 201
    (balance,) = office.get("/api/authorities/permit/balance").json()
    assert [(one["trip"], one["amount"]) for one in balance["allotted"]] == [("T27-001", 1)]
    refused = office.post("/api/trips/T27-001/allotments", json=body)
    assert (refused.status_code, refused.json()["detail"]) == (
        409,
        "Condition 1 has 0 left to give; ask for no more than that.",
    )


def test_the_balance_tells_what_nobody_has_decided_on(client):
    phone, office = client("collector"), client("administrator")
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    line = phones.line(haul, count=1)
    phone.post("/api/sync/push", json=sent(trip, haul, line, phones.amended(line, 1, count=2)))
    answer = office.get("/api/authorities/permit/balance")
    assert answer.json()[0]["pending"] == []
    phone.post("/api/sync/push", json=sent(phones.amended(line, 1, count=6)))
    same = {"If-None-Match": answer.headers["ETag"]}
    (balance,) = office.get("/api/authorities/permit/balance", headers=same).json()
    (undecided,) = balance["pending"]
    assert (undecided["kind"], undecided["record"], undecided["trip"]) == ("line", "T27-001-1-a", "T27-001")
    assert balance["tallies"][0]["tally"]["after"]["best"] == 11
    assert balance["fullest"] == [0]
    assert [balance["tallies"][0]["tally"][name] for name in ("used_low", "used_high")] == [110, 110]  # 11 of 10
    settled = office.post(
        f"/api/conflicts/{undecided['conflict']}/settlement", json={"take": "offered", "why": "recounted"}
    )
    assert settled.status_code == 200
    (balance,) = office.get("/api/authorities/permit/balance").json()
    assert (balance["pending"], balance["tallies"][0]["tally"]["after"]["best"]) == ([], 15)


def test_a_haul_and_a_trip_with_another_version_are_undecided_in_every_limit_they_count_in(client):
    phone, office = client("collector"), client("administrator")
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    phone.post(
        "/api/sync/push",
        json=sent(trip, haul, phones.line(haul), phones.amended(haul, 1, note="a"), phones.amended(trip, 1, note="a")),
    )
    phone.post("/api/sync/push", json=sent(phones.amended(haul, 1, note="b"), phones.amended(trip, 1, note="b")))
    (balance,) = office.get("/api/authorities/permit/balance").json()
    assert [(one["kind"], one["record"]) for one in balance["pending"]] == [("haul", "T27-001-1"), ("trip", "T27-001")]


def test_a_late_trip_judges_anew_what_followed_it(client):
    # The builders' trip of 1 August keeps nine of ten; one that comes later but was caught before it goes first.
    phone = client("collector")
    trip = phones.trip("ann", depart="2027-07-10T07:00")
    haul = phones.haul(trip, start="2027-07-10T08:00", end="2027-07-10T08:10")
    phone.post("/api/sync/push", json=sent(trip, haul, phones.line(haul, count=3)))
    (finding,) = phone.get("/api/findings", params={"outcome": "broken"}).json()["findings"]
    assert finding["over"] == ["L1"]


def test_a_trip_is_asked_for_by_its_id_or_its_code(client):
    phone = client("collector")
    trip = phones.trip("ann")
    haul = phones.haul(trip)
    phone.post("/api/sync/push", json=sent(trip, haul, phones.line(haul)))
    by_code = phone.get("/api/findings", params={"trip": "T27-001"}).json()
    assert by_code["total"] > 0
    assert phone.get("/api/findings", params={"trip": trip.record["id"]}).json() == by_code


def test_findings_are_narrowed_by_trip_and_paged(client):
    reader = client("inspector")
    of_trip = reader.get("/api/findings", params={"trip": "T1"}).json()
    assert of_trip["total"] > 0
    assert reader.get("/api/findings", params={"trip": "nowhere"}).json()["total"] == 0
    first = reader.get("/api/findings", params={"limit": 1}).json()
    second = reader.get("/api/findings", params={"limit": 1, "start": 1}).json()
    assert first["findings"] != second["findings"]
    assert first["total"] == second["total"]


def test_an_answer_that_did_not_change_is_not_sent_again(client, clock):
    reader = client("inspector")
    first = reader.get("/api/authorities/permit/balance")
    mark = first.headers["etag"]
    again = reader.get("/api/authorities/permit/balance", headers={"If-None-Match": mark})
    assert (again.status_code, again.content) == (304, b"")
    trip = phones.trip("ann")
    client("collector").post("/api/sync/push", json=sent(trip))
    assert reader.get("/api/authorities/permit/balance", headers={"If-None-Match": mark}).status_code == 200


def test_the_draft_report_is_a_pdf_that_verifies(client):
    response = client("inspector").get("/api/authorities/permit/report.pdf")
    assert response.headers["content-type"] == "application/pdf"
    assert verify(response.content) == []


def test_an_unknown_authority_is_told_with_those_there_are(client):
    response = client("inspector").get("/api/authorities/other/balance")
    assert response.status_code == 404
    assert "those here are permit" in response.json()["detail"]
