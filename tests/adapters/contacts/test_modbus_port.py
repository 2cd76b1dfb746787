"""Modules on libmodbus, over TCP, on a serial line and behind a serial server, and pretended ones; killed and back."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from itertools import cycle, islice
from pathlib import Path

import pytest

from adapters.contacts import modbus
from adapters.contacts.wiring import WiringFaults
from tests.adapters.contacts import others, peers
from tests.adapters.contacts.others import SerialServer, gone_at_the_end
from tests.adapters.contacts.peers import until, wire
from tests.adapters.contacts.showing import AROUND_ZERO, Show, show, why_not
from tests.adapters.contacts.wired import wiring
from tests.adapters.shows import ZERO

MODBUS = [("1/discrete/0", "s0", "motor"), ("2/coil/9", "s0", "lamp")]
MODULE_FEED = 'id = "north"\nkind = "modbus"\nport = "/dev/ttyUSB0"'


def tcp_feed(number: int) -> str:
    return f'kind = "modbus"\nport = "tcp://127.0.0.1:{number}"\npoll_ms = 20'


@asynccontextmanager
async def modules_show(folder: Path, start_s: float = 0.0) -> AsyncIterator[tuple[others.Modules, Show]]:
    modules = others.Modules(folder, 1, 2)
    await modules.start_tcp()
    with gone_at_the_end(modules):
        async with show(tcp_feed(modules.number), MODBUS, start_s) as shown:
            await shown.knows()
            yield modules, shown


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is silent is told, and asked again, three times sooner."""
    monkeypatch.setattr(modbus, "SILENT_US", 300_000)
    monkeypatch.setattr(modbus, "AGAIN_US", 100_000)
    monkeypatch.setattr(modbus, "ANSWER_S", 0.1)


async def test_discrete_inputs_and_coils_of_several_units_are_read(tmp_path: Path) -> None:
    """Each edge lies where it happened, and is as unsure as the poll is long."""
    async with modules_show(tmp_path) as (modules, shown):
        assert await shown.sigmas("motor_start", lambda: modules.set_input(1, 0, True)) < 3
        assert await shown.sigmas("lamp_lit", lambda: modules.set_coil(2, 9, True)) < 3
        assert await shown.sigmas("lamp_out", lambda: modules.set_coil(2, 9, False)) < 3
        assert await shown.sigmas("motor_stop", lambda: modules.set_input(1, 0, False)) < 3
        assert shown.said() == ["feed_up", "motor_start", "lamp_lit", "lamp_out", "motor_stop"]
        sigma_s = shown.last("lamp_lit").sigma_s
        assert sigma_s is not None
        assert 0.02 < sigma_s < 0.06


@AROUND_ZERO
async def test_modules_are_read_wherever_zero_lies(tmp_path: Path, start_s: float, later_s: float) -> None:
    """The plan's zero is a time like any other: a roll call before the show knows every input."""
    async with modules_show(tmp_path, start_s) as (modules, shown):
        assert await shown.sigmas("motor_start", lambda: modules.set_input(1, 0, True)) < 3
        assert (shown.last("motor_start").t < ZERO) is (start_s < 0)
        await shown.is_past(later_s)
        assert await shown.sigmas("motor_stop", lambda: modules.set_input(1, 0, False)) < 3
        assert shown.said() == ["feed_up", "motor_start", "motor_stop"]


async def test_a_server_that_is_killed_comes_back(tmp_path: Path) -> None:
    """Gone in mid-show and back: told at once, and what changed meanwhile is posted."""
    async with modules_show(tmp_path) as (modules, shown):
        modules.set_input(1, 0, True)
        await shown.has("motor_start")
        modules.kill()
        await shown.has("feed_down")
        assert shown.last("feed_down").text == f"tcp://127.0.0.1:{modules.number} closed the connection"
        modules.set_input(1, 0, False)
        await modules.start_tcp()
        await shown.has("feed_up", 2)
        assert shown.count("motor_stop") == 1


async def test_a_server_that_stalls_is_told(tmp_path: Path, impatient: None, caplog: pytest.LogCaptureFixture) -> None:
    """Its connection stands and nothing comes: the feed is down, and back when it goes on; nothing fills the log."""
    async with modules_show(tmp_path) as (modules, shown):
        modules.stall()
        why = f"tcp://127.0.0.1:{modules.number}: no unit answers"
        await until(lambda: why in [event.text for event in shown.events])
        modules.set_input(1, 0, True)
        modules.go_on()
        await shown.has("motor_start")
    assert caplog.records == []


