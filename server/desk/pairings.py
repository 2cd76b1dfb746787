"""Pairing over HTTP: who I am, codes, the pairings there are, and their end."""

import math
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request, Response
from fastapi.responses import JSONResponse
from pydantic import Field, StringConstraints

from server.access import Doorkeeper, Paired, Pairing, Role, TurnedAway
from server.access.codes import LENGTH, link_with_code
from server.access.pairings import LIFE
from server.access.qr import drawing
from server.desk.access import host_name, is_loopback
from server.desk.messages import Reason, Wire
from server.desk.visitors import (
    PAIR,
    PAIR_PAGE,
    Visitor,
    booth_of,
    cookie_name,
    is_private,
    peer_of,
    visitor_if_any,
    visitor_of,
)
from server.timeline.events import rfc3339
from server.timeline.patterns import SEEN_LINE

NAME_LENGTH = 60
"""Chosen: a name on a tablet's screen."""

HERE_ONLY = "Other devices cannot reach this server: start it with --host and an address of this computer."
_NO_STORE = {"cache-control": "no-store"}

Name = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=NAME_LENGTH, pattern=SEEN_LINE),
]
Others = Callable[[], str | None]


class Me(Wire):
    """Who asks: `name` is null at the computer itself (`local`)."""

    name: str | None
    role: Role
    local: bool


class CodeTried(Wire):
    """A code, however it was written; `name` where it was made for nobody by name."""

    code: Annotated[str, Field(max_length=4 * LENGTH)]
    name: Name | None = None


class PairingRefused(Wire):
    """Why a device was not paired; with `wants_name` the same code holds with a name."""

    reason: str
    wants_name: bool


class PairingWish(Wire):
    """Whose device is to be paired, and what it may do."""

    name: Name
    role: Role


class PairingCode(Wire):
    """A code, good once, until `until` (RFC 3339), and the `address` of the page where it is entered.

    Its QR code leads there with it: `path` is of an SVG drawing `size` wide and high, for a stroke one wide.
    """

    code: str
    name: str
    role: Role
    until: str
    address: str
    size: int
    path: str


class PairingLine(Wire):
    """One pairing: `connections` are open by it now, and `mine` is that of the device that asks."""

    id: str
    name: str
    role: Role
    created: str
    until: str
    connections: int
    mine: bool


_REFUSALS: dict[int | str, dict[str, Any]] = {403: {"model": PairingRefused}, 429: {"model": PairingRefused}}


def pairing_routes(doorkeeper: Doorkeeper, others: Others) -> APIRouter:
    """The routes; `others` gives the address by which other devices reach this server, None where none can."""
    router = APIRouter(prefix="/api")

    @router.get("/me")
    async def me(visitor: Annotated[Visitor, Depends(visitor_of)], response: Response) -> Me:
        """Who asks, and what they may do."""
        response.headers.update(_NO_STORE)
        return _me(visitor.pairing)

    @router.post(PAIR.removeprefix("/api"), response_model=Me, responses=_REFUSALS)
    async def pair(request: Request, tried: CodeTried) -> Response:
        """Pair the device that asks, by a code: its session comes as a cookie."""
        visitor = visitor_if_any(request)
        before = visitor.pairing if visitor else None
        answer = await doorkeeper.pair(peer_of(request.scope), tried.code, tried.name, before)
        return _refused(answer) if isinstance(answer, TurnedAway) else _paired(request, answer)

    router.include_router(_pairings(doorkeeper, others), prefix="/pairings", dependencies=[Depends(booth_of)])
    return router


def _pairings(doorkeeper: Doorkeeper, others: Others) -> APIRouter:
    """What only a device that changes things may do."""
    router = APIRouter()

    @router.post("/codes", responses={409: {"model": Reason}})
    async def make_code(request: Request, wish: PairingWish, response: Response) -> PairingCode:
        """Make a code for one more device."""
        address = _address(request, others)
        if address is None:
            raise HTTPException(409, HERE_ONLY)
        response.headers.update(_NO_STORE)
        return _new_code(doorkeeper, wish, f"{address}{PAIR_PAGE}")

    @router.get("")
    async def pairings(visitor: Annotated[Visitor, Depends(visitor_of)], response: Response) -> list[PairingLine]:
        """The pairings that hold, the oldest first."""
        response.headers.update(_NO_STORE)
        return [_line(doorkeeper, pairing, visitor) for pairing in doorkeeper.pairings.all()]

    @router.post("/{pairing_id}/withdrawal", status_code=204, responses={404: {"model": Reason}})
    async def withdraw(pairing_id: str) -> None:
        """End a pairing at once, and the connections that are open by it."""
        if not await doorkeeper.pairings.withdraw(pairing_id):
            raise HTTPException(404, "There is no such pairing any more.")

    return router


def _me(pairing: Pairing | None) -> Me:
    if pairing is None:
        return Me(name=None, role="booth", local=True)
    return Me(name=pairing.name, role=pairing.role, local=False)


def _paired(request: Request, paired: Paired) -> Response:
    """The answer that hands out a session: to this host alone, out of scripts' reach, and to no other site's page."""
    answer = JSONResponse(_me(paired.pairing).model_dump(), headers=_NO_STORE)
    answer.set_cookie(
        cookie_name(request.scope),
        paired.token,
        max_age=int(LIFE.total_seconds()),
        path="/",
        secure=is_private(request.scope),
        httponly=True,
        samesite="strict",
    )
    return answer


def _refused(turned_away: TurnedAway) -> Response:
    refused = PairingRefused(reason=turned_away.reason, wants_name=turned_away.wants_name)
    if not turned_away.wait_s:
        return JSONResponse(refused.model_dump(), 403)
    return JSONResponse(refused.model_dump(), 429, {"retry-after": f"{math.ceil(turned_away.wait_s)}"})


def _address(request: Request, others: Others) -> str | None:
    """Where another device finds this server: where the one that asks has found it, unless that is a loopback name."""
    host = request.headers["host"]
    return others() if is_loopback(host_name(host)) else f"{request.url.scheme}://{host}"


def _new_code(doorkeeper: Doorkeeper, wish: PairingWish, address: str) -> PairingCode:
    code, invitation = doorkeeper.codes.make(wish.name, wish.role)
    size, path = drawing(link_with_code(address, code))
    until = rfc3339(invitation.until)
    return PairingCode(code=code, name=wish.name, role=wish.role, until=until, address=address, size=size, path=path)


def _line(doorkeeper: Doorkeeper, pairing: Pairing, visitor: Visitor) -> PairingLine:
    return PairingLine(
        id=pairing.id,
        name=pairing.name,
        role=pairing.role,
        created=rfc3339(pairing.created),
        until=rfc3339(pairing.until),
        connections=doorkeeper.pairings.connections(pairing.id),
        mine=visitor.pairing == pairing,
    )
