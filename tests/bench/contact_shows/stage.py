"""The booths of one show, as a process of its own: contacts that move, and the parts that bring them in.

    python -m tests.bench.contact_shows.stage SEED FOLDER [first]

says at which address each feed is, is told when the motors start (by `time.monotonic`, which all processes share),
plays the script of that seed, and says when everything truly happened. Parts are libmodbus and ser2net, processes of
their own too; the box that sends lines of text is here.
"""

import asyncio
import json
import os
import random
import socket
import sys
import time
import tty
from collections.abc import Awaitable, Callable, Iterator
from contextlib import ExitStack, suppress
from functools import partial
from pathlib import Path
from typing import Any, Final, NamedTuple

from adapters.contacts.kinds import Input
from adapters.contacts.pretend.box import TextBox
from adapters.contacts.pretend.wires import Heard, Terminal
from tests.adapters.contacts.others import HOST, Modules, Program, SerialServer, gone_at_the_end
from tests.adapters.contacts.peers import wire
from tests.bench.contact_shows.faults import Fault
from tests.bench.contact_shows.first import come_first
from tests.bench.contact_shows.script import WIRES, Script, script_of

ALL_LEVELS_S: Final = 1.0
DAMAGED: Final = 0.1
"""Of the box's lines, each by one byte."""

LOST: Final = 0.5
"""Of the box's lines, while some are."""

LATE_S: Final = 0.01
PROBE_S: Final = 0.02
FLICKER_S: Final = 0.025
RANDOM_BYTES: Final = 256
RANDOM_EVERY_S: Final = 0.02
"""Together 12,800 bytes a second, all that a line of 115200 baud carries."""

CLOCK_OFF: Final = 2e-4
"""How far a box's crystal is off at the most, and more than it. Chosen."""

_PORTS: Final = range(20_000, 32_000)
"""Below those that connections come from, or one could have the port of a server that is away."""

Do = Callable[[], object]


class Cue(NamedTuple):
    """Something to be done at a time, in seconds after the motors' start."""

    at_s: float
    do: Do


class BoxLine:
    """The line between the box and its serial server: it damages and loses what the box sends, and remembers which.

    A line is sound where it got there whole: nothing of another is before it.
    """

    heard: Heard | None = None
    baud = None

    def __init__(self, terminal: Terminal, chance: random.Random) -> None:
        self.sent: list[dict[str, Any]] = []
        self.loses = False
        self._terminal = terminal
        self._chance = chance
        self._ended = True

    def send(self, data: bytes) -> None:
        """A line of the box."""
        damaged = self._chance.random() < DAMAGED
        lost = self.loses and self._chance.random() < LOST
        carried = self._terminal._ours is not None and self._terminal._is_open(self._terminal._ours)
        words = data.decode("ascii").split()
        sound = carried and self._ended and not damaged and not lost
        self.sent.append({"at": time.monotonic(), "sound": sound, "kind": words[0], "says": words[2:-2]})
        if lost or not carried:
            return
        self.carry(self._damaged(data) if damaged else data)

    def carry(self, data: bytes) -> None:
        """Bytes as they are."""
        self._ended = data.endswith(b"\n")
        self._terminal.send(data)

    def _damaged(self, data: bytes) -> bytes:
        place = self._chance.randrange(len(data))
        other = (data[place] + self._chance.randint(1, 255)) % 256
        return data[:place] + bytes([other]) + data[place + 1 :]


class Probe:
    """A pseudo-terminal of its own, and how late bytes come over it: the system carries them all when it gets to it.

    `late` is when they came late by LATE_S or more, by `time.monotonic`, and by how much.
    """

    def __init__(self) -> None:
        self.late: list[tuple[float, float]] = []
        self._near, self._far = os.openpty()
        tty.setraw(self._far)
        self._sent_at: float | None = None

    async def run(self) -> None:
        """Send a byte after the other until this is cancelled."""
        loop = asyncio.get_running_loop()
        loop.add_reader(self._near, self._read)
        try:
            while True:
                if self._sent_at is None:
                    self._sent_at = time.monotonic()
                    os.write(self._far, b".")
                await asyncio.sleep(PROBE_S)
        finally:
            loop.remove_reader(self._near)
            os.close(self._near)
            os.close(self._far)

    def _read(self) -> None:
        os.read(self._near, 1)
        if self._sent_at is not None and (late_s := time.monotonic() - self._sent_at) >= LATE_S:
            self.late.append((self._sent_at, late_s))
        self._sent_at = None


