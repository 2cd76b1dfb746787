"""Websockets of paired and unpaired devices, from real peers over a real port."""

import asyncio
import json
from contextlib import suppress
from pathlib import Path

import pytest
from starlette.types import Scope
from websockets.asyncio.client import ClientConnection
from websockets.exceptions import ConnectionClosedError, InvalidStatus
from websockets.frames import Close

from server.access import Role
from server.access.doorkeeper import EVENTS
from server.desk import connections
from server.desk.visitors import ENDED, NOT_SEEN, ONLY_LOOKS
from server.live.frames import FramedDesk
from tests.desk.service import PATIENCE_S, Service, event, heard, said, serving


def elsewhere(_scope: Scope) -> bool:
    """All 127.0.0.0/8 is this computer: here nobody is."""
    return False


async def paired(service: Service, role: Role = "booth", name: str = "Ida") -> tuple[str, str]:
    """The id and the cookie of a paired device."""
    pairing, token = await service.entrance.pairings.add(name, role)
    return pairing.id, f"festoon={token}"


async def closed(desk: ClientConnection) -> Close:
    """How the server closed a websocket, whatever it said before."""
    async with asyncio.timeout(PATIENCE_S):
        with pytest.raises(ConnectionClosedError) as error:
            await _all_of(desk)
    assert error.value.rcvd is not None
    return error.value.rcvd


async def _all_of(desk: ClientConnection) -> None:
    while True:
        await desk.recv()


@pytest.mark.parametrize("cookie", [None, "festoon=", "festoon=a.b.c", "festoon=\u00e9"])
async def test_an_unpaired_device_is_told_why_and_nothing_else(tmp_path: Path, cookie: str | None) -> None:
    """The websocket opens and closes with 4401, which a page can read, before anything of the run was said."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service, service.desk(cookie=cookie) as desk:
        assert await closed(desk) == Close(4401, "This device is not paired.")
        assert service.runs["one"].hub._desks == {}


async def test_a_paired_device_sees_and_reports(tmp_path: Path) -> None:
    """Its taps are by the person it was paired for, and it is written to straight."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        _, cookie = await paired(service)
        async with service.desk(cookie=cookie) as desk:
            await heard(desk, "snapshot")
            assert [type(each) for each in service.runs["one"].hub._desks] == [FramedDesk]
            await desk.send(json.dumps(event("e1", by="Somebody")))
            assert (await heard(desk, "change"))["events"][0]["by"] == "Ida"
            first = await said(desk, event("e1"))
            assert (first["type"], first["seq"]) == ("taken", 1)


async def test_a_device_that_looks_is_refused_and_kept(tmp_path: Path) -> None:
    """It is told why for each event, and goes on seeing what happens."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        _, wall = await paired(service, "look", "Wall")
        _, booth = await paired(service)
        async with service.desk(cookie=wall) as looking, service.desk(cookie=booth) as desk:
            refused = await said(looking, event("e1"))
            assert refused == {"type": "refused", "id": "e1", "reason": ONLY_LOOKS, "again": False}
            assert (await said(looking, {"type": "time", "c": 1}))["c"] == 1
            await said(desk, event("e1"))
            assert (await heard(looking, "change"))["events"][0]["id"] == "e1"


async def test_a_desk_that_floods_keeps_no_other_of_this_computer_from_reporting(tmp_path: Path) -> None:
    """It is to wait, and the booth desk beside it is taken at once."""
    async with serving(tmp_path, "one") as service, service.desk() as flooding, service.desk() as booth:
        told = [await said(flooding, {"type": "event", "event": {}}) for _ in range(EVENTS.burst + 50)]
        assert told[-1]["again"]
        assert (await said(booth, event("e1")))["type"] == "taken"


async def test_a_withdrawn_device_is_cut_off_at_once(tmp_path: Path) -> None:
    """All its websockets close with 4403 and hear no more; what it said before stands, and it cannot come back."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        pairing_id, cookie = await paired(service)
        _, others = await paired(service, name="Otto")
        async with (
            service.desk(cookie=cookie) as one,
            service.desk(cookie=cookie) as two,
            service.desk(cookie=others) as other,
        ):
            for desk in (one, two, other):
                await heard(desk, "snapshot")
            await said(one, event("e1"))
            assert service.entrance.pairings.connections(pairing_id) == 2
            await service.entrance.pairings.withdraw(pairing_id)
            assert await closed(one) == await closed(two) == Close(4403, "The pairing of this device was withdrawn.")
            assert (await said(other, event("e2")))["seq"] == 2
            assert len(service.runs["one"].hub._desks) == 1
        async with service.desk(cookie=cookie) as again:
            assert (await closed(again)).code == 4401


