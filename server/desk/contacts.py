"""The contacts of a run and its roll call over HTTP; a desk asks for them a few times a second."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Any, Final, Literal, Protocol

from fastapi import APIRouter, Depends, HTTPException
from fastapi.responses import JSONResponse, Response
from pydantic import Field

from server.desk.messages import Reason, Wire
from server.desk.visitors import Visitor, booth_of
from server.timeline.patterns import ONE_LINE

NO_SUCH_CONTACTS = "This run has no contacts here: start it with a wiring file (festoon serve PLAN --contacts WIRING)."
RESPONSES: Final[dict[int | str, dict[str, Any]]] = {404: {"model": Reason}, 409: {"model": Reason}}


class ContactBoard(Protocol):
    """What the desks need of a run's contacts. Where a method gives a text, it says why nothing was done."""

    def state(self) -> dict[str, Any]: ...
    def begin(self, *, ask_next: bool = False) -> str | None: ...
    def ask(self, input_id: str | None) -> str | None: ...
    def skip(self) -> str | None: ...
    def end(self) -> None: ...
    async def keep(self, by: str | None = None) -> str | None: ...


NO_CONTACTS: Final[Mapping[str, ContactBoard]] = MappingProxyType({})


class ContactPort(Wire):
    """One feed of contacts; `fault` says why its port is not there, null while it is.

    `sampling_ms` is how seldom its gateway looks by the wiring file, `seen_sampling_ms` by the times of its changes,
    null where they show no tick.
    """

    id: str
    kind: str
    port: str
    fault: str | None
    sampling_ms: int
    seen_sampling_ms: int | None


class ContactInput(Wire):
    """One input: `on` is its level, null where that is not known; the rest is what the roll call saw of it."""

    id: str
    station: str
    what: Literal["motor", "lamp", "douser", "cue", "failsafe"]
    on: bool | None
    closes: int
    seen: bool
    edges: int
    bounced_ms: float
    bounces: bool
    flickers: bool
    instead: list[str]


class ContactState(Wire):
    """All contacts of a run. `asked` is the input to be closed next; `result` is null while no roll call was held."""

    on: bool
    asked: str | None
    result: str | None
    strays: list[str]
    feeds: list[ContactPort]
    inputs: list[ContactInput]


class RollCallOrder(Wire):
    """What a desk wants of the roll call; `input` belongs to `ask`, and is null for any.

    `by` is who leads it, where the device is not paired for somebody.
    """

    do: Literal["begin", "begin_in_order", "ask", "skip", "end", "keep"]
    input: str | None = None
    by: Annotated[str, Field(max_length=200, pattern=ONE_LINE)] | None = None


def contact_routes(boards: Mapping[str, ContactBoard]) -> APIRouter:
    """The routes of the runs that have contacts, by id."""
    router = APIRouter(prefix="/api/runs/{run_id}/contacts")

    def board(run_id: str) -> ContactBoard:
        if run_id not in boards:
            raise HTTPException(404, NO_SUCH_CONTACTS)
        return boards[run_id]

    @router.get("", responses=RESPONSES)
    async def contacts(run_id: str) -> ContactState:
        """How the contacts stand, and what the roll call has seen of them."""
        return ContactState.model_validate(board(run_id).state())

    @router.post("/rollcall", response_model=ContactState, responses=RESPONSES)
    async def rollcall(run_id: str, order: RollCallOrder, visitor: Annotated[Visitor, Depends(booth_of)]) -> Response:
        """Begin, lead, end or keep a roll call: 409 says why not, 403 is a device that only looks."""
        known = board(run_id)
        refused = await _done(known, order, visitor.name or order.by)
        if refused is not None:
            return JSONResponse(Reason(reason=refused).model_dump(), 409)
        return JSONResponse(ContactState.model_validate(known.state()).model_dump())

    return router


async def _done(board: ContactBoard, order: RollCallOrder, by: str | None) -> str | None:
    match order.do:
        case "begin" | "begin_in_order":
            return board.begin(ask_next=order.do == "begin_in_order")
        case "ask":
            return board.ask(order.input)
        case "skip":
            return board.skip()
        case "keep":
            return await board.keep(by)
        case "end":
            board.end()
            return None
