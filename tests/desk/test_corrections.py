"""Putting a finished run right."""

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.types import Scope

from server.live import Hub, LiveRun
from server.runlog import RunLog
from server.timeline.events import rfc3339
from tests.access.fakes import Entrance
from tests.desk.past import EVENTS_TEXT, RUN, TOMORROW, client_of, fill, pair
from tests.desk.test_debriefs import drop, got
from tests.live.fakes import ManualClock

HERE = f"/api/debriefs/{RUN}"
HEAD_B = "2026-03-14T23:51:50Z"


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    log = RunLog.open(tmp_path)
    await fill(log)
    yield log
    log.close()


@pytest.fixture
async def client(log: RunLog) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(log) as client:
        yield client


async def corrected(client: httpx.AsyncClient, **keys: Any) -> httpx.Response:
    return await client.post(f"{HERE}/corrections", json={"id": "c1", "by": "Ada"} | keys)


def lamp(**keys: Any) -> dict[str, Any]:
    return {"t": HEAD_B, "kind": "lamp_lit", "station": "b"} | keys


async def test_a_correction_is_kept_with_who_and_when(client: httpx.AsyncClient, log: RunLog) -> None:
    """What was wrong is taken back, what is right is added, and the log says who did it and when."""
    before = log.events(RUN)
    lit = next(one.event for one in before if one.event.kind == "lamp_lit" and one.event.station == "b")
    answer = await corrected(client, retract=lit.id, add=lamp(), text="the contact of b was stuck")
    assert answer.status_code == 200
    assert answer.json() == {
        "taken": [{"id": f"c1/{part}", "seq": len(before) + n} for n, part in enumerate(("retract", "add", "note"), 1)],
        "version": len(before) + 3,
    }
    new = log.events(RUN)[len(before) :]
    assert {(one.event.by, one.event.source, one.arrived) for one in new} == {("Ada", "tap:debrief", TOMORROW)}


async def test_a_correction_counts_now_and_not_then(client: httpx.AsyncClient) -> None:
    """The account is reckoned again with it; what was known then does not change."""
    path = f"{HERE}/state?at_s=115&clock="
    before = {clock: (await got(client, path + clock))["view"] for clock in ("now", "then")}
    lit = next(e for e in (await got(client, f"{HERE}/events"))["events"] if e["event"]["id"].startswith("b-lamp"))
    await corrected(client, retract=lit["event"]["id"])
    after = {clock: (await got(client, path + clock))["view"] for clock in ("now", "then")}
    assert before["then"] == after["then"]
    assert [before["now"]["stations"][1]["lamp"], after["now"]["stations"][1]["lamp"]] == ["lit", "out"]
    assert "dark_gate:b" in {alarm["key"] for alarm in after["now"]["alarms"]}


async def test_the_same_again_is_answered_the_same(client: httpx.AsyncClient, log: RunLog) -> None:
    """A page that got no answer may send it again: it is written once."""
    first = await corrected(client, add=lamp(), text="late")
    count = len(log.events(RUN))
    assert (await corrected(client, add=lamp(), text="late")).json() == first.json()
    assert len(log.events(RUN)) == count
    assert (await corrected(client, add=lamp(station="a"), text="late")).status_code == 409


@pytest.mark.parametrize(
    ("keys", "status", "says"),
    [
        ({}, 422, "takes an event back, adds one"),
        ({"add": lamp(station="z")}, 409, "station: found 'z'"),
        ({"add": lamp(t=rfc3339(TOMORROW.replace(year=2027)))}, 409, "in the future"),
        ({"add": lamp(t="2026-03-01T00:00:00Z")}, 409, "before the motors start"),
        ({"add": lamp(mark="head")}, 422, "accepted no mark"),
        ({"add": lamp(t="yesterday")}, 422, "t: found 'yesterday'"),
        ({"add": lamp(source="tap:pad")}, 422, "source"),
        ({"add": lamp(kind="feed_down", station=None, text="x")}, 422, "found 'feed_down'; accepted chain_start"),
        ({"retract": "nothing"}, 409, "unknown event 'nothing'"),
        ({"retract": "nothing", "by": ""}, 422, "by"),
    ],
)
async def test_what_a_live_run_would_refuse_is_refused(
    client: httpx.AsyncClient, log: RunLog, keys: dict[str, Any], status: int, says: str
) -> None:
    """The same rules hold as in the show, and a refusal leaves the log as it was."""
    count = len(log.events(RUN))
    answer = await corrected(client, **keys)
    assert (answer.status_code, says in answer.json()["reason"]) == (status, True), answer.text
    assert len(log.events(RUN)) == count


async def test_half_a_correction_is_not_written(client: httpx.AsyncClient, log: RunLog) -> None:
    """Where one of its parts is refused, none of them counts."""
    count = len(log.events(RUN))
    assert (await corrected(client, retract="n1", add=lamp(station="z"))).status_code == 409
    assert len(log.events(RUN)) == count


async def test_a_dropped_recording_is_not_corrected(client: httpx.AsyncClient) -> None:
    """A file is its owner's."""
    dropped = (await drop(client, EVENTS_TEXT)).json()["id"]
    answer = await client.post(f"/api/debriefs/{dropped}/corrections", json={"id": "c", "by": "Ada", "retract": "n1"})
    assert (answer.status_code, "is a file" in answer.json()["reason"]) == (409, True)


async def test_a_live_run_takes_a_correction_as_its_own(log: RunLog) -> None:
    """A run that goes on is put right through its own engine, and its desks see it at once."""
    run = LiveRun(RUN, pair(), ManualClock(7200.0), log, Hub())
    run.start()
    try:
        async with client_of(log, {RUN: run}) as client:
            before = run.view.stations[1].lamp
            answer = await corrected(client, retract="b-out")
            assert answer.status_code == 200, answer.text
            assert (before, run.view.stations[1].lamp) == ("out", "lit")
            assert answer.json()["version"] == len(log.events(RUN))
            assert (await got(client, HERE))["live"] is True
    finally:
        run.stop()


def nobody(_scope: Scope) -> bool:
    """All clients of these tests are on this computer: here none is."""
    return False


async def test_a_correction_is_by_whoever_has_the_device(log: RunLog) -> None:
    """A paired device writes in its person's name, whatever it says; one that only looks reads, and changes nothing."""
    entrance = Entrance()
    _, booth = await entrance.pairings.add("Ida", "booth")
    _, look = await entrance.pairings.add("Wall", "look")
    count = len(log.events(RUN))
    async with client_of(log, entrance=entrance, is_here=nobody) as client:
        assert (await client.get(HERE)).status_code == 401
        client.headers["cookie"] = f"festoon={look}"
        assert (await client.get(f"{HERE}/tables")).status_code == 200
        assert (await corrected(client, add=lamp())).status_code == 403
        assert (await client.post(f"/api/library/{RUN}/remove", json={"yes": True})).status_code == 403
        assert len(log.events(RUN)) == count
        client.headers["cookie"] = f"festoon={booth}"
        assert (await corrected(client, add=lamp())).status_code == 200
        assert [one.event.by for one in log.events(RUN)[count:]] == ["Ida"]
        archived = await client.post(f"/api/library/{RUN}/archive", json={"archived": True, "by": "Otto"})
        assert archived.json()["archived"]["by"] == "Ida"
