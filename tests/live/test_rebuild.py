"""A run rebuilt from the log after any number of its events is the run as it was then, alarms and all."""

import asyncio
import random
from datetime import timedelta

import pytest

from server.live import Taken
from server.timeline.events import Event
from server.timeline.view import RunView
from tests.live.fakes import ZERO, HeldLog, ManualClock, Stage, tap


def story(seed: int) -> list[tuple[float, Event]]:
    """A show with late taps, a lost motor, a retraction, and acknowledged and shelved alarms: (time it came, event)."""
    luck = random.Random(seed)
    moments = [
        (0.0, tap("start a", 0.0)),
        (0.5, tap("start b", 0.5, station="b")),
        (25.0, tap("lamp a", 25.0, "lamp_lit")),
        (40.1, tap("head a", 40.1, "mark_pass", mark="head")),
        (58.0, tap("wrong", 57.0, "mark_pass", station="b", mark="head")),
        (60.2, tap("head b", 60.2, "mark_pass", station="b", mark="head")),
        (61.0, tap("not so", 61.0, "retract", retracts="wrong")),
        (70.0, tap("stop b", 70.0, "motor_stop", station="b")),
        (75.0, tap("seen", 75.0, "ack", alarm="motor_lost:b", by="Ida")),
        (80.0, tap("aside", 80.0, "shelve", alarm="slack_loose:a>b", seconds=30.0)),
        (90.0, tap("again b", 90.0, station="b")),
        (120.0, tap("loose", 119.0, "slack_read", station="b", seconds=0.7)),
        (150.0, tap("down", 150.0, "feed_down", text="unplugged")),
    ]
    late = [(at_s + luck.choice((0.0, 0.0, 0.3, 8.0)), event) for at_s, event in moments]
    return sorted(late, key=lambda moment: moment[0])


async def lived(moments: list[tuple[float, Event]], ticks: random.Random) -> tuple[Stage, list[RunView]]:
    """Live through a story, the time given now and then as a timer would; the views are those after each event."""
    stage = Stage(at_s=-1.0)
    views = []
    with stage.live() as run:
        for at_s, event in moments:
            while run.now_s() < at_s:
                stage.clock.pass_s(min(at_s - run.now_s(), ticks.uniform(0.1, 20.0)))
                run.wake()
            answer = await run.take(event)
            if isinstance(answer, Taken):
                views.append(run.view)
    return stage, views


@pytest.mark.parametrize("seed", range(6))
async def test_every_prefix_of_the_log_gives_the_run_as_it_was(seed: int) -> None:
    """Killed after any event and started at the same time, the run shows what it showed, to the last digit."""
    stage, views = await lived(story(seed), random.Random(seed))
    assert len(views) >= 12
    assert any(alarm.state == "acknowledged" for view in views for alarm in view.alarms)
    for count, view in enumerate(views, 1):
        again = Stage()
        again.log = HeldLog()
        again.log.stored = stage.log.stored[:count]
        last = again.log.stored[-1].arrived
        again.clock = ManualClock((last - ZERO) / timedelta(seconds=1))
        rebuilt = again.new_run()
        rebuilt.start()
        assert rebuilt.view == view, f"after {again.log.stored[-1].event.id}"
        rebuilt.stop()


async def test_a_deadline_during_a_write_is_the_same_after_a_restart() -> None:
    """An event on its way to the disk when the time of an alarm comes gives one history, live and rebuilt."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        first = asyncio.ensure_future(run.take(tap("start a", 0.0)))
        await asyncio.sleep(0)
        stage.log.commit()
        await first
        stage.clock.pass_s(0.45)
        second = asyncio.ensure_future(run.take(tap("start b", 0.45, station="b")))
        await asyncio.sleep(0)
        stage.clock.pass_s(0.6)
        run.wake()
        stage.log.commit()
        await second
        run.wake()
        rebuilt = stage.new_run()
        rebuilt.start()
        assert rebuilt.view == run.view
        assert rebuilt.view.alarms == ()
        rebuilt.stop()
