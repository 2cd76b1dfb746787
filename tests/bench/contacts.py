"""From a contact to the wall: 50 inputs at 20 changes a second, none lost and none out of order.

A server of its own process (`festoon serve`), a box with inputs on a pseudo-terminal or Modbus modules over TCP in this
one, and a websocket as the wall has it. The time is from the contact to the websocket's message with its event. Each
kind is measured alone, and beside a port that floods: one whose box sends random bytes as fast as they are taken.

    python -m tests.bench.contacts [--seconds 60] [--rate 20] [text|modbus]
"""

import argparse
import asyncio
import contextlib
import json
import random
import tempfile
import time
import urllib.request
from collections import defaultdict, deque
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import product
from pathlib import Path
from statistics import quantiles

from websockets.asyncio.client import ClientConnection, connect

from server.live.run import BEAT_S
from tests.adapters.contacts.peers import PATIENCE_S, Modules, TextBox, until
from tests.cli.running import Running, running

STATIONS = 25
INPUTS = 2 * STATIONS
POLL_MS = 50
SOUND_SHARE = 0.01
FRAME_MS = 1000 / 24

Moves = Callable[[int, bool], None]


class Measured:
    """When each contact was moved and when the wall heard of it, by source."""

    def __init__(self) -> None:
        self.moved: dict[str, deque[tuple[float, bool]]] = defaultdict(deque)
        self.took_ms: list[float] = []
        self.wrong: list[str] = []
        self.count = 0
        self.latest = 0.0

    def move(self, source: str, on: bool) -> None:
        self.count += 1
        self.moved[source].append((time.perf_counter(), on))

    def hear(self, event: dict[str, str]) -> None:
        """The next event of a source is that of its next move, or something was lost or changed places."""
        source, on = event["source"], event["kind"] in {"lamp_lit", "douser_open"}
        if not self.moved[source]:
            self.wrong.append(f"{source}: {event['kind']} that nobody made")
            return
        moved_at, was_on = self.moved[source].popleft()
        if on is not was_on:
            self.wrong.append(f"{source}: {event['kind']} out of order")
        self.took_ms.append((time.perf_counter() - moved_at) * 1000)

    def lost(self) -> int:
        return sum(map(len, self.moved.values()))


def wired(place: Callable[[int], str], feed: str, flooding: str | None) -> str:
    """The lamps and dousers of every station, on inputs 0 to 49; and a motor on the port that floods, if one does."""
    inputs = "".join(
        f'[[inputs]]\nfeed = "north"\ninput = "{place(n)}"\nstation = "s{n % STATIONS}"\n'
        f'what = "{"lamp" if n < STATIONS else "douser"}"\n'
        for n in range(INPUTS)
    )
    if flooding is not None:
        inputs += '[[inputs]]\nfeed = "flood"\ninput = "1"\nstation = "s0"\nwhat = "motor"\n'
        feed += f'\n[[feeds]]\nid = "flood"\nkind = "text"\nport = "{flooding}"\nbaud = 115200'
    return f'format = "festoon-contacts/1"\n[[feeds]]\nid = "north"\n{feed}\n{inputs}'


def plan_text() -> str:
    """The chain of the tests, to start in an hour."""
    lines = "".join(
        f'[[stations]]\nid = "s{k}"\nhouse = "{k}"\npath_ft = {100 if k else 0}\n'
        'inputs = { motor = "tap", lamp = "contact", douser = "contact" }\n'
        for k in range(STATIONS)
    )
    return (
        f'format = "festoon-plan/1"\ntitle = "Contacts"\n[timing]\nmotors_at = {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}\n'
        '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
        f'[[print]]\nid = "film"\nkind = "feature"\nduration = "1:40:00"\n{lines}'
    )


async def listen(wall: ClientConnection, measured: Measured) -> None:
    async for text in wall:
        measured.latest = time.perf_counter()
        message = json.loads(text)
        for event in message.get("events", []) if message["type"] == "change" else []:
            if "station" in event:
                measured.hear(event)


async def two_beats(measured: Measured) -> None:
    """Wait until the server gave a sign of life two heartbeats from now: what it had to tell before came before."""
    now = time.perf_counter()
    await until(lambda: measured.latest >= now + 2 * BEAT_S)


async def found(shown: Running) -> None:
    """Wait until the server knows every contact, all open."""
    address = f"http://{shown.host}/api/runs/{shown.run_ids[0]}/contacts"

    def known() -> bool:
        with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:
            return all(each["on"] is False for each in json.load(answer)["inputs"])

    async with asyncio.timeout(PATIENCE_S):
        while not await asyncio.to_thread(known):  # noqa: ASYNC110 - the server is another process
            await asyncio.sleep(POLL_MS / 1000)


