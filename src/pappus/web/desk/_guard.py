"""What stands before every request: host, origin, size and rate; and the headers on every answer."""

from __future__ import annotations

import asyncio
import hashlib
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from fastapi.responses import JSONResponse

from pappus.web.desk._problems import problem

MOST_BODY_BYTES = 1_500_000
"""A plan file of 1 MB with room for its wrapping."""
BODY_WAIT_S = 20.0
MOST_CLIENTS = 4000
RATE_PER_S, BURST = 60.0, 300.0
ENTRIES_PER_S, ENTRIES_BURST = 0.2, 10.0
"""Tries of a key from one address: it has 192 bits, so this only keeps the line quiet."""

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self' blob:",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    ]
)
HEADERS = (
    (b"content-security-policy", CONTENT_SECURITY_POLICY.encode()),
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(self), screen-wake-lock=(self)"),
)

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]


class Guard:
    """Wraps the whole application; ``hosts`` are the names and addresses under which it may be asked for."""

    def __init__(self, app: App, hosts: frozenset[str]) -> None:
        self._app, self._hosts = app, hosts
        self._rates, self._entries = Buckets(RATE_PER_S, BURST), Buckets(ENTRIES_PER_S, ENTRIES_BURST)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or let through with the body read and the headers added."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return  # no other protocol is spoken here

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [(name, value) for name, value in message.get("headers", []) if name.lower() != b"server"]
                if not any(name.lower() == b"cache-control" for name, _ in kept):
                    kept.append((b"cache-control", b"no-store"))
                message = {**message, "headers": [*kept, *HEADERS]}
            await send(message)

        refusal = self._refusal(scope)
        if refusal is None and scope["method"] not in ("GET", "HEAD"):
            body = await _body(receive)
            if isinstance(body, JSONResponse):
                refusal = body
            else:
                receive = _replayed(body, receive)
        await (refusal or self._app)(scope, receive, sent)

    def _refusal(self, scope: Scope) -> JSONResponse | None:
        headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get(b"host", "")
        if host_name(host) not in self._hosts:
            # a foreign name that was made to point at this laptop
            return problem(421, "The desk is not known under this address", "Use the link that it printed.")
        if scope["method"] not in ("GET", "HEAD"):
            origin = headers.get(b"origin")
            site = headers.get(b"sec-fetch-site", "same-origin")
            if (origin is not None and origin != f"{scope['scheme']}://{host}") or site not in ("same-origin", "none"):
                return problem(403, "The change came from another site", "Use a page of this desk.")
        if scope["path"].startswith("/api/"):
            address = (scope.get("client") or ("", 0))[0]
            cookie = hashlib.sha256(headers.get(b"cookie", "").encode()).hexdigest()[:16]
            entering = scope["path"] == "/api/enter"
            if not (self._entries.take(address) if entering else self._rates.take(f"{address} {cookie}")):
                return problem(429, "Too many requests", "Wait a few seconds.")
        return None


class Buckets:
    """One bucket of requests for each client: it fills at a steady rate and holds a burst."""

    def __init__(self, per_s: float, burst: float) -> None:
        self._per_s, self._burst = per_s, burst
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, client: str) -> bool:
        """Whether one more request of this client is served now."""
        now = time.monotonic()
        left, then = self._left.pop(client, (self._burst, now))
        left = min(self._burst, left + self._per_s * (now - then))
        self._left[client] = (left - 1.0 if left >= 1.0 else left, now)
        if len(self._left) > MOST_CLIENTS:
            self._left.popitem(last=False)
        return left >= 1.0


def host_name(host: str) -> str:
    """The name in a Host header, without its port."""
    if host.startswith("["):
        return host.partition("]")[0][1:].lower()
    return host.partition(":")[0].lower()


async def _body(receive: Receive) -> bytes | JSONResponse:
    parts, size = [], 0
    try:
        async with asyncio.timeout(BODY_WAIT_S):
            while True:
                message = await receive()
                if message["type"] != "http.request":
                    return problem(400, "The request broke off", "Try again.")
                parts.append(message.get("body", b""))
                size += len(parts[-1])
                if size > MOST_BODY_BYTES:
                    return problem(413, f"Larger than {MOST_BODY_BYTES // 1000} kB", "Send less.")
                if not message.get("more_body"):
                    return b"".join(parts)
    except TimeoutError:
        return problem(408, "The request did not arrive", "Try again.")


def _replayed(body: bytes, receive: Receive) -> Receive:
    given = False

    async def once() -> Message:
        nonlocal given
        if not given:
            given = True
            return {"type": "http.request", "body": body, "more_body": False}
        return await receive()

    return once
