"""What stands before every answer: this machine's own browser, with the token, and no big bodies; headers that hold.

The page holds what the user may not want to show (an unreleased drawing) and can write into his folder. Other programs
on the machine lack the token; other sites in the same browser also give themselves away by Origin or Host (a name that
is made to point at 127.0.0.1 keeps its own Host).
"""

from __future__ import annotations

import json
import secrets
from urllib.parse import parse_qs, urlsplit

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HEADERS", "LARGEST_BODY", "Guard"]

LARGEST_BODY = 1_000_000
KEPT = (
    "What was changed on a page of an earlier run is not lost: put the end of this address, from its # on, behind it."
)
OPEN = ("/health",)
"""Answers without a token: they say nothing."""

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Guard:
    """Middleware; `hosts` are the names, with port, that the page goes by."""

    def __init__(self, app: ASGIApp, *, token: str, port: int) -> None:
        self.app = app
        self.token = token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                held = [each for each in message.get("headers", []) if each[0].lower() != b"server"]
                message["headers"] = [*held, *((k.encode(), v.encode()) for k, v in HEADERS.items())]
            await send(message)

        status, words = self._refusal(scope)
        if status:
            await _answer(sent, status, words, read=scope["path"] == "/" and scope["method"] == "GET")
            return
        count = 0

        async def received() -> Message:
            nonlocal count
            message = await receive()
            count += len(message.get("body", b""))
            if count > LARGEST_BODY:  # more than was announced
                raise HTTPException(413, "the request is larger than 1 MB.")
            return message

        await self.app(scope, received, sent)

    def _refusal(self, scope: Scope) -> tuple[int, str]:
        """(status, words) of a request that is not answered; (0, "") of one that is."""
        given: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            given.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        hosts, origins = given.get("host", []), given.get("origin", [])
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 403, "that is not this page's address."
        if any(origin.lower() not in self.origins for origin in origins):
            return 403, "another page asks."
        if any(site not in ("same-origin", "none") for site in given.get("sec-fetch-site", [])):
            # A link from elsewhere may open the page only with its token, which elsewhere does not have.
            return 403, "another site asks."
        lengths = given.get("content-length", ["0"])
        if any(not length.isdecimal() or int(length) > LARGEST_BODY for length in lengths):
            return 413, "the request is larger than 1 MB."
        if scope["path"] not in OPEN and not self._known(scope, given):
            return 403, "the token is missing or wrong: open the whole address that barfem page prints."
        return 0, ""

    def _known(self, scope: Scope, given: dict[str, list[str]]) -> bool:
        """Whether the token is in the header; for the page in its address, for its files in their folder's name."""
        given_token = given.get("x-token", [])
        if not given_token and scope["method"] in ("GET", "HEAD"):
            if scope["path"] == "/":
                given_token = parse_qs(urlsplit(f"?{scope['query_string'].decode('latin-1')}").query).get("token", [])
            elif scope["path"].startswith("/static/"):
                given_token = [scope["path"].split("/")[2]]
        return len(given_token) == 1 and secrets.compare_digest(given_token[0].encode(), self.token.encode())


async def _answer(send: Send, status: int, words: str, *, read: bool) -> None:
    """A refusal, which a person reads (`read`) where the page itself was to be opened: mostly one of an earlier run."""
    error = {"error": {"where": "", "message": words, "expected": ""}}
    body = f"barfem page: {words} {KEPT}" if read else json.dumps(error)
    kind = b"text/plain; charset=utf-8" if read else b"application/json"
    headers = [(b"content-type", kind), (b"content-length", str(len(body.encode())).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body.encode()})
