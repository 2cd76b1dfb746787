"""The websocket of a desk, from a real peer over a real port."""

import asyncio
import json
from pathlib import Path

import pytest
from websockets.asyncio.client import ClientConnection
from websockets.exceptions import ConnectionClosedError, InvalidStatus

from server.desk.access import MESSAGE_BYTES
from server.desk.messages import server_messages
from server.live import Refused, Taken
from server.live.frames import FramedDesk
from server.timeline.events import Event
from tests.desk.service import PATIENCE_S, event, heard, said, serving

HOSTILE = "hostile.example"


async def test_a_new_desk_has_a_snapshot_and_then_numbered_changes(tmp_path: Path) -> None:
    """A desk is told everything once, and from then on each change with the number that follows."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        snapshot = json.loads(await desk.recv())
        assert (snapshot["type"], snapshot["info"]["run"], snapshot["seq"]) == ("snapshot", "one", 0)
        for number, station in ((1, "a"), (2, "b")):
            await desk.send(json.dumps(event(f"e{number}", station=station)))
            change = await heard(desk, "change")
            assert (change["seq"], change["events"][0]["id"]) == (number, f"e{number}")


async def test_every_desk_is_told_the_same_bytes(tmp_path: Path) -> None:
    """A change is encoded once, for whoever reads it, the desk that reported it included."""
    async with serving(tmp_path, "one") as service, service.desk() as one, service.desk() as other:
        for desk in (one, other):
            await heard(desk, "snapshot")
        await one.send(json.dumps(event()))
        told = [await _raw_change(desk) for desk in (one, other)]
    assert told[0] == told[1]


async def _raw_change(desk: ClientConnection) -> bytes:
    async with asyncio.timeout(PATIENCE_S):
        while True:
            raw = await desk.recv(decode=False)
            if json.loads(raw)["type"] == "change":
                return raw


async def test_a_desk_is_written_to_straight(tmp_path: Path) -> None:
    """Nothing that wraps the application stands between the hub and a connection: no task and no send for a desk."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        await heard(desk, "snapshot")
        assert [type(each) for each in service.runs["one"].hub._desks] == [FramedDesk]


async def test_a_desk_that_comes_back_hears_what_it_missed(tmp_path: Path) -> None:
    """With the number and epoch that it saw last it is sent the changes since, and no snapshot."""
    async with serving(tmp_path, "one") as service:
        async with service.desk() as desk:
            epoch = (await heard(desk, "snapshot"))["epoch"]
            await said(desk, event("e1"))
            await said(desk, event("e2", station="b"))
        async with service.desk(query=f"?seq=1&epoch={epoch}") as desk:
            first = json.loads(await desk.recv())
        async with service.desk(query="?seq=1&epoch=another") as desk:
            stranger = json.loads(await desk.recv())
    assert (first["type"], first["seq"], first["events"][0]["id"]) == ("change", 2, "e2")
    assert stranger["type"] == "snapshot"


@pytest.mark.parametrize(
    ("message", "reason"),
    [
        (event("x", station="nowhere"), "nowhere"),
        (event("e1", station="b"), "e1"),
        (event("x", t="2026-03-15T00:50:00Z"), "future"),
        (event("x", t="2026-03-14T00:00:00Z"), "before"),
        (event("x", kind="exploded"), "exploded"),
        (event("x", colour="red"), "colour"),
        ("{", "JSON"),
        ("7", "7"),
        ({"type": "hello"}, "hello"),
        (b"\x00\x01", "binary"),
        ("x" * (MESSAGE_BYTES + 1), str(MESSAGE_BYTES + 1)),
    ],
)
async def test_what_cannot_be_taken_is_refused_and_the_connection_kept(
    tmp_path: Path, message: object, reason: str
) -> None:
    """A desk that says something wrong is told why in one sentence, and goes on."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        await said(desk, event("e1"))
        refused = await said(desk, message)
        assert refused["type"] == "refused"
        assert reason in refused["reason"]
        assert "\n" not in refused["reason"]
        assert (await said(desk, {"type": "time", "c": 5}))["c"] == 5


async def test_a_tap_that_is_sent_again_is_answered_as_at_first(tmp_path: Path) -> None:
    """A desk that lost its connection before the answer may send the tap again: it counts once."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        first = await said(desk, event("e1"))
        service.clocks["one"].pass_s(30.0)
        assert await said(desk, event("e1")) == first
        assert first == {"type": "taken", "id": "e1", "seq": 1, "t": "2026-03-14T23:51:40Z"}


