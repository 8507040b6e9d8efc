"""Every route of the API has its row of roles here, and every cell of the table is tried."""

from __future__ import annotations

import pytest

from api.entities.accounts import ROLES
from tests.served import app_on, client_of, with_accounts, with_season

EVERYBODY = frozenset({"nobody", *ROLES})
READERS = frozenset(ROLES)
WRITERS = frozenset({"collector", "curator", "administrator"})
CURATORS = frozenset({"curator"})
ADMINISTRATORS = frozenset({"administrator"})
OVERSEERS = frozenset({"administrator", "inspector"})

TABLE = {
    ("GET", "/healthz"): EVERYBODY,
    ("GET", "/app/{path}"): EVERYBODY,
    ("POST", "/api/sessions"): EVERYBODY,
    ("POST", "/api/devices"): EVERYBODY,
    ("GET", "/api/me"): READERS,
    ("GET", "/api/sessions"): READERS,
    ("DELETE", "/api/sessions/current"): READERS,
    ("DELETE", "/api/sessions/{session}"): READERS,
    ("PUT", "/api/me/password"): READERS,
    ("POST", "/api/enrolments"): WRITERS,
    ("GET", "/api/devices"): READERS,
    ("DELETE", "/api/devices/{device}"): WRITERS,
    ("GET", "/api/people"): READERS,
    ("GET", "/api/sites"): READERS,
    ("GET", "/api/organisation"): READERS,
    ("PUT", "/api/organisation"): ADMINISTRATORS,
    ("POST", "/api/accounts"): ADMINISTRATORS,
    ("PUT", "/api/accounts/{account}/roles"): ADMINISTRATORS,
    ("PUT", "/api/accounts/{account}/password"): ADMINISTRATORS,
    ("DELETE", "/api/accounts/{account}"): ADMINISTRATORS,
    ("POST", "/api/sync/push"): WRITERS,
    ("GET", "/api/sync/pull"): READERS,
    ("GET", "/api/authorities"): READERS,
    ("GET", "/api/authorities/{authority}/balance"): READERS,
    ("GET", "/api/authorities/{authority}/report.pdf"): READERS,
    ("GET", "/api/findings"): READERS,
    ("GET", "/api/authorities/{authority}/documents"): READERS,
    ("POST", "/api/authorities/{authority}/documents"): ADMINISTRATORS,
    ("GET", "/api/documents/{sha256}"): READERS,
    ("POST", "/api/photos"): WRITERS,
    ("PATCH", "/api/photos/{sha256}"): WRITERS,
    ("GET", "/api/trips/{trip}/photos"): READERS,
    ("GET", "/api/photos/{sha256}"): READERS,
    ("GET", "/api/photos/{sha256}/original"): ADMINISTRATORS,
    ("GET", "/api/conflicts"): READERS,
    ("POST", "/api/conflicts/{conflict}/settlement"): frozenset({"curator", "administrator"}),
    ("GET", "/api/trips/{trip}/history"): READERS,
    ("GET", "/api/trips/{trip}/rooms"): READERS,
    ("POST", "/api/trips/{trip}/allotments"): ADMINISTRATORS,
    ("GET", "/api/trips/{trip}/field-sheet"): READERS,
    ("GET", "/api/allotments"): READERS,
    ("POST", "/api/allotments/{allotment}/reclaim"): ADMINISTRATORS,
    ("GET", "/api/acquisitions"): READERS,
    ("GET", "/api/acquisitions/{acquisition}"): READERS,
    ("POST", "/api/acquisitions/{acquisition}/accept"): CURATORS,
    ("POST", "/api/acquisitions/{acquisition}/decline"): CURATORS,
    ("POST", "/api/acquisitions/{acquisition}/hold"): CURATORS,
    ("GET", "/api/wants"): READERS,
    ("POST", "/api/wants"): CURATORS,
    ("DELETE", "/api/wants/{want}"): CURATORS,
    ("GET", "/api/authorities/{authority}/reports/draft"): READERS,
    ("GET", "/api/authorities/{authority}/reports"): READERS,
    ("POST", "/api/authorities/{authority}/reports"): ADMINISTRATORS,
    ("POST", "/api/reports/{report}/revisions"): ADMINISTRATORS,
    ("GET", "/api/reports/{report}/report.pdf"): READERS,
    ("GET", "/api/audit"): OVERSEERS,
}

