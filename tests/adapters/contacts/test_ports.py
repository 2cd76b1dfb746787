"""The ports against real peers: pseudo-terminals, a gateway with modem lines, Modbus servers; killed and back."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from serialx import ModemPins, PinState

from adapters.base import Backoff, FeedFault, supervise
from adapters.contacts import modbus, modem
from adapters.contacts.feed import ContactFeed
from adapters.contacts.lines import Line, text_from_line
from adapters.contacts.rollcall import RollCall
from adapters.contacts.serial_port import SerialPort
from server.clock import Clock
from server.timeline.events import Event
from tests.adapters.contacts.peers import PATIENCE_S, Gateway, Modules, TextBox, until, wire
from tests.adapters.contacts.wired import PLAN, Facts, wiring
from tests.adapters.shows import ZERO

BACKOFF = Backoff(first_s=0.02, factor=1.0, healthy_s=0.0)
WIRES = [("1", "s0", "motor"), ("2", "s0", "lamp")]


class Show:
    """A run that takes everything one feed posts, and knows it."""

    def __init__(self, feed: ContactFeed, facts: Facts) -> None:
        self.feed = feed
        self.facts = facts
        self.events: list[Event] = []

    async def post(self, event: Event) -> str | None:
        self.events.append(event)
        if event.station is not None:
            self.facts.events.append(event)
        return None

    def said(self) -> list[str]:
        """The kinds of what was posted, but for notes."""
        return [event.kind for event in self.events if event.kind != "note"]

    def count(self, kind: str) -> int:
        return self.said().count(kind)

    def last(self, kind: str) -> Event:
        return next(event for event in reversed(self.events) if event.kind == kind)

    async def has(self, kind: str, times: int = 1) -> None:
        await until(lambda: self.count(kind) >= times)


@asynccontextmanager
async def show(feed: str, wires: list[tuple[str, str, str]]) -> AsyncIterator[Show]:
    """The feed that is written so in a wiring file, kept going as in a server."""
    made = wiring(f'id = "north"\n{feed}', wires)
    facts, clock = Facts(), Clock(ZERO)
    shown = Show(ContactFeed(made.feeds[0], PLAN, facts, RollCall(made.inputs), clock.now()), facts)
    task = asyncio.create_task(supervise(shown.feed, shown.post, clock, BACKOFF))
    try:
        yield shown
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def text_show(folder: Path, silent_s: float = 5.0) -> AsyncIterator[tuple[TextBox, Show]]:
    box = TextBox(folder, 2)
    box.plug()
    async with show(f'kind = "text"\nport = "{box.address}"\nsilent_s = {silent_s}', WIRES) as shown:
        await spoken(box, shown, "feed_up")
        await until(lambda: all(wire.on is False for wire in shown.feed.bank.wires.values()))
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
        assert "unplugged" in (shown.last("feed_down").text or "") or "lost" in (shown.last("feed_down").text or "")
        stop = shown.last("motor_stop")
        assert shown.last("motor_start").t < stop.t < shown.events[-1].t
        assert shown.count("motor_start") == 1


async def test_a_silent_box_is_told_and_not_again_and_again(tmp_path: Path) -> None:
    """A port whose box says nothing is a feed that is down, however often it can be opened."""
    async with text_show(tmp_path, silent_s=0.5) as (box, shown):
        await shown.has("feed_down")
        assert shown.last("feed_down").text == f"{box.address} has sent no sound line for 0.5 s"
        box.send_bytes(b"\x00\xffgarbage\n")
        await asyncio.sleep(0.7)
        assert (shown.count("feed_down"), shown.count("feed_up")) == (1, 1)


async def test_lost_and_damaged_lines_are_told_and_made_good(tmp_path: Path) -> None:
    """The next line with all levels brings what a lost line should have said."""
    async with text_show(tmp_path) as (box, shown):
        box.lose(1, True)
        box.send_bytes(b"C 3 2 1 *0000\n")
        box.all_levels()
        await shown.has("motor_start")
        notes = [event.text for event in shown.events if event.kind == "note"]
        assert "north: lines were lost on the way." in notes
        assert "north: found a line whose check does not fit." in notes
        assert shown.last("motor_start").sigma_s is not None


async def test_fifty_inputs_that_all_change_at_once_lose_nothing_and_keep_their_order(tmp_path: Path) -> None:
    """Fifty lines in one breath, twenty times: every change is an event, each wire's in its order."""
    box = TextBox(tmp_path, 50)
    box.plug()
    wires = [(str(n), f"s{n % 2}", "failsafe") for n in range(1, 51)]
    async with show(f'kind = "text"\nport = "{box.address}"', wires) as shown:
        await spoken(box, shown, "feed_up")
        await until(lambda: all(wire.on is False for wire in shown.feed.bank.wires.values()))
        for turn in range(20):
            for number in range(1, 51):
                box.change(number, turn % 2 == 0)
            await until(lambda: all(w.on is (turn % 2 == 0) for w in shown.feed.bank.wires.values()))  # noqa: B023
        await until(lambda: shown.count("film_trip") >= 500)
        trips = [event for event in shown.events if event.kind == "film_trip"]
    by_wire = [[event.t for event in trips if event.source == f"contact:north/{n}"] for n in range(1, 51)]
    assert all(times == sorted(times) and len(times) == 10 for times in by_wire)
    assert [event.text for event in shown.events if event.kind == "note"] == []