class Stage:
    """All four houses of a show. `record` is what truly happened, in seconds of `time.monotonic`."""

    def __init__(self, script: Script, folder: Path) -> None:
        self._script = script
        self._chance = random.Random(f"contact stage {script.seed}")
        self._tcp = Modules(_made(folder / "tcp"), 1, 2)
        self._rtu = Modules(_made(folder / "rtu"), 5)
        self._terminal = Terminal(_made(folder / "text") / "box")
        self._text_server = SerialServer(folder / "text", str(self._terminal.name), _free_port)
        self._line = BoxLine(self._terminal, self._chance)
        off = 1.0 + self._chance.uniform(-CLOCK_OFF, CLOCK_OFF)
        self._box = TextBox(self._line, 5, lambda: round(1000.0 * off * time.monotonic()))
        self._scheme = self._chance.choice(("socket", "rfc2217"))
        self._folder = folder
        self._lines_server: SerialServer | None = None
        self._far_ends: dict[int, str] = {}
        self._closed_lines: set[str] = set()
        self._tasks: list[asyncio.Task[None]] = []
        self.record: dict[str, Any] = {"edges": {}, "away": [], "late": []}

    async def begin(self, until_end: ExitStack, wires: list[tuple[str, str]]) -> dict[str, str]:
        """Have every part there that is at first; the address of each feed."""
        (rtu, self._far_ends[2]), (lines, self._far_ends[3]) = wires
        self._lines_server = SerialServer(_made(self._folder / "lines"), lines, _free_port)
        for part in (self._tcp, self._rtu, self._text_server, self._lines_server):
            until_end.enter_context(gone_at_the_end(part))
        self._terminal.plug()
        for wired in WIRES:
            self._set(wired, wired.normally_closed)
        for start in (self._start(house) for house in range(1, 5)):
            await start
        for fault in self._script.faults:
            if fault.kind == "silent_start":
                self._program(fault.house).kill()
        return {
            "tcp": f"tcp://{HOST}:{self._tcp.number}",
            "rtu": rtu,
            "lines": f"rfc2217://{self._lines_server.places['rfc2217']}",
            "text": f"{self._scheme}://{self._text_server.places[self._scheme]}",
        }

    async def play(self, starts_at: float) -> None:
        """Do everything that the script has, each at its time."""
        for cue in sorted(self._cues(), key=lambda cue: cue.at_s):
            due = starts_at + cue.at_s
            await asyncio.sleep(max(0.0, due - time.monotonic()))
            if (late_s := time.monotonic() - due) >= LATE_S:
                self.record["late"].append((cue.at_s, late_s))
            cue.do()
        await asyncio.sleep(max(0.0, starts_at + self._script.ends_s - time.monotonic()))
        for task in self._tasks:
            task.cancel()
        for result in await asyncio.gather(*self._tasks, return_exceptions=True):
            if isinstance(result, Exception):
                raise result
        self.record["lines"] = self._line.sent

    def _cues(self) -> Iterator[Cue]:
        script = self._script
        for number, edge in enumerate(script.edges):
            for n, touch_s in enumerate(edge.touches_s):
                on = edge.on if n % 2 == 0 else not edge.on
                closed = on is not edge.wired.normally_closed
                yield Cue(edge.at_s + touch_s, partial(self._touch, number, edge.wired, closed))
        for n in range(int((script.ends_s - script.begins_s) / ALL_LEVELS_S)):
            yield Cue(script.begins_s + ALL_LEVELS_S * n, self._box.all_levels)
        for fault in script.faults:
            yield from self._cues_of(fault)

    def _cues_of(self, fault: Fault) -> Iterator[Cue]:
        match fault.kind:
            case "modbus_killed" | "ser2net_killed" | "lamp_out_unseen" if fault.house:
                yield Cue(fault.at_s, self._program(fault.house).kill)
                yield Cue(fault.until_s, lambda: self._back(fault, self._start(fault.house)))
            case "silent_start":
                yield Cue(fault.until_s, lambda: self._back(fault, self._start(fault.house)))
            case "unit_deaf":
                yield Cue(fault.at_s, lambda: self._tcp.be_there(fault.unit, there=False))
                yield Cue(fault.until_s, lambda: self._tcp.be_there(fault.unit))
            case "ser2net_stalled":
                yield Cue(fault.at_s, self._program(fault.house).stall)
                yield Cue(fault.until_s, self._program(fault.house).go_on)
            case "lines_lost":
                yield Cue(fault.at_s, lambda: setattr(self._line, "loses", True))
                yield Cue(fault.until_s, lambda: setattr(self._line, "loses", False))
            case "random_bytes":
                for n in range(int(fault.for_s / RANDOM_EVERY_S)):
                    yield Cue(fault.at_s + n * RANDOM_EVERY_S, lambda: self._scatter(fault.house))
            case "lamp_flickers":
                yield from self._flicker(fault)
            case _:
                pass  # the server's own

    def _flicker(self, fault: Fault) -> Iterator[Cue]:
        """Off and on again, and at the end as it is."""
        lamp = next(each for each in WIRES if each.house == str(fault.house) and each.what == "lamp")
        for n in range(2 * int(fault.for_s / FLICKER_S / 2)):
            yield Cue(fault.at_s + n * FLICKER_S, partial(self._set, lamp, n % 2 == 1))

    def _touch(self, number: int, wired: Input, closed: bool) -> None:
        """One touch of an edge: the record has the first and the last."""
        self._set(wired, closed)
        now = time.monotonic()
        first, _ = self.record["edges"].get(number, (now, now))
        self.record["edges"][number] = (first, now)

    def _set(self, wired: Input, closed: bool) -> None:
        if wired.feed == "text":
            self._box.change(int(wired.place), closed)
        elif wired.feed == "lines":
            self._closed_lines = self._closed_lines | {wired.place} if closed else self._closed_lines - {wired.place}
            if self._lines_server is not None:
                self._lines_server.set_lines(*self._closed_lines)
        else:
            modules = self._tcp if wired.feed == "tcp" else self._rtu
            unit, what, address = wired.place.split("/")
            (modules.set_coil if what == "coil" else modules.set_input)(int(unit), int(address), closed)

    def _scatter(self, house: int) -> None:
        """Random bytes into the line of a house."""
        data = self._chance.randbytes(RANDOM_BYTES)
        if house == 4:
            self._line.carry(data)
            return
        far = os.open(self._far_ends[house], os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
        with suppress(BlockingIOError):
            os.write(far, data)
        os.close(far)

    def _program(self, house: int) -> Program:
        parts = (self._tcp, self._rtu, self._lines_server, self._text_server)
        part = parts[house - 1]
        assert part is not None
        return part

    def _start(self, house: int) -> Awaitable[None]:
        assert self._lines_server is not None
        device = str(self._far_ends[2])
        starts = (
            self._tcp.start_tcp,
            lambda: self._rtu.start_rtu(device, 5),
            self._lines_server.start,
            self._text_server.start,
        )
        return starts[house - 1]()

    def _back(self, fault: Fault, started: Awaitable[None]) -> None:
        """Have a part start again, while everything else goes on; the record has when it listens."""

        async def start() -> None:
            await started
            self.record["away"].append({"fault": self._script.faults.index(fault), "back": time.monotonic()})

        self._tasks.append(asyncio.ensure_future(start()))


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder


def _free_port() -> int:
    """A port on which nobody listens."""
    while True:
        number = random.SystemRandom().choice(_PORTS)
        with socket.socket() as trial, suppress(OSError):
            trial.bind((HOST, number))
            return number


async def _next_line() -> str:
    return await asyncio.to_thread(sys.stdin.readline)


async def main(seed: int, folder: Path) -> None:
    """Play one show; whoever started this and goes away ends it."""
    stage = Stage(script_of(seed), folder)
    with ExitStack() as until_end:
        async with wire(_made(folder / "rtu_line")) as rtu, wire(_made(folder / "status_line")) as lines:
            sys.stdout.write(json.dumps(await stage.begin(until_end, [rtu, lines])) + "\n")
            sys.stdout.flush()
            told = await _next_line()
            if told:
                probe = Probe()
                probing = asyncio.create_task(probe.run())
                await stage.play(float(told))
                probing.cancel()
                sys.stdout.write(json.dumps({**stage.record, "line_late": probe.late}) + "\n")


if __name__ == "__main__":
    if sys.argv[3:] == ["first"]:
        come_first()
    asyncio.run(main(int(sys.argv[1]), Path(sys.argv[2])))
