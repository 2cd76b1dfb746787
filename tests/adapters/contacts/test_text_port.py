"""Boxes that send lines, on a pseudo-terminal, behind a real serial server and over TCP; killed and back."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from datetime import timedelta
from pathlib import Path

import pytest

from adapters.contacts.lines import Line, text_from_line
from tests.adapters.contacts.others import SerialServer, gone_at_the_end
from tests.adapters.contacts.peers import PATIENCE_S, TextBox, until
from tests.adapters.contacts.showing import AROUND_ZERO, Show, show, why_not
from tests.adapters.shows import ZERO

WIRES = [("1", "s0", "motor"), ("2", "s0", "lamp")]


@asynccontextmanager
async def text_show(folder: Path, silent_s: float = 5.0, start_s: float = 0.0) -> AsyncIterator[tuple[TextBox, Show]]:
    box = TextBox(folder, 2)
    box.plug()
    async with show(f'kind = "text"\nport = "{box.address}"\nsilent_s = {silent_s}', WIRES, start_s) as shown:
        await spoken(box, shown, "feed_up")
        await shown.knows()
        yield box, shown
        box.unplug()


async def spoken(box: TextBox, shown: Show, kind: str, times: int = 1) -> None:
    """Have the box say all its levels, as it does when nothing changes, until that has been posted."""
    async with asyncio.timeout(PATIENCE_S):
        while shown.count(kind) < times:
            box.all_levels()
            await asyncio.sleep(0.01)


async def test_lines_become_events(tmp_path: Path) -> None:
    """A change of a contact is an event of its station, by its wire."""
    async with text_show(tmp_path) as (box, shown):
        box.change(1, True)
        await shown.has("motor_start")
        box.change(2, True)
        await shown.has("lamp_lit")
        assert [event.source for event in shown.events] == ["contact:north", "contact:north/1", "contact:north/2"]


@AROUND_ZERO
async def test_lines_have_their_time_wherever_zero_lies(tmp_path: Path, start_s: float, later_s: float) -> None:
    """The plan's zero is a time like any other."""
    async with text_show(tmp_path, start_s=start_s) as (box, shown):
        assert await shown.sigmas("motor_start", lambda: box.change(1, True)) < 5
        assert (shown.last("motor_start").t < ZERO) is (start_s < 0)
        await shown.is_past(later_s)
        assert await shown.sigmas("motor_stop", lambda: box.change(1, False)) < 5
        assert shown.said() == ["feed_up", "motor_start", "motor_stop"]


async def test_a_box_that_is_unplugged_in_mid_show_comes_back_without_a_hand(tmp_path: Path) -> None:
    """It is told, and so is what changed in the meantime: between the loss and the return."""
    async with text_show(tmp_path) as (box, shown):
        box.change(1, True)
        await shown.has("motor_start")
        box.unplug()
        await shown.has("feed_down")
        box.plug()
        box.levels.update({1: False, 2: True})
        await spoken(box, shown, "feed_up", 2)
        await until(lambda: {"motor_stop", "lamp_lit"} <= set(shown.said()))
        assert (shown.last("feed_down").text or "").startswith(f"{box.address} was unplugged or closed")
        stop = shown.last("motor_stop")
        assert shown.last("motor_start").t < stop.t < shown.events[-1].t
        assert shown.count("motor_start") == 1


async def test_a_silent_box_is_told_and_not_again_and_again(tmp_path: Path) -> None:
    """A port whose box says nothing is a feed that is down, however often it can be opened."""
    async with text_show(tmp_path, silent_s=0.5) as (box, shown):
        await shown.has("feed_down")
        assert shown.last("feed_down").text == f"{box.address} has sent no sound line for 0.5 s"
        box.send_bytes(b"\x00\xffgarbage\n")
        await shown.tries(2)
        assert (shown.count("feed_down"), shown.count("feed_up")) == (1, 1)


async def test_lost_and_damaged_lines_are_told_and_made_good(tmp_path: Path) -> None:
    """The next line with all levels brings what a lost line should have said."""
    async with text_show(tmp_path) as (box, shown):
        box.lose(1, True)
        box.send_bytes(b"C 3 2 1 *0000\n")
        box.all_levels()
        await shown.has("motor_start")
        await until(lambda: len(shown.notes()) >= 2)
        assert any("lines were lost on the way" in note for note in shown.notes())
        assert any("a line whose check does not fit" in note for note in shown.notes())
        assert shown.last("motor_start").sigma_s is not None


async def test_what_a_lost_line_said_may_be_as_old_as_the_last_sound_line_before_it(tmp_path: Path) -> None:
    """A line of another contact that comes in between knows nothing of it, and makes its time no surer."""
    async with text_show(tmp_path) as (box, shown):
        box.all_levels()
        before = shown.clock.now()
        await shown.goes_on(0.3)
        box.lose(1, True)
        box.change(2, True)
        await shown.has("lamp_lit")
        box.all_levels()
        await shown.has("motor_start")
        start = shown.last("motor_start")
        assert start.sigma_s is not None
        assert start.t - timedelta(seconds=3**0.5 * start.sigma_s) < before + timedelta(seconds=0.1)