MODEM = [("CTS", "s0", "motor"), ("DSR", "s0", "lamp"), ("DCD", "s1", "motor"), ("RI", "s1", "lamp")]


@asynccontextmanager
async def modem_show() -> AsyncIterator[tuple[Gateway, Show]]:
    gateway = Gateway()
    await gateway.start()
    async with show(f'kind = "modem"\nport = "{gateway.address}"\npoll_ms = 5', MODEM) as shown:
        await shown.has("feed_up")
        await until(lambda: shown.feed.bank.wires["CTS"].on is False)
        yield gateway, shown
    await gateway.kill()


async def test_the_four_status_lines_come_over_the_network() -> None:
    """CTS, DSR, DCD and RI are four contacts, each its own (RFC 2217 over a loop-back port with settable lines)."""
    async with modem_show() as (gateway, shown):
        for number, name in enumerate(("cts", "dsr", "cd", "ri")):
            gateway.set_line(name, True)
            await until(lambda: len(shown.said()) == number + 2)  # noqa: B023 - waited for here
        told = [(event.kind, event.station, event.source.rpartition("/")[2]) for event in shown.events[1:]]
        assert told == [
            ("motor_start", "s0", "CTS"),
            ("lamp_lit", "s0", "DSR"),
            ("motor_start", "s1", "DCD"),
            ("lamp_lit", "s1", "RI"),
        ]
        assert all(event.sigma_s is not None and event.sigma_s < 0.05 for event in shown.events[1:])


async def test_a_gateway_that_is_killed_comes_back() -> None:
    """Every connection dropped and taken again: what changed in between is posted once."""
    async with modem_show() as (gateway, shown):
        gateway.set_line("cts", True)
        await shown.has("motor_start")
        await gateway.kill()
        await shown.has("feed_down")
        gateway.port.lines.update(cts=False, dsr=True)
        await gateway.start()
        await until(lambda: {"motor_stop", "lamp_lit"} <= set(shown.said()))
        assert shown.count("motor_start") == shown.count("motor_stop") == 1


async def test_a_gateway_that_stalls_is_not_taken_at_its_last_word(monkeypatch: pytest.MonkeyPatch) -> None:
    """It keeps its connection and would go on giving what it last heard: it has to answer, or it is down."""
    monkeypatch.setattr("adapters.contacts.serial_port.ANSWER_S", 0.1)
    monkeypatch.setattr(modem, "BEAT_US", 50_000)
    async with modem_show() as (gateway, shown):
        gateway.set_line("cts", True)
        await shown.has("motor_start")
        gateway.stalled = True
        await shown.has("feed_down")
        assert "does not answer" in (shown.last("feed_down").text or "")
        gateway.port.lines["cts"] = False
        gateway.stalled = False
        await shown.has("motor_stop")


async def test_a_port_without_status_lines_is_down_and_never_open(tmp_path: Path) -> None:
    """On a pseudo-terminal no line is known: that stops no motor, it is a feed that cannot be had."""
    async with wire(tmp_path) as (name, _), show(f'kind = "modem"\nport = "{name}"', MODEM) as shown:
        await shown.has("feed_down")
        assert shown.said() == ["feed_down"]
        assert shown.last("feed_down").text == f"{name} has no status lines that it tells of"


class Nobody:
    """Whoever hears of a port's readings and does nothing about them."""

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None: ...
    def tell(self, text: str, now_us: int) -> None: ...
    def silence(self, part: str, text: str | None, now_us: int) -> None: ...
    def due_us(self) -> int | None:
        return 0


