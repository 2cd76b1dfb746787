"""The library of runs over HTTP."""

from collections.abc import AsyncIterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest

from server.desk.backlog import AT_ONCE
from server.desk.debrief_messages import Library
from server.live import Hub, LiveRun
from server.review.kept import COUNTED_BY
from server.review.library import plan_or_fault
from server.runlog import RunLog, RunLogFault, StoredEvent
from server.timeline.plan import Plan
from tests.desk.past import PLAN_TEXT, TOMORROW, client_of, fill, pair
from tests.live.fakes import ManualClock


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    """A run with events, an earlier one without, and one whose plan is none."""
    log = RunLog.open(tmp_path)
    await fill(log, "pair")
    april = PLAN_TEXT.replace("2026-03-14", "2026-04-02").replace('title = "Pair"', 'title = "Lantern Night"')
    assert april.count("2026-04-02") == 1
    log.create_run("lantern", april, "lantern.plan.toml", pair().zero + timedelta(days=19))
    log.create_run("broken", "title = 1", "broken.plan.toml", pair().zero - timedelta(days=3))
    yield log
    log.close()


@pytest.fixture
async def client(log: RunLog) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(log) as client:
        yield client


async def found(client: httpx.AsyncClient, **asked: str) -> list[str]:
    await client.get("/api/library")  # what is counted after it
    answer = await client.get("/api/library", params=asked)
    assert answer.status_code == 200, answer.text
    return [line["run"] for line in Library.model_validate(answer.json()).model_dump()["runs"]]


async def line(client: httpx.AsyncClient, run: str) -> dict[str, Any]:
    answer = await client.get("/api/library", params={"archived": "all"})
    return next(line for line in answer.json()["runs"] if line["run"] == run)


@pytest.mark.parametrize(
    ("asked", "runs"),
    [
        ({}, ["lantern", "pair", "broken"]),
        ({"from": "2026-03-14"}, ["lantern", "pair"]),
        ({"to": "2026-03-14"}, ["pair", "broken"]),
        ({"from": "2026-03-14", "to": "2026-03-14"}, ["pair"]),
        ({"text": "LANTERN"}, ["lantern"]),
        ({"plan": "pair.plan"}, ["pair"]),
        ({"house": "2"}, ["lantern", "pair"]),
        ({"house": "22"}, []),
        ({"trouble": "misfit"}, ["pair"]),
        ({"trouble": "any"}, ["pair"]),
        ({"trouble": "film_trip"}, []),
        ({"archived": "true"}, []),
        ({"text": ""}, ["lantern", "pair", "broken"]),
    ],
)
async def test_runs_are_found_by_date_plan_house_and_trouble(
    client: httpx.AsyncClient, asked: dict[str, str], runs: list[str]
) -> None:
    """What is looked for is found, the newest first, and nothing else."""
    assert await found(client, **asked) == runs


async def test_a_day_is_the_houses(client: httpx.AsyncClient) -> None:
    """A show that starts late in the evening belongs to that evening, whatever day it is in Greenwich."""
    assert (await line(client, "pair"))["day"] == pair().zero.astimezone(pair().zone).date().isoformat()


async def test_a_run_whose_plan_cannot_be_read_is_listed_with_why(client: httpx.AsyncClient) -> None:
    """Nothing in the log is hidden."""
    broken = await line(client, "broken")
    assert broken["title"] is None
    assert "broken.plan.toml" in broken["fault"]


async def test_trouble_is_counted_a_few_runs_at_a_time_and_kept(tmp_path: Path) -> None:
    """A long list answers at once; what was counted is counted again only where the run has changed."""
    log = RunLog.open(tmp_path)
    for n in range(AT_ONCE + 1):
        await fill(log, f"run-{n}")
    async with client_of(log) as client:
        left = [(await client.get("/api/library")).json()["uncounted"] for _ in range(3)]
        assert left == [AT_ONCE + 1, 1, 0]
        kept = log.summaries()
        assert len(kept) == AT_ONCE + 1
        await client.get("/api/library")
        assert log.summaries() == kept
        asked = {"id": "c", "by": "Ada", "add": {"t": "2026-03-14T23:50:30Z", "kind": "note", "text": "x"}}
        assert (await client.post("/api/debriefs/run-0/corrections", json=asked)).status_code == 200
        assert [(await client.get("/api/library")).json()["uncounted"] for _ in range(2)] == [1, 0]
        assert log.summaries()["run-0"].events == kept["run-0"].events + 1
    log.close()


