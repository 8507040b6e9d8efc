"""Starts the server as a process of its own, again and again, for tests that kill it.

It loads the program once, and for each order (a line of JSON on standard input) forks a server, on the database
named; its process id and port are told on standard output. Nothing is open when it forks, so a server knows of the
ones before it only what they stored. It may be ordered to kill itself with SIGKILL at a place of its work, which
nothing in it can catch or tidy up after.
"""

from __future__ import annotations

import asyncio
import gc
import json
import os
import signal
import socket
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import structlog
import uvicorn
from fastapi import FastAPI

from api.main import build_app
from api.operations.keeping import open_store
from api.settings import Settings
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.sync.power import MortalStore, Power


def main() -> None:
    """Take orders until there are no more."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory())
    app = _unused_app()
    gc.freeze()
    for line in sys.stdin:
        order = json.loads(line)
        ears, mouth = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(ears)
            _serve(app, order, mouth)
            os._exit(0)
        os.close(mouth)
        with os.fdopen(ears) as told:
            port = told.readline().strip()
        sys.stdout.write(json.dumps({"pid": child, "port": int(port or 0)}) + "\n")
        sys.stdout.flush()


def _unused_app() -> FastAPI:
    """Build the app and let it look through its routes once, which takes as long as all the rest of a start."""
    settings = Settings(database="sqlite:///nowhere", requests_a_minute=1_000_000)
    app = build_app(settings, Store(open_engine(settings.database_url)))
    scope = {"type": "http", "method": "GET", "path": "/nowhere", "raw_path": b"/nowhere", "query_string": b""}

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(_message: object) -> None:
        pass

    async def look() -> None:
        await app({**scope, "headers": [], "client": None, "server": None, "root_path": ""}, receive, send)

    asyncio.run(look())
    return app


def _serve(app: FastAPI, order: dict[str, Any], mouth: int) -> None:
    """Serve until killed."""
    power = Power(cut=lambda: os.kill(os.getpid(), signal.SIGKILL))
    settings = Settings(data=Path(order["folder"]), database=order["database"])
    ahead = timedelta(seconds=order["ahead_s"])
    opened = open_store(settings)
    store = MortalStore(opened.engine, lambda: datetime.now(UTC) + ahead, power=power)
    app.state.settings, app.state.store = settings, store
    with socket.socket() as ear:
        ear.bind(("127.0.0.1", 0))
        ear.listen(64)
        power.watch(store.engine)
        power.cut_at(order["place"], order["nth"])
        os.write(mouth, f"{ear.getsockname()[1]}\n".encode())
        os.close(mouth)
        uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False, lifespan="off")).run(sockets=[ear])


if __name__ == "__main__":
    main()