class LostDevice(SerialPort):
    """A device that is gone: its lines read as low, as the library gives them then, and it cannot be set."""

    def __init__(self) -> None:
        super().__init__("/dev/festoon-none", 9600)
        self.gone = False

    async def pins(self) -> ModemPins:
        return ModemPins(cts=PinState.LOW if self.gone else PinState.HIGH)

    async def confirm(self) -> None:
        if self.gone:
            raise FeedFault(f"{self.address} does not answer")

    async def read(self) -> bytes:
        await asyncio.Event().wait()
        return b""


async def test_a_device_that_is_gone_is_not_taken_for_one_whose_contacts_opened() -> None:
    """A change is only believed of a port that answers: an unplugged one reads as all lines low."""
    feed = wiring('id = "north"\nkind = "modem"\nport = "/dev/ttyS0"', MODEM[:1]).feeds[0]
    port, device = feed.make_port(["CTS"]), LostDevice()
    assert isinstance(port, modem.ModemPort)
    port._serial = device
    read: list[bool | None] = []

    class Kept(Nobody):
        def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
            device.gone = True
            read.append(closed)

    with pytest.raises(FeedFault, match="does not answer"):
        await port.run(Kept(), lambda: 0)
    assert set(read) == {True, None}


async def test_a_box_behind_a_network_socket_is_heard_and_comes_back(unused_tcp_port: int) -> None:
    """The same lines over TCP, as a plain gateway brings them."""
    talks: list[asyncio.StreamWriter] = []
    sound = f"{text_from_line(Line(0, {1: False, 2: False}, True))}\n".encode()

    async def answer(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        talks.append(writer)
        writer.write(sound)

    server = await asyncio.start_server(answer, "127.0.0.1", unused_tcp_port)
    async with show(f'kind = "text"\nport = "socket://127.0.0.1:{unused_tcp_port}"', WIRES) as shown:
        await until(lambda: all(wire.on is False for wire in shown.feed.bank.wires.values()))
        talks[0].write(f"{text_from_line(Line(1, {1: True}, False))}\n".encode())
        await shown.has("motor_start")
        talks[0].transport.abort()
        await shown.has("feed_down")
        await shown.has("motor_stop")
        assert shown.count("feed_up") == 2
    for talk in talks:
        talk.transport.abort()
    server.close()
    await server.wait_closed()


MODBUS = [("1/discrete/0", "s0", "motor"), ("2/coil/9", "s0", "lamp")]


@asynccontextmanager
async def modbus_show() -> AsyncIterator[tuple[Modules, Show]]:
    modules = Modules(1, 2)
    await modules.start_tcp()
    feed = f'kind = "modbus"\nport = "tcp://127.0.0.1:{modules.number}"\npoll_ms = 20'
    async with show(feed, MODBUS) as shown:
        await until(lambda: all(wire.on is False for wire in shown.feed.bank.wires.values()))
        yield modules, shown
    await modules.kill()


async def test_discrete_inputs_and_coils_of_several_units_are_read() -> None:
    """A poll's edge is as unsure as the poll is long."""
    async with modbus_show() as (modules, shown):
        modules.inputs[1, 0] = True
        await shown.has("motor_start")
        modules.coils[2, 9] = True
        await shown.has("lamp_lit")
        sigma_s = shown.last("lamp_lit").sigma_s
        assert sigma_s is not None
        assert 0.02 < sigma_s < 0.06


async def test_a_modbus_server_that_is_killed_comes_back() -> None:
    """Gone in mid-show and back: told, and what changed meanwhile is posted."""
    async with modbus_show() as (modules, shown):
        modules.inputs[1, 0] = True
        await shown.has("motor_start")
        await modules.kill()
        await shown.has("feed_down")
        modules.inputs[1, 0] = False
        await modules.start_tcp()
        await shown.has("motor_stop")
        assert shown.count("feed_up") == 2


async def test_a_server_that_stops_in_the_moment_of_an_answer_reads_no_further(monkeypatch: pytest.MonkeyPatch) -> None:
    """Python before 3.12 hides that from whoever waits with `asyncio.wait_for`, as the library does."""
    modules = Modules(1)
    await modules.start_tcp()
    feed = f'id = "north"\nkind = "modbus"\nport = "tcp://127.0.0.1:{modules.number}"'
    port = wiring(feed, MODBUS[:1]).feeds[0].make_port(["1/discrete/0"])
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
    await modules.kill()


async def test_a_unit_that_falls_silent_is_told_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """The others are read on; when it is back, what changed is posted."""
    monkeypatch.setattr(modbus, "SILENT_US", 100_000)
    monkeypatch.setattr(modbus, "AGAIN_US", 100_000)
    monkeypatch.setattr(modbus, "ANSWER_S", 0.05)
    async with modbus_show() as (modules, shown):
        modules.deaf.add(2)
        await shown.has("feed_down")
        assert shown.last("feed_down").source == "contact:north/2"
        assert shown.feed.bank.wires["2/coil/9"].on is None
        modules.inputs[1, 0] = True
        await shown.has("motor_start")
        modules.coils[2, 9] = True
        modules.deaf.clear()
        await shown.has("lamp_lit")
        assert shown.last("feed_up").source == "contact:north/2"


@pytest.mark.parametrize("code", [4, 5, 6, 10, 11])
async def test_a_unit_that_cannot_answer_now_is_a_silent_one(monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    """Failed, busy, or not behind its gateway: the port opens without it, and the others are read on."""
    monkeypatch.setattr(modbus, "SILENT_US", 50_000)
    modules = Modules(1, 2)
    modules.failing[1] = code
    await modules.start_tcp()
    feed = f'kind = "modbus"\nport = "tcp://127.0.0.1:{modules.number}"\npoll_ms = 20'
    async with show(feed, MODBUS) as shown:
        await shown.has("feed_down")
        assert shown.last("feed_down").source == "contact:north/1"
        modules.coils[2, 9] = True
        await shown.has("lamp_lit")
        assert shown.feed.fault is None
    await modules.kill()


async def test_an_address_that_the_module_does_not_have_is_told() -> None:
    """A wrong address is a feed that is down, with what to look at."""
    modules = Modules(1)
    await modules.start_tcp()
    feed = f'kind = "modbus"\nport = "tcp://127.0.0.1:{modules.number}"'
    async with show(feed, [("1/discrete/99", "s0", "motor")]) as shown:
        await shown.has("feed_down")
        assert "refuses discrete 99 to 99 (Modbus exception 2): see the input's address" in (
            shown.last("feed_down").text or ""
        )
    await modules.kill()


async def test_modules_on_a_serial_line_are_read_and_come_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Modbus RTU between two pseudo-terminals, its server killed and started again."""
    monkeypatch.setattr(modbus, "SILENT_US", 100_000)
    monkeypatch.setattr(modbus, "ANSWER_S", 0.05)
    async with wire(tmp_path) as (ours, theirs):
        modules = Modules(1)
        await modules.start_rtu(theirs)
        feed = f'kind = "modbus"\nport = "{ours}"\nbaud = 115200\npoll_ms = 20'
        async with show(feed, [("1/discrete/3", "s0", "motor")]) as shown:
            await until(lambda: shown.feed.bank.wires["1/discrete/3"].on is False)
            modules.inputs[1, 3] = True
            await shown.has("motor_start")
            await modules.kill()
            await shown.has("feed_down")
            modules.inputs[1, 3] = False
            await modules.start_rtu(theirs)
            await shown.has("motor_stop")
            assert shown.count("feed_down") == 1
        await modules.kill()


@pytest.mark.parametrize(
    "feed",
    [
        'kind = "text"\nport = "/dev/festoon-none"',
        'kind = "text"\nport = "socket://127.0.0.1:1"',
        'kind = "modem"\nport = "rfc2217://127.0.0.1:1"',
        'kind = "modbus"\nport = "tcp://127.0.0.1:1"',
        'kind = "modbus"\nport = "/dev/festoon-none"',
    ],
)
async def test_a_port_that_is_not_there_is_a_fault_in_one_sentence(feed: str) -> None:
    """Whatever a library does about it, the desks are told which port, and why."""
    place = {"text": "1", "modem": "CTS", "modbus": "1/discrete/0"}[feed.split('"')[1]]
    made = wiring(f'id = "north"\n{feed}', [(place, "s0", "motor")]).feeds[0]
    port = made.make_port([place])
    with pytest.raises(FeedFault, match="cannot be opened") as fault:
        await port.open()
    await port.close()
    assert made.address in str(fault.value)
    assert "\n" not in str(fault.value)
