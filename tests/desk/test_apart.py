"""Debriefs that are answered by another process."""

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Iterator
from contextlib import closing
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest

from server.desk.apart import GONE, Apart, Opening
from server.review.walk import Walk
from server.runlog import RunLog, RunLogFault, StoredRuns
from tests.desk.past import RUN, client_of, fill

ASKED = (
    f"/api/debriefs/{RUN}",
    f"/api/debriefs/{RUN}/story?clock=then",
    f"/api/library/{RUN}/story",
    f"/api/library/{RUN}/first",
    f"/api/debriefs/{RUN}/state?at_s=100&clock=then",
    f"/api/debriefs/{RUN}/series?points=50",
    f"/api/debriefs/{RUN}/events",
    f"/api/debriefs/{RUN}/tables?clock=then",
    f"/api/debriefs/{RUN}/report.html",
    f"/api/debriefs/{RUN}/tables/houses.csv",
    f"/api/debriefs/{RUN}/recording.events.jsonl",
    f"/api/debriefs/{RUN}/state?at_s=nothing",
    "/api/debriefs/nobody",
    f"/api/lessons?run={RUN}",
    f"/api/comparison?run={RUN}&run=other",
)


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    log = RunLog.open(tmp_path)
    for run in (RUN, "other"):
        await fill(log, run)
    yield log
    log.close()


@pytest.fixture
def apart(log: RunLog, tmp_path: Path) -> Iterator[Apart]:
    del log  # it is there before anybody reads it
    with closing(Apart(Opening(StoredRuns.reading, str(tmp_path), (RunLogFault,)))) as apart:
        yield apart


async def test_what_is_answered_apart_is_what_is_answered_here(log: RunLog, apart: Apart) -> None:
    """Every question about runs of the log has the same answer, to the last byte, faults too."""
    async with client_of(log) as here, client_of(log, apart=apart) as there:
        for path in ASKED:
            one, other = await here.get(path), await there.get(path)
            assert (one.status_code, one.content) == (other.status_code, other.content), path
            assert one.headers["content-type"] == other.headers["content-type"]


async def test_nothing_is_gone_through_in_the_server(
    log: RunLog, apart: Apart, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a debrief nor the count of troubles for the library costs the process of the live runs anything."""

    def refuse(*_given: object) -> None:
        raise AssertionError("a run was gone through in the server")

    monkeypatch.setattr(Walk, "__init__", refuse)
    async with client_of(log, apart=apart) as client:
        for path in ASKED:
            assert (await client.get(path)).status_code < 500, path
        assert (await client.get("/api/library")).json()["uncounted"] == 2
        lines = (await client.get("/api/library")).json()["runs"]
    assert [line["trouble"] for line in lines] == [{"misfit": 1}] * 2


def process_of(apart: Apart) -> BaseProcess:
    """The process, which has been asked something."""
    assert apart._pool is not None
    (process,) = apart._pool._processes.values()
    return process


async def test_a_process_that_ended_is_told_and_made_again(log: RunLog, apart: Apart) -> None:
    """Killed for its memory while it works, it costs that answer; what is counted goes on as well."""
    async with client_of(log, apart=apart) as client:
        assert (await client.get(ASKED[0])).status_code == 200
        process = process_of(apart)
        os.kill(process.pid or 0, signal.SIGSTOP)
        asked = asyncio.ensure_future(client.get(ASKED[0]))
        for _ in range(100):
            await asyncio.sleep(0)
        assert apart._pool is not None
        assert apart._pool._pending_work_items
        process.kill()
        answer = await asked
        assert (answer.status_code, answer.json()) == (503, {"reason": GONE})
        assert (await asyncio.to_thread(apart.counted, RUN))[0] == len(log.events(RUN))
        assert (await client.get(ASKED[0])).status_code == 200


async def test_a_log_that_cannot_be_opened_apart_is_told_in_its_own_words(log: RunLog) -> None:
    """Not as a process that came to an end."""
    apart = Apart(Opening(_closed, "there", (RunLogFault,)))
    async with client_of(log, apart=apart) as client:
        answer = await client.get(ASKED[0])
        assert (answer.status_code, answer.json()) == (503, {"reason": "The log in there cannot be read."})
    apart.close()


def _closed(where: str) -> RunLog:
    raise RunLogFault(f"The log in {where} cannot be read.")


async def test_what_was_observed_since_is_there(log: RunLog, apart: Apart) -> None:
    """A run that goes on is answered as of now."""
    async with client_of(log, apart=apart) as client:
        before = (await client.get(ASKED[0])).json()["version"]
        stored = log.events(RUN)[-1]
        note = stored.event.model_copy(update={"id": "new", "kind": "note", "text": "x", "station": None, "mark": None})
        await log.append(RUN, note, stored.arrived)
        assert (await client.get(ASKED[0])).json()["version"] == before + 1


async def test_who_may_not_ask_is_not_answered_apart(log: RunLog, apart: Apart) -> None:
    """What is answered there is behind the same door."""
    async with client_of(log, apart=apart, is_here=lambda _scope: False) as client:
        assert (await client.get(ASKED[0])).status_code == 401
    assert apart._pool is None
