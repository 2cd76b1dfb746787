"""Events that are known beforehand, played into a run by its clock: a recording, or the demonstration."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import adapters.drill
from adapters.drill.demo import demo_events
from adapters.recording import ByClock, RecordingFeed
from server.clock import Clock
from server.demonstration import plan_moved_to, text_of
from server.plan_runs import PlanFile, Tell
from server.runlog import StoredEvent
from server.timeline.events import Event, Recording, Rejected
from server.timeline.plan import Plan, parse_plan

DEMO_SEED = 1
"""Chosen: the demonstration is the same every time."""


class Played(NamedTuple):
    """Events to be played into a run by a clock that begins at `start` and runs at `rate`."""

    events: Sequence[Event]
    start: datetime
    rate: float
    rejected: Sequence[Rejected] = ()
    demo: bool = False

    def clock(self, stored: Sequence[StoredEvent]) -> Clock:
        """The clock of the run that they are played into; it never goes back behind what its log has."""
        return Clock(max([self.start, *(event.arrived for event in stored[-1:])]), self.rate)

    def feed(self, stored: Sequence[StoredEvent], zero: datetime, tell: Tell) -> RecordingFeed:
        """What brings those that the log does not have yet."""
        known = {each.event.id for each in stored}
        coming = [event for event in self.events if event.id not in known]
        return RecordingFeed(coming, ByClock(zero), tell, self.rejected)


def played_from_recording(recording: Recording, plan: Plan, rate: float) -> Played:
    """A recording as it was written down, `rate` times as fast."""
    start = min((event.t for event in recording.events), default=plan.zero)
    return Played(recording.events, start, rate, recording.rejected)


def demo_plan() -> PlanFile:
    """The demonstration's plan: beside the drill in a wheel, among the fixtures in a checkout."""
    packaged = Path(adapters.drill.__file__).with_name("demo.plan.toml")
    path = packaged if packaged.is_file() else Path(__file__).parents[1] / "fixtures/plans/larkspur.plan.toml"
    text = path.read_text(encoding="utf-8")
    return PlanFile(path.name, text, parse_plan(text, path.name))


def demonstration(now: datetime, rate: float) -> tuple[PlanFile, Played]:
    """The demonstration as it begins at `now`: its plan, and what comes of it."""
    file = demo_plan()
    plan = plan_moved_to(file.plan, now)
    played = Played(demo_events(plan, DEMO_SEED), now, rate, demo=True)
    return PlanFile(file.name, text_of(plan, file.text), plan), played
