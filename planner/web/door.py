"""Who is let in, how much they may bring, and what every answer carries.

A page of another site must neither read nor steer this one through the visitor's browser:
the name in ``Host`` must be ours (else a foreign name was pointed at this machine), a form
sent from elsewhere is refused, and cookies never travel from other sites.
"""

from __future__ import annotations

import hmac
import json
import logging
import re
import secrets
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs, quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, RedirectResponse, Response

from planner.errors import UsageError
from planner.web.pages import moved_on, words_page

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: The largest request that is read [byte], and how much more is let pass unread.
MOST: Final = 20_000_000
_ENVELOPE: Final = 100_000  # what a form adds around its file [byte]
_LET_PASS: Final = 10 * MOST
_DESK, _KEY = "planner_desk", "planner_key"
_VISITOR: Final = re.compile(r"[A-Za-z0-9_-]{22,64}")
_CSP: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "form-action 'self'; connect-src 'self'; base-uri 'none'; frame-ancestors 'none'"
)
#: A picture carries its own style; nothing else in it counts.
_PICTURE: Final = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where the server is to be found: names that ``Host`` may have, and the key if any."""

    hosts: frozenset[str]
    key: str | None = None


class Door:
    """ASGI middleware before all pages."""

    def __init__(self, app: ASGIApp, address: Address) -> None:
        self._app = app
        self._address = address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on to the pages."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        cookies = _cookies(headers)
        dressed = _Dressed(scope, send)
        refused = self._refused(scope, headers, cookies)
        if refused is not None:
            await refused(scope, receive, dressed)
            return
        visitor = cookies.get(_DESK, "")
        if not _VISITOR.fullmatch(visitor):
            visitor = secrets.token_urlsafe(24)
            dressed.cookie = _cookie(_DESK, visitor)
        scope.setdefault("state", {})["visitor"] = visitor
        try:
            await _Measured(self._app, headers)(scope, receive, dressed)
        except Exception:
            logging.getLogger(__name__).exception("%s %s", scope["method"], scope["path"])
            if dressed.started:
                raise
            answer = refusal(
                scope,
                500,
                "Something went wrong here; it is no fault of what you typed.",
                "Go back and try again. What went wrong stands where the planner was started.",
            )
            await answer(scope, receive, dressed)

    def _refused(
        self, scope: Scope, headers: Headers, cookies: dict[str, str]
    ) -> Response | None:
        """Give the answer to whoever is not let in, None to those who are."""
        host = headers.get("host", "").lower()
        if host not in self._address.hosts:
            return refusal(
                scope,
                421,
                "This is not the address of the planner.",
                "Open the address that it printed when it was started.",
            )
        post = scope["method"] not in {"GET", "HEAD"}
        origin = headers.get("origin")
        site = headers.get("sec-fetch-site", "")
        if post and origin is not None and origin.lower() != f"http://{host}":
            return _from_elsewhere(scope)
        if site == "cross-site":
            visit = headers.get("sec-fetch-mode") == "navigate" and not post
            if not visit:
                return _from_elsewhere(scope)
            # From here the browser's own cookies count again.
            return HTMLResponse(moved_on(_path(scope, keep_query=True)))
        return self._without_key(scope, cookies, post=post)

    def _without_key(
        self, scope: Scope, cookies: dict[str, str], *, post: bool
    ) -> Response | None:
        key = self._address.key
        if key is None:
            return None
        typed = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        if _same(typed, key):
            if post:
                return None
            answer = RedirectResponse(_path(scope), status_code=303)
            answer.headers.append("set-cookie", _cookie(_KEY, key))
            return answer
        if _same(cookies.get(_KEY, ""), key):
            return None
        return refusal(
            scope,
            403,
            "The key is missing from this address.",
            "Type or paste the whole address that was printed when the planner was started, "
            "with ?key= and what follows it.",
        )


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode(), other.encode())


def _path(scope: Scope, *, keep_query: bool = False) -> str:
    path = quote("/" + scope["path"].lstrip("/"))
    query = scope["query_string"].decode("latin-1")
    return f"{path}?{quote(query, safe='=&%+')}" if keep_query and query else path


def _from_elsewhere(scope: Scope) -> Response:
    return refusal(
        scope,
        403,
        "This was sent from another site, not from a page of the planner.",
        "Open the planner itself, and do it there.",
    )


def refusal(scope: Scope, status: int, message: str, fix: str) -> Response:
    """Say no in words: a page, or an ``error/1`` record below ``/api``.

    Parameters
    ----------
    scope : dict
        Of the request.
    status : int
        Of the answer [-].
    message, fix : str
        What is wrong, and what to do about it.

    Returns
    -------
    Response
        The answer.
    """
    if scope["path"].startswith("/api/"):
        error = UsageError(message, fix=fix)
        return Response(
            json.dumps(error.as_dict()), status_code=status, media_type="application/json"
        )
    return HTMLResponse(words_page(message, fix), status_code=status)


def _cookies(headers: Headers) -> dict[str, str]:
    try:
        jar = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return {}
    return {name: one.value for name, one in jar.items()}


def _cookie(name: str, value: str) -> str:
    return f"{name}={value}; Path=/; HttpOnly; SameSite=Strict"


class _Dressed:
    """Sends an answer with the headers that every answer carries."""

    def __init__(self, scope: Scope, send: Send) -> None:
        self._send = send
        self._static = scope["path"].startswith("/static/")
        self.cookie = ""
        self.started = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            picture = headers.get("content-type", "").startswith("image/svg")
            headers["content-security-policy"] = _PICTURE if picture else _CSP
            headers["x-content-type-options"] = "nosniff"
            # "no-referrer" would make browsers hide the origin of our own forms as well.
            headers["referrer-policy"] = "same-origin"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers["cache-control"] = "no-cache" if self._static else "no-store"
            if self.cookie and not self._static:
                headers.append("set-cookie", self.cookie)
        await self._send(message)


class _TooLarge(Exception):
    """More came than is read."""


class _Measured:
    """Hands on a request while its body is counted; one that is too large is refused."""

    def __init__(self, app: ASGIApp, headers: Headers) -> None:
        self._app = app
        self._said = headers.get("content-length", "")
        self._came = 0
        self._more = True
        self._over = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        most = MOST + _ENVELOPE

        async def counted() -> Message:
            message = await self._next(receive)
            if self._came > most:
                self._over = True
                raise _TooLarge
            return message

        async def unless_over(message: Message) -> None:
            if not self._over:
                await send(message)

        if self._said.isdigit() and int(self._said) > most:
            self._over = True
        else:
            try:
                await self._app(scope, counted, unless_over)
            except _TooLarge:
                self._over = True
        if self._over:
            await self._let_pass(receive)
            answer = refusal(
                scope,
                413,
                f"This is larger than {MOST / 1e6:.0f} MB, and was not read.",
                "Take the hours you need out of the file, or pack it as .zip or .gz.",
            )
            await answer(scope, receive, send)

    async def _next(self, receive: Receive) -> Message:
        message = await receive()
        self._came += len(message.get("body", b""))
        self._more = message.get("more_body", False)
        return message

    async def _let_pass(self, receive: Receive) -> None:
        """Let the rest go by unread: a browser listens only when it has sent all."""
        while self._more and self._came < _LET_PASS:
            await self._next(receive)
