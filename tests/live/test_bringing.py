"""What becomes of a recording's events while the log cannot take them."""

import asyncio

from adapters.base import supervise
from adapters.recording import ByClock, RecordingFeed
from server.posting import post_to
from server.runlog import RunLogFault
from tests.live.fakes import ZERO, Stage, tap


async def test_a_recordings_events_are_kept_while_the_log_cannot_take_them() -> None:
    """Each counts meanwhile, is written down in its order once that can be, and none is told as refused."""
    stage = Stage(at_s=100.0, at_once=False)
    told: list[str] = []
    feed = RecordingFeed([tap("e1", 99.0), tap("e2", 100.0, "lamp_lit")], ByClock(ZERO), told.append)
    with stage.live() as run:
        bringing = asyncio.create_task(supervise(feed, post_to(run), stage.clock))
        failures = 0
        async with asyncio.timeout(10.0):
            while not bringing.done():
                if stage.log.coming and failures < 5:
                    failures += 1
                    stage.log.fail(RunLogFault("The disk is full."))
                else:
                    stage.log.commit()
                await asyncio.get_running_loop().run_in_executor(None, lambda: None)
        await bringing
        while len(stage.log.stored) < 3:
            run.beat()
            stage.log.commit()
            await asyncio.sleep(0)
    assert [stored.event.id for stored in stage.log.stored if stored.event.kind != "feed_up"] == ["e1", "e2"]
    assert stage.log.stored[0].event.kind == "feed_up"
    assert failures == 1  # what comes after it is known at once, and waits behind it
    assert told == []


async def test_a_refusal_for_good_is_told_and_the_next_is_brought() -> None:
    """Only what may be sent again is."""
    stage = Stage(at_s=100.0)
    told: list[str] = []
    feed = RecordingFeed([tap("e1", 99.0, station="nowhere"), tap("e2", 100.0)], ByClock(ZERO), told.append)
    with stage.live() as run:
        await supervise(feed, post_to(run), stage.clock)
    assert [stored.event.id for stored in stage.log.stored if stored.event.kind != "feed_up"] == ["e2"]
    assert len(told) == 1
    assert told[0].startswith("e1 was refused: ")
