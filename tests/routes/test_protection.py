"""Sessions in browsers, and what stands before every route."""

import pytest
from fastapi.testclient import TestClient

from api.main import build_app
from api.settings import Settings
from tests.served import HOST, PASSWORD


def signed_in(client):
    browser = client()
    response = browser.post("/sign-in", data={"login": "the-curator", "password": PASSWORD})
    assert (response.status_code, response.headers["location"]) == (303, "/")
    return browser, response


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(client):
    _, response = signed_in(client)
    cookie = response.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_over_tls_the_cookie_is_secure_and_the_browser_stays_there(store, tmp_path, served):
    app = build_app(Settings(data=tmp_path, behind_proxy=True, requests_a_minute=1000), store)
    with TestClient(app, base_url=HOST, follow_redirects=False) as browser:
        response = browser.post("/sign-in", data={"login": "the-curator", "password": PASSWORD})
    assert "secure" in response.headers["set-cookie"].lower()
    assert "max-age" in response.headers["strict-transport-security"]


def test_another_sites_form_is_refused(client):
    browser, _ = signed_in(client)
    body = {"old": PASSWORD, "new": "another one that is long"}
    foreign = browser.put("/api/me/password", json=body, headers={"Origin": "https://elsewhere.example"})
    assert foreign.status_code == 403
    own = browser.put("/api/me/password", json=body, headers={"Origin": HOST})
    assert own.status_code == 204


def test_a_wrong_password_is_told_on_the_page(client):
    response = client().post("/sign-in", data={"login": "the-curator", "password": "wrong"})
    assert response.status_code == 401
    assert 'role="alert"' in response.text
    assert "wrong" in response.text


def test_a_login_is_shown_back_without_becoming_part_of_the_page(client):
    response = client().post("/sign-in", data={"login": '"><script>x</script>', "password": "wrong"})
    assert "<script>" not in response.text


def test_signing_out_ends_the_session(client):
    browser, response = signed_in(client)
    token = response.cookies["creekledger_session"]
    assert browser.get("/api/me").status_code == 200
    assert browser.post("/sign-out").status_code == 303
    headers = {"Authorization": f"Bearer {token}"}
    assert client().get("/api/me", headers=headers).status_code == 401


@pytest.mark.parametrize("path", ["/", "/healthz", "/api/me", "/static/plain.css", "/nowhere"])
def test_every_answer_bears_the_headers_that_keep_pages_safe(client, path):
    headers = client().get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "'unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_pages_hold_no_script_and_no_inline_style(client):
    browser, _ = signed_in(client)
    page = browser.get("/").text
    assert "<script" not in page
    assert "style=" not in page
    assert "Not more than 10 galaxias" in page


def test_a_body_that_is_too_large_is_refused_with_and_without_its_length(served, store, tmp_path):
    app = build_app(Settings(data=tmp_path, most_body_bytes=10_000, requests_a_minute=1000), store)
    with TestClient(app, base_url=HOST) as browser:
        told = browser.post("/api/sessions", content=b"x" * 10_001)
        parts = browser.post("/api/sessions", content=(b"x" * 1000 for _ in range(11)))
    assert (told.status_code, parts.status_code) == (413, 413)
    assert "at most 10000 bytes" in parts.json()["detail"]


def test_an_address_that_asks_too_often_waits(served, store, tmp_path):
    app = build_app(Settings(data=tmp_path, requests_a_minute=5), store)
    with TestClient(app, base_url=HOST) as browser:
        statuses = [browser.get("/healthz").status_code for _ in range(7)]
        last = browser.get("/healthz")
    assert statuses[:5] == [200] * 5
    assert statuses[5:] == [429, 429]
    assert int(last.headers["retry-after"]) >= 1


def test_errors_are_problems_as_the_standard_has_them(client):
    # RFC 9457: application/problem+json with type, title, status, detail.
    response = client("collector").post("/api/sync/push", content=b"{", headers={"Content-Type": "application/json"})
    problem = response.json()
    assert response.headers["content-type"] == "application/problem+json"
    assert problem["status"] == response.status_code == 422
    assert problem["title"]
    assert problem["faults"][0]["what"]
