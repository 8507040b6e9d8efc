"""A demo server that a test may kill and start again on the same folder."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Self

import httpx2

from api.operations.demonstration import ACCOUNTS
from tests.builders import SAMPLE
from tests.journeys.ports import free_port


def wait_until_it_answers(server: subprocess.Popen[str], address: str) -> None:
    """Wait until a demo answers; fails where it ends, and after two minutes."""
    for _ in range(600):
        assert server.poll() is None, "the demo ended"
        try:
            if httpx2.get(f"{address}/healthz", timeout=2).status_code == 200:
                return
        except httpx2.TransportError:
            time.sleep(0.2)
    raise AssertionError("the demo did not start within two minutes")


class DemoProcess:
    """The demo on a port and in a folder of its own."""

    def __init__(self, folder: Path, home: Path = SAMPLE.parent) -> None:
        """``home`` is where the package stands that is run."""
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self._folder, self._home = folder, home
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start, and wait until it answers; fails after two minutes."""
        command = [sys.executable, "-m", "api.cli", "demo", "--port", str(self.port), "--data", str(self._folder)]
        self._process = subprocess.Popen(
            command, cwd=self._home, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, text=True
        )
        wait_until_it_answers(self._process, self.address)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def kill(self) -> None:
        """Kill it without a word of warning (SIGKILL)."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(timeout=30)

    def stop(self) -> None:
        """Stop it as people do."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            self._process.wait(timeout=30)

    @contextmanager
    def signed_in(self, role: str) -> Iterator[httpx2.Client]:
        """Give a client signed in as the demo's account of a role."""
        account = next(one for one in ACCOUNTS if one.role == role)
        with httpx2.Client(base_url=self.address, headers={"Origin": self.address}, timeout=60) as client:
            client.post("/api/sessions", json={"login": account.login, "password": account.password}).raise_for_status()
            yield client

    def code_for_the_collector(self) -> str:
        """Make a code for a phone of the demo's collector, as the office would."""
        login = next(one.login for one in ACCOUNTS if one.role == "collector")
        with self.signed_in("administrator") as office:
            made = office.post("/api/enrolments", json={"account": login})
            made.raise_for_status()
            code: str = made.json()["code"]
        assert re.search(r"\w", code)
        return code

    def entered_from(self, records: set[str]) -> list[str | None]:
        """Give of every delivery of these records whether it was said to be from the screen or from paper."""
        address = f"file:{self._folder / 'creekledger.db'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as database:
            rows = database.execute("SELECT record, entered_from FROM receipt").fetchall()
        return [told for record, told in rows if record in records]

    def reasons_of(self, records: set[str]) -> set[str]:
        """Give the reasons of every correction of these records."""
        address = f"file:{self._folder / 'creekledger.db'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as database:
            rows = database.execute("SELECT record, why FROM correction").fetchall()
        return {why for record, why in rows if record in records}

    def pulled(self) -> list[dict[str, Any]]:
        """Give every record that a phone could pull, as it stands on the server."""
        found: list[dict[str, Any]] = []
        with self.signed_in("inspector") as client:
            cursor, more = 0, True
            while more:
                page = client.get("/api/sync/pull", params={"after": cursor, "limit": 1000}).json()
                found += page["changes"]
                cursor, more = page["cursor"], page["more"]
        return found
