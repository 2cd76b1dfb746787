"""Putting a run right afterwards: an event is taken back, or added, with who did it and when."""

import asyncio
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from server.desk.debrief_messages import Corrected, Correction, TakenEvent
from server.desk.records import Log, RecordFault
from server.live import LiveRun, Refused, untimely
from server.review.account import Stored
from server.timeline.engine import refusal_among
from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.events import Event, EventFault, event_from_json, rfc3339
from server.timeline.faults import either, found_text
from server.timeline.plan import Plan

DEBRIEF = "tap:debrief"
NOTHING = "A correction takes an event back, adds one, or both."
_ADDED = tuple(kind for kind, row in EVENT_KINDS.items() if row.debrief == "add")
NOT_OF_A_FILE = "A dropped recording is a file: correct the file, or the run it was made of."


class Corrections:
    """Writes corrections into the runs of a log, one at a time in each run; `now` is the wall clock."""

    def __init__(self, log: Log, runs: Mapping[str, LiveRun], now: Callable[[], datetime]) -> None:
        self._log = log
        self._runs = runs
        self._now = now
        self._turns: dict[str, asyncio.Lock] = defaultdict(asyncio.Lock)

    async def make(self, run_id: str, plan: Plan, asked: Correction) -> Corrected:
        """Write what was asked for, all of it or nothing, and wait until it is on disk.

        The same again is answered as it was. Raises EventFault for what is no event, RecordFault where the run refuses.
        """
        if asked.retract is None and asked.add is None:
            raise EventFault(NOTHING)
        async with self._turns[run_id]:
            stored = await asyncio.to_thread(self._log.events, run_id)
            live = self._runs.get(run_id)
            now = live.time_of(None) if live else max([self._now(), *(one.arrived for one in stored[-1:])])
            made, events = _not_made(self._events(asked, now), stored)
            _check(events, {one.event.id: one.event for one in stored}, plan, (now - plan.zero).total_seconds())
            taken = [TakenEvent(id=one.event.id, seq=one.seq) for one in made]
            for event in events:
                seq = await self._write(run_id, event, live, now)
                taken.append(TakenEvent(id=event.id, seq=seq))
            return Corrected(taken=taken, version=max([len(stored), *(one.seq for one in taken)]))

    def _events(self, asked: Correction, now: datetime) -> list[Event]:
        common = {"by": asked.by, "source": DEBRIEF, "t": rfc3339(now)}
        said: list[dict[str, object]] = []
        if asked.retract is not None:
            said.append({**common, "id": f"{asked.id}/retract", "kind": "retract", "retracts": asked.retract})
        if asked.add is not None:
            if asked.add.kind not in _ADDED:
                raise EventFault(f"kind: found {found_text(asked.add.kind)}; accepted {either(_ADDED)}")
            said.append({**common, **asked.add.model_dump(exclude_none=True), "id": f"{asked.id}/add"})
        if asked.text is not None:
            said.append({**common, "id": f"{asked.id}/note", "kind": "note", "text": asked.text})
        return [event_from_json(one) for one in said]

    async def _write(self, run_id: str, event: Event, live: LiveRun | None, now: datetime) -> int:
        if live is None:
            return await self._log.append(run_id, event, now)
        answer = await live.take(event)
        if isinstance(answer, Refused):
            raise RecordFault(f"{answer.reason}.", 503 if answer.again else 409)
        return answer.seq


def _not_made(events: list[Event], stored: Sequence[Stored]) -> tuple[list[Stored], list[Event]]:
    """Of a correction that is sent again: what was written of it, and what was not.

    Where anything of it says something else than before, nothing of it counts as written, and is refused as a copy.
    """
    known = {one.event.id: one for one in stored}
    made = [known[event.id] for event in events if event.id in known]
    if not all(_same(known[event.id].event, event) for event in events if event.id in known):
        return [], events
    return made, [event for event in events if event.id not in known]


def _check(events: list[Event], known: dict[str, Event], plan: Plan, now_s: float) -> None:
    for event in events:
        reason = untimely(event, plan, now_s) or refusal_among(event, known, plan)
        if reason is not None:
            raise RecordFault(f"{reason}.", 409)
        known[event.id] = event


def _same(stored: Event, asked: Event) -> bool:
    """Whether a correction that is sent again says what it said; it was stamped when it was first sent."""
    stamped = asked.kind in {"retract", "note"}
    return stored == (asked.model_copy(update={"t": stored.t}) if stamped else asked)