async def test_answers_go_to_the_desk_that_asked(tmp_path: Path) -> None:
    """Another desk hears of the change, not of the answer."""
    async with serving(tmp_path, "one") as service, service.desk() as desk, service.desk() as other:
        await said(desk, event("e1"))
        await said(desk, event("e1", station="b"))
        kinds = set()
        async with asyncio.timeout(PATIENCE_S):
            while "beat" not in kinds:
                kinds.add(json.loads(await other.recv())["type"])
    assert kinds == {"snapshot", "change", "beat"}


async def test_runs_do_not_hear_of_each_other(tmp_path: Path) -> None:
    """Two prints at once: what is reported of one is told to its own desks alone."""
    async with serving(tmp_path, "one", "two") as service, service.desk("one") as one, service.desk("two") as two:
        await said(one, event("e1"))
        await said(two, event("e2"))
    async with serving(tmp_path, "one", "two") as service, service.desk("one") as one, service.desk("two") as two:
        shown = [[told["id"] for told in (await heard(desk, "snapshot"))["events"]] for desk in (one, two)]
    assert shown == [["e1"], ["e2"]]


async def test_an_unknown_run_is_said_when_closing(tmp_path: Path) -> None:
    """A page that asks for a run that is not here is told so, and need not try again."""
    async with serving(tmp_path, "one") as service, service.desk("three") as desk:
        with pytest.raises(ConnectionClosedError) as closed:
            await desk.recv()
    assert closed.value.rcvd is not None
    assert (closed.value.rcvd.code, closed.value.rcvd.reason) == (4404, "There is no live run of this name here.")


@pytest.mark.parametrize(
    "elsewhere",
    [
        {"origin": "http://hostile.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"host": "hostile.example"},
    ],
)
async def test_a_page_from_elsewhere_may_not_open_a_websocket(tmp_path: Path, elsewhere: dict[str, str]) -> None:
    """Browsers let any page open a websocket to anywhere: its origin is looked at (RFC 6455, 10.2), and the name."""
    async with serving(tmp_path, "one") as service:
        with pytest.raises(InvalidStatus) as refused:
            await service.desk(host=elsewhere.get("host"), origin=elsewhere.get("origin"))
    assert refused.value.response.status_code == 403


async def test_our_own_page_may(tmp_path: Path) -> None:
    """A page of this server has its origin, by whichever loopback name it was opened."""
    async with serving(tmp_path, "one") as service:
        for host in (service.host, service.host.replace("127.0.0.1", "localhost")):
            async with service.desk(host=host, origin=f"http://{host}") as desk:
                assert (await heard(desk, "snapshot"))["seq"] == 0


async def test_a_desk_that_does_not_read_delays_nobody(tmp_path: Path) -> None:
    """Whoever reports is answered, and whoever reads is told, while another desk is stalled."""
    async with serving(tmp_path, "one") as service, service.desk() as stalled, service.desk() as desk:
        stalled.transport.pause_reading()
        for number in range(100):
            await desk.send(json.dumps(event(f"n{number}", kind="note", text="x" * 1500, station=None)))
        numbers = [(await heard(desk, "change"))["seq"] for _ in range(100)]
        assert numbers == list(range(1, 101))
        stalled.transport.abort()


@pytest.mark.slow
async def test_a_slow_disk_does_not_look_like_a_lost_desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A desk whose taps wait for the disk, past the time in which a silent desk is given up, is kept and answered."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        run, written = service.runs["one"], asyncio.Event()
        take = run.take

        async def slow(tap: Event) -> Taken | Refused:
            await written.wait()
            return await take(tap)

        monkeypatch.setattr(run, "take", slow)
        for number in range(30):
            await desk.send(json.dumps(event(f"n{number}", kind="note", text="tap", station=None)))
        for _ in range(4):  # seconds: UVICORN_OPTIONS gives a silent desk up after 2.5
            await heard(desk, "beat")
        written.set()
        assert [(await heard(desk, "taken"))["seq"] for _ in range(30)] == list(range(1, 31))


async def test_what_is_sent_is_what_the_models_say(tmp_path: Path) -> None:
    """The OpenAPI document and the browser's types follow from these models, so they must hold."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        raws = [await desk.recv(decode=False)]
        for message in (event("e1"), event("e1", station="b"), {"type": "time", "c": 1.5}):
            await desk.send(json.dumps(message))
        async with asyncio.timeout(PATIENCE_S):
            while {json.loads(raw)["type"] for raw in raws} < {
                "snapshot",
                "change",
                "beat",
                "taken",
                "refused",
                "time",
            }:
                raws.append(await desk.recv(decode=False))
    for raw in raws:
        assert server_messages.validate_json(raw).model_dump(mode="json", exclude_unset=True) == json.loads(raw)
