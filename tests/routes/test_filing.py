"""Drafts, filing, revisions and downloads over HTTP."""

import hashlib

import pytest

from api.operations.verifying import verify
from api.store.files import path_of
from tests import phones
from tests.routes.test_sync import sent

WHO = {"name": "Maren Oye", "title": "Keeper of the record"}
REPORTS = "/api/authorities/permit/reports"


def late_trip(client, count):
    trip = phones.trip("ann", status="closed", depart="2028-03-02T07:00", back="2028-03-02T12:00")
    haul = phones.haul(trip, start="2028-03-02T08:00", end="2028-03-02T08:10")
    client("collector").post("/api/sync/push", json=sent(trip, haul, phones.line(haul, count=count)))


def test_everybody_signed_in_sees_what_would_be_filed(client):
    late_trip(client, 2)
    told = client("inspector").get(f"{REPORTS}/draft").json()
    assert (told["revision"], told["replaces"], told["conditions"], told["changes"]) == (0, "", [], [])
    (against,) = told["unresolved"]
    assert (against["condition"], against["outcome"]) == ("1", "broken")
    assert "11" in against["sentence"]


def test_a_report_is_filed_replaced_and_every_revision_can_be_had(client, clock):
    office, reader = client("administrator"), client("inspector")
    made = office.post(REPORTS, json=WHO)
    assert made.status_code == 201
    first = made.json()
    assert (first["revision"], first["certified_name"], first["filed_by_name"]) == (
        0,
        "Maren Oye",
        "Some administrator",
    )
    original = reader.get(f"/api/reports/{first['id']}/report.pdf")
    assert original.headers["content-type"] == "application/pdf"
    assert original.headers["content-disposition"] == 'attachment; filename="season-report-permit-revision-0.pdf"'
    assert hashlib.sha256(original.content).hexdigest() == first["pdf_sha256"]
    clock.forward(minutes=1)
    late_trip(client, 1)
    (marked,) = reader.get(REPORTS).json()["reports"]
    assert (marked["affected"], marked["since"]) == (True, ["added: T28-001"])
    revised = office.post(f"/api/reports/{first['id']}/revisions", json=WHO)
    assert revised.status_code == 201
    second = revised.json()
    assert (second["revision"], second["replaces"], second["changes"]) == (1, first["id"], "added: T28-001")
    assert (second["affected"], second["since"]) == (False, [])
    assert reader.get(f"/api/reports/{first['id']}/report.pdf").content == original.content
    newer = reader.get(f"/api/reports/{second['id']}/report.pdf").content
    assert (verify(original.content), verify(newer)) == ([], [])
    told = reader.get(REPORTS).json()
    assert (told["total"], [one["revision"] for one in told["reports"]]) == (2, [1, 0])
    page = reader.get(REPORTS, params={"start": 1, "limit": 1}).json()
    assert (page["total"], page["reports"]) == (2, told["reports"][1:])
    late = office.post(f"/api/reports/{first['id']}/revisions", json=WHO)
    assert late.status_code == 409
    assert "Some administrator has replaced this report: revision 1 was filed" in late.json()["detail"]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"name": " ", "title": "Head"}, 422),
        ({"name": "Ada"}, 422),
        ({**WHO, "colour": "red"}, 422),
        ({**WHO, "condition": "9"}, 422),
        ({**WHO, "name": "x" * 201}, 422),
    ],
    ids=["blank name", "no title", "unknown key", "unknown condition", "long name"],
)
def test_what_cannot_be_filed_is_told_and_nothing_is_filed(client, body, status):
    office = client("administrator")
    response = office.post(REPORTS, json=body)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"
    assert response.json()["detail"]
    assert office.get(REPORTS).json() == {"total": 0, "reports": []}


@pytest.mark.parametrize(
    "path", ["/api/authorities/other/reports/draft", "/api/authorities/other/reports", "/api/reports/none/report.pdf"]
)
def test_what_is_not_here_is_told(client, path):
    response = client("inspector").get(path)
    assert response.status_code == 404
    assert response.headers["content-type"] == "application/problem+json"


def test_a_filed_report_that_is_damaged_on_the_disk_is_told_and_not_sent(client, tmp_path):
    told = client("administrator").post(REPORTS, json=WHO).json()
    path_of(tmp_path / "files", told["pdf_sha256"]).write_bytes(b"%PDF-1.7 cut short")
    response = client("inspector").get(f"/api/reports/{told['id']}/report.pdf")
    assert response.status_code == 500
    assert "bring it back from a backup" in response.json()["detail"]


def test_the_schema_names_the_download_as_a_pdf(served):
    operation = served.openapi()["paths"]["/api/reports/{report}/report.pdf"]["get"]
    assert list(operation["responses"]["200"]["content"]) == ["application/pdf"]