async def test_fifty_inputs_that_all_change_at_once_lose_nothing_and_keep_their_order(tmp_path: Path) -> None:
    """Fifty lines in one breath, four times: every change is an event, each wire's in its order."""
    box = TextBox(tmp_path, 50)
    box.plug()
    wires = [(str(n), f"s{n % 2}", "failsafe") for n in range(1, 51)]
    async with show(f'kind = "text"\nport = "{box.address}"', wires) as shown:
        await spoken(box, shown, "feed_up")
        await shown.knows()
        for turn in range(4):
            for number in range(1, 51):
                box.change(number, turn % 2 == 0)
            await shown.knows(*(str(n) for n in range(1, 51) if turn % 2 == 0))
        await until(lambda: shown.count("film_trip") >= 100)
        trips = [event for event in shown.events if event.kind == "film_trip"]
    by_wire = [[event.t for event in trips if event.source == f"contact:north/{n}"] for n in range(1, 51)]
    assert all(times == sorted(times) and len(times) == 2 for times in by_wire)
    assert shown.notes() == []


async def test_a_box_behind_a_network_socket_is_heard_and_comes_back(unused_tcp_port: int) -> None:
    """The same lines over TCP, as a plain gateway brings them."""
    talks: list[asyncio.StreamWriter] = []
    sound = f"{text_from_line(Line(0, {1: False, 2: False}, True))}\n".encode()

    async def answer(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        talks.append(writer)
        writer.write(sound)

    server = await asyncio.start_server(answer, "127.0.0.1", unused_tcp_port)
    async with show(f'kind = "text"\nport = "socket://127.0.0.1:{unused_tcp_port}"', WIRES) as shown:
        await shown.knows()
        talks[0].write(f"{text_from_line(Line(1, {1: True}, False))}\n".encode())
        await shown.has("motor_start")
        talks[0].transport.abort()
        await shown.has("feed_down")
        await shown.has("feed_up", 2)
        assert shown.count("motor_stop") == 1
    for talk in talks:
        talk.transport.abort()
    server.close()
    await server.wait_closed()


@pytest.mark.parametrize("scheme", ["rfc2217", "socket"])
async def test_a_box_behind_ser2net_is_heard_and_comes_back(
    tmp_path: Path, scheme: str, unused_tcp_port_factory: Callable[[], int]
) -> None:
    """A real serial server, killed and started again: what changed in between is posted once."""
    box = TextBox(tmp_path, 2)
    box.plug()
    server = SerialServer(tmp_path, str(box.address), unused_tcp_port_factory)
    await server.start()
    feed = f'kind = "text"\nport = "{scheme}://{server.places[scheme]}"\nbaud = 115200'
    with gone_at_the_end(server):
        async with show(feed, WIRES) as shown:
            await spoken(box, shown, "feed_up")
            await shown.knows()
            assert await shown.sigmas("motor_start", lambda: box.change(1, True)) < 5
            server.kill()
            await shown.has("feed_down")
            box.change(1, False)
            await server.start()
            await spoken(box, shown, "motor_stop")
            await spoken(box, shown, "feed_up", 2)
            assert shown.said() == ["feed_up", "motor_start", "feed_down", "motor_stop", "feed_up"]
    box.unplug()


@pytest.mark.parametrize("scheme", ["rfc2217", "socket"])
async def test_what_a_serial_server_says_before_it_hangs_up_is_told(
    tmp_path: Path, scheme: str, unused_tcp_port_factory: Callable[[], int]
) -> None:
    """Without its device ser2net takes a connection, says why not in plain words, and closes it."""
    server = SerialServer(tmp_path, str(tmp_path / "none"), unused_tcp_port_factory)
    await server.start()
    with gone_at_the_end(server):
        async with show(f'kind = "text"\nport = "{scheme}://{server.places[scheme]}"', WIRES) as shown:
            await shown.has("feed_down")
            text = shown.last("feed_down").text or ""
            assert text.startswith(f"{scheme}://{server.places[scheme]} ")
            assert text.endswith("closed the connection, and said: 'Device open failure: Value or file not found'")


async def test_a_port_that_is_not_there_is_a_fault_in_one_sentence(tmp_path: Path) -> None:
    """The desks are told which port, and why."""
    device, socket = tmp_path / "none", "socket://127.0.0.1:1"
    assert await why_not(f'kind = "text"\nport = "{device}"', "1") == (
        f"{device} cannot be opened: no such file or directory"
    )
    assert await why_not(f'kind = "text"\nport = "{socket}"', "1") == f"{socket} cannot be opened: connection refused"


async def test_a_box_that_floods_is_let_go_and_told_of(unused_tcp_port: int) -> None:
    """What it says would be read later and later; after so long the port is closed, and what waited in it is gone."""
    lines = "".join(f"{text_from_line(Line(n, {1: False, 2: False}, True))}\n" for n in range(256)).encode()

    async def flood(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(ConnectionError):
            while not writer.is_closing():
                writer.write(lines * 8)
                await writer.drain()
        writer.close()

    server = await asyncio.start_server(flood, "127.0.0.1", unused_tcp_port)
    port = f'kind = "text"\nport = "socket://127.0.0.1:{unused_tcp_port}"\nsilent_s = 0.5'
    async with server, show(port, WIRES) as shown:
        await shown.has("feed_down")
        assert "has sent more than can be read for 0.5 s" in (shown.last("feed_down").text or "")
