"""Who may talk to the desk: this machine's own browser, with the token of this run, and nobody through it.

A page of another origin can send requests to the loopback address, and a name can be made to lead there; so the host
asked for, the origin and the kind of content are checked with every request, beside a token that is fresh with every
run (OWASP Cheat Sheet Series: cross-site request forgery prevention, DNS rebinding; from memory). On another address
than the loopback a password takes the token's place, asked for by the browser itself (RFC 7617, basic authentication)
and carried by TLS alone; who guesses wrong too often waits.
"""

import base64
import binascii
import hashlib
import hmac
import json
import time
from collections import deque
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import parse_qs

COOKIE = "vampyield-desk"

MOST_BODY_BYTES = 2_000_000
"""A step is a few points; a whole layout some hundred kB."""

MOST_REQUESTS, WINDOW_S = 600, 10.0
"""More requests than this in a window are refused: a hand that drags sends some tens a second."""

LEAST_PASSWORD = 12
"""Characters of a password."""

MOST_GUESSES, GUESS_WINDOW_S = 10, 60.0
"""Wrong passwords in a window, of all clients together; then nobody is let in until it has passed."""

BODY_SECONDS = 10.0
"""A body that takes longer to arrive is given up."""

HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "style-src-attr 'unsafe-inline'; img-src 'self' data:; connect-src 'self'; form-action 'none'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff", "referrer-policy": "no-referrer", "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin", "cache-control": "no-store",
}

Scope = MutableMapping
Receive = Callable[[], Awaitable[MutableMapping]]
Send = Callable[[MutableMapping], Awaitable[None]]


@dataclass
class Guard:
    """Stands before the application; what it refuses never reaches it."""

    app: Callable[[Scope, Receive, Send], Awaitable[None]]
    token: str
    hosts: frozenset[str]
    """Values of the Host header that are served, with their port."""
    password: str = ""
    """Asked for in place of the token, over TLS; "" on the loopback address."""
    _guesses: deque[float] = field(default_factory=deque)
    _times: deque[float] = field(default_factory=deque)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {key.decode("latin-1").lower(): value.decode("latin-1") for key, value in scope["headers"]}
        refused = self._refused(scope, headers)
        if refused is None and self.password:
            refused = self._password_refused(headers)
        elif refused is None and self._enters(scope):
            await self._let_in(send)
            return
        elif refused is None and not self._known(headers):
            refused = 403, "open the address that vampyield desk printed; it holds the key of this run."
        if refused is not None:
            await _answer(send, *refused)
            return
        await self.app(scope, _bounded(receive), _with_headers(send))

    def _refused(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        now = time.monotonic()
        while self._times and self._times[0] < now - WINDOW_S:
            self._times.popleft()
        if len(self._times) >= MOST_REQUESTS:
            return 429, "too many requests; wait a few seconds."
        self._times.append(now)
        if headers.get("host", "").lower() not in self.hosts:
            return 421, "this desk is at another address."
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in {f"{self._scheme}://{host}" for host in self.hosts}:
            return 403, "a page of another origin may not use this desk."
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "a page of another site may not use this desk."
        if scope["method"] not in ("GET", "HEAD"):
            if origin is None:
                return 403, "a change comes from the page of this desk alone."
            if headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
                return 415, "a change is sent as JSON."
            length = headers.get("content-length", "")
            if not length.isdigit() or int(length) > MOST_BODY_BYTES:
                return 413, f"a change has at most {MOST_BODY_BYTES} bytes, and says how many."
        return None

    @property
    def _scheme(self) -> str:
        return "https" if self.password else "http"

    def _password_refused(self, headers: dict[str, str]) -> tuple[int, str] | None:
        now = time.monotonic()
        while self._guesses and self._guesses[0] < now - GUESS_WINDOW_S:
            self._guesses.popleft()
        if len(self._guesses) >= MOST_GUESSES:
            return 429, "too many wrong passwords; wait a minute."
        kind, _, given = headers.get("authorization", "").partition(" ")
        if not given:
            return 401, "the password is that given where vampyield desk was started."
        try:
            said = base64.b64decode(given, validate=True).partition(b":")[2] if kind.lower() == "basic" else b""
        except (binascii.Error, ValueError):
            said = b""
        one, other = (hashlib.sha256(word).digest() for word in (said, self.password.encode()))
        if hmac.compare_digest(one, other):
            return None
        self._guesses.append(now)
        return 401, "the password is wrong."

    def _enters(self, scope: Scope) -> bool:
        """Whether this is the address that was printed, with its key."""
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [])
        return scope["path"] == "/" and len(given) == 1 and hmac.compare_digest(given[0].encode(), self.token.encode())

    def _known(self, headers: dict[str, str]) -> bool:
        cookie: SimpleCookie = SimpleCookie()
        try:
            cookie.load(headers.get("cookie", ""))
        except Exception:
            return False
        return COOKIE in cookie and hmac.compare_digest(cookie[COOKIE].value.encode(), self.token.encode())

    async def _let_in(self, send: Send) -> None:
        """Give the browser its cookie and send it on to the address without the key, which is then in no history."""
        cookie = f"{COOKIE}={self.token}; HttpOnly; SameSite=Strict; Path=/"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode()), *_encoded(HEADERS)]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


def _encoded(headers: dict[str, str]) -> list[tuple[bytes, bytes]]:
    return [(key.encode(), value.encode()) for key, value in headers.items()]


async def _answer(send: Send, status: int, sentence: str) -> None:
    body = json.dumps({"said": sentence}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), *_encoded(HEADERS)]
    if status == 401:
        headers.append((b"www-authenticate", b'Basic realm="vampyield desk", charset="UTF-8"'))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _with_headers(send: Send) -> Send:
    async def sending(message: MutableMapping) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), *_encoded(HEADERS)]}
        await send(message)

    return sending


def _bounded(receive: Receive) -> Receive:
    """Bodies end at their limit, whatever they said of their length."""
    seen = 0

    async def receiving() -> MutableMapping:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > MOST_BODY_BYTES:
                return {"type": "http.disconnect"}
        return message

    return receiving
