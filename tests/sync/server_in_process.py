"""The server inside the test: the whole app asked over its own interface, or only its routes, which is quicker."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from fastapi import FastAPI
from pydantic import BaseModel

from api.main import build_app
from api.operations import living
from api.routes import sync as routes
from api.routes.shapes import PushSent
from api.settings import Settings
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.sync.grounds import Ground
from tests.sync.power import MortalStore, Power, PowerCutError
from tests.sync.simulated_phone import NoAnswerError, Reply, Request


@lru_cache(maxsize=4)
def _app_on(url: str, folder: Path) -> FastAPI:
    engine = open_engine(url)
    engine.dispose()
    return build_app(Settings(data=folder, requests_a_minute=1_000_000), Store(engine))


def _written(told: BaseModel) -> Reply:
    return Reply(200, told.model_dump_json().encode())


class ServerInProcess:
    """A server on a ground, which loses its power when told to and stands up again on what is stored.

    ``whole`` tells whether requests pass through the whole app; else they are read, answered by the route and
    written as the app would, without looking up who is asking. ``judging`` has it follow the season as it grows.
    """

    def __init__(
        self, ground: Ground, clock: Callable[[], datetime], power: Power, *, whole: bool, judging: bool = False
    ) -> None:
        self._ground, self._clock, self.power, self._judging = ground, clock, power, judging
        self._handle = self._through_the_app if whole else self._by_the_route
        # The app keeps nothing from one request to the next but its store; to build it anew each time is dear.
        self._app = _app_on(ground.url, ground.folder)
        self._loop = asyncio.new_event_loop()
        self._start()

    def _start(self) -> None:
        """Start on what is stored; nothing that the one before knew is left."""
        self.power.cut_at("")
        self._ground.engine.dispose()
        self.store = MortalStore(self._ground.engine, self._clock, power=self.power)
        self._app.state.store = self.store
        if self._judging:
            living.warm(self.store)

    def ask(self, request: Request) -> Reply:
        """Answer a request; raises NoAnswerError where the power went before the answer was out."""
        try:
            return self._handle(request)
        except PowerCutError:
            self._start()
            raise NoAnswerError from None

    def ask_and_die(self, request: Request, place: str, nth: int) -> Reply:
        """Hear a request and lose power at a place of it, at the latest before the answer is out.

        Raises NoAnswerError, but where the server answered although its power had gone.
        """
        before = self.power.struck.total()
        self.power.cut_at(place, nth)
        try:
            reply = self._handle(request)
        except PowerCutError:
            raise NoAnswerError from None
        finally:
            self._start()
        if self.power.struck.total() == before:
            self.power.struck["before the answer"] += 1
            raise NoAnswerError
        return reply

    def _by_the_route(self, request: Request) -> Reply:
        who = self._ground.who(request.token)
        if request.method == "GET":
            given = {name: int(value) for name, value in parse_qsl(urlsplit(request.path).query)}
            return _written(routes.pull(self.store, who, **given))
        try:
            return _written(routes.push(PushSent.model_validate_json(request.body), self.store, who))
        except (PowerCutError, AssertionError):
            raise
        except Exception:  # noqa: BLE001  # as the app answers whatever it did not foresee
            return Reply(500, b"{}")

    def _through_the_app(self, request: Request) -> Reply:
        return self._loop.run_until_complete(self._answer(request))

    async def _answer(self, request: Request) -> Reply:
        """Speak ASGI (3.0) for one request."""
        path, _, query = request.path.partition("?")
        headers = {"authorization": f"Bearer {request.token}", "content-type": "application/json"}
        scope: dict[str, Any] = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": request.method,
            "scheme": "http",
            "path": path,
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "root_path": "",
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
            "client": ("127.0.0.1", 50000),
            "server": ("127.0.0.1", 8765),
            "state": {},
        }
        given = [{"type": "http.request", "body": request.body, "more_body": False}]
        status, body = 0, b""

        async def receive() -> dict[str, Any]:
            return given.pop() if given else {"type": "http.disconnect"}

        async def send(message: dict[str, Any]) -> None:
            nonlocal status, body
            status = message.get("status", status)
            body += message.get("body", b"")

        try:
            await self._app(scope, receive, send)  # type: ignore[arg-type]
        except PowerCutError:
            raise
        except Exception:
            # The app has answered with 500 and tells its server, too, what it did not foresee.
            if status != 500:
                raise
        return Reply(status, body)

    def stop(self) -> None:
        """Let go of what it holds."""
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()
