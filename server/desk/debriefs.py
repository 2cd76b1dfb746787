"""Going through a run over HTTP: played, read and put right."""

from collections.abc import Callable, Collection
from datetime import timedelta
from typing import Annotated, Any

import orjson
from fastapi import APIRouter, Depends, HTTPException, Query, Response

from server.desk.debrief_messages import (
    ClockName,
    DebriefInfo,
    EventList,
    Faults,
    RejectedLine,
    Series,
    StateAt,
    Story,
    TableList,
)
from server.desk.messages import Reason
from server.desk.records import Heard, Opened, RecordFault, Records, RunsOfLog
from server.live import Picture, run_info
from server.review.account import CORRECTION, Observed
from server.review.library import archived_json
from server.review.series import series_of
from server.review.story import story_json
from server.review.tables import Table
from server.timeline.estimate import US_PER_S
from server.timeline.events import at_us, json_from_event, rfc3339
from server.timeline.schedule import schedule_from_plan
from server.timeline.viewing import view_of

Json = dict[str, Any]
ANSWERS: dict[int | str, dict[str, Any]] = {404: {"model": Reason}, 409: {"model": Reason}, 422: {"model": Faults}}
_FURTHEST_S = 1e9

AtS = Annotated[float, Query(ge=-_FURTHEST_S, le=_FURTHEST_S, allow_inf_nan=False)]
Points = Annotated[int, Query(ge=2, le=2000)]


def opener(records: Records) -> Callable[[str], Opened]:
    """What opens the run that a path names, `{id_}`, or answers why it cannot."""

    def opened(id_: str) -> Opened:
        try:
            return records.opened(id_)
        except RecordFault as fault:
            raise HTTPException(fault.status, str(fault)) from None

    return opened


def debrief_routes(records: Records, live: Collection[str]) -> APIRouter:
    """What is read of every run of the log and of dropped recordings; `live` are those that go on."""
    router = APIRouter(prefix="/api/debriefs/{id_}", responses=ANSWERS)
    named = Annotated[Opened, Depends(opener(records))]

    @router.get("", response_model=DebriefInfo)
    def debrief(run: named) -> Response:
        """What stays the same through a run, and what there is of it."""
        return json_answer(debrief_json(records.log, run, live=run.id in live))

    @router.get("/story", response_model=Story)
    def story(run: named, clock: ClockName = "now") -> Response:
        """What happened, in a few sentences."""
        return json_answer(told_json(run, clock))

    @router.get("/state", response_model=StateAt)
    def state(run: named, at_s: AtS, clock: ClockName = "now") -> Response:
        """How the run stood at any instant, as it is known now or as it was known then."""
        return json_answer(_state(run, at_s, clock))

    @router.get("/series", response_model=Series)
    def series(run: named, clock: ClockName = "now", points: Points = 400) -> Response:
        """The whole run for charts."""
        return json_answer({"version": run.version, **series_of(run.reading(clock), points)})

    @router.get("/events", response_model=EventList)
    def events(run: named) -> Response:
        """Every event, in the order of arrival."""
        return json_answer({"version": run.version, "events": [_event(run, one) for one in run.account.observed]})

    @router.get("/tables", response_model=TableList)
    def tables(run: named, clock: ClockName = "now") -> Response:
        """The run as tables, for reading; charts have the same numbers."""
        every = [table_json(one) for one in run.reading(clock).tables]
        return json_answer({"version": run.version, "clock": clock, "tables": every})

    return router


def json_answer(value: Json, status: int = 200) -> Response:
    """JSON as it is."""
    return Response(orjson.dumps(value), status, media_type="application/json")


def rejected_json(run: Opened) -> list[Json]:
    """The lines of a dropped recording that were not taken."""
    return [RejectedLine(line=line, text=text).model_dump() for line, text in run.source.rejected]


def told_json(run: Opened, clock: ClockName = "now") -> Json:
    """The story of a run as it is sent."""
    told = story_json(run.reading(clock).story)
    return {"clock": clock, "version": run.version, "damaged": bool(run.source.lacking), **told}


def debrief_json(log: RunsOfLog, run: Opened, *, live: bool) -> Json:
    """What stays the same through a run, as it is sent; `live` where it goes on in this server."""
    span = run.account.span
    put_away, heard = log.put_away(run.id), log.heard(run.id)
    return {
        "id": run.id,
        "source": run.source.origin,
        "live": live or heard is not None,
        "heard": None if heard is None else _heard_json(run, heard),
        "archived": None if put_away is None else archived_json(put_away.at, put_away.by),
        "info": run_info(run.id, run.plan, 1.0, demo=False),
        "schedule": schedule_from_plan(run.plan).as_json(),
        "span": {"from_s": span.from_us / US_PER_S, "to_s": span.to_us / US_PER_S},
        "keeps_arrivals": run.source.keeps_arrivals,
        "events": len(run.account.observed),
        "rejected": rejected_json(run),
        "lacking": list(run.source.lacking),
        "version": run.version,
    }


def _heard_json(run: Opened, heard: Heard) -> Json:
    last = run.account.observed[-1:]
    return {
        "last_arrived": rfc3339(run.plan.zero + timedelta(microseconds=last[0].arrived_us)) if last else None,
        "at": rfc3339(heard.at),
        "is_silent": heard.is_silent,
    }


def _state(run: Opened, at_s: float, clock: ClockName) -> Json:
    instant = run.reading(clock).walk.at(round(at_s * US_PER_S))
    seqs = {one.event.id: one.seq for one in run.account.observed}
    return {
        "at_s": at_s,
        "clock": clock,
        "version": run.version,
        "view": Picture(view_of(instant.fold)).as_json(),
        "last_seq": None if instant.last is None else seqs[instant.last.id],
        "next_s": None if instant.next_us is None else instant.next_us / US_PER_S,
    }


def _event(run: Opened, one: Observed) -> Json:
    at = at_us(one.event, run.plan)
    return {
        "seq": one.seq,
        "at_s": at / US_PER_S,
        "arrived": rfc3339(run.account.arrived(one)),
        "arrived_s": one.arrived_us / US_PER_S,
        "late_s": (one.arrived_us - at) / US_PER_S,
        "retracted_by": run.account.retracted.get(one.event.id),
        "correction": one.event.source.endswith(CORRECTION),
        "event": json_from_event(one.event),
    }


def table_json(table: Table) -> Json:
    """A table as it is sent."""
    columns = [column._asdict() for column in table.columns]
    return {"id": table.id, "title": table.title, "columns": columns, "rows": table.rows}
