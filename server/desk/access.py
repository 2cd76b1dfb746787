"""From where the desks may be spoken to: the host and origin checks, and the headers that every answer carries.

What is held off here is a hostile page in a browser that can reach the port. It is known by its origin (RFC 6455,
10.2), or by a name of its own that it points at this computer (DNS rebinding). Who asks is the business of `visitors`.
"""

import ipaddress
import socket
from collections.abc import Iterable
from functools import lru_cache
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; font-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types lit-html booth-shell"
)
"""Own files only. The Trusted Types policies: lit's for its templates, and one for the booth desk's worker."""

PAPER_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Of a sheet to be printed, which has neither script nor a file beside it, and its own style within."""

HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
MESSAGE_BYTES = 16_384
"""What anybody may say at once. Chosen: an event of formats.md is under 3 kB."""

FILES_COME_TO = "/api/recordings"
FILE_BYTES = 8_000_000
"""What a recording may have that is dropped on a page, with its plan. Chosen: a three-hour show has some 200 kB."""

PLANS_COME_TO = "/api/plans"
PLAN_BYTES = 1_000_000
"""What may be said at once of a plan: two texts of it. Chosen: one of a hundred stations has 30 kB."""

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
"""RFC 9110, 9.2.1, without TRACE, which nothing here answers."""


@lru_cache(maxsize=256)
def is_loopback(host: str) -> bool:
    """Whether `host` (a name or an address, without brackets) can be reached from this computer only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class Hosts:
    """The names under which this server may be addressed.

    Loopback names and the `bound` host always. Where `bound` is not loopback, also any plain address (rebinding needs a
    name), this computer's own name, bare and under `.local`, and the names of its `certificate`, lower case. `proxied`
    are names that a proxy before it is asked for by.
    """

    def __init__(self, bound: str, certificate: Iterable[str] = (), proxied: Iterable[str] = ()) -> None:
        self._open = not is_loopback(bound)
        own = socket.gethostname().lower()
        asked = map(str.lower, proxied)
        self._names = {"localhost", bound.lower(), *asked, *((own, f"{own}.local", *certificate) if self._open else ())}

    def __contains__(self, host: str) -> bool:
        """Whether a `Host` header, with or without a port, is one of them."""
        name = host_name(host)
        return name in self._names or is_loopback(name) or (self._open and (_is_address(name) or self._is_wild(name)))

    def _is_wild(self, name: str) -> bool:
        """Whether a name is one of those for which a certificate has a star (RFC 9525, 6.3: its first label)."""
        return f"*.{name.partition('.')[2]}" in self._names


def host_name(host: str) -> str:
    """The lower-case name or address of a `Host` header, without port and brackets; empty where it is not one."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class Guard:
    """ASGI middleware: refuses what comes from elsewhere and puts the security headers on every answer."""

    def __init__(self, app: ASGIApp, hosts: Hosts) -> None:
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse a request with one sentence, or a websocket with 403; let all others through."""
        fault = self._fault(scope)
        if scope["type"] == "websocket":
            await (send({"type": "websocket.close"}) if fault else self._app(scope, receive, send))
        else:
            answer = JSONResponse({"reason": fault[1]}, fault[0]) if fault else self._app
            await answer(scope, receive, _adding_headers(send))

    def _fault(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        host = ", ".join(headers.getlist("host"))
        if host not in self._hosts:
            return 421, f"This server is not {host!r}: use its address, or the name it was started with."
        if scope["type"] == "http" and scope["method"] in SAFE_METHODS:
            return None
        origin = headers.get("origin")
        if origin is not None and not _is_own(origin, host, scope["scheme"]):
            return 403, f"A page from {origin!r} may not speak to this server."
        return _size_fault(headers, _most_bytes(scope["path"])) if scope["type"] == "http" else None


def _most_bytes(path: str) -> int:
    if path == PLANS_COME_TO or path.startswith(f"{PLANS_COME_TO}/"):
        return PLAN_BYTES
    return FILE_BYTES if path == FILES_COME_TO else MESSAGE_BYTES


def _is_own(origin: str, host: str, scheme: str) -> bool:
    """Whether a page's origin is this server: its host and port, and with TLS a page that came by it too."""
    try:
        page = urlsplit(origin)
    except ValueError:
        return False
    return page.netloc.lower() == host.lower() and (page.scheme == "https" or scheme not in {"https", "wss"})


def _size_fault(headers: Headers, most: int) -> tuple[int, str] | None:
    length = headers.get("content-length", "")
    if not length.isdigit() or "transfer-encoding" in headers:
        return 411, "A request that reports something says how long it is (Content-Length)."
    if int(length) > most:
        return 413, f"This request has {length} bytes; accepted are at most {most}."
    return None


def _adding_headers(send: Send) -> Send:
    async def adding(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            own = headers.get("content-security-policy")
            headers.update(HEADERS | ({"content-security-policy": PAPER_POLICY} if own == PAPER_POLICY else {}))
            headers.setdefault("cache-control", "no-cache")
        await send(message)

    return adding
