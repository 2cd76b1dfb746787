"""Who is asking: somebody at this computer, or a paired device; and the door that nobody else comes through."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from fastapi import HTTPException
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocket

from server.access import Doorkeeper, Pairing, Role
from server.desk.access import SAFE_METHODS, host_name, is_loopback
from server.desk.connections import let_in, network_of
from server.desk.refusals import UNPAIRED, turn_away
from server.desk.reporters import LOBBY_PAGE, ONLY_REPORTS, is_for_reporters, may_ask, reported
from server.live import LiveRun, Refused
from server.timeline.event_kinds import EVENT_KINDS

PAIR_PAGE = "/pair"
PAIRINGS_PAGE = "/pairings"
PAIR = "/api/pairing"
HEALTHY, READY = "/healthz", "/readyz"
OPEN_TO_ALL = frozenset({PAIR_PAGE, PAIR, HEALTHY, READY})
"""What an unpaired device may ask for, beside files: `/static/` is the program itself, which is no secret."""

NOT_PAIRED = "This device is not paired with Festoon: open /pair on it, and enter a code."
ENDED = "The pairing of this device has ended: open /pair on it, and enter a new code."
ONLY_LOOKS = "This device only looks: it was not paired to change anything."
REFUSALS: Mapping[Role, str] = {"look": ONLY_LOOKS, "report": ONLY_REPORTS}
"""What a device is told that asks for more than its role may."""

OF_MACHINES = tuple(kind for kind, row in EVENT_KINDS.items() if row.senders == ("server",))
NOT_SEEN = (
    "A device reports what a person saw: accepted is the source tap, also with a name after a colon, and no"
    f" {', '.join(OF_MACHINES[:-1])} or {OF_MACHINES[-1]}."
)
"""What only the server itself says, and what is told of a device that says it."""

FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
"""A request with one of these was passed on, so that its peer is not who asks."""

_KEY = "festoon.visitor"


def is_this_computer(scope: Scope) -> bool:
    """Whether a program on this computer asks, by a loopback name, and not on behalf of another that says so."""
    headers = Headers(scope=scope)
    client = scope.get("client")
    at_home = client is not None and is_loopback(client[0]) and is_loopback(host_name(headers.get("host", "")))
    return at_home and not any(name in headers for name in FORWARDED)


def _line_of(scope: Scope) -> str:
    """Which desk of this computer asks, by its connection; all requests over HTTP are one, however many they are."""
    client = scope.get("client")
    return f"{client[0]} {client[1]}" if scope["type"] == "websocket" and client else ""


def peer_of(scope: Scope) -> str:
    """What tries of codes are counted by: the peer's address, in IPv6 its network of 64 bits (RFC 4291, 2.5)."""
    client = scope.get("client")
    return "" if client is None else network_of(client[0])


class Visitor:
    """Whoever was let in: `pairing` is that of the device, None for this computer itself.

    What may be reported is counted for the device. Of this computer each desk is one, by its `line`. A program that
    says too much must not keep the booth desk beside it from reporting.
    """

    def __init__(self, doorkeeper: Doorkeeper, pairing: Pairing | None, line: str = "") -> None:
        self._doorkeeper = doorkeeper
        self._counted_for = pairing.id if pairing else line
        self.pairing = pairing

    @property
    def name(self) -> str | None:
        """The person who has the device; None at this computer, where nobody was named."""
        return self.pairing.name if self.pairing else None

    @property
    def role(self) -> Role:
        """What it may do."""
        return self.pairing.role if self.pairing else "booth"

    def admitted(self, run: LiveRun, said: Mapping[str, object]) -> Mapping[str, object] | Refused:
        """An event of a run that it reports, `by` its person whatever that says; or why it may not, or not now."""
        if self.role == "look" or (self.role == "report" and not is_for_reporters(said)):
            return Refused(REFUSALS[self.role])
        if self.pairing and not self._doorkeeper.pairings.holds(self.pairing):
            return Refused(ENDED)
        if self.pairing and self.role == "booth" and not _is_a_persons(said):
            return Refused(NOT_SEEN)
        if self._wait_s():
            return Refused("This device reports more than is taken of one: it is to send this again later.", again=True)
        if self.pairing and self.role == "report":
            return reported(said, self.pairing, run.events)
        return {**said, "by": self.pairing.name} if self.pairing else said

    def _wait_s(self) -> float:
        wait_s = self._doorkeeper.wait_for_report_s if self.role == "report" else self._doorkeeper.wait_for_event_s
        return wait_s(self._counted_for)

    @contextmanager
    def present(self, leave: Callable[[], None]) -> Iterator[None]:
        """Be connected; `leave` is called when the device's pairing is withdrawn."""
        if self.pairing is None:
            yield
        else:
            with self._doorkeeper.pairings.present(self.pairing.id, leave):
                yield


