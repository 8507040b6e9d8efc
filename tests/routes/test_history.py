"""Who entered a trip's records and what was corrected, over HTTP."""

from tests import phones
from tests.routes.test_sync import sent

CLOCK = {"at": "2027-09-01T08:12:00Z", "ahead_s": 5, "known_at": "2027-09-01T06:00:00Z"}


def phone_of(client, name):
    """Enrol a phone for the collector; gives a client that delivers as it."""
    office = client("collector")
    code = office.post("/api/enrolments", json={"account": "the-collector"}).json()["code"]
    phone = client()
    token = phone.post("/api/devices", json={"code": code, "name": name}).json()["token"]
    phone.headers["Authorization"] = f"Bearer {token}"
    return phone


def test_it_tells_who_entered_a_record_on_which_phone_and_who_amended_it(client):
    phone, desk = phone_of(client, "creek phone 7"), client("curator")
    trip = phones.trip("ann", status="closed", depart="2027-09-01T07:00", back="2027-09-01T12:00")
    haul = phones.haul(trip, start="2027-09-01T08:00", end="2027-09-01T08:10")
    line = phones.line(haul, count=4, unit="individuals")
    phone.post("/api/sync/push", json=sent(trip, haul, line, clock=CLOCK))
    named = phones.amended(line, 1, why="fin rays counted", taxon="Galaxias brevipinnis")
    answer = desk.post("/api/sync/push", json=sent(named, entered_from=None)).json()["answers"][0]
    assert answer["answer"] == "stored"
    told = client("inspector").get(f"/api/trips/{trip.record['id']}/history").json()
    entries = {(one["record"], one["version"]): one for one in told["entries"]}
    assert len(entries) == len(told["entries"]) == 4
    first, later = entries[line.record["id"], 1], entries[line.record["id"], 2]
    assert (first["by_name"], first["device"], first["entered_from"]) == ("Some collector", "creek phone 7", "screen")
    assert first["device_at"] == "2027-09-01T08:12:00Z"
    assert (later["by_name"], later["device"], later["device_at"], later["entered_from"]) == (
        "Some curator",
        "",
        None,
        "",
    )
    (corrected,) = told["corrections"]
    assert corrected["record"] == line.record["id"]
    assert (corrected["field"], corrected["old"], corrected["new"]) == (
        "taxon",
        "Galaxias maculatus",
        "Galaxias brevipinnis",
    )
    assert (corrected["by_name"], corrected["why"]) == ("Some curator", "fin rays counted")


def test_a_trip_from_a_file_has_no_entries_and_an_unknown_one_is_told(client):
    inspector = client("inspector")
    assert inspector.get("/api/trips/T1/history").json() == {"entries": [], "corrections": []}
    assert inspector.get("/api/trips/none/history").status_code == 404
