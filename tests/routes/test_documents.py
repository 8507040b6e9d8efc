"""The permit's own paper: kept byte for byte under its SHA-256 (JOB.md A 2)."""

import hashlib

PDF = b"%PDF-1.7\n" + bytes(range(256)) + b"\n%%EOF\n"


def added(client, content=PDF, authority="permit", role="administrator"):
    files = {"file": ("permit ../of\n2027.pdf", content, "text/html")}
    return client(role).post(f"/api/authorities/{authority}/documents", files=files, data={"title": "As issued"})


def test_a_paper_comes_back_byte_for_byte(client):
    told = added(client).json()
    assert told["sha256"] == hashlib.sha256(PDF).hexdigest()
    # What it is called a sender's word; what it is, its own first bytes tell.
    assert told["media_type"] == "application/pdf"
    response = client("inspector").get(f"/api/documents/{told['sha256']}")
    assert response.content == PDF
    assert response.headers["content-disposition"] == f'attachment; filename="{told["sha256"]}.pdf"'
    assert response.headers["x-content-type-options"] == "nosniff"


def test_the_same_paper_again_is_one(client):
    added(client)
    added(client)
    (one,) = client("inspector").get("/api/authorities/permit/documents").json()
    assert (one["title"], one["size"]) == ("As issued", len(PDF))


def test_what_a_browser_would_run_is_no_paper(client):
    response = added(client, b"<html><script>x</script></html>")
    assert response.status_code == 422
    assert "PDF, PNG or JPEG" in response.json()["detail"]


def test_a_paper_of_no_authority_is_refused(client):
    assert added(client, authority="none").status_code == 404


def test_a_paper_that_was_damaged_on_the_disk_is_not_handed_out(client, tmp_path):
    mark = added(client).json()["sha256"]
    (path,) = [one for one in (tmp_path / "files").rglob(mark) if one.is_file()]
    path.chmod(0o600)
    path.write_bytes(b"%PDF-other")
    response = client("inspector").get(f"/api/documents/{mark}")
    assert response.status_code == 500
    assert "damaged" in response.json()["detail"]