async def moving(measured: Measured, place: Callable[[int], str], move: Moves, rate: float, seconds: float) -> None:
    """Move one input after another, each the other way than last time; no input twice within its debounce."""
    chance = random.Random(1)
    order = list(range(INPUTS))
    on = dict.fromkeys(order, False)
    due = time.perf_counter()
    for n in range(round(rate * seconds)):
        if n % INPUTS == 0:
            chance.shuffle(order[: INPUTS // 2])
        number = order[n % INPUTS]
        on[number] = not on[number]
        measured.move(f"contact:north/{place(number)}", on[number])
        move(number, on[number])
        due += 1 / rate
        await asyncio.sleep(max(0.0, due - time.perf_counter()))


async def heartbeat(box: TextBox) -> None:
    while True:
        box.all_levels()
        await asyncio.sleep(1.0)


async def flood(box: TextBox, chance: random.Random) -> None:
    """Random bytes as fast as they are taken, and a sound line now and then: the port stays open."""
    while True:
        box.send_bytes(chance.randbytes(4096))
        if chance.random() < SOUND_SHARE:
            box.send_bytes(b"\n")
            box.all_levels()
        await asyncio.sleep(0.001)


async def measure(kind: str, folder: Path, rate: float, seconds: float, *, flooded: bool = False) -> Measured:
    measured = Measured()
    box, modules = TextBox(folder, INPUTS), Modules(1, 2, 3, 4)
    flooding = TextBox(folder / "flood", 1) if flooded else None
    if flooding is not None:
        flooding.address.parent.mkdir()
        flooding.plug()
    if kind == "text":
        box.plug()
        place, feed = (lambda n: str(n + 1)), f'kind = "text"\nport = "{box.address}"\nbaud = 115200'
    else:
        await modules.start_tcp()
        place = lambda n: f"{n // 16 + 1}/discrete/{n % 16}"  # noqa: E731 - as the other
        feed = f'kind = "modbus"\nport = "tcp://127.0.0.1:{modules.number}"\npoll_ms = {POLL_MS}'

    def move(number: int, on: bool) -> None:
        if kind == "text":
            box.change(number + 1, on)
        else:
            modules.inputs[number // 16 + 1, number % 16] = on

    plan, wiring = folder / "c.plan.toml", folder / "c.contacts.toml"
    plan.write_text(plan_text(), encoding="utf-8")
    wiring.write_text(wired(place, feed, None if flooding is None else str(flooding.address)), encoding="utf-8")
    beats = [asyncio.create_task(heartbeat(box))] if kind == "text" else []
    if flooding is not None:
        beats.append(asyncio.create_task(flood(flooding, random.Random(2))))
    arguments = ("serve", plan, "--contacts", wiring, "--port", "0", "--data", folder / "log")
    server = running(*arguments)
    shown = await asyncio.to_thread(server.__enter__)
    try:
        async with connect(f"ws://{shown.host}/api/runs/{shown.run_ids[0]}/live", compression=None, proxy=None) as wall:
            listening = asyncio.create_task(listen(wall, measured))
            await found(shown)
            await two_beats(measured)  # what is found at the start is behind it then
            measured.wrong.clear()
            await moving(measured, place, move, rate, seconds)
            with contextlib.suppress(TimeoutError):
                await until(lambda: measured.lost() == 0)
            await two_beats(measured)  # one more event would be one that nobody made
            listening.cancel()
    finally:
        await asyncio.to_thread(server.__exit__, None, None, None)
        for beat in beats:
            beat.cancel()
        await modules.kill()
    return measured


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=["text", "modbus"])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--rate", type=float, default=20.0)
    given = parser.parse_args()
    for kind, flooded in product(given.kinds, (False, True)):
        with tempfile.TemporaryDirectory(prefix="festoon-") as folder:
            measured = asyncio.run(measure(kind, Path(folder), given.rate, given.seconds, flooded=flooded))
        beside = " beside a flood" if flooded else ""
        cuts = quantiles(measured.took_ms, n=100)
        allowed_ms = FRAME_MS + (POLL_MS if kind == "modbus" else 0.0)
        print(
            f"{kind}{beside}: {measured.count} changes of {INPUTS} inputs at {given.rate:g}/s, {measured.lost()} lost,"
            f" {len(measured.wrong)} out of order; contact to wall p50 {cuts[49]:.1f} ms, p99 {cuts[98]:.1f} ms,"
            f" worst {max(measured.took_ms):.1f} ms (allowed p99: {allowed_ms:.1f} ms)"
        )
        for wrong in measured.wrong[:5]:
            print("  ", wrong)


if __name__ == "__main__":
    main()