def visitor_of(connection: HTTPConnection) -> Visitor:
    """Whoever asks. Raises KeyError outside `Door`, or where nobody need be let in."""
    visitor: Visitor = connection.scope[_KEY]
    return visitor


def visitor_if_any(connection: HTTPConnection) -> Visitor | None:
    """The same, for a path of `OPEN_TO_ALL`; None for a device that is not paired."""
    return connection.scope.get(_KEY)


def booth_of(connection: HTTPConnection) -> Visitor:
    """The same, for what only a device that changes things may see: 403 for another."""
    visitor = visitor_of(connection)
    if visitor.role != "booth":
        raise HTTPException(403, REFUSALS[visitor.role])
    return visitor


def cookie_name(scope: Scope) -> str:
    """The session's cookie: with TLS one that no page without it can set (RFC 6265bis, "__Host-")."""
    return "__Host-festoon" if is_private(scope) else "festoon"


def is_private(scope: Scope) -> bool:
    """Whether it came by TLS."""
    return scope["scheme"] in {"https", "wss"}


def _is_a_persons(said: Mapping[str, object]) -> bool:
    """Whether an event, as parsed JSON, can come from somebody at a device; one that is no event is refused later."""
    source = said.get("source")
    return said.get("kind") not in OF_MACHINES and (not isinstance(source, str) or source.partition(":")[0] == "tap")


class Door:
    """ASGI middleware: says who asks, and turns away whoever is neither here nor paired.

    A page becomes the page that pairs, the rest of it a sentence with 401, a websocket is closed with `UNPAIRED`. A
    device that only looks is refused every method that is not safe, whatever stands behind it. One that reports from
    the houses is refused all that is not the lobby's, and its pages lead to the lobby.
    """

    def __init__(
        self,
        app: ASGIApp,
        doorkeeper: Doorkeeper,
        web: Path,
        is_here: Callable[[Scope], bool] = is_this_computer,
    ) -> None:
        self._app = app
        self._doorkeeper = doorkeeper
        self._pair_page = web / "pair.html"
        self._is_here = is_here

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through with its visitor, or answer it here."""
        visitor = self._visitor(scope)
        if visitor is not None:
            scope[_KEY] = visitor
            let_in(scope)
        if scope["type"] == "http":
            answer = self._answer(visitor, scope) or self._app
            await answer(scope, receive, send)
        elif visitor is None:
            await turn_away(WebSocket(scope, receive, send), UNPAIRED, "This device is not paired.")
        elif visitor.role == "report" and not may_ask("websocket", "GET", scope["path"]):
            await send({"type": "websocket.close"})
        else:
            await self._app(scope, receive, send)

    def _visitor(self, scope: Scope) -> Visitor | None:
        if self._is_here(scope):
            return Visitor(self._doorkeeper, None, _line_of(scope))
        token = HTTPConnection(scope).cookies.get(cookie_name(scope))
        pairing = self._doorkeeper.pairings.holder(token) if token else None
        return Visitor(self._doorkeeper, pairing) if pairing else None

    def _answer(self, visitor: Visitor | None, scope: Scope) -> Response | None:
        """What is answered here in place of the application; None where it may answer."""
        method, path = scope["method"], scope["path"]
        safe = method in SAFE_METHODS
        if path in OPEN_TO_ALL or (path.startswith("/static/") and safe):
            return None
        if visitor is None:
            return self._to_pair(path, safe=safe)
        if visitor.role == "report":
            return None if may_ask("http", method, path) else _to_lobby(path, safe=safe)
        return None if safe or visitor.role == "booth" else JSONResponse({"reason": ONLY_LOOKS}, 403)

    def _to_pair(self, path: str, *, safe: bool) -> Response:
        # RFC 9110, 15.5.2 asks for a challenge; browsers know none of this name, and show the answer.
        headers = {"www-authenticate": "Pairing", "cache-control": "no-store"}
        if _is_page(path, safe=safe):
            return FileResponse(self._pair_page, 401, headers, "text/html")
        return JSONResponse({"reason": NOT_PAIRED}, 401, headers)


def _to_lobby(path: str, *, safe: bool) -> Response:
    headers = {"cache-control": "no-store"}
    if _is_page(path, safe=safe):
        return RedirectResponse(LOBBY_PAGE, 303, headers)
    return JSONResponse({"reason": ONLY_REPORTS}, 403, headers)


def _is_page(path: str, *, safe: bool) -> bool:
    return safe and not path.startswith("/api/")
