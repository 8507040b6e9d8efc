"""Builds the app from its settings: store, routers, error table, protection."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.staticfiles import StaticFiles

from api import VERSION
from api.routes import (
    allotments,
    audit,
    compliance,
    conflicts,
    devices,
    documents,
    field_sheets,
    filing,
    gate,
    health,
    history,
    organisation,
    pages,
    people,
    phone_app,
    photos,
    problems,
    sessions,
    sync,
)
from api.routes.protection import Protection
from api.settings import Settings
from api.store.unit_of_work import Store

_DESCRIPTION = """
Whoever asks sends the token of a session as `Authorization: Bearer TOKEN` (from `POST /api/sessions`, or for a phone
from `POST /api/devices` with the one-time code of an enrolment); a browser that signed in by the page is known by its cookie.

A phone delivers operations to `POST /api/sync/push`: each bears an id made on the phone, the `kind` of its record
(person, trip, haul, line, notice, incident, movement), the record with an id of its own, and for a haul the trip, for
a line the haul as `parent`. The fields of a record are those of the same record in a trips file, which
`creekledger schema trips` prints; times bear their offset or are read in the trip's zone. A trip is asked for by its id
or by the code that it was given.
"""

_STATIC = Path(__file__).parent / "routes" / "static"


def build_app(settings: Settings, store: Store) -> FastAPI:
    """Build the app on a store whose tables are up to date."""
    app = FastAPI(
        title="Creekledger",
        version=VERSION,
        summary="The collecting record that starts in the creek and ends as the filed permit report.",
        description=_DESCRIPTION,
        generate_unique_id_function=_name_of,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses={
            "default": {
                "description": "A problem (RFC 9457)",
                "content": {problems.MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
            }
        },
    )
    app.state.settings, app.state.store = settings, store
    for router in (
        health,
        sessions,
        devices,
        people,
        organisation,
        sync,
        photos,
        conflicts,
        compliance,
        documents,
        allotments,
        field_sheets,
        history,
        gate,
        filing,
        audit,
        pages,
        phone_app,
    ):
        app.include_router(router.router)
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    problems.install(app)
    app.add_middleware(Protection, settings=settings)
    _tell_of_problems(app)
    return app


def _tell_of_problems(app: FastAPI) -> None:
    """Put the shapes of problems into the schema: routes refer to them, and none returns one."""
    made = app.openapi

    def openapi() -> dict[str, Any]:
        schema = made()
        shapes = schema.setdefault("components", {}).setdefault("schemas", {})
        for shape in (problems.Problem, problems.OffsetProblem):
            if shape.__name__ not in shapes:
                own = shape.model_json_schema(ref_template="#/components/schemas/{model}")
                shapes |= own.pop("$defs", {})
                shapes[shape.__name__] = own
        return schema

    app.openapi = openapi  # type: ignore[method-assign]


def _name_of(route: APIRoute) -> str:
    """Name an operation after its function: short, and stable while addresses change."""
    return route.name
