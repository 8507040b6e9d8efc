"""What stands before every route: sizes, rates, security headers, a line in the log for each request."""

from __future__ import annotations

import time
from collections import OrderedDict

import structlog
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.routes.problems import answer
from api.settings import Settings

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "font-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # with "no-referrer" a form of our own pages would say Origin: null
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(self), camera=(self), microphone=(self)",
}
_MOST_ADDRESSES = 10_000
_log = structlog.get_logger("creekledger.requests")


class Protection:
    """ASGI middleware: refuses what is too large or too frequent, and sets the headers that keep pages safe."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app, self.settings = app, settings
        self._allowances: OrderedDict[str, tuple[float, float]] = OrderedDict()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begin = time.perf_counter()
        status = 500

        async def send_safely(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                self._set_headers(MutableHeaders(scope=message), scope["path"])
            await send(message)

        refusal = self._refusal(scope)
        try:
            if refusal is not None:
                await refusal(scope, receive, send_safely)
            else:
                await self.app(scope, _Limited(receive, self.settings.most_body_bytes), send_safely)
        finally:
            # Queries may hold positions and names; the path alone tells what was asked.
            took = round((time.perf_counter() - begin) * 1000, 1)
            _log.info("request", method=scope["method"], path=scope["path"], status=status, ms=took)

    def _refusal(self, scope: Scope) -> ASGIApp | None:
        length = Headers(scope=scope).get("content-length", "0")
        if b"%00" in scope.get("query_string", b"") or "\x00" in scope["path"]:
            return answer(422, "The address holds a NUL, which nothing here is called by.")
        most = self.settings.most_body_bytes
        if length.isdigit() and int(length) > most:
            return answer(413, _too_large(most))
        wait = self._wait(scope["client"][0] if scope.get("client") else "")
        if wait > 0:
            return answer(429, "Too many requests from this address.", headers={"Retry-After": str(int(wait) + 1)})
        return None

    def _wait(self, address: str) -> float:
        """Take one request from an address's allowance, which fills up again; gives the seconds to wait."""
        rate = self.settings.requests_a_minute / 60
        now = time.monotonic()
        left, at = self._allowances.pop(address, (float(self.settings.requests_a_minute), now))
        left = min(float(self.settings.requests_a_minute), left + (now - at) * rate)
        taken = left >= 1
        self._allowances[address] = (left - 1 if taken else left, now)
        if len(self._allowances) > _MOST_ADDRESSES:
            self._allowances.popitem(last=False)
        return 0.0 if taken else (1 - left) / rate

    def _set_headers(self, headers: MutableHeaders, path: str) -> None:
        for name, value in _HEADERS.items():
            headers.setdefault(name, value)
        if path.startswith("/api") or path == "/":
            headers.setdefault("Cache-Control", "no-store")
        if self.settings.secure:
            headers.setdefault("Strict-Transport-Security", "max-age=31536000")


def _too_large(most: int) -> str:
    return f"A request holds at most {most} bytes; send it in parts."


class _Limited:
    """Hands on the parts of a body, and stops once it grew too large (it may come without a length)."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive, self._most, self._left = receive, most, most

    async def __call__(self) -> Message:
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            raise HTTPException(413, _too_large(self._most))
        return message