async def test_a_unit_that_falls_silent_is_told_by_itself(tmp_path: Path, impatient: None) -> None:
    """The others are read on; when it is back, what changed is posted."""
    async with modules_show(tmp_path) as (modules, shown):
        modules.be_there(2, there=False)
        await shown.has("feed_down")
        assert shown.last("feed_down").source == "contact:north/2"
        assert shown.levels()["2/coil/9"] is None
        modules.set_input(1, 0, True)
        await shown.has("motor_start")
        modules.set_coil(2, 9, True)
        modules.be_there(2)
        await shown.has("feed_up", 2)
        assert shown.last("feed_up").source == "contact:north/2"
        assert shown.count("lamp_lit") == 1


async def test_many_silent_units_do_not_hold_up_the_one_that_answers(
    tmp_path: Path, impatient: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of those that are silent one is asked in a round: an edge is as sure as one missing answer is long."""
    monkeypatch.setattr(modbus, "AGAIN_US", 0)
    monkeypatch.setattr(modbus, "ANSWER_S", 0.2)
    modules = others.Modules(tmp_path, 1)
    await modules.start_tcp()
    silent = [(f"{unit}/discrete/0", "s0", "failsafe") for unit in range(2, 7)]
    with gone_at_the_end(modules):
        async with show(tcp_feed(modules.number), [MODBUS[0], *silent]) as shown:
            await shown.has("feed_down", 5)
            assert await shown.sigmas("motor_start", lambda: modules.set_input(1, 0, True)) < 3
            sigma_s = shown.last("motor_start").sigma_s
            assert sigma_s is not None
            assert sigma_s < modbus.ANSWER_S


@pytest.mark.parametrize("code", [4, 5, 6, 10, 11])
async def test_a_unit_that_cannot_answer_now_is_a_silent_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """Failed, busy, or not behind its gateway: the port opens without it, and the others are read on."""
    monkeypatch.setattr(modbus, "SILENT_US", 50_000)
    modules = others.Modules(tmp_path, 1, 2)
    modules.fail(1, code)
    await modules.start_tcp()
    with gone_at_the_end(modules):
        async with show(tcp_feed(modules.number), MODBUS) as shown:
            await shown.has("feed_down")
            assert shown.last("feed_down").source == "contact:north/1"
            assert shown.last("feed_down").text == (
                f"unit 1 of tcp://127.0.0.1:{modules.number} says that it cannot answer (Modbus exception {code})"
            )
            modules.set_coil(2, 9, True)
            await shown.has("lamp_lit")
            assert shown.feed.fault is None


async def test_an_address_that_the_module_does_not_have_is_told(tmp_path: Path) -> None:
    """A wrong address is a feed that is down, with what to look at."""
    modules = others.Modules(tmp_path, 1)
    await modules.start_tcp()
    with gone_at_the_end(modules):
        async with show(tcp_feed(modules.number), [("1/discrete/99", "s0", "motor")]) as shown:
            await shown.has("feed_down")
            assert "refuses discrete 99 to 99 (Modbus exception 2): see the input's address" in (
                shown.last("feed_down").text or ""
            )


async def test_modules_on_a_serial_line_are_read_and_come_back(
    tmp_path: Path, impatient: None, caplog: pytest.LogCaptureFixture
) -> None:
    """Modbus RTU between two pseudo-terminals, its module killed and started again; nothing fills the log."""
    async with wire(tmp_path) as (ours, theirs):
        modules = others.Modules(tmp_path, 1)
        await modules.start_rtu(theirs, 1)
        feed = f'kind = "modbus"\nport = "{ours}"\nbaud = 115200\npoll_ms = 20'
        with gone_at_the_end(modules):
            async with show(feed, [("1/discrete/3", "s0", "motor")]) as shown:
                await shown.knows()
                assert await shown.sigmas("motor_start", lambda: modules.set_input(1, 3, True)) < 3
                modules.kill()
                await shown.has("feed_down")
                modules.set_input(1, 3, False)
                await modules.start_rtu(theirs, 1)
                await shown.has("motor_stop")
                assert shown.count("feed_down") == 1
    assert caplog.records == []


async def test_modules_behind_a_plain_serial_server_are_read(
    tmp_path: Path, unused_tcp_port_factory: Callable[[], int]
) -> None:
    """The frames of a serial line (RTU) over TCP, through ser2net."""
    async with wire(tmp_path) as (ours, theirs):
        modules = others.Modules(tmp_path, 7)
        server = SerialServer(tmp_path, ours, unused_tcp_port_factory)
        await modules.start_rtu(theirs, 7)
        await server.start()
        feed = f'kind = "modbus"\nport = "tcp://{server.places["socket"]}"\nframing = "rtu"\npoll_ms = 20'
        with gone_at_the_end(modules), gone_at_the_end(server):
            async with show(feed, [("7/coil/15", "s0", "motor")]) as shown:
                await shown.knows()
                assert await shown.sigmas("motor_start", lambda: modules.set_coil(7, 15, True)) < 3


async def test_random_bytes_on_the_line_stop_nothing_and_fill_no_log(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Noise between the frames costs an answer now and then."""
    noise = islice(cycle(bytes((n * n * 7 + n) % 256 for n in range(997))), 3000)
    async with wire(tmp_path) as (ours, theirs):
        modules = peers.Modules(1)
        await modules.start_rtu(theirs)
        feed = f'kind = "modbus"\nport = "{ours}"\nbaud = 115200\npoll_ms = 20'
        async with show(feed, [("1/discrete/3", "s0", "motor")]) as shown:
            await shown.knows()
            while some := bytes(islice(noise, 50)):
                modules.send_bytes(some)
                await asyncio.sleep(0.003)
            modules.inputs[1, 3] = True
            await shown.has("motor_start")
        await modules.kill()
    assert caplog.records == []


class Nobody:
    """Whoever hears of a port's readings and does nothing about them."""

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None: ...
    def tell(self, text: str, now_us: int, times: int = 1) -> None: ...
    def silence(self, part: str, text: str | None, now_us: int) -> None: ...
    def due_us(self) -> int | None:
        return 0


async def test_a_server_that_stops_in_the_moment_of_an_answer_reads_no_further(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python before 3.12 hides that from whoever waits with `asyncio.wait_for`, as the library does."""
    modules = others.Modules(tmp_path, 1)
    await modules.start_tcp()
    port = wiring(f'id = "north"\n{tcp_feed(modules.number)}', MODBUS[:1]).feeds[0].make_port(["1/discrete/0"])
    with gone_at_the_end(modules):
        await port.open()
        wait_for = asyncio.wait_for

        async def stop_as_it_comes(answer: asyncio.Future[object], **within: float) -> object:
            answer.add_done_callback(lambda _: reading.cancel())
            return await wait_for(answer, **within)

        monkeypatch.setattr(asyncio, "wait_for", stop_as_it_comes)
        reading = asyncio.create_task(port.run(Nobody(), lambda: 0))
        await asyncio.wait({reading}, timeout=1.0)
        assert reading.cancelled()
        await port.close()


def test_inputs_side_by_side_are_read_at_once_and_no_others() -> None:
    """A module refuses a question with an address too many: what lies far apart is asked for by itself."""
    places = ["1/discrete/0", "1/discrete/3", "1/discrete/11", "1/discrete/20", "1/coil/1", "2/coil/0"]
    assert modbus.blocks_of(places) == [
        modbus.Block(1, "coil", 1, 1),
        modbus.Block(1, "discrete", 0, 12),
        modbus.Block(1, "discrete", 20, 1),
        modbus.Block(2, "coil", 0, 1),
    ]


@pytest.mark.parametrize("place", ["1/discrete/0", "247/coil/65535"])
def test_units_and_addresses_that_there_are_can_be_wired(place: str) -> None:
    """The first and the last."""
    assert wiring(MODULE_FEED, [(place, "s0", "motor")]).feeds[0].inputs[0].place == place


@pytest.mark.parametrize("place", ["0/discrete/0", "248/discrete/0", "1/coil/65536", "1/input/0"])
def test_units_and_addresses_that_there_are_not_are_refused(place: str) -> None:
    """0 is every unit, which none answers to; what is accepted says the limits."""
    with pytest.raises(WiringFaults) as found:
        wiring(MODULE_FEED, [(place, "s0", "motor")])
    assert any("'1/discrete/0' or '1/coil/0': unit 1 to 247, address 0 to 65535" in text for text in found.value.faults)


async def test_a_device_that_cannot_be_set_so_is_a_fault_in_one_sentence(tmp_path: Path) -> None:
    """A pseudo-terminal has no parity; what the system raises then is no OSError."""
    async with wire(tmp_path) as (ours, _):
        why = await why_not(f'kind = "modbus"\nport = "{ours}"\nparity = "even"', "1/discrete/0")
        assert why is not None
        assert why.startswith(f"{ours} cannot be opened: ")


async def test_a_port_that_is_not_there_is_a_fault_in_one_sentence(tmp_path: Path) -> None:
    """The desks are told which port, and why, though the library keeps that to itself."""
    device, server = tmp_path / "none", "tcp://127.0.0.1:1"
    assert await why_not(f'kind = "modbus"\nport = "{device}"', "1/discrete/0") == (
        f"{device} cannot be opened: no such file or directory"
    )
    assert await why_not(f'kind = "modbus"\nport = "{server}"', "1/discrete/0") == (
        f"{server} cannot be opened: connection refused"
    )
