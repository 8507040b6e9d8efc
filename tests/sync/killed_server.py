"""A server in a process of its own, asked over HTTP, killed with SIGKILL and started again on the same data."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.sync.grounds import Ground
from tests.sync.simulated_phone import NoAnswerError, Reply, Request

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 30.0


class Launcher:
    """The process that starts servers."""

    def __init__(self) -> None:
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-m", "tests.sync.server_process"]
        self._process = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def start(self, order: dict[str, Any]) -> tuple[int, int]:
        """Start a server as ordered; gives its process id and port once it listens."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()
        told = json.loads(self._process.stdout.readline())
        assert told["port"], "the server did not start"
        return told["pid"], told["port"]

    def stop(self) -> None:
        """Let go of the process."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(PATIENCE_S)
        self._process.stdout.close()


@dataclass(slots=True)
class KilledServer:
    """A server on a ground. While it is dead, nobody answers."""

    launcher: Launcher
    ground: Ground
    ahead_s: float
    cut: list[str] = field(default_factory=list)
    """The operations of deliveries whose connection broke while the server was at them."""
    _pid: int = 0
    _port: int = 0
    _at_work: int = 0
    _guard: threading.Lock = field(default_factory=threading.Lock)

    def start(self, place: str = "", nth: int = 0) -> None:
        """Start on what is stored; with a place, it will kill itself the n-th time it passes there."""
        order = {"database": self.ground.url, "folder": str(self.ground.folder), "ahead_s": self.ahead_s}
        self._pid, self._port = self.launcher.start({**order, "place": place, "nth": nth})

    def alive(self) -> bool:
        """Tell whether the process is there."""
        try:
            os.kill(self._pid, 0)
        except ProcessLookupError:
            return False
        return True

    def kill(self) -> None:
        """Kill it, if it has not died already, and wait until it is gone."""
        try:
            os.kill(self._pid, signal.SIGKILL)
        except ProcessLookupError:
            return
        self.wait_for(lambda: not self.alive())

    def wait_for(self, fact: Any) -> bool:
        """Wait until something is so; gives whether it came to be."""
        until = time.monotonic() + PATIENCE_S
        while not fact():
            if time.monotonic() > until:
                return False
            time.sleep(0.001)
        return True

    def is_at_work(self) -> bool:
        """Tell whether a delivery is under way."""
        return self._at_work > 0

    def ask(self, request: Request) -> Reply:
        """Send a request over HTTP; raises NoAnswerError where the connection is refused or breaks."""
        with self._counted(request):
            connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=PATIENCE_S)
            headers = {"Authorization": f"Bearer {request.token}", "Content-Type": "application/json"}
            try:
                connection.request(request.method, request.path, request.body or None, headers)
                response = connection.getresponse()
                return Reply(response.status, response.read())
            except ConnectionRefusedError:
                raise NoAnswerError from None
            except (OSError, http.client.HTTPException):
                if request.body:
                    self.cut += [one["id"] for one in json.loads(request.body)["operations"]]
                raise NoAnswerError from None
            finally:
                connection.close()

    @contextmanager
    def _counted(self, request: Request) -> Iterator[None]:
        delivers = 1 if request.body else 0
        with self._guard:
            self._at_work += delivers
        try:
            yield
        finally:
            with self._guard:
                self._at_work -= delivers
