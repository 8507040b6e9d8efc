"""The API's schema stands in the repository as clients know it, and the API keeps to it whatever it is sent.

On PostgreSQL, which refuses more than SQLite does (texts too long for their columns, NUL in a text).
"""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.entities.accounts import ROLES
from api.operations import accounts
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.builders import SAMPLE
from tests.contract.test_routes import TABLE
from tests.served import app_on, token_for, with_accounts, with_season

CONTRACT = SAMPLE.parent / "frontend" / "contract" / "openapi.json"
CASES = 15
"""Examples for each operation and role."""

HOW = {
    "max_examples": CASES,
    "deadline": None,
    "derandomize": True,
    "database": None,
    "phases": [Phase.explicit, Phase.generate],
    "suppress_health_check": list(HealthCheck),
}
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


@pytest.fixture(scope="module")
def world(tmp_path_factory, postgresql_maker):
    patch = pytest.MonkeyPatch()
    patch.setattr(accounts, "HASHER", PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),)))
    folder = tmp_path_factory.mktemp("world")
    store = Store(open_engine(postgresql_maker()), lambda: datetime(2027, 8, 2, tzinfo=UTC))
    with_season(store, folder)
    with_accounts(store)
    yield app_on(store, folder), store
    store.engine.dispose()
    patch.undo()


def test_the_schema_in_the_repository_is_the_apis_own(world):
    """After a change of the API: python -m tests.contract.write_openapi"""
    app, _ = world
    assert json.loads(CONTRACT.read_text("utf-8")) == json.loads(json.dumps(app.openapi()))


@pytest.fixture(scope="module")
def api(world):
    app, _ = world
    return schemathesis.openapi.from_asgi("/api/openapi.json", app)


@pytest.mark.parametrize("role", [*ROLES, "nobody"])
@pytest.mark.parametrize("route", sorted(TABLE), ids=" ".join)
def test_whatever_is_sent_the_answer_keeps_to_the_schema(api, world, route, role, record_property):
    """No server error, no undocumented status, content type or shape, as each role (RFC 9110, OpenAPI 3.1)."""
    _, store = world
    method, path = route
    tried = []

    @settings(**HOW)
    @given(case=api[path][method].as_strategy())
    def run(case):
        headers = {}
        if role != "nobody":
            # A case may sign its own session out or close an account: each case has a session of its own.
            headers = {"Authorization": f"Bearer {token_for(store, role)}"}
        response = case.call(headers=headers)
        case.validate_response(response, checks=CHECKS)
        tried.append(response.status_code)

    run()
    record_property("cases", len(tried))
    assert len(tried) >= 1