async def test_a_desk_that_went_is_no_longer_counted(tmp_path: Path) -> None:
    """The list says who is connected now."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        pairing_id, cookie = await paired(service)
        async with service.desk(cookie=cookie) as desk:
            await heard(desk, "snapshot")
        async with service.desk(cookie=cookie) as desk:
            await heard(desk, "beat")
            assert service.entrance.pairings.connections(pairing_id) == 1


@pytest.mark.parametrize(
    "claimed",
    [
        {"source": "contact"},
        {"source": "contact:north/3"},
        {"source": "recording"},
        {"kind": "clock_step", "station": None, "seconds": 3600.0},
        {"kind": "feed_down", "station": None, "text": "gone"},
        {"kind": "feed_up", "station": None},
    ],
)
async def test_a_device_says_only_what_a_person_saw(tmp_path: Path, claimed: dict[str, object]) -> None:
    """A contact is surer than a person, and a feed that is down silences alarms: neither is for a tablet to say."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        _, cookie = await paired(service)
        async with service.desk(cookie=cookie) as desk:
            refused = await said(desk, event("e1", **claimed))
            assert (refused["type"], refused["reason"], refused["again"]) == ("refused", NOT_SEEN, False)
            assert (await said(desk, event("e2", source="tap")))["type"] == "taken"
        assert [taken.id for taken in service.runs["one"].events] == ["e2"]


async def test_a_session_is_no_help_to_a_hostile_page(tmp_path: Path) -> None:
    """A browser sends the cookie along; the page's origin is looked at before anything else."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        _, cookie = await paired(service)
        with pytest.raises(InvalidStatus) as refused:
            await service.desk(cookie=cookie, origin="http://hostile.example")
    assert refused.value.response.status_code == 403


async def test_a_pairing_that_ends_by_itself_reports_no_more(tmp_path: Path) -> None:
    """A desk that stays open past the end of its pairing is refused its events, and told what to do."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        _, cookie = await paired(service)
        async with service.desk(cookie=cookie) as desk:
            assert (await said(desk, event("e1")))["type"] == "taken"
            service.entrance.time.passes(days=30)
            refused = await said(desk, event("e2"))
            assert (refused["reason"], refused["again"]) == (ENDED, False)


async def test_an_address_has_so_many_connections(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One more is dropped unheard, whatever it is for; once another went, it may come."""
    monkeypatch.setattr(connections, "CONNECTIONS", 2)
    monkeypatch.setattr(connections, "is_loopback", lambda _address: False)
    async with serving(tmp_path, "one") as service, service.desk() as one:
        await heard(one, "snapshot")
        async with service.desk() as two:
            await heard(two, "snapshot")
            reader, writer = await asyncio.open_connection("127.0.0.1", service.number)
            with suppress(ConnectionResetError):
                assert await reader.read() == b""
            writer.close()
        async with service.desk() as three:
            await heard(three, "snapshot")


async def test_a_device_that_pours_events_in_is_slowed(tmp_path: Path) -> None:
    """What is too much is refused with `again`, the connection kept; a little later it is taken."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        pairing_id, cookie = await paired(service)
        while service.entrance.doorkeeper.wait_for_event_s(pairing_id) == 0.0:
            pass
        async with service.desk(cookie=cookie) as desk:
            refused = await said(desk, event("e1"))
            assert (refused["type"], refused["again"]) == ("refused", True)
            service.entrance.time.passes(seconds=1.0)
            assert (await said(desk, event("e1")))["type"] == "taken"


async def test_this_computer_needs_no_pairing(tmp_path: Path) -> None:
    """The rule as it is, over a real connection."""
    async with serving(tmp_path, "one") as service, service.desk() as desk:
        assert (await said(desk, event("e1", by="Somebody")))["type"] == "taken"
