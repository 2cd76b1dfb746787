"""What whoever looks after the server asks it: is it up, can it work, and how does it fare."""

from collections.abc import Awaitable, Callable
from typing import Annotated, NamedTuple

from fastapi import APIRouter, Depends, Response
from fastapi.responses import JSONResponse, PlainTextResponse

from server.desk.messages import Wire
from server.desk.visitors import HEALTHY, READY, Visitor, booth_of

_NO_STORE = {"cache-control": "no-store"}


class Health(NamedTuple):
    """`ready` says whether the log can be written, `figures` gives all there is to be measured, as `media_type`."""

    ready: Callable[[], Awaitable[bool]]
    figures: Callable[[], bytes]
    media_type: str


class Up(Wire):
    """Yes or no, and nothing more: anybody may ask."""

    up: bool


def health_routes(health: Health) -> APIRouter:
    """The routes."""
    router = APIRouter()

    @router.get(HEALTHY)
    async def is_up(response: Response) -> Up:
        """Whether the server answers at all."""
        response.headers.update(_NO_STORE)
        return Up(up=True)

    @router.get(READY, response_model=Up, responses={503: {"model": Up}})
    async def is_ready() -> Response:
        """Whether it can take events: 503 while its log cannot be written."""
        ready = await health.ready()
        return JSONResponse({"up": ready}, 200 if ready else 503, _NO_STORE)

    @router.get("/metrics", response_class=PlainTextResponse)
    async def metrics(who: Annotated[Visitor, Depends(booth_of)]) -> Response:
        """All figures; for this computer, and for devices that may change things."""
        del who
        return Response(health.figures(), headers=_NO_STORE, media_type=health.media_type)

    return router
