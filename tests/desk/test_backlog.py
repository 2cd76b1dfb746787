"""Runs that are gone through before anybody asks for them."""

import asyncio
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from server.desk import backlog
from server.desk.backlog import MOST_TRIES, Backlog, live_of
from server.desk.first_looks import Stories
from server.desk.records import Past, Records
from server.live import Hub, LiveRun
from server.review.kept import COUNTED_BY, Kept, kept_of
from server.review.library import LibraryLine, Live
from server.runlog import RunLog, RunLogFault
from server.timeline.events import Event
from tests.adapters.contacts.peers import until
from tests.desk.past import TOMORROW, fill, pair
from tests.live.fakes import ManualClock

LOOK_S, LOOKS = 0.001, 20


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    """A run that a live one goes on with, and one of another night."""
    log = RunLog.open(tmp_path)
    await fill(log, "live")
    await fill(log, "before")
    yield log
    log.close()


def kept(log: RunLog, run_id: str) -> Kept:
    return kept_of(log.summaries().get(run_id), log.extent(run_id).events)


def note_like(event: Event, id_: str) -> Event:
    """A note of about the same time."""
    return event.model_copy(update={"id": id_, "kind": "note", "text": "x", "station": None, "mark": None})


@asynccontextmanager
async def looked_after(log: RunLog, at_s: float) -> AsyncIterator[ManualClock]:
    """The backlog of a server whose live run is at an instant of its show."""
    clock = ManualClock(at_s)
    run = LiveRun("live", pair(), clock, log, Hub())
    run.start()
    looking = asyncio.create_task(
        Backlog(Past(log, lambda: TOMORROW, (RunLogFault,))).look_after({"live": run}, LOOK_S)
    )
    try:
        yield clock
    finally:
        looking.cancel()
        await asyncio.gather(looking, return_exceptions=True)
        run.stop()


async def test_a_show_is_gone_through_as_soon_as_it_is_over(log: RunLog) -> None:
    """Whoever opens its debrief has its story at once, and the library its count; then the other nights follow."""
    async with looked_after(log, 7200.0):
        await until(lambda: kept(log, "live").story is not None)
        await until(lambda: kept(log, "before").story is not None)
    assert [kept(log, run_id).trouble for run_id in ("live", "before")] == [{"misfit": 1}] * 2


async def test_what_comes_later_is_gone_through_too(log: RunLog) -> None:
    """A correction of a show that is over makes its story anew."""
    async with looked_after(log, 7200.0):
        await until(lambda: kept(log, "live").story is not None)
        stored = log.events("live")[-1]
        await log.append("live", note_like(stored.event, "new"), stored.arrived)
        assert kept(log, "live").story is None
        await until(lambda: kept(log, "live").story is not None)