BODIES = {
    ("POST", "/api/sessions"): {"login": "nobody-here", "password": "wrong"},
    ("POST", "/api/devices"): {"code": "00000-00000", "name": "phone"},
    ("PUT", "/api/me/password"): {"old": "wrong", "new": "a long enough one, unused"},
    ("POST", "/api/enrolments"): {"account": "nobody-here"},
    ("PUT", "/api/organisation"): {"name": "Marrow Aquarium", "zone": "Nowhere/At all", "own_catch_approved": False},
    ("POST", "/api/accounts"): {"login": "x", "password": "short", "roles": ["curator"], "name": "Xen"},
    ("PUT", "/api/accounts/{account}/roles"): {"roles": ["curator"]},
    ("PUT", "/api/accounts/{account}/password"): {"new": "short"},
    ("POST", "/api/sync/push"): {"operations": []},
    ("POST", "/api/photos"): {
        "sha256": "0" * 64,
        "size": 10,
        "media_type": "image/jpeg",
        "of_kind": "line",
        "of_record": "none",
    },
    ("POST", "/api/acquisitions/{acquisition}/accept"): {"expected_version": 1},
    ("POST", "/api/acquisitions/{acquisition}/decline"): {"expected_version": 1},
    ("POST", "/api/acquisitions/{acquisition}/hold"): {"expected_version": 1},
    ("POST", "/api/wants"): {"taxon": "Galaxias maculatus", "number": 4},
    ("POST", "/api/authorities/{authority}/reports"): {"name": "Some administrator", "title": "Curator of record"},
    ("POST", "/api/reports/{report}/revisions"): {"name": "Some administrator", "title": "Curator of record"},
    ("POST", "/api/trips/{trip}/allotments"): {"authority": "permit", "number": "1", "amount": 1},
    ("POST", "/api/allotments/{allotment}/reclaim"): {"why": "never came back"},
    ("POST", "/api/conflicts/{conflict}/settlement"): {"take": "stands", "why": "recounted"},
}
PLACES = {
    "{session}": "none",
    "{device}": "none",
    "{account}": "none",
    "{authority}": "permit",
    "{trip}": "T1",
    "{allotment}": "none",
    "{conflict}": "none",
    "{sha256}": "0" * 64,
    "{acquisition}": "none",
    "{want}": "none",
    "{report}": "none",
    "{path}": "trips/today",
}
OPEN_REFUSALS = {("POST", "/api/sessions"): 401, ("POST", "/api/devices"): 401}


@pytest.fixture(scope="module")
def served(tmp_path_factory, sqlite_maker):
    from datetime import UTC, datetime

    from api.store.engine import open_engine
    from api.store.unit_of_work import Store

    folder = tmp_path_factory.mktemp("served")
    store = Store(open_engine(sqlite_maker()), lambda: datetime(2027, 8, 2, tzinfo=UTC))
    with_season(store, folder)
    with_accounts(store)
    yield app_on(store, folder), store
    store.engine.dispose()


def test_every_route_has_its_row(served):
    app, _ = served
    found = {(method.upper(), path) for path, methods in app.openapi()["paths"].items() for method in methods}
    assert found == set(TABLE)


def test_every_route_has_a_name_of_its_own_and_says_what_it_does(served):
    app, _ = served
    routes = [one for methods in app.openapi()["paths"].values() for one in methods.values()]
    names = [one["operationId"] for one in routes]
    assert len(names) == len(set(names))
    assert all(one["description"].strip() for one in routes)


@pytest.mark.parametrize("role", ["nobody", *ROLES])
@pytest.mark.parametrize("route", sorted(TABLE), ids=" ".join)
def test_a_role_may_what_its_cell_says_and_nothing_else(served, route, role):
    app, store = served
    method, path = route
    for name, value in PLACES.items():
        path = path.replace(name, value)
    client = client_of(app, store, "" if role == "nobody" else role)
    response = client.request(method, path, json=BODIES.get(route))
    if role in TABLE[route]:
        assert response.status_code < 500
        if route in OPEN_REFUSALS:
            assert response.status_code == OPEN_REFUSALS[route]
            assert "Sign in first" not in response.text
        else:
            assert response.status_code != 401
            assert "This needs the role" not in response.text
    elif role == "nobody":
        assert response.status_code == 401
        assert response.json()["detail"].startswith("Sign in first")
    else:
        assert response.status_code == 403
        assert response.json()["detail"].startswith("This needs the role")
    if response.status_code >= 400:
        assert response.headers["content-type"] == "application/problem+json"
