"""The phone app is served: its page for every address within it, its files kept as long as they may be."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from api.routes import phone_app
from api.routes.protection import POLICY
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.served import app_on, client_of


@pytest.fixture(scope="module")
def client(tmp_path_factory, sqlite_maker):
    store = Store(open_engine(sqlite_maker()), lambda: datetime(2027, 8, 2, tzinfo=UTC))
    yield client_of(app_on(store, tmp_path_factory.mktemp("served")), store)
    store.engine.dispose()


@pytest.mark.parametrize("path", ["/app/", "/app/trips", "/app/trips/0193/hauls", "/app/index.html"])
def test_every_address_within_the_app_gives_its_page(client, path):
    response = client.get(path)
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    assert '<div id="app">' in response.text
    assert response.headers["cache-control"] == "no-cache"


def test_the_address_without_its_slash_leads_to_the_app(client):
    response = client.get("/app")
    assert response.status_code == 307
    assert response.headers["location"].endswith("/app/")


@pytest.mark.parametrize(
    "path", ["/app/assets/gone-12345678.js", "/app/assets/gone", "/app/assets/", "/app/nothing.png", "/app/x/sw.js"]
)
def test_a_file_that_is_not_there_is_no_page(client, path):
    """A script that is answered with the page would be kept by the worker as that script (seen in a trial)."""
    response = client.get(path)
    assert response.status_code == 404
    assert response.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    "path",
    [
        "/app/../main.py",
        "/app/%2e%2e/phone_app.py",
        "/app/..%2fphone_app.py",
        "/app/assets/..%2f..%2fphone_app.py",
        "/app/%2fetc%2fpasswd.js",
        "/app/..%5cphone_app.py",
        f"/app/{'a' * 5000}.js",
    ],
)
def test_no_address_leads_out_of_the_app(client, path):
    response = client.get(path)
    assert response.status_code == 404
    assert "import" not in response.text


def test_the_stamp_of_the_build_is_nobodys_business(client):
    assert client.get("/app/made-from.sha256").status_code == 404


def test_hashed_files_never_change_and_the_worker_is_asked_for_again(client):
    page = client.get("/app/").text
    scripts = re.findall(r'src="(/app/assets/[^"]+\.js)"', page)
    styles = re.findall(r'href="(/app/assets/[^"]+\.css)"', page)
    assert scripts
    assert styles
    for path, kind in [*((one, "text/javascript") for one in scripts), *((one, "text/css") for one in styles)]:
        response = client.get(path)
        assert response.status_code == 200
        assert response.headers["content-type"].startswith(kind)
        assert response.headers["cache-control"] == "public, max-age=31536000, immutable"
    for path in ("/app/sw.js", "/app/manifest.webmanifest", "/app/icon.svg"):
        assert client.get(path).headers["cache-control"] == "no-cache"


def test_the_page_keeps_to_the_content_policy(client):
    """'self' alone: what stands in the page itself, a script or a style, would not run."""
    response = client.get("/app/")
    assert response.headers["content-security-policy"] == POLICY
    assert "unsafe" not in POLICY
    for attributes, content in re.findall(r"<script([^>]*)>(.*?)</script>", response.text, re.DOTALL):
        assert 'src="/app/' in attributes
        assert not content.strip()
    assert "<style" not in response.text
    assert not re.findall(r"\s(?:on\w+|style)=", response.text)


def test_the_worker_keeps_every_built_file_and_stands_alone(client):
    worker = client.get("/app/sw.js").text
    found = re.search(r'"files":\[([^\]]*)\]', worker)
    assert found is not None
    kept = set(re.findall(r'"([^"]+)"', found[1]))
    built = {
        file.relative_to(phone_app.BUILT).as_posix()
        for file in phone_app.BUILT.rglob("*")
        if file.is_file() and file.suffix in phone_app.MEDIA_TYPES
    }
    assert kept == built - {"sw.js"}
    assert "import" not in worker
    for name in kept:
        assert client.get(f"/app/{name}").status_code == 200


def test_an_app_that_was_not_built_says_how_to_build_it(client, monkeypatch, tmp_path):
    monkeypatch.setattr(phone_app, "BUILT", tmp_path)
    response = client.get("/app/")
    assert response.status_code == 404
    assert "Install the package anew" in response.json()["detail"]
