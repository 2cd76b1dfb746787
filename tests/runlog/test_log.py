"""The log on a real SQLite file."""

import asyncio
import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.event import listen

from server.runlog import RunLog, RunLogFault, StoredEvent, StoredRun
from server.runlog.sums import sum_of
from tests.runlog.logs import ZERO, add_run, event


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    log = add_run(RunLog.open(tmp_path))
    yield log
    log.close()


async def test_what_was_appended_comes_back_as_it_was(log: RunLog) -> None:
    """Every key of an event, its time to the microsecond, the run's time and its number survive."""
    arrived = ZERO + timedelta(microseconds=1_234_567)
    first = event("e1", 0.000001, text="π — \u2028 \U0001f39e")
    assert await log.append("r1", first, arrived) == 1
    assert await log.append("r1", event("e2"), arrived) == 2
    assert log.events("r1") == [StoredEvent(1, first, arrived), StoredEvent(2, event("e2"), arrived)]


async def test_numbers_count_from_one_in_each_run(log: RunLog) -> None:
    """Two runs in one log know nothing of each other's events."""
    add_run(log, "r2")
    seqs = [await log.append(run, event("e1"), ZERO) for run in ("r1", "r2")]
    seqs += [await log.append("r1", event("e2"), ZERO)]
    assert seqs == [1, 1, 2]
    assert [stored.event.id for stored in log.events("r1")] == ["e1", "e2"]


async def test_numbers_are_in_the_order_of_the_calls(log: RunLog) -> None:
    """Many appended at once are numbered and answered as they were asked for."""
    answered: list[int] = []
    writes = [log.append("r1", event(f"e{n}"), ZERO) for n in range(300)]
    for write in writes:
        write.add_done_callback(lambda done: answered.append(done.result()))
    await asyncio.gather(*writes)
    assert answered == list(range(1, 301))
    assert [stored.event.id for stored in log.events("r1")] == [f"e{n}" for n in range(300)]


