"""The line between a phone and the server, which loses, repeats, delays and garbles as the dice fall."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.sync.simulated_phone import NoAnswerError, Reply, Request, Way

FAULTS: Mapping[str, int] = {
    "none": 34,
    "request lost": 7,
    "answer lost": 8,
    "delivered twice": 7,
    "delivered late": 8,
    "error in place of the request": 4,
    "error in place of the answer": 5,
    "answer cut short": 4,
    "a page in place of the request": 4,
}
"""What may happen to a request, and how often. *A page*: the sign-in page of somebody's network, with status 200."""

_ERROR = Reply(500, b'{"title": "Internal Server Error", "status": 500}')
_PAGE = Reply(200, b"<!doctype html><title>Welcome to the harbour's network</title>")


@dataclass(slots=True)
class FaultyLine:
    """A line to a server. Once it is ``calm``, whatever is sent arrives once and is answered."""

    server: Way
    dice: random.Random
    faults: Mapping[str, int] = field(default_factory=lambda: FAULTS)
    calm: bool = False
    late: list[Request] = field(default_factory=list)
    """Requests under way that the phone has given up; each may still arrive, after later ones."""
    met: Counter[str] = field(default_factory=Counter)

    def ask(self, request: Request) -> Reply:
        """Hand a request over, or let happen to it what the dice say; raises NoAnswerError."""
        fault = "none" if self.calm else self._draw()
        self.met[fault] += 1
        return self.suffer(fault, request)

    def _draw(self) -> str:
        return self.dice.choices(list(self.faults), list(self.faults.values()))[0]

    def suffer(self, fault: str, request: Request) -> Reply:
        """Let one fault happen to a request."""
        match fault:
            case "none":
                return self.server.ask(request)
            case "request lost":
                raise NoAnswerError
            case "error in place of the request":
                return _ERROR
            case "a page in place of the request":
                return _PAGE
            case "delivered late":
                self.late.append(request)
                raise NoAnswerError
            case "delivered twice":
                replies = [self._heard(request), self._heard(request)]
                answered = [one for one in replies if one is not None]
                if not answered:
                    raise NoAnswerError
                return self.dice.choice(answered)
        reply = self.server.ask(request)
        match fault:
            case "error in place of the answer":
                return _ERROR
            case "answer cut short":
                return Reply(reply.status, reply.body[: self.dice.randrange(1, len(reply.body))])
        raise NoAnswerError

    def _heard(self, request: Request) -> Reply | None:
        try:
            return self.server.ask(request)
        except NoAnswerError:
            return None

    def deliver_late(self) -> bool:
        """Let a request arrive that was under way; gives whether there was one. Nobody hears the answer."""
        if not self.late:
            return False
        self._heard(self.late.pop(self.dice.randrange(len(self.late))))
        return True
