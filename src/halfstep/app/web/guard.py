"""What is asked of every request, and said with every answer?

Nothing may be loaded from elsewhere, no script or style may stand inside a page, no other site may
frame one or send a form here, and nobody is told from where a link was followed. An address that
is no name of this machine is refused: a page elsewhere could else have its own name point here.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Collection

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from halfstep.app.web.addresses import host_names
from halfstep.app.web.proxy import Proxy, passed_on

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "media-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "permissions-policy": "microphone=(self), camera=(), geolocation=(), payment=()",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
TLS_ONLY = "max-age=31536000"
"""For a year a browser comes to a name by TLS alone (RFC 6797).

It is said of the one name that was asked: others below it are not ours to bind.
"""
MOST_BYTES = 200_000_000
"""Of a form with its files: an hour of a phone's recorder, twenty minutes of a studio's."""
_CHANGES = {"POST", "PUT", "PATCH", "DELETE"}


class Guard:
    """Stands before the site.

    Parameters
    ----------
    app : ASGIApp
    names : tuple of str
        Names of this machine beside the usual ones, as certificates have them: an asterisk stands
        for one word.
    proxy : Proxy or None
        Who passes on what came to another address, which is then ours as well.
    """

    def __init__(
        self, app: ASGIApp, names: tuple[str, ...] = (), proxy: Proxy | None = None
    ) -> None:
        self._app = app
        own = frozenset(host_names())
        self._names = {*own, *map(str.lower, names)}
        self._lasting = self._names - own
        self._proxy = proxy

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or let the site answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        is_passed_on = self._proxy is not None and self._proxy.passes_on(scope)
        scope = passed_on(scope) if is_passed_on else scope
        headers = Headers(scope=scope)
        is_ours = is_passed_on or self._is_ours(headers.get("host", ""))
        is_lasting = scope["scheme"] == "https" and self._is_lasting(headers, is_passed_on)
        refused = _refusal(scope["method"], headers) if is_ours else _no_name_of_ours()

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    answer.setdefault(name, value)
                answer.setdefault("cache-control", "no-store")
                if is_lasting:
                    answer.setdefault("strict-transport-security", TLS_ONLY)
            await send(message)

        if refused is None:
            await self._app(scope, _limited(headers, receive), send_guarded)
        else:
            await refused(scope, receive, send_guarded)

    def _is_ours(self, host: str) -> bool:
        name = _name_of(host)
        if _is_one_of(name, self._names):
            return True
        try:
            ipaddress.ip_address(name.strip("[]"))
        except ValueError:
            return False
        return True

    def _is_lasting(self, headers: Headers, is_passed_on: bool) -> bool:
        """True for a name of a proxy or a given certificate: what is ours may be gone tomorrow."""
        name = _name_of(headers.get("host", ""))
        if name in self._names - self._lasting:
            return False
        return is_passed_on or _is_one_of(name, self._lasting)


def _name_of(host: str) -> str:
    """A host without its port, in small letters."""
    return (host.rpartition(":")[0] if host.rpartition(":")[2].isdecimal() else host).lower()


def _is_one_of(name: str, names: Collection[str]) -> bool:
    return name in names or f"*.{name.partition('.')[2]}" in names


def _no_name_of_ours() -> PlainTextResponse:
    return PlainTextResponse("this is no name of this machine; use the printed address", 400)


def _refusal(method: str, headers: Headers) -> PlainTextResponse | None:
    if method in _CHANGES and not _is_same_site(headers):
        return PlainTextResponse("this came from another site; send it from its own page", 403)
    return None


def _is_same_site(headers: Headers) -> bool:
    """True for a form of our own page, and for a program that is no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2] == headers.get("host", "")


def _limited(headers: Headers, receive: Receive) -> Receive:
    """What is sent, as long as it is not too much, whatever length was named."""
    length = headers.get("content-length", "")
    left = MOST_BYTES - (int(length[:20]) if length.isdecimal() else 0)

    async def receive_limited() -> Message:
        nonlocal left
        message = {} if left < 0 else await receive()
        if not length:
            left -= len(message.get("body", b""))
        if left < 0:
            most = MOST_BYTES // 1_000_000
            raise HTTPException(413, f"this is too large; send {most} MB or less")
        return message

    return receive_limited