async def test_writes_that_wait_share_a_commit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What comes while a commit is on its way to the disk goes with the next one, all together."""
    log = add_run(RunLog.open(tmp_path))
    commits: list[int] = []
    commit = log._writer._commit

    def counted(asked: list[Any]) -> None:
        commits.append(len(asked))
        commit(asked)

    monkeypatch.setattr(log._writer, "_commit", counted)
    await asyncio.gather(*(log.append("r1", event(f"e{n}"), ZERO) for n in range(200)))
    log.close()
    assert sum(commits) == 200
    assert len(commits) < 100


async def test_an_event_twice_is_refused_by_the_database_and_spoils_no_other(log: RunLog) -> None:
    """Exactly once is held by the table itself; the writes of the same commit are not lost with the bad one."""
    writes = [log.append("r1", each, ZERO) for each in (event("e1"), event("e1"), event("e2"))]
    results = await asyncio.gather(*writes, return_exceptions=True)
    assert isinstance(results[1], RunLogFault)
    assert [results[0], results[2]] == [1, 2]
    assert [stored.event.id for stored in log.events("r1")] == ["e1", "e2"]


async def test_an_event_of_no_run_is_refused(log: RunLog) -> None:
    """The log holds no event whose run, and so whose plan, it does not hold."""
    with pytest.raises(RunLogFault):
        await log.append("r9", event("e1"), ZERO)


async def test_a_write_called_off_in_time_is_not_written(log: RunLog) -> None:
    """A result that was cancelled before its write began leaves the log as it was and the thread alive."""
    writes = [log.append("r1", event(f"e{n}"), ZERO) for n in range(3)]
    for write in writes:
        write.cancel()
    await log.append("r1", event("last"), ZERO)
    assert [stored.seq for stored in log.events("r1")] == list(range(1, len(log.events("r1")) + 1))
    assert log.events("r1")[-1].event.id == "last"


def test_runs_come_back_with_their_plans(log: RunLog) -> None:
    """The log holds the text of the plan, so that a run needs no other file."""
    log.create_run("r0", "title = 'y'", "y.plan.toml", ZERO + timedelta(days=1))
    assert log.runs() == [
        StoredRun("r1", "x.plan.toml", "title = 'x'", ZERO),
        StoredRun("r0", "y.plan.toml", "title = 'y'", ZERO + timedelta(days=1)),
    ]


def test_a_run_has_one_name(log: RunLog) -> None:
    """A second run of the same name is refused in a sentence."""
    with pytest.raises(RunLogFault, match="has a run r1 already"):
        add_run(log)


async def test_closing_writes_what_was_asked_for(tmp_path: Path) -> None:
    """What is on its way when the log is closed is on disk after; what comes later is refused."""
    log = add_run(RunLog.open(tmp_path))
    writes = [log.append("r1", event(f"e{n}"), ZERO) for n in range(50)]
    log.close()
    assert await asyncio.gather(*writes) == list(range(1, 51))
    with pytest.raises(RunLogFault, match="closed"):
        await log.append("r1", event("late"), ZERO)
    again = RunLog.open(tmp_path)
    assert len(again.events("r1")) == 50
    again.close()


def test_every_commit_is_synced(log: RunLog) -> None:
    """The connection that writes is in WAL mode with synchronous FULL (2, SQLite's "PRAGMA synchronous")."""
    with log._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


async def test_tidying_up_is_done_in_a_pause(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After many commits a pause is used for a checkpoint; without a pause, and before, there is none."""
    monkeypatch.setattr("server.runlog.writer.COMMITS_A_CHECKPOINT", 5)
    monkeypatch.setattr("server.runlog.writer.PAUSE_S", 0.001)
    log = add_run(RunLog.open(tmp_path))
    tidied = asyncio.Event()
    loop = asyncio.get_running_loop()
    tidy = log._writer._checkpoint
    monkeypatch.setattr(
        log._writer, "_checkpoint", lambda engine: (tidy(engine), loop.call_soon_threadsafe(tidied.set))
    )
    for n in range(4):
        await log.append("r1", event(f"e{n}"), ZERO)
    assert not tidied.is_set()
    for n in range(4, 6):
        await log.append("r1", event(f"e{n}"), ZERO)
    await asyncio.wait_for(tidied.wait(), 5.0)
    with sqlite3.connect(f"file:{tmp_path}/festoon.db?immutable=1", uri=True) as alone:
        # immutable: the database proper, without what was only written ahead
        assert alone.execute("SELECT count(*) FROM events").fetchone()[0] >= 5
    alone.close()
    log.close()


async def test_an_event_of_a_later_kind_is_told_by_number(tmp_path: Path) -> None:
    """A row that only a later program knows is left out and named by number, and keeps no run from going on."""
    log = add_run(RunLog.open(tmp_path))
    for name in ("e1", "e2"):
        await log.append("r1", event(name), ZERO)
    body = '{"id":"e1","t":"2026-03-14T23:50:00Z","kind":"wave","source":"tap"}'
    row = ("r1", 1, "e1", "2026-03-14T23:50:00Z", body)
    with sqlite3.connect(tmp_path / "festoon.db") as other:
        other.execute("UPDATE events SET arrived = ?, body = ?, sum = ? WHERE seq = 1", (*row[3:], sum_of(*row)))
    other.close()
    assert [stored.seq for stored in log.events("r1")] == [2]
    (told,) = log.lacking("r1")
    assert told.startswith("Event 1 is left out: this Festoon cannot read it (kind: found 'wave'")
    assert log.lost("r1") == []
    log.close()


def test_what_a_run_lacks_is_found_in_one_reading(log: RunLog) -> None:
    """A start asks for it, and a long run is read from the disk no more often than need be."""
    asked: list[str] = []
    listen(log._engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    assert log.lacking("r1") == []
    assert sum("FROM events" in statement for statement in asked) == 1
