"""A collector's phone can take along everything that the creek asks for, as the collector and nobody more.

FIELD.md: one visit with signal, then papers, areas, crew, plan and what is left are there without.
"""

from api.operations.importing import import_files
from api.store.unit_of_work import Actor
from tests import phones
from tests.builders import SAMPLE, SAMPLE_AUTHORITIES
from tests.routes.test_sync import ada, sent

PDF = b"%PDF-1.7\nthe permit as issued\n"


def pulled(phone):
    """Pull everything; gives the contents by kind."""
    found, cursor, more = {}, 0, True
    while more:
        page = phone.get("/api/sync/pull", params={"after": cursor}).json()
        for one in page["changes"]:
            found.setdefault(one["kind"], {})[one["id"]] = one["record"]
        cursor, more = page["cursor"], page["more"]
    return found


def test_a_collector_can_make_the_phone_ready(client, store, tmp_path):
    import_files(store, tmp_path / "files", SAMPLE_AUTHORITIES, [SAMPLE], Actor())
    office, phone = client("administrator"), client("collector")
    upload = {"file": ("permit.pdf", PDF, "application/pdf")}
    paper = office.post("/api/authorities/permit/documents", files=upload, data={"title": "As issued"}).json()
    plan = phones.trip(ada(phone), status="planned", depart="2027-10-01T07:00")
    notice = {"authority": "permit", "trip": plan.record["id"], "to": "Inlet Office", "sent": "2027-09-28T09:00:00Z"}
    told = phones.Operation(id="notice-1", kind="notice", record={"id": "n-1", **notice})
    assert [one["answer"] for one in phone.post("/api/sync/push", json=sent(plan, told)).json()["answers"]] == [
        "stored",
        "stored",
    ]
    granted = office.post(
        f"/api/trips/{plan.record['id']}/allotments", json={"authority": "permit", "number": "1", "amount": 1}
    )
    assert granted.status_code == 201
    have = pulled(phone)
    # The permit's own words, and its paper.
    assert have["authority"]["permit"]["conditions"][0]["text"] == "Not more than 10 galaxias in a permit year."
    assert have["document"][paper["sha256"]]["of"] == [{"authority": "permit", "title": "As issued"}]
    assert phone.get(f"/api/documents/{paper['sha256']}").content == PDF
    # Names and areas.
    assert "Galaxias maculatus" in {one["id"] for one in have["taxa"]["taxa"]["taxa"]}
    areas = have["areas"]["areas"]["areas"]
    assert areas
    assert all(one["name"] and one["geometry"]["coordinates"] for one in areas)
    # Sites and people by name, for what is typed at the creek.
    sites = phone.get("/api/sites").json()
    assert sites
    assert all(one["id"] and one["name"] for one in sites)
    assert [one["name"] for one in sites] == sorted(one["name"] for one in sites)
    assert {"ann"} <= {one["id"] for one in phone.get("/api/people").json()}
    # The plan, the notice that was sent, and what the trip was allotted.
    assert have["trip"][plan.record["id"]]["status"] == "planned"
    assert have["notice"]["n-1"]["trip"] == plan.record["id"]
    (allotted,) = have["allotment"].values()
    assert (allotted["trip"], allotted["number"], allotted["amount"]) == (plan.record["id"], "1", 1)
    assert phone.get("/api/allotments", params={"trip": plan.record["id"]}).json()[0]["id"] == allotted["id"]
    assert [one for one in have.values() if None in one.values()] == []
