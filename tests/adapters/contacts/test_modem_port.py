"""Status lines behind a real serial server, behind a pretended one, and of devices; killed, stalled and back."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from serialx import ModemPins, PinState

from adapters.base import FeedFault
from adapters.contacts import modem, rfc2217
from adapters.contacts.serial_port import SerialPort
from tests.adapters.contacts.others import SerialServer, gone_at_the_end
from tests.adapters.contacts.peers import Gateway, until, wire
from tests.adapters.contacts.showing import AROUND_ZERO, Show, show, why_not
from tests.adapters.contacts.wired import wiring
from tests.adapters.shows import ZERO

MODEM = [("CTS", "s0", "motor"), ("DSR", "s0", "lamp"), ("DCD", "s1", "motor"), ("RI", "s1", "lamp")]


@asynccontextmanager
async def server_show(
    folder: Path, free_port: Callable[[], int], closed: tuple[str, ...] = ()
) -> AsyncIterator[tuple[SerialServer, Show]]:
    """The lines behind ser2net, which looks at them once a second."""
    async with wire(folder) as (device, _):
        server = SerialServer(folder, device, free_port)
        server.set_lines(*closed)
        await server.start()
        feed = f'kind = "modem"\nport = "rfc2217://{server.places["rfc2217"]}"\nsampling_ms = 1000'
        with gone_at_the_end(server):
            async with show(feed, MODEM) as shown:
                await shown.knows(*closed)
                yield server, shown


@asynccontextmanager
async def gateway_show(start_s: float = 0.0) -> AsyncIterator[tuple[Gateway, Show]]:
    gateway = Gateway()
    await gateway.start()
    async with show(f'kind = "modem"\nport = "{gateway.address}"\npoll_ms = 5', MODEM, start_s) as shown:
        await shown.has("feed_up")
        await shown.knows()
        yield gateway, shown
    await gateway.kill()


async def test_the_four_status_lines_come_from_ser2net(
    tmp_path: Path, unused_tcp_port_factory: Callable[[], int]
) -> None:
    """They are known as they stand, and a change has its time to within what the serial server's own looking takes."""
    async with server_show(tmp_path, unused_tcp_port_factory, ("CTS", "RI")) as (server, shown):
        assert await shown.sigmas("lamp_out", lambda: server.set_lines("DSR", "DCD")) < 3
        await shown.knows("DSR", "DCD")
        changed = [(event.kind, event.source) for event in shown.events[-4:]]
        assert changed == [
            ("motor_stop", "contact:north/CTS"),
            ("lamp_lit", "contact:north/DSR"),
            ("motor_start", "contact:north/DCD"),
            ("lamp_out", "contact:north/RI"),
        ]


async def test_ser2net_that_is_killed_comes_back(
    tmp_path: Path, unused_tcp_port_factory: Callable[[], int], caplog: pytest.LogCaptureFixture
) -> None:
    """Told at once, found again without a hand, what changed meanwhile posted once; and nothing fills the log."""
    async with server_show(tmp_path, unused_tcp_port_factory, ("CTS",)) as (server, shown):
        killed = shown.clock.now()
        server.kill()
        await shown.has("feed_down")
        assert (shown.last("feed_down").t - killed).total_seconds() < 0.5
        server.set_lines("DSR")
        await shown.tries(5)
        await server.start()
        await until(lambda: {"motor_stop", "lamp_lit"} <= set(shown.said()))
        assert shown.count("feed_down") == shown.count("motor_stop") == 1
    assert caplog.records == []


async def test_ser2net_that_stalls_is_not_taken_at_its_last_word(
    tmp_path: Path, unused_tcp_port_factory: Callable[[], int], caplog: pytest.LogCaptureFixture
) -> None:
    """Its connection stands and says nothing: within about a second it is told, and when it goes on it is back."""
    async with server_show(tmp_path, unused_tcp_port_factory, ("CTS",)) as (server, shown):
        stalled = shown.clock.now()
        server.stall()
        await shown.has("feed_down")
        assert (shown.last("feed_down").t - stalled).total_seconds() < 1.6
        assert shown.last("feed_down").text == f"rfc2217://{server.places['rfc2217']} does not answer within 0.8 s"
        server.set_lines()
        server.go_on()
        await shown.has("feed_up", 2)
        assert shown.count("motor_stop") == 1
    assert caplog.records == []


async def test_the_four_status_lines_are_four_contacts() -> None:
    """CTS, DSR, DCD and RI, each its own, told in the moment they change."""
    async with gateway_show() as (gateway, shown):
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


@AROUND_ZERO
async def test_lines_have_their_time_wherever_zero_lies(start_s: float, later_s: float) -> None:
    """The plan's zero is a time like any other."""
    async with gateway_show(start_s) as (gateway, shown):
        assert await shown.sigmas("motor_start", lambda: gateway.set_line("cts", True)) < 3
        assert (shown.last("motor_start").t < ZERO) is (start_s < 0)
        await shown.is_past(later_s)
        assert await shown.sigmas("motor_stop", lambda: gateway.set_line("cts", False)) < 3
        assert shown.said() == ["feed_up", "motor_start", "motor_stop"]


