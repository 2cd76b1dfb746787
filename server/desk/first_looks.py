"""What is shown of a run first: what it says without being gone through, and its story, which the log keeps."""

import asyncio
import logging
from collections.abc import Collection
from typing import Any

import orjson
from fastapi import APIRouter, HTTPException, Response

from server.desk.apart import GONE
from server.desk.debrief_messages import FirstLook, Story
from server.desk.debriefs import ANSWERS, debrief_json, json_answer, told_json
from server.desk.records import DROPPED, Elsewhere, RecordFault, Records, Shelves
from server.review.kept import COUNTED_BY, Facts, Kept, body_from_kept, facts_of, kept_of
from server.review.library import plan_or_fault
from server.review.series import first_series_of

Json = dict[str, Any]

_log = logging.getLogger(__name__)


class Stories:
    """The stories of runs: those that the log keeps, and those that are made when somebody asks, and kept then."""

    def __init__(
        self,
        records: Records,
        apart: Elsewhere | None,
        faults: tuple[type[Exception], ...],
        shelves: Shelves | None,
    ) -> None:
        """`shelves` keep what is made; nothing is kept where there are none, as in an archive. The rest as `Past`."""
        self._records = records
        self._log = records.log
        self._apart = apart
        self._faults = faults
        self._shelves = shelves

    def kept(self, run_id: str, events: int | None = None) -> Kept:
        """What the log keeps of a run that has so many events, as it stands where that is None.

        Of a dropped recording nothing is kept.
        """
        if run_id.startswith(DROPPED):
            return Kept()
        return kept_of(self._log.summary(run_id), self._log.extent(run_id).events if events is None else events)

    async def made(self, run_id: str) -> Json:
        """Go through a run, as it is known now, and keep its story.

        Raises RecordFault, and whatever the log raises where it cannot be read.
        """
        story = await self._gone_through(run_id)
        if not run_id.startswith(DROPPED):
            try:
                before = await asyncio.to_thread(self.kept, run_id, story["version"])
                told = before._replace(story=story, damaged=story["damaged"])
                await self.keep(run_id, story["version"], told)
            except self._faults as fault:  # what cannot be kept can be told
                _log.warning("run %s: its story is not kept: %s", run_id, fault)
        return story

    async def keep(self, run_id: str, events: int, kept: Kept) -> None:
        """Keep what was found of a run that has so many events, in place of what was kept before.

        Of one that was removed meanwhile nothing is kept. Raises whatever the log raises where it cannot be written.
        """
        if self._shelves is None or await asyncio.to_thread(self._log.run, run_id) is None:
            return
        facts = kept.facts or await asyncio.to_thread(self._facts, run_id)
        body = body_from_kept(kept._replace(facts=facts))
        await self._shelves.keep_summary(run_id, events, COUNTED_BY, body)

    def _facts(self, run_id: str) -> Facts | None:
        stored = self._log.run(run_id)
        plan, _ = plan_or_fault(stored.plan_text, stored.plan_name) if stored else (None, None)
        return facts_of(plan) if plan else None

    async def _gone_through(self, run_id: str) -> Json:
        if self._apart is None or run_id.startswith(DROPPED):
            return await asyncio.to_thread(lambda: told_json(self._records.opened(run_id)))
        answered = await self._apart.answer(f"/api/debriefs/{run_id}/story", b"clock=now")
        if answered is None:
            raise RecordFault(GONE, 503)
        told: Json = orjson.loads(answered.body)
        if answered.status != 200:
            raise RecordFault(told["reason"], answered.status)
        return told


def first_look_routes(records: Records, runs: Collection[str], stories: Stories) -> APIRouter:
    """The routes of both, which are answered in the server itself; `runs` are the live ones."""
    router = APIRouter(prefix="/api/library/{run_id}", responses=ANSWERS)

    @router.get("/first", response_model=FirstLook)
    def first(run_id: str) -> Response:
        """What a debrief shows at once: the run as it was told, not yet what it lacks; its story if that is kept."""
        try:
            opened = records.glance(run_id)
        except RecordFault as fault:
            raise HTTPException(fault.status, str(fault)) from None
        series = {"version": opened.version, **first_series_of(opened.account)}
        debrief = debrief_json(records.log, opened, live=run_id in runs)
        return json_answer({"debrief": debrief, "series": series, "story": stories.kept(run_id).story})

    @router.get("/story", response_model=Story)
    async def story(run_id: str) -> Response:
        """What happened, as it is known now; it is kept for whoever asks next."""
        try:
            kept = await asyncio.to_thread(stories.kept, run_id)
            return json_answer(dict(kept.story or await stories.made(run_id)))
        except RecordFault as fault:
            raise HTTPException(fault.status, str(fault)) from None

    return router
