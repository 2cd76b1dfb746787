"""The simulated board as a feed of a wiring file: its lines come out of a pseudo-terminal, at the board's own pace."""

import asyncio
import os
import re
import tty
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager, contextmanager
from pathlib import Path
from typing import TypeAlias

import pytest

from adapters.contacts.kinds import Port
from adapters.contacts.wiring import read_wiring
from server.contact_boards import CONTACT_KINDS
from server.timeline.plan import parse_plan
from tests.firmware.boxes import BAUD, PINS, README, Board, scanned_us
from tests.repository.checkout import ROOT

pytestmark = pytest.mark.slow
HOST = "127.0.0.1"
PATIENCE_S = 20
MOVES = [(1000, 1, True), (1100, 12, True), (1400, 1, False), (1500, 12, False)]
"""When a contact moves, in ms of the board's clock."""

Reached: TypeAlias = Callable[[str, Path, Callable[[], int]], AbstractAsyncContextManager[str]]

WIRING = """
format = "festoon-contacts/1"
[[feeds]]
id = "box"
kind = "text"
port = "{address}"
baud = {baud}
[[inputs]]
feed = "box"
input = "1"
station = "a"
what = "motor"
[[inputs]]
feed = "box"
input = "12"
station = "a"
what = "lamp"
"""


class Readings:
    """Takes what a port hands over: `moved` has each contact that went over, and when at the latest."""

    def __init__(self) -> None:
        self.moved: list[tuple[str, bool, int]] = []
        self.told: list[str] = []
        self.all_came = asyncio.Event()
        self._levels: dict[str, bool | None] = {}

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        assert closed is not None
        if self._levels.get(place, closed) is not closed:
            self.moved.append((place, closed, late_us))
        self._levels[place] = closed
        if len(self.moved) == len(MOVES):
            self.all_came.set()

    def tell(self, text: str, now_us: int, times: int = 1) -> None:
        self.told.append(text)

    def silence(self, part: str, text: str | None, now_us: int) -> None:
        self.told.append(f"{part}: {text}")

    def due_us(self) -> int | None:
        return None


@contextmanager
def terminal() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: where a board writes, and the device that it is read from."""
    master, slave = os.openpty()
    tty.setraw(slave)
    try:
        yield master, os.ttyname(slave)
    finally:
        os.close(master)
        os.close(slave)


@asynccontextmanager
async def running(board: Board, script: str, output: int) -> AsyncIterator[None]:
    """The board, at the pace of the clock on the wall, until the block ends."""
    command = (board.simulator, board.firmware, "paced")
    process = await asyncio.create_subprocess_exec(*command, stdin=asyncio.subprocess.PIPE, stdout=output)
    assert process.stdin is not None
    process.stdin.write(script.encode())
    process.stdin.write_eof()
    try:
        yield
    finally:
        process.kill()
        await process.wait()


def text_port(address: str) -> Port:
    """The port of the wiring's one feed."""
    plan = parse_plan((ROOT / "fixtures" / "plans" / "pair.plan.toml").read_text("utf-8"), "pair.plan.toml")
    wiring = read_wiring(WIRING.format(address=address, baud=BAUD), "box.contacts.toml", plan, CONTACT_KINDS)
    (feed,) = wiring.feeds
    return feed.make_port([each.place for each in feed.inputs])


@asynccontextmanager
async def at_device(device: str, folder: Path, free_port: Callable[[], int]) -> AsyncIterator[str]:
    """The address of a device of this computer."""
    yield device


@asynccontextmanager
async def behind_ser2net(device: str, folder: Path, free_port: Callable[[], int]) -> AsyncIterator[str]:
    """The address of a device behind ser2net, which is set as the README says: raw TCP for lines of text."""
    (config,) = re.findall(r"```yaml\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    numbers = {name: free_port() for name in ("4001", "4003", "orders")}
    for old, new in (("/dev/serial/by-id/usb-box", device), ("4001", numbers["4001"]), ("4003", numbers["4003"])):
        assert old in config
        config = config.replace(old, str(new))
    # Its own port for orders is the last that it opens.
    config += f"admin:\n  accepter: tcp,{HOST},{numbers['orders']}\n"
    (folder / "ser2net.yaml").write_text(config, "utf-8")
    process = await asyncio.create_subprocess_exec("/usr/sbin/ser2net", "-n", "-c", str(folder / "ser2net.yaml"))
    try:
        await listening(numbers["orders"])
        yield f"socket://{HOST}:{numbers['4001']}"
    finally:
        process.kill()
        await process.wait()


async def listening(number: int) -> None:
    """Wait until somebody listens at a port of this computer."""
    async with asyncio.timeout(PATIENCE_S):
        while True:
            try:
                _, writer = await asyncio.open_connection(HOST, number)
            except ConnectionRefusedError:
                await asyncio.sleep(0.01)
            else:
                writer.close()
                await writer.wait_closed()
                return


@pytest.mark.parametrize("reached", [at_device, behind_ser2net])
async def test_a_text_feed_hears_the_board(
    board: Board, reached: Reached, tmp_path: Path, unused_tcp_port_factory: Callable[[], int]
) -> None:
    """Each contact is read once, in order, as far apart as they moved to 30 ms, and nothing is told to be wrong."""
    rows = [f"{scanned_us(ms) - 500} pin {PINS[n - 1][0]} {PINS[n - 1][1]} {int(not on)}" for ms, n, on in MOVES]
    loop, readings = asyncio.get_running_loop(), Readings()
    with terminal() as (master, device):
        async with reached(device, tmp_path, unused_tcp_port_factory) as address:
            port = text_port(address)
            async with running(board, "\n".join([*rows, "60000000 end\n"]), master), asyncio.timeout(PATIENCE_S):
                await port.open()
                reading = asyncio.create_task(port.run(readings, lambda: round(loop.time() * 1e6)))
                await readings.all_came.wait()
                reading.cancel()
            await port.close()
    assert [(place, closed) for place, closed, _ in readings.moved] == [(str(n), on) for _, n, on in MOVES]
    zero_us = readings.moved[0][2] - MOVES[0][0] * 1000
    late_ms = [(at_us - zero_us) / 1000 - ms for (_, _, at_us), (ms, _, _) in zip(readings.moved, MOVES, strict=True)]
    assert max(map(abs, late_ms)) < 30
    assert readings.told == []
