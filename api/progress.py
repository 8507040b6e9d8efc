"""A line that says what is being done once work takes longer than a second; silent when piped."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Self, TextIO

_PATIENCE_S = 1.0
_TURN_S = 0.2
_SIGNS = "|/-\\"


class Progress:
    """Shows the step under way and the seconds passed on a terminal, from the first second on."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._step = ""
        self._done = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        """Begin; nothing is shown before a second has passed."""
        if self._stream.isatty():
            self._thread = threading.Thread(target=self._turn, daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End and clear the line."""
        self._done.set()
        if self._thread is not None:
            self._thread.join()

    def say(self, step: str) -> None:
        """Name the step under way."""
        self._step = step

    def _turn(self) -> None:
        began = time.monotonic()
        if self._done.wait(_PATIENCE_S):
            return
        turn = 0
        while not self._done.wait(_TURN_S):
            seconds = int(time.monotonic() - began)
            self._stream.write(f"\r{_SIGNS[turn % len(_SIGNS)]} {self._step} ({seconds} s)   ")
            self._stream.flush()
            turn += 1
        self._stream.write("\r" + " " * 72 + "\r")
        self._stream.flush()