async def test_what_comes_while_a_run_is_gone_through_does_not_end_it(
    log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A story that was of less by the time it was kept is made again, not given up."""
    made, noted = Stories.made, list[str]()

    async def made_meanwhile(stories: Stories, run_id: str) -> dict[str, object]:
        story = await made(stories, run_id)
        if not noted:
            stored = log.events("live")[-1]
            noted.append("begun")
            await log.append("live", note_like(stored.event, "while"), stored.arrived)
            noted.append("done")
        return story

    monkeypatch.setattr(Stories, "made", made_meanwhile)
    async with looked_after(log, 7200.0):
        await until(lambda: len(noted) == 2 and kept(log, "live").story is not None)


async def test_other_nights_wait_while_film_runs(log: RunLog, monkeypatch: pytest.MonkeyPatch) -> None:
    """A show has the computer to itself: nothing of the past is even looked for."""
    looks: list[str] = []

    def looked_for(_: Backlog, runs: Mapping[str, LiveRun]) -> list[LibraryLine]:
        looks.extend(runs)
        return []

    monkeypatch.setattr(Backlog, "lines", looked_for)
    events = log.events("live")
    running = [one for one in events if one.event.kind == "motor_start"]
    at_s = (running[-1].event.t - pair().zero).total_seconds() + 1.0
    await log.library.remove("live")
    log.create_run("live", *_plan_of(log), pair().zero)
    for one in running:
        await log.append("live", one.event, one.arrived)
    asked: list[Live] = []

    def state_of(run: LiveRun) -> Live:
        asked.append(live_of(run))
        return asked[-1]

    monkeypatch.setattr(backlog, "live_of", state_of)
    async with looked_after(log, at_s):
        await until(lambda: len(asked) >= LOOKS)
    assert (looks, kept(log, "live"), kept(log, "before")) == ([], Kept(), Kept())


def _plan_of(log: RunLog) -> tuple[str, str]:
    stored = log.run("before")
    assert stored is not None
    return stored.plan_text, stored.plan_name


@pytest.mark.parametrize("asked", ["extent", "summary", "events"])
async def test_a_log_that_cannot_be_read_is_looked_at_again(
    log: RunLog, monkeypatch: pytest.MonkeyPatch, asked: str
) -> None:
    """A disk that was away for a moment keeps no story away for good, whatever was asked of it just then."""
    read, failed = getattr(log, asked), list[str]()

    def away(run_id: str) -> object:
        if len(failed) < 2:
            failed.append(run_id)
            raise RunLogFault("The disk is away.")
        return read(run_id)

    async with looked_after(log, 7200.0):
        monkeypatch.setattr(log, asked, away)
        await until(
            lambda: len(failed) == 2 and log.summary("live") is not None and kept(log, "live").story is not None
        )


async def test_what_cannot_be_read_is_looked_at_again_after_a_while(
    log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that was given up is tried again later, as are those that have changed since."""
    read, failed = log.events, list[str]()

    def away(run_id: str) -> object:
        if run_id == "before" and len(failed) < 2 * MOST_TRIES:
            failed.append(run_id)
            raise RunLogFault("The disk is away.")
        return read(run_id)

    monkeypatch.setattr(log, "events", away)
    async with looked_after(log, 7200.0):
        await until(lambda: kept(log, "before").story is not None)
    assert len(failed) == 2 * MOST_TRIES


async def test_a_story_from_before_an_event_is_not_kept_with_a_count_from_after_it(
    log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody has asked for the story; then an event comes, and the trouble is counted."""
    past = Past(log, lambda: TOMORROW, (RunLogFault,))
    await Stories(Records(log), None, past.faults, log.library).made("before")
    stored = log.events("before")[-1]
    await log.append("before", note_like(stored.event, "new"), stored.arrived)
    made = Stories.made

    async def none_made(stories: Stories, run_id: str) -> dict[str, object]:
        return {"version": 0} if run_id == "before" else await made(stories, run_id)

    monkeypatch.setattr(Stories, "made", none_made)
    await Backlog(past).tell(["before"])
    assert (kept(log, "before").trouble, kept(log, "before").story) == ({"misfit": 1}, None)


async def test_what_is_kept_and_cannot_be_read_is_made_again(log: RunLog) -> None:
    """A summary has no checksum: a damaged one is as none."""
    await log.library.keep_summary("live", log.extent("live").events, COUNTED_BY, "{}")
    async with looked_after(log, 7200.0):
        await until(lambda: kept(log, "live").story is not None)


async def test_a_run_that_is_removed_meanwhile_is_left_out(log: RunLog, caplog: pytest.LogCaptureFixture) -> None:
    """Nothing is written of it, and nobody is told of a broken log."""
    backlog, count = Backlog(Past(log, lambda: TOMORROW, (RunLogFault,))), Backlog._count

    def removed(self: Backlog, run_id: str) -> tuple[int, dict[str, int]]:
        counted = count(self, run_id)
        asyncio.run_coroutine_threadsafe(_removed(log, run_id), loop).result()
        return counted

    loop = asyncio.get_running_loop()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Backlog, "_count", removed)
        await backlog.tell(["before"])
    assert (log.run("before"), log.summary("before"), caplog.text) == (None, None, "")


async def _removed(log: RunLog, run_id: str) -> None:
    await log.library.remove(run_id)
