"""Who may speak to the page's server, and what a browser may do with what it sends.

The server stands on the person's own machine, where every page of every site in the same browser can reach it.
So each request is looked at before anything else reads it:

- its Host is one of the names that the server gave out (else a foreign name could be pointed here: DNS rebinding);
- its Origin, where the browser tells one, is the page itself, and what another site asks for is refused;
- whatever reads or changes anything carries the visitor's pass in a header of its own. There are no cookies, so
  nothing is sent along by itself, and no other site may set that header here: it would have to ask first, and no
  such question is ever answered with a yes.

What goes out may run no script but the page's own files, and may not be put into a frame.
"""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Iterable
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

PASS_HEADER = "x-salvage-pass"
OPEN_PATHS = ("/", "/words", "/api/enter")  # nothing of the folder is in them
OPEN_BELOW = ("/static/", "/take/")  # files of ours; results, under a name that nobody can guess
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_MOST_PASSES, _MOST_TICKETS = 64, 256
_TICKET_SECONDS = 900.0


@dataclass
class Keys:
    """What opens the server: keys in addresses, passes of those who came in, tickets for single files."""

    _keys: dict[str, bool] = field(default_factory=dict)  # whether each opens once only
    _passes: list[str] = field(default_factory=list)
    _tickets: dict[str, tuple[float, str]] = field(default_factory=dict)

    def new_key(self, *, once: bool = False) -> str:
        """A key for an address. once: it opens once, as it must where others see it: a code on a screen."""
        key = secrets.token_urlsafe(18)
        self._keys[key] = once
        return key

    def enter(self, key: str) -> str | None:
        """A pass for who has the key; None for a wrong or a spent one."""
        found = next((each for each in self._keys if hmac.compare_digest(each.encode(), key.encode())), None)
        if found is None:
            return None
        if self._keys[found]:
            del self._keys[found]
        given = secrets.token_urlsafe(24)
        self._passes = [*self._passes, given][-_MOST_PASSES:]
        return given

    def knows(self, given: str) -> bool:
        """Whether a pass is one of ours."""
        return any(hmac.compare_digest(each.encode(), given.encode()) for each in self._passes)

    def ticket(self, what: str) -> str:
        """A name that nobody can guess, good for some minutes, for one thing to be fetched by a plain link."""
        now = time.monotonic()
        fresh = {name: each for name, each in self._tickets.items() if each[0] > now}
        name = secrets.token_urlsafe(18)
        self._tickets = dict(list(fresh.items())[-_MOST_TICKETS:]) | {name: (now + _TICKET_SECONDS, what)}
        return name

    def behind(self, ticket: str) -> str | None:
        """What a ticket is for; None for none of ours or one that is too old."""
        until, what = self._tickets.get(ticket, (0.0, ""))
        return what if until > time.monotonic() else None


class Guard:
    """Lets through what the page itself sends. hosts: `127.0.0.1:8123` and the other names given out, lower case."""

    def __init__(self, app: ASGIApp, keys: Keys, hosts: Iterable[str]) -> None:
        self.app = app
        self.keys = keys
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # a web socket isn't bound by the rules for requests, so there is none
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        refusal = self._refusal(scope["path"], Headers(scope=scope))
        if refusal is not None:
            status, word = refusal
            await JSONResponse({"error": word}, status)(scope, receive, _with_headers(send))
            return
        await self.app(scope, receive, _with_headers(send))

    def _refusal(self, path: str, headers: Headers) -> tuple[int, str] | None:
        """Status and the word of the catalogue for why not; None where nothing is against it."""
        host = headers.get("host", "").lower()
        if host not in self.hosts:
            return 421, "refused.host"
        origin = headers.get("origin")
        if origin is not None and origin.lower() != f"http://{host}":
            return 403, "refused.origin"
        site = headers.get("sec-fetch-site", "none")
        if site not in ("none", "same-origin") and not (
            path == "/" and headers.get("sec-fetch-mode") == "navigate"
        ):
            return 403, "refused.origin"
        if path in OPEN_PATHS or path.startswith(OPEN_BELOW):
            return None
        if not self.keys.knows(headers.get(PASS_HEADER, "")):
            return 401, "refused.pass"
        return None


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.setdefault("content-security-policy", CONTENT_POLICY)
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "no-referrer"
            headers["x-frame-options"] = "DENY"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["permissions-policy"] = "geolocation=(), microphone=()"
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sent