async def test_a_long_list_reads_no_plan_again(
    log: RunLog, client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it says of a plan is kept when the run is counted, and stays where the run is counted again."""
    first, again = [(await client.get("/api/library")).json()["runs"] for _ in range(2)]
    read: list[str] = []

    def not_read(text: str, name: str) -> tuple[Plan | None, str | None]:
        read.append(name)
        return plan_or_fault(text, name)

    monkeypatch.setattr("server.review.library.plan_or_fault", not_read)
    monkeypatch.setattr("server.review.kept.COUNTED_BY", "another")
    async with client_of(log) as later:
        runs = (await later.get("/api/library")).json()["runs"]
    assert read == ["broken.plan.toml"]
    assert [one | {"trouble": None, "state": None} for one in again] == first
    assert runs == first


async def test_what_another_version_counted_is_counted_again(tmp_path: Path) -> None:
    """Where other alarms are told than were then, what was kept of them is not what is asked for."""
    log = RunLog.open(tmp_path)
    await fill(log, "pair")
    events = log.extents()["pair"].events
    await log.library.keep_summary("pair", events, "1", '{"motor_lost": 9}')
    async with client_of(log) as client:
        before, after = [(await client.get("/api/library")).json() for _ in range(2)]
    assert (before["uncounted"], before["runs"][0]["trouble"]) == (1, None)
    assert (after["uncounted"], after["runs"][0]["trouble"]) == (0, {"misfit": 1})
    assert log.summaries()["pair"].made_by == COUNTED_BY
    log.close()


async def test_a_run_that_cannot_be_counted_does_not_hold_up_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that cannot be read costs its own count only; it is tried again, and not for ever."""
    log = RunLog.open(tmp_path)
    for run in ("bad", "good"):
        await fill(log, run)
    read = log.events

    def read_but_bad(run_id: str) -> list[StoredEvent]:
        if run_id == "bad":
            raise RunLogFault("The disk is gone.")
        return read(run_id)

    monkeypatch.setattr(log, "events", read_but_bad)
    async with client_of(log) as client:
        assert [(await client.get("/api/library")).json()["uncounted"] for _ in range(3)] == [2, 1, 0]
        lines = {line["run"]: line["trouble"] for line in (await client.get("/api/library")).json()["runs"]}
    assert (lines["bad"], lines["good"]) == (None, {"misfit": 1})
    log.close()


async def test_a_run_is_put_away_and_brought_back(client: httpx.AsyncClient) -> None:
    """An archived run is out of the way, says who put it there and when, and has lost nothing."""
    answer = await client.post("/api/library/pair/archive", json={"archived": True, "by": "Ada"})
    assert answer.json()["archived"] == {"at": TOMORROW.strftime("%Y-%m-%dT%H:%M:%SZ"), "by": "Ada"}
    assert await found(client) == ["lantern", "broken"]
    assert await found(client, archived="true") == ["pair"]
    assert (await client.get("/api/debriefs/pair")).json()["archived"]["by"] == "Ada"
    await client.post("/api/library/pair/archive", json={"archived": False})
    assert await found(client) == ["lantern", "pair", "broken"]


async def test_a_run_is_removed_only_by_saying_so(client: httpx.AsyncClient, log: RunLog) -> None:
    """One word more is asked before a run is gone; then it is gone with its events, and its name is free."""
    assert (await client.post("/api/library/pair/remove", json={"yes": False})).status_code == 422
    assert (await client.get("/api/debriefs/pair")).status_code == 200
    assert (await client.post("/api/library/pair/remove", json={"yes": True})).status_code == 204
    assert (log.run("pair"), log.events("pair")) == (None, [])
    assert (await client.get("/api/debriefs/pair")).status_code == 404
    assert (await client.post("/api/library/pair/remove", json={"yes": True})).status_code == 404
    await fill(log, "pair")
    assert log.events("pair")[0].seq == 1


async def test_a_live_run_is_neither_put_away_nor_removed(log: RunLog) -> None:
    """What is going on stays."""
    run = LiveRun("pair", pair(), ManualClock(7200.0), log, Hub())
    run.start()
    async with client_of(log, {"pair": run}) as client:
        assert (await line(client, "pair"))["live"] is True
        assert (await client.post("/api/library/pair/archive", json={"archived": True})).status_code == 409
        assert (await client.post("/api/library/pair/remove", json={"yes": True})).status_code == 409
    run.stop()
    assert log.run("pair") is not None


async def test_a_run_says_how_it_stands(log: RunLog) -> None:
    """One that goes on is as it is now, and a simulated one says so; one that is over is counted while it is live."""
    run = LiveRun("pair", pair(), ManualClock(7200.0), log, Hub(), demo=True)
    waiting = LiveRun("lantern", pair(), ManualClock(-60.0), log, Hub())
    runs = {"pair": run, "lantern": waiting}
    for one in runs.values():
        one.start()
    async with client_of(log, runs) as client:
        states = {id_: await line(client, id_) for id_ in runs}
        assert {id_: (one["state"], one["drill"]) for id_, one in states.items()} == {
            "pair": ("over", True),
            "lantern": ("waiting", False),
        }
        assert (await line(client, "pair"))["trouble"] == {"misfit": 1}
        assert (await line(client, "lantern"))["trouble"] is None
    for one in runs.values():
        one.stop()


async def test_a_run_that_lost_events_is_called_damaged(log: RunLog, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once it has been read; before that nobody knows how it ended."""
    monkeypatch.setattr(log, "lacking", lambda _: ["The log was damaged: event 3 was lost."])
    async with client_of(log) as client:
        before, after = await line(client, "pair"), await line(client, "pair")
    assert (before["state"], before["damaged"]) == (None, False)
    assert (after["state"], after["damaged"]) == ("over", True)
