"""Where the server may lose its power: at the n-th statement, right before a commit, or right after it.

The cut itself is given: an exception where the server runs inside the test, SIGKILL where it is a process.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from sqlalchemy import Engine, event

from api.store.unit_of_work import Actor, Store, Work

STATEMENT, BEFORE_COMMIT, AFTER_COMMIT = "a statement", "before the commit", "after the commit"
PLACES = (STATEMENT, BEFORE_COMMIT, AFTER_COMMIT)


class PowerCutError(Exception):
    """The power went, where the server runs inside the test."""


def _raise() -> None:
    raise PowerCutError


@dataclass(slots=True)
class Power:
    """What keeps the server going until it is cut at the place that was drawn."""

    cut: Callable[[], None] = _raise
    struck: Counter[str] = field(default_factory=Counter)
    _place: str = ""
    _left: int = 0

    def cut_at(self, place: str, nth: int = 1) -> None:
        """Draw where the power goes: the n-th time that a place is passed from now on; "" for nowhere."""
        self._place, self._left = place, nth

    def passes(self, place: str) -> None:
        """Tell that the server is at a place."""
        if place != self._place:
            return
        self._left -= 1
        if self._left == 0:
            self._place = ""
            self.struck[place] += 1
            self.cut()

    def watch(self, engine: Engine) -> None:
        """Let an engine tell of its statements and commits."""
        event.listen(engine, "before_cursor_execute", self._statement)
        event.listen(engine, "commit", self._commit)

    def unwatch(self, engine: Engine) -> None:
        """Let an engine be as it was."""
        event.remove(engine, "before_cursor_execute", self._statement)
        event.remove(engine, "commit", self._commit)

    def _statement(self, *_context: object) -> None:
        self.passes(STATEMENT)

    def _commit(self, _connection: object) -> None:
        self.passes(BEFORE_COMMIT)


@dataclass(frozen=True, slots=True)
class MortalStore(Store):
    """A store whose power may go right after a commit, before anybody is told of it."""

    power: Power = field(default_factory=Power)

    @contextmanager
    def writing(self, actor: Actor) -> Iterator[Work]:
        """Open a transaction as every store does."""
        with Store.writing(self, actor) as work:
            yield work
        self.power.passes(AFTER_COMMIT)