async def test_a_gateway_that_is_killed_comes_back() -> None:
    """Every connection dropped and taken again: what changed in between is posted once."""
    async with gateway_show() as (gateway, shown):
        gateway.set_line("cts", True)
        await shown.has("motor_start")
        await gateway.kill()
        await shown.has("feed_down")
        gateway.port.lines.update(cts=False, dsr=True)
        await gateway.start()
        await until(lambda: {"motor_stop", "lamp_lit"} <= set(shown.said()))
        assert shown.count("motor_start") == shown.count("motor_stop") == 1


async def test_a_port_without_status_lines_is_down_and_never_open(tmp_path: Path) -> None:
    """On a pseudo-terminal no line is known: that stops no motor, it is a feed that cannot be had."""
    async with wire(tmp_path) as (name, _), show(f'kind = "modem"\nport = "{name}"', MODEM) as shown:
        await shown.has("feed_down")
        assert shown.said() == ["feed_down"]
        assert shown.last("feed_down").text == f"{name} has no status lines that it tells of"


class Kept:
    """Whoever keeps the levels of a port's readings, and what is told."""

    def __init__(self, then: Callable[[], None] = lambda: None) -> None:
        self.levels: set[bool | None] = set()
        self.told: list[str] = []
        self._then = then

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        self._then()
        self.levels.add(closed)

    def tell(self, text: str, now_us: int, times: int = 1) -> None:
        self.told.append(text)

    def silence(self, part: str, text: str | None, now_us: int) -> None: ...

    def due_us(self) -> int | None:
        return 0


class LostDevice(SerialPort):
    """A device that is gone: its lines read as low, as the library gives them then, and it cannot be set."""

    def __init__(self) -> None:
        super().__init__("/dev/festoon-none", 9600)
        self.gone = False

    def go(self) -> None:
        self.gone = True

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
    kept = Kept(device.go)
    with pytest.raises(FeedFault, match="does not answer"):
        await port.run(kept, lambda: 0)
    assert kept.levels == {True, None}


async def test_lines_of_which_a_gateway_has_not_told_are_not_known() -> None:
    """One that tells of a line only when it changes is opened; the lines are neither closed nor open till then."""

    class Quiet(SerialPort):
        async def open(self) -> None: ...
        async def confirm(self) -> None: ...
        async def pins(self) -> ModemPins:
            return ModemPins()

        async def read(self) -> bytes:
            raise FeedFault("that will do")

    feed = wiring('id = "north"\nkind = "modem"\nport = "rfc2217://127.0.0.1:1"', MODEM[:1]).feeds[0]
    port, kept = feed.make_port(["CTS"]), Kept()
    assert isinstance(port, modem.ModemPort)
    port._serial = Quiet("rfc2217://127.0.0.1:1", 9600)
    await port.open()
    with pytest.raises(FeedFault, match="that will do"):
        await port.run(kept, lambda: 0)
    assert kept.levels == {None}
    assert kept.told == ["the gateway tells of no status line before it changes: until then it is not known"]


async def test_a_gateway_that_is_not_there_is_a_fault_in_one_sentence() -> None:
    """The desks are told which port, and why."""
    feed = 'kind = "modem"\nport = "rfc2217://127.0.0.1:1"'
    assert await why_not(feed, "CTS") == "rfc2217://127.0.0.1:1 cannot be opened: connection refused"


@pytest.mark.parametrize(
    ("answers", "why"),
    [
        (b"", "nothing there has answered by RFC 2217 within 0.1 s"),
        (b"login: ", "nothing there has answered by RFC 2217 within 0.1 s"),
        (b"\xff\xfe\x2c", "the gateway takes no commands about this port: switch RFC 2217 on in its settings"),
        (b"\xff\xfd\x2c", "the gateway has not answered to the port's speed within 0.1 s"),
    ],
)
async def test_what_is_no_gateway_is_told_from_one(
    answers: bytes, why: str, unused_tcp_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Something else that listens there, a gateway with RFC 2217 switched off, and one that has hung itself up."""
    monkeypatch.setattr(rfc2217, "AGREE_S", 0.1)
    talks: list[asyncio.StreamWriter] = []

    async def answer(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        talks.append(writer)
        writer.write(answers)

    address = f"rfc2217://127.0.0.1:{unused_tcp_port}"
    server = await asyncio.start_server(answer, "127.0.0.1", unused_tcp_port)
    assert await why_not(f'kind = "modem"\nport = "{address}"', "CTS") == f"{address} cannot be opened: {why}"
    for talk in talks:
        talk.transport.abort()
    server.close()
    await server.wait_closed()
