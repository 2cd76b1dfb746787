"""The live runs over HTTP, and the door to their websockets."""

import re
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Response, WebSocket
from fastapi.responses import JSONResponse
from starlette.routing import WebSocketRoute

from server.desk.messages import Reason, RefusedAnswer, ReportedEvent, RunLine, Snapshot, TakenAnswer
from server.desk.refusals import BAD_QUESTION, NO_RUN, turn_away
from server.desk.schedules import ScheduleDocument
from server.desk.talks import show_run
from server.desk.visitors import Visitor, visitor_of
from server.live import LiveRun, Refused, Taken, event_from_desk
from server.timeline.events import EventFault, rfc3339
from server.timeline.schedule import schedule_from_plan

NO_SUCH_RUN = "There is no live run of this name here."
NOT_FOUND: dict[int | str, dict[str, Any]] = {404: {"model": Reason}}
_NUMBER = re.compile(r"[0-9]{1,15}")
REFUSALS = NOT_FOUND | {422: {"model": Reason}, 409: {"model": RefusedAnswer}, 503: {"model": RefusedAnswer}}


def run_routes(runs: Mapping[str, LiveRun]) -> APIRouter:
    """The routes of `runs`, by id."""
    router = APIRouter(prefix="/api/runs")

    def run_named(run_id: str) -> LiveRun:
        if run_id not in runs:
            raise HTTPException(404, NO_SUCH_RUN)
        return runs[run_id]

    named = Annotated[LiveRun, Depends(run_named)]

    @router.get("")
    async def live_runs() -> list[RunLine]:
        """The live runs, in the order in which the server was given them."""
        return [_run_line(run) for run in runs.values()]

    @router.get("/{run_id}", response_model=Snapshot, responses=NOT_FOUND)
    async def snapshot(run: named) -> Response:
        """How a run stands: what its websocket begins with."""
        return Response(run.snapshot(), media_type="application/json")

    @router.get("/{run_id}/schedule", responses=NOT_FOUND)
    async def schedule(run: named) -> ScheduleDocument:
        """What follows from the run's plan if everything goes by it."""
        return ScheduleDocument.model_validate(schedule_from_plan(run.plan).as_json())

    @router.post("/{run_id}/events", response_model=TakenAnswer, responses=REFUSALS)
    async def report(run: named, event: ReportedEvent, visitor: Annotated[Visitor, Depends(visitor_of)]) -> Response:
        """Report one event: 422 is no event, 409 is refused by the run, and 503 may be sent again."""
        return await _report(run, event, visitor)

    return router


def live_route(runs: Mapping[str, LiveRun]) -> WebSocketRoute:
    """The door to the websocket of each of `runs`, by id.

    A route of Starlette's own, in front of FastAPI. Where all desks come back at once, FastAPI took a quarter of the
    time until the last had its run again.
    """

    async def live(socket: WebSocket) -> None:
        """Messages both ways; `seq` and `epoch` are the last that the desk has seen, none for a new one."""
        run, seq = runs.get(socket.path_params["run_id"]), socket.query_params.get("seq")
        if run is None:
            await turn_away(socket, NO_RUN, NO_SUCH_RUN)
        elif seq is not None and _NUMBER.fullmatch(seq) is None:
            await turn_away(socket, BAD_QUESTION, "seq is the number of the last change seen, or absent.")
        else:
            last = None if seq is None else int(seq)
            await show_run(socket, run, visitor_of(socket), last, socket.query_params.get("epoch"))

    return WebSocketRoute("/api/runs/{run_id}/live", live)


def _run_line(run: LiveRun) -> RunLine:
    told = {key: run.info[key] for key in RunLine.model_fields if key != "fault"}
    return RunLine(**told, fault=run.fault)


async def _report(run: LiveRun, reported: ReportedEvent, visitor: Visitor) -> Response:
    said = visitor.admitted(run, reported.model_dump(exclude_none=True))
    if isinstance(said, Refused):
        return _refused(reported, said)
    try:
        event = event_from_desk(run, said)
    except EventFault as fault:
        return JSONResponse(Reason(reason=str(fault)).model_dump(), 422)
    answer = await run.take(event)
    if isinstance(answer, Taken):
        taken = TakenAnswer(type="taken", id=answer.event.id, seq=answer.seq, t=rfc3339(answer.event.t))
        return JSONResponse(taken.model_dump())
    return _refused(reported, answer)


def _refused(reported: ReportedEvent, answer: Refused) -> Response:
    refused = RefusedAnswer(
        type="refused", id=reported.id, reason=answer.reason, again=answer.again, known=answer.known or None
    )
    told = refused.model_dump(exclude=None if answer.known else {"known"})
    return JSONResponse(told, 503 if answer.again else 409)
